package session

import (
	"math"
	"testing"

	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
)

// A film whose shadows get noisier by an L* for each stop of exposure and by two for each
// of lift, and whose colours are off by two for each stop that is missing to 1.
func madeUp(v correction.Settings) *salvage.Cost {
	noise, off := 0.5+math.Max(0, v.Exposure)+2*v.Lift, 2*math.Abs(1-v.Exposure)
	return &salvage.Cost{BandCost: salvage.BandCost{NoiseL: &noise, DeltaE: &off}}
}

func TestStepsTellWhatTheyCost(t *testing.T) {
	set := criteria.Default() // noise 3 and 6, colour 3 and 6
	c := measureStepCosts(madeUp, correction.Settings{Exposure: 1, Lift: 0.5}, set)
	if e := c.Steps[ExposureStep]; !e.Used || e.By != criteria.Noise || math.Abs(e.Share-1.0/3) > 1e-9 || e.Before != 1.5 || e.After != 2.5 {
		t.Errorf("exposure: %+v", e)
	}
	if l := c.Steps[LiftStep]; !l.Used || l.By != criteria.Noise || math.Abs(l.Share-1.0/3) > 1e-9 {
		t.Errorf("lift: %+v", l)
	}
	if c.Steps[BlackStep].Used || c.Steps[CurveStep].Used {
		t.Error("a step that is not used counts as used")
	}
	// Lift: 0.5 + 1 + 2 lift passes 3 at 0.75, and 6 at 2.25; both lie on straight lines.
	got := map[bool]float64{}
	for _, b := range c.Courses[LiftSlider].Bounds {
		if b.By != criteria.Noise {
			t.Errorf("the lift ends by %s", b.By.Key())
		}
		got[b.Holds] = b.At
	}
	if math.Abs(got[true]-0.75) > 1e-6 || math.Abs(got[false]-2.25) > 1e-6 {
		t.Errorf("the lift's limits lie at %v, want 0.75 and 2.25", got)
	}
	// Exposure: below, colour passes 3 at -0.5; above, noise (1.5 + x) passes it at 1.5.
	var lo, hi float64
	for _, b := range c.Courses[ExposureSlider].Bounds {
		switch {
		case b.Holds && b.By == criteria.DeltaE && b.At < 0:
			lo = b.At
		case b.Holds && b.By == criteria.Noise:
			hi = b.At
		}
	}
	if math.Abs(lo+0.5) > 0.05 || math.Abs(hi-1.5) > 0.05 {
		t.Errorf("the exposure's limits lie at %.2f and %.2f, want -0.5 and 1.5", lo, hi)
	}
	x := c.Courses[ExposureSlider]
	if x.Level(1) != 2 || x.Level(-1) != 1 || x.Level(-4) != 0 {
		t.Errorf("levels %d %d %d, want 2 1 0", x.Level(1), x.Level(-1), x.Level(-4))
	}
}
