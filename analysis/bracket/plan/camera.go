package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/bracket/exposure"
)

// Clicks says where a ring or dial stops between its engraved marks.
type Clicks string

// Clicks of a ring or dial.
const (
	Marked Clicks = ""       // only at the engraved marks
	Halves Clicks = "halves" // and at half stops between them
	Thirds Clicks = "thirds" // and at thirds of a stop between them
)

func (c Clicks) perStop() float64 {
	switch c {
	case Halves:
		return 2
	case Thirds:
		return 3
	}
	return 1
}

// Camera is a shutter and a lens.
type Camera struct {
	Name           string   `json:"name"`
	Times          []string `json:"times"`     // as engraved: "1", "1/2", "1/500"; "1/500=1/410" where a test found 1/410 s
	Apertures      []string `json:"apertures"` // as engraved: "2.8", "4"
	TimeClicks     Clicks   `json:"timeClicks,omitempty"`
	ApertureClicks Clicks   `json:"apertureClicks,omitempty"`
	Bulb           bool     `json:"bulb,omitempty"` // times beyond the slowest mark by watch, on B or T
}

// longestBare is the longest time in seconds that a camera may list without a unit.
// Dials leave the 1/ of short times out, and run to 30 s at most (from memory).
const longestBare = 30.0

// maxMarks bounds what a camera file may list.
const maxMarks = 100

// Validate returns what is wrong with a camera, field by field; nil when nothing is.
func (c Camera) Validate() error {
	_, _, err := c.marks()
	return err
}

// marks returns the settings of the shutter, longest time first, and of the lens,
// widest aperture first.
func (c Camera) marks() (times, apertures []Mark, err error) {
	var es Errors
	if name := strings.TrimSpace(c.Name); name == "" || len(name) > 200 || controlled(name) {
		es.add(FieldName, "a camera needs a name of at most 200 characters on one line")
	}
	for _, f := range []struct {
		field  Field
		clicks Clicks
	}{{FieldTimeClicks, c.TimeClicks}, {FieldApertureClicks, c.ApertureClicks}} {
		if f.clicks != Marked && f.clicks != Halves && f.clicks != Thirds {
			es.add(f.field, "clicks are at the marks only (leave empty), halves or thirds, and not %s", quote(string(f.clicks)))
		}
	}
	times, err = ring(c.Times, c.TimeClicks, "shutter time", readTime, exposure.HalfTimes(), exposure.Times())
	es.put(FieldTimes, err)
	slices.Reverse(times)
	apertures, err = ring(c.Apertures, c.ApertureClicks, "aperture", readAperture, exposure.HalfApertures(), exposure.Apertures())
	es.put(FieldApertures, err)
	return times, apertures, es.or()
}

// Span names what a camera reaches: "1 s to 1/500", "f/2.8 to f/22", and "" for one
// that cannot be (Validate says why).
func (c Camera) Span() (times, apertures string) {
	t, a, err := c.marks()
	if err != nil {
		return "", ""
	}
	return span(t, Mark.Seconds), span(a, Mark.Number)
}

// ring reads the marks of a ring or dial, ascending, with the clicks between.
func ring(texts []string, clicks Clicks, what string, parse func(string) (Mark, error), halves, thirds []exposure.Mark) ([]Mark, error) {
	if len(texts) == 0 {
		return nil, fmt.Errorf("a camera needs at least one %s", what)
	}
	if len(texts) > maxMarks {
		return nil, fmt.Errorf("a camera has at most %d marks for the %s, and here are %d", maxMarks, what, len(texts))
	}
	var marks []Mark
	for _, text := range texts {
		m, err := engravedMark(text, clicks, what, parse, halves, thirds)
		if err != nil {
			return nil, err
		}
		marks = append(marks, m)
	}
	slices.SortFunc(marks, func(a, b Mark) int { return cmpFloat(a.Nominal, b.Nominal) })
	for i := 1; i < len(marks); i++ {
		if marks[i].Nominal == marks[i-1].Nominal {
			return nil, fmt.Errorf("the %s %s stands twice: leave one out", what, marks[i].Text)
		}
	}
	series, perDoubling := halves, clicks.perStop()
	switch clicks {
	case Marked:
		return marks, nil
	case Thirds:
		series = thirds
	}
	if what == "aperture" {
		perDoubling *= 2 // the light goes with the square of the f-number
	}
	full := marks[:1:1]
	for i := 1; i < len(marks); i++ {
		full = append(full, clicksBetween(marks[i-1], marks[i], perDoubling, series)...)
		full = append(full, marks[i])
	}
	return full, nil
}

// engravedMark reads one mark of a ring, with what was tested for it behind "=".
func engravedMark(text string, clicks Clicks, what string, parse func(string) (Mark, error), halves, thirds []exposure.Mark) (Mark, error) {
	engraved, tested, isTested := strings.Cut(text, "=")
	if err := ambiguous(engraved); err != nil { // a tested figure is held against the mark below
		return Mark{}, err
	}
	m, err := parse(engraved)
	if err != nil {
		return Mark{}, err
	}
	if v, bare := number(engraved); bare && what == "shutter time" && v > longestBare {
		return Mark{}, fmt.Errorf("the shutter time %s could be seconds or a part of one: write 1/%s, or %s s", quote(engraved), engraved, engraved)
	}
	if clicks == Halves {
		// A ring in halves that is engraved 13 means the half stop, not the third.
		if h, ok := exposure.Find(halves, m.Nominal); ok && !onFull(thirds, m.Nominal) {
			m.Exact = h.Exact
		}
	}
	if !isTested {
		return m, nil
	}
	t, err := parse(tested)
	if err != nil {
		return Mark{}, err
	}
	if math.Abs(math.Log2(t.Nominal/m.Nominal)) > 2 {
		return Mark{}, fmt.Errorf("%s was tested as %s, four times off or more: check the test", quote(engraved), quote(tested))
	}
	m.Exact, m.Tested = t.Nominal, true
	return m, nil
}

// clicksBetween returns the clicks between two marks, evenly spaced in stops and named
// as in the series where it has them; perDoubling is how many there are while the
// figure doubles.
func clicksBetween(a, b Mark, perDoubling float64, series []exposure.Mark) (out []Mark) {
	n := math.Round(math.Log2(b.Exact/a.Exact) * perDoubling)
	for k := 1.0; k < n; k++ {
		exact := a.Exact * math.Pow(b.Exact/a.Exact, k/n)
		m := Mark{Text: trimmed(exact, 2), Nominal: exact, Exact: exact, Between: a.Text + " and " + b.Text, Tested: a.Tested || b.Tested}
		if n > 2 {
			m.Between += ", " + ordinal(int(k)) + " click"
		}
		if exact < 0.3 {
			m.Text = "1/" + trimmed(1/exact, 2)
		}
		for _, s := range series {
			if math.Abs(math.Log2(s.Exact/exact)) < 0.05 {
				m.Text, m.Nominal = s.Text, s.Nominal
			}
		}
		out = append(out, m)
	}
	return out
}

// ordinal numbers the clicks between two marks, from the one that is named first.
func ordinal(k int) string {
	if words := []string{"first", "second", "third"}; k <= len(words) {
		return words[k-1]
	}
	return fmt.Sprintf("%dth", k)
}

func onFull(thirds []exposure.Mark, nominal float64) bool {
	_, ok := exposure.Find(exposure.Whole(thirds), nominal)
	return ok
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// byWatch returns the time on B for so many seconds, in steps that a watch and a hand
// keep (common practice, no source); ok is false for times that a hand cannot give.
func byWatch(seconds float64) (Mark, bool) {
	if !(seconds >= 2 && seconds <= maxTime) {
		return Mark{}, false
	}
	step := 1.0
	switch {
	case seconds >= 600:
		step = 30
	case seconds >= 60:
		step = 5
	}
	v := step * math.Round(seconds/step)
	return Mark{Text: trimmed(v, 6), Nominal: v, Exact: v, Watch: true}, true
}

// find returns the mark of a ring that is engraved like m.
func find(marks []Mark, m Mark) (Mark, bool) {
	for _, c := range marks {
		if math.Abs(c.Nominal/m.Nominal-1) < 0.01 {
			return c, true
		}
	}
	return Mark{}, false
}

// span names the ends of a ring.
func span(marks []Mark, write func(Mark) string) string {
	if len(marks) == 1 {
		return write(marks[0])
	}
	return write(marks[0]) + " to " + write(marks[len(marks)-1])
}
