package load

import (
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
)

// A roll with gaps, whose frames leave more of the picture beside their noise, is not called
// sharpened: it was, when every other frame of the demo could not be read.
func TestGapsAreNotSharpening(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	demo, err := simulate.NewDemoOf("reversal", 1200, 1039)
	if err != nil {
		t.Fatal(err)
	}
	r := &roll.Roll{Demo: "no files, so no hashes"}
	var open []int
	for i, s := range demo.Stops() {
		if s != -2 && s != 2 {
			r.Frames = append(r.Frames, roll.Frame{File: demo.Names()[i], Stop: s})
			open = append(open, i)
		}
	}
	m, err := Measure(t.Context(), Of(r), nil, Options{Open: func(_ *roll.Roll, i int) (scan.Source, error) { return demo.Open(open[i]), nil }}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if m.Noise == nil {
		t.Fatal("no noise was measured, so nothing was asked")
	}
	if m.Noise.Sharpened() {
		t.Errorf("said to be sharpened: %q", m.Notes)
	}
}
