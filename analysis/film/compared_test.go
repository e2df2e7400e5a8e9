package film

import (
	"testing"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
)

// Every frame that the range does not rest on is named with its reason.
func TestNotCompared(t *testing.T) {
	r := New(&roll.Roll{Frames: []roll.Frame{{File: "a"}, {File: "b", Stop: 1}, {File: "c", Stop: 2}, {File: "d", Stop: 3}, {File: "e", Stop: 4}}})
	r.Base = 0
	r.Fitted = make([]response.Frame, 5)
	r.Response = &response.Result{Frames: make([]response.Reading, 5), Labels: []response.LabelFinding{{Frame: 3}}}
	for i := range r.Frames {
		r.Frames[i].Look, r.Frames[i].Map = &measure.Look{}, &f64.Aff3{}
	}
	r.Frames[1].Map, r.Frames[2].Look = nil, nil
	const want = "b (could not be registered), c (could not be read), d (contradicts its label)"
	if got := r.leftOut(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
