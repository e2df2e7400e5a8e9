package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
)

// This file is all that knows how the program's readings are reached.

// cost is what the program says that a grade of salvage costs; NaN is not told.
type cost struct{ lost, deltaE, p95, noise, crossover, contrast float64 }

// band is what it says of a tonal band.
type band struct {
	level       float64    // of the base frame, where the cast is told; 0: no such band
	cast        [2]float64 // of the neutral, a* and b* against the base frame
	noiseL, snr float64
}

type frame struct {
	stop, stopErr    float64
	registered       bool
	at               func(x, y float64) (float64, float64) // base to frame, pixels of the scan; nil: not registered
	bands            [3]band                               // shadows, midtones, highlights
	crossover        float64
	grades           [3]cost // exposure, balance, curves
	blown, blocked   float64
	noisy            float64
	words            string // on its casts
	gain             [3]float64
	gainTold         bool
	dirtShare, shown float64 // NaN: not told
}

// end is one end of the measured range.
type end struct {
	stop, err  float64
	open, none bool
	unknown    bool // open because nothing is known of the frames beyond
	by         criteria.Criterion
}

type readings struct {
	frames []frame
	fixed  *bool
	flare  float64   // of the scanner, as the program tells it; NaN: not told
	ends   [2][2]end // holds, strains; under, over
	words  string    // every sentence on the roll as a whole
	// course is a criterion at a stop and its standard error, as the range is found from; NaN: not told.
	course func(c criteria.Criterion, stop float64) (v, err float64)
}

// measure runs the program's analysis on a roll.
func measure(ctx context.Context, r *adversary.Roll, frames []*adversary.Frame) (*readings, error) {
	job := &load.Job{Roll: &roll.Roll{Demo: "adversary"}}
	for i, s := range r.Stops {
		job.Roll.Frames = append(job.Roll.Frames, roll.Frame{File: fmt.Sprintf("%02d", i), Stop: s, Origin: roll.ByHand})
	}
	res, err := load.Measure(ctx, job, nil, load.Options{Open: func(_ *roll.Roll, i int) (scan.Source, error) { return frames[i].Pixels, nil }}, nil)
	if err != nil {
		return nil, err
	}
	nan := math.NaN()
	out := &readings{frames: make([]frame, len(r.Stops)), flare: nan}
	for i := range out.frames {
		f := &out.frames[i]
		*f = frame{stop: nan, stopErr: nan, crossover: nan, noisy: nan, dirtShare: nan, shown: nan}
		for b := range f.bands {
			f.bands[b] = band{0, [2]float64{nan, nan}, nan, nan}
		}
		for g := range f.grades {
			f.grades[g] = cost{nan, nan, nan, nan, nan, nan}
		}
		if e := res.Frames[i]; e.Look != nil {
			f.blown, f.blocked = e.Look.Blown.Any, e.Look.Blocked.Any
			f.shown = value(e.Common)
			if e.Marks != nil {
				f.dirtShare = e.Marks.Share
			}
			if e.Relation != nil {
				f.noisy = value(e.Relation.Noisy)
			}
		}
		if i < len(res.Fitted) {
			f.registered = !res.Fitted[i].Unregistered && res.Fitted[i].Look != nil
			if f.registered {
				m := res.Fitted[i].Map
				f.at = func(x, y float64) (float64, float64) { return m[0]*x + m[1]*y + m[2], m[3]*x + m[4]*y + m[5] }
			}
		}
		if res.Response != nil && i < len(res.Response.Frames) {
			f.stop, f.stopErr = value(res.Response.Frames[i].MeasuredStop), value(res.Response.Frames[i].MeasuredStopError)
		}
		if a := res.Compared(i); a != nil {
			compared(f, a)
		}
	}
	words := slices.Clone(res.Notes)
	if a := res.Response; a != nil {
		out.fixed, out.flare = a.Scan.Fixed, value(a.Scan.Flare)
		words = append(append(append(words, a.Reason, a.Scan.Reason), a.Scan.Findings...), a.Notes...)
		for _, g := range a.Scan.Gains {
			out.frames[g.Frame].gain, out.frames[g.Frame].gainTold = [3]float64{g.R, g.G, g.B}, true
		}
	}
	for l := range out.ends {
		for d := range 2 {
			out.ends[l][d] = end{stop: nan, none: true}
		}
	}
	out.course = func(criteria.Criterion, float64) (float64, float64) { return nan, nan }
	if x := res.RangeUnder(criteria.Default()); x != nil {
		out.course = func(c criteria.Criterion, stop float64) (float64, float64) {
			if v, ok := x.Curve(c).At(stop); ok {
				return v, x.Curve(c).Error(stop)
			}
			return nan, nan
		}
		words = append(append(words, res.Finding(criteria.Default())...), res.Comparison.Untold()...)
		for l, rg := range []latitude.Range{x.Holds, x.Strains} {
			if rg.Reason != "" {
				continue
			}
			for d, e := range []latitude.End{rg.Lo, rg.Hi} {
				out.ends[l][d] = end{stop: e.Stop, err: e.Uncertainty, open: e.Open, by: e.By, unknown: e.Open && e.Unknown > 0}
			}
		}
	}
	out.words = strings.Join(words, "\n")
	return out, nil
}

func value(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

func compared(f *frame, a *comparison.Frame) {
	for b := range f.bands {
		v := a.Bands[b]
		f.bands[b].level = v.Level
		if v.Cast != nil {
			f.bands[b].cast = [2]float64{v.Cast.DA, v.Cast.DB}
		}
		f.bands[b].noiseL, f.bands[b].snr = value(v.NoiseL), value(v.SNR)
	}
	f.crossover, f.words = value(a.Crossover), a.Words
	if a.Salvage == nil || a.Salvage.Reason != "" {
		return
	}
	for g := range f.grades {
		c := &a.Salvage.Grades[salvage.Grade(g)].Cost
		f.grades[g] = cost{value(c.LostArea), value(c.DeltaE), value(c.P95), value(c.ShadowNoise()), value(c.Crossover), value(c.ContrastKept)}
	}
}
