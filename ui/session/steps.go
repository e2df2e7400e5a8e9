package session

import (
	"context"
	"math"
	"slices"

	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
)

// HandStep is one part of a correction by hand.
type HandStep int

// The steps, in rising effort.
const (
	ExposureStep HandStep = iota
	BalanceStep
	LiftStep
	BlackStep
	HighlightStep
	CurveStep
	StepCount = 6
)

// Slider is a slide of a step.
type Slider int

// The slides; balance has two, a curve none.
const (
	ExposureSlider Slider = iota
	WarmSlider
	TintSlider
	LiftSlider
	BlackSlider
	HighlightSlider
	SliderCount = 6
)

// Bounds are the ends of a slide.
func (k Slider) Bounds() (lo, hi float64) {
	switch k {
	case ExposureSlider:
		return -6, 6
	case WarmSlider:
		return -120, 120
	case TintSlider:
		return -0.6, 0.6
	case LiftSlider:
		return 0, correction.MaxLift
	case BlackSlider:
		return 0, correction.MaxBlack
	}
	return 0, 1
}

// Put moves a slide of a correction.
func (k Slider) Put(s *correction.Settings, v float64) {
	switch k {
	case ExposureSlider:
		s.Exposure = v
	case WarmSlider:
		_, t := correction.Split(s.RG, s.BG)
		s.RG, s.BG = correction.Join(v, t)
	case TintSlider:
		m, _ := correction.Split(s.RG, s.BG)
		s.RG, s.BG = correction.Join(m, v)
	case LiftSlider:
		s.Lift = v
	case BlackSlider:
		s.Black = v
	case HighlightSlider:
		s.Highlights = v
	}
}

// Of returns where a slide of a correction stands.
func (k Slider) Of(s correction.Settings) float64 {
	m, t := correction.Split(s.RG, s.BG)
	return [SliderCount]float64{s.Exposure, m, t, s.Lift, s.Black, s.Highlights}[k]
}

// without returns a correction without one of its steps, and whether it had it.
func (k HandStep) without(s correction.Settings) (correction.Settings, bool) {
	out := s.Clone()
	switch k {
	case ExposureStep:
		out.Exposure = 0
	case BalanceStep:
		out.RG, out.BG = 0, 0
	case LiftStep:
		out.Lift = 0
	case BlackStep:
		out.Black = 0
	case HighlightStep:
		out.Highlights = 0
	case CurveStep:
		out.Curves = [3][]correction.Point{}
	}
	return out, !out.Equal(s)
}

// StepCost is what one step costs as the others stand: the criterion that it worsens most.
type StepCost struct {
	Used bool
	By   criteria.Criterion
	// Before and After are the criterion without the step and with it; equal: nothing gets worse.
	Before, After float64
	// Share of the limit of Holds by which After is worse, 0 and more.
	Share float64
}

// Bound is a place on a slide at which, the others as they stand, the frame passes a limit.
type Bound struct {
	At    float64
	Holds bool // the limit of Holds, else that of Strains
	By    criteria.Criterion
}

// Course is what the limits make of a slide.
type Course struct {
	Bounds []Bound
	Values []float64 // places on the slide at which it was measured, rising
	at     []excess
}

// Level returns what the limits suggest at a place on the slide: 2 holds, 1 strains, 0 breaks.
func (c Course) Level(x float64) int {
	k := 1
	for k < len(c.Values)-1 && c.Values[k] < x {
		k++
	}
	a, b := c.at[k-1], c.at[k]
	t := (x - c.Values[k-1]) / (c.Values[k] - c.Values[k-1])
	return excess{holds: a.holds + t*(b.holds-a.holds), strains: a.strains + t*(b.strains-a.strains)}.level()
}

// StepCosts are the costs of the steps of one frame's correction by hand.
type StepCosts struct {
	Steps   [StepCount]StepCost
	Courses [SliderCount]Course
}

// stepCosts are kept with what they were measured of.
type stepCosts struct {
	file, key string
	limits    criteria.Set
	of        *comparison.Roll
	costs     *StepCosts
	busy      bool
}

// StepCosts returns what the steps of the i-th frame's correction by hand cost, as it was
// measured last; nil where it is not known. While a slide is dragged it is that of before.
func (s *State) StepCosts(i int) *StepCosts {
	if i < 0 || s.steps.file != s.roll.Frames[i].File {
		return nil
	}
	return s.steps.costs
}

type stepsMeasured struct{ stepCosts }

func (c stepsMeasured) apply(s *State) Effect {
	s.steps = c.stepCosts
	return Effect{Redraw: Readings}
}

// measureSteps returns the work of finding what the steps of the correction by hand cost,
// while their page shows them and no slide is held.
func (s *State) measureSteps() []Work {
	i, a := s.Current(), s.film.Comparison
	if s.steps.busy || s.holding || i < 0 || i == s.Base() || a == nil || a.Grid == nil || s.panel != CorrectionPanel || !s.byHand {
		return nil
	}
	v := s.HandSettings(i)
	now := stepCosts{file: s.roll.Frames[i].File, key: CorrectionKey(v, v), limits: s.film.Limits(), of: a}
	if was := s.steps; was.file == now.file && was.key == now.key && was.limits.Same(now.limits) && was.of == now.of {
		return nil
	}
	s.steps.busy = true
	return []Work{{Name: "cost of steps", Do: func(ctx context.Context, _ func(Change)) (Change, error) {
		now.costs = measureStepCosts(func(v correction.Settings) *salvage.Cost {
			c, ok, err := a.Grid.CostOf(ctx, i, v)
			if err != nil || !ok {
				return nil
			}
			return &c
		}, v, now.limits)
		return stepsMeasured{now}, nil
	}}}
}

// stepSamples is at how many places of a slide the cost is measured, evenly; it is
// measured besides where the slide stands and close to that, by these shares of its length.
const stepSamples = 11

var stepNear = []float64{-0.12, -0.06, -0.03, -0.015, 0, 0.015, 0.03, 0.06, 0.12}

// places are where the cost of a slide is measured.
func (k Slider) places(v correction.Settings) []float64 {
	lo, hi := k.Bounds()
	var out []float64
	for n := range stepSamples {
		out = append(out, lo+(hi-lo)*float64(n)/(stepSamples-1))
	}
	for _, d := range stepNear {
		if x := k.Of(v) + d*(hi-lo); x > lo && x < hi {
			out = append(out, x)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// measureStepCosts measures what the steps of a correction cost; nil where nothing is told.
func measureStepCosts(costOf func(correction.Settings) *salvage.Cost, v correction.Settings, set criteria.Set) *StepCosts {
	whole := costOf(v)
	if whole == nil {
		return nil
	}
	out := &StepCosts{}
	for k := range HandStep(StepCount) {
		rest, used := k.without(v)
		if !used {
			continue
		}
		if c := costOf(rest); c != nil {
			out.Steps[k] = worst(comparison.Values(c), comparison.Values(whole), set)
		}
		out.Steps[k].Used = true
	}
	for k := range Slider(SliderCount) {
		c := &out.Courses[k]
		for _, x := range k.places(v) {
			w := v.Clone()
			k.Put(&w, x)
			cost := costOf(w)
			if cost == nil {
				continue
			}
			c.Values, c.at = append(c.Values, x), append(c.at, overLimit(comparison.Values(cost), set))
		}
		c.Bounds = append(bounds(c.Values, c.at, true), bounds(c.Values, c.at, false)...)
	}
	return out
}

// worst returns the criterion that gets worse most, by its limit of Holds.
func worst(before, after [criteria.Count]*float64, set criteria.Set) (w StepCost) {
	for _, c := range criteria.All() {
		b, a, limit := before[c], after[c], set.Limits[c].Holds
		if b == nil || a == nil || math.IsNaN(*a-*b) || !(limit > 0) {
			continue
		}
		d := *a - *b
		if c.Least() { // what is lost of it, by what may be lost
			d, limit = -d, 1-limit
		}
		if share := d / limit; limit > 0 && share > w.Share {
			w.By, w.Before, w.After, w.Share = c, *b, *a, share
		}
	}
	return w
}

// excess is how far the worst criterion is over its limit, by the limit; below 0 is within.
type excess struct {
	holds, strains     float64
	byHolds, byStrains criteria.Criterion
}

func (e excess) level() int {
	switch {
	case e.holds <= 0:
		return 2
	case e.strains <= 0:
		return 1
	}
	return 0
}

func overLimit(v [criteria.Count]*float64, set criteria.Set) excess {
	e := excess{holds: math.Inf(-1), strains: math.Inf(-1)}
	for _, c := range criteria.All() {
		if v[c] == nil || math.IsNaN(*v[c]) {
			continue
		}
		by := func(limit float64) float64 {
			d := *v[c] - limit
			if c.Least() {
				d = -d
			}
			return d / math.Max(limit, 1e-6)
		}
		if x := by(set.Limits[c].Holds); x > e.holds {
			e.holds, e.byHolds = x, c
		}
		if x := by(set.Limits[c].Strains); x > e.strains {
			e.strains, e.byStrains = x, c
		}
	}
	return e
}

// bounds are where the excess goes through nothing, straight between the samples.
func bounds(x []float64, e []excess, holds bool) (out []Bound) {
	of := func(e excess) (float64, criteria.Criterion) {
		if holds {
			return e.holds, e.byHolds
		}
		return e.strains, e.byStrains
	}
	for n := 1; n < len(x); n++ {
		a, byA := of(e[n-1])
		b, byB := of(e[n])
		if (a > 0) == (b > 0) || math.IsInf(a, 0) || math.IsInf(b, 0) {
			continue
		}
		by := byA
		if b > 0 {
			by = byB
		}
		out = append(out, Bound{At: x[n-1] + (x[n]-x[n-1])*a/(a-b), Holds: holds, By: by})
	}
	return out
}
