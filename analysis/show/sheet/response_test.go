package sheet

import (
	"image"
	"strings"
	"testing"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
)

// The key with every sign that it can have still ends on the sheet.
func TestKeyFits(t *testing.T) {
	frames := bare(0, 1)
	v := 0.4
	frames[0].Data.MeasuredStop, frames[0].Data.FlatLight = &v, &v
	in := Input{Range: &roll.Range{}, Measured: &latitude.Result{}}
	for _, w := range []int{1600, 2400, 7000} {
		c := paint.New(image.NewRGBA(image.Rect(0, 0, w, 60)), float64(w)/unitsWide)
		r := image.Rect(c.Px(margin), 0, w-c.Px(margin), c.Px(34))
		if end := drawKey(c, r, in, frames); end > float64(r.Max.X) {
			t.Errorf("%d pixels wide: the key ends at %.0f of %d", w, end, r.Max.X)
		}
	}
}

// The foot begins with what the roll told of itself, says what measured stops
// are, and no longer that there are none.
func TestConditionsInTheFoot(t *testing.T) {
	frames := bare(0, 1)
	for i := range frames {
		frames[i].Origin = roll.FromName
	}
	c := paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1600/unitsWide)
	words := func(in Input) string {
		var all []string
		for _, n := range footNotes(c, &layout{}, in, frames) {
			all = append(all, strings.Join(n, " "))
		}
		return strings.Join(all, "\n")
	}
	if s := words(Input{}); !strings.Contains(s, "they are not measured") || strings.Contains(s, "response") {
		t.Errorf("nothing measured: %s", s)
	}
	v := 0.4
	frames[0].Data.MeasuredStop, frames[0].Data.FlatDark = &v, &v
	in := Input{Conditions: []string{"The scans are fixed."}, Response: &plot.Data{Curve: &response.Curve{MidGrey: response.MidGreyPatch}}}
	s := words(in)
	for _, want := range []string{"the labels fix their scale", "grey card's reading", "weaker pattern", "75 % of the steepest", "at least 15 %"} {
		if !strings.Contains(s, want) {
			t.Errorf("%q is missing from %s", want, s)
		}
	}
	if !strings.HasPrefix(s, "The scans are fixed.") || strings.Contains(s, "they are not measured") {
		t.Errorf("%s", s)
	}
}

// The stops stand as on the ladder; only what deviates is said to.
func TestStopRows(t *testing.T) {
	m, near, wrong, e := -0.004, 1.04, 2.5, 0.03
	in := Input{Response: &plot.Data{Frames: []plot.Frame{
		{Stop: 0, Labelled: true, Measured: &m}, {Stop: 2, Labelled: true, Measured: &wrong, Error: &e},
		{Stop: 1, Labelled: true, Measured: &near}, {Stop: -1, Labelled: true}, {Stop: -2, Name: "scan 9"}}}}
	want := []stopRow{{"+2", "+2.50", "± 0.03", "+0.50", true}, {"+1", "+1.04", "", "", false}, {"0", "0.00", "", "", false},
		{"−1", "–", "", "", false}, {"scan 9", "–", "", "", false}}
	got := stopRows(in)
	if len(got) != len(want) {
		t.Fatalf("%d rows", len(got))
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("row %d is %+v, want %+v", i, got[i], want[i])
		}
	}
	if stopRows(Input{}) != nil || stopRows(Input{Response: &plot.Data{Frames: []plot.Frame{{Stop: 1}}}}) != nil {
		t.Error("a table of nothing")
	}
}

// A judge's words that have no room beside their frame or in the title block stand whole
// in the foot.
func TestNoWordIsDropped(t *testing.T) {
	long := strings.TrimSpace(strings.Repeat("the shadows under the bench go muddy here ", 30))
	frames := bare(0, 1)
	frames[0].Data.Note, frames[1].Data.Note = long, "short"
	in := Input{Judge: strings.Repeat("Somebody With Names ", 20), Stock: "A", Frames: frames}
	c := paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1600/unitsWide)
	l := &layout{rows: image.Rect(0, 0, 700, 200), row: []image.Rectangle{image.Rect(0, 0, 700, 90), image.Rect(0, 100, 700, 190)}}
	var all []string
	for _, n := range footNotes(c, l, in, frames) {
		all = append(all, strings.Join(n, " "))
	}
	text := strings.Join(all, "\n")
	if !strings.Contains(text, long) || !strings.Contains(text, strings.TrimSpace(in.Judge)) || strings.Contains(text, "short") {
		t.Errorf("the foot has:\n%s", text)
	}
}
