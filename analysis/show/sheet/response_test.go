package sheet

import (
	"image"
	"reflect"
	"strings"
	"testing"

	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/row"
)

func bare(stops ...float64) (out []Frame) {
	for _, s := range stops {
		out = append(out, Frame{Data: &row.Data{Stop: s, Thumb: image.NewRGBA(image.Rect(0, 0, 6, 4))}})
	}
	return out
}

// What the roll told of itself comes first; whether stops are measured is said either way.
func TestConditionsComeFirst(t *testing.T) {
	frames := bare(0, 1)
	for i := range frames {
		frames[i].Origin = roll.FromName
	}
	words := func(in Input) string {
		in.Frames = frames
		return strings.Join(Record(in), "\n")
	}
	if s := words(Input{}); !strings.Contains(s, "they are not measured") || strings.Contains(s, "response") {
		t.Errorf("nothing measured: %s", s)
	}
	v := 0.4
	frames[0].Data.MeasuredStop, frames[0].Data.FlatDark = &v, &v
	in := Input{Conditions: []string{"The scans are fixed."}, Response: &plot.Data{Curve: &response.Curve{MidGrey: response.MidGreyPatch}}}
	s := words(in)
	for _, want := range []string{"grey card's reading", "weaker colour", "75 % of the steepest", "at least 15 %"} {
		if !strings.Contains(s, want) {
			t.Errorf("%q is missing from %s", want, s)
		}
	}
	if !strings.HasPrefix(s, "The scans are fixed.") || strings.Contains(s, "they are not measured") {
		t.Errorf("%s", s)
	}
}

// The stops stand as on the ladder; only what deviates is said to.
func TestStops(t *testing.T) {
	m, near, wrong, e := -0.004, 1.04, 2.5, 0.03
	in := Input{Response: &plot.Data{Frames: []plot.Frame{
		{Stop: 0, Labelled: true, Measured: &m}, {Stop: 2, Labelled: true, Measured: &wrong, Error: &e},
		{Stop: 1, Labelled: true, Measured: &near}, {Stop: -1, Labelled: true}, {Stop: -2, Name: "scan 9"}}}}
	of := func(name string, strong bool, v ...string) row.Row {
		return row.Row{Name: name, Values: v, Strong: strong}
	}
	want := []row.Row{of("+2", true, "+2.50", "± 0.03", "+0.50"), of("+1", false, "+1.04", "", ""), of("0", false, "0.00", "", ""),
		of("−1", false, "–", "", ""), of("scan 9", false, "–", "", "")}
	if got := in.Stops().Rows; !reflect.DeepEqual(got, want) {
		t.Errorf("%+v\nwant %+v", got, want)
	}
	if (Input{}).Stops().Rows != nil || (Input{Response: &plot.Data{Frames: []plot.Frame{{Stop: 1}}}}).Stops().Rows != nil {
		t.Error("a table of nothing")
	}
}

// How the roll was made comes first of all that the figures rest on, where it was written.
func TestHowMade(t *testing.T) {
	for want, r := range map[string]roll.Roll{
		"": {Stock: "Sample 100", Date: "May"},
		"Scene: a courtyard; lab: L at the corner.":               {Scene: " a courtyard ", Lab: "L at the corner"},
		"Metering: incident; development: push 1; scanner: flat.": {Metering: "incident", Development: "push 1", Scanner: "flat"},
	} {
		if got := howMade(&r); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
