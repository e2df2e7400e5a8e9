package rowtest

import (
	"math"

	"stopladder/analysis/film"
	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/roll"
)

// Roll returns a measured roll of frames at these stops with an Comparison and, where
// verdicts are given, what the judge says of each.
func Roll(verdicts []roll.Verdict, stops ...float64) *film.Roll {
	r := &roll.Roll{}
	for i, s := range stops {
		f := roll.Frame{Stop: s}
		if i < len(verdicts) {
			f.Verdict = verdicts[i]
		}
		r.Frames = append(r.Frames, f)
	}
	m := film.New(r)
	m.Comparison = Comparison(stops...)
	return m
}

// Comparison returns an invented comparison of frames at these stops, 0 being the base:
// every stop costs 1 dE00, half an L* of noise, 0.5 dE00 of crossover and 6 % of
// contrast, and every stop over 3 % of the area.
func Comparison(stops ...float64) *comparison.Roll {
	r := &comparison.Roll{Grid: &salvage.Grid{}, In: comparison.Input{Base: -1}}
	p := func(v float64) *float64 { return &v }
	for i, s := range stops {
		if s == 0 {
			r.In.Base = i
		}
		d := math.Abs(s)
		c := salvage.Cost{Crossover: p(d / 2)}
		c.BandCost = salvage.BandCost{DeltaE: p(d), P95: p(3 * d), LostArea: p(0.03 * math.Max(0, s)), ContrastKept: p(1 - 0.06*d)}
		c.Bands[measure.Shadows].NoiseL = p(d / 2)
		f := &salvage.Frame{}
		for g := range f.Grades {
			f.Grades[g].Cost = c
		}
		r.Frames = append(r.Frames, &comparison.Frame{Salvage: f})
		r.In.Frames = append(r.In.Frames, response.Frame{Stop: s, StopKnown: true})
	}
	return r
}
