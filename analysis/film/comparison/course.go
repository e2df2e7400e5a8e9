package comparison

import (
	"cmp"
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/interp"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/numeric/parallel"
)

// courseStep is how far apart the stops are at which the model is asked what salvage
// costs: between them costs bend so little that a monotone cubic is within a hundredth of
// a stop of what more of them give.
const courseStep = 0.25

// course returns what salvage by a grade costs over the stops, by the roll as a model; nil
// where it is none.
func (r *Roll) course(g criteria.Grade) *latitude.Course {
	r.mu.Lock()
	defer r.mu.Unlock()
	if c, ok := r.courses[g]; ok {
		return c
	}
	if r.courses == nil {
		r.courses = map[criteria.Grade]*latitude.Course{}
	}
	c := r.newCourse(g)
	r.courses[g] = c
	return c
}

// newCourse works it out.
func (r *Roll) newCourse(g criteria.Grade) *latitude.Course {
	if r.Grid == nil || r.Grid.Model() == nil {
		return nil
	}
	// The ladder has labels, the film got the measured stops.
	type rung struct{ label, stop float64 }
	var rungs []rung
	for i, f := range r.In.Frames {
		if s, ok := r.Grid.StopOf(i); ok && f.StopKnown && r.Frames[i].Salvage != nil && !r.contradicted(i) {
			rungs = append(rungs, rung{f.Stop, s})
		}
	}
	slices.SortStableFunc(rungs, func(a, b rung) int { return cmp.Compare(a.label, b.label) })
	rungs = slices.CompactFunc(rungs, func(a, b rung) bool { return a.label == b.label })
	if len(rungs) < 2 {
		return nil
	}
	var labels, stops []float64
	for _, q := range rungs {
		labels, stops = append(labels, q.label), append(stops, q.stop)
	}
	var measured interp.PiecewiseLinear
	if measured.Fit(labels, stops) != nil {
		return nil
	}
	out := &latitude.Course{Stops: slices.Clone(labels)}
	for k := math.Ceil(labels[0] / courseStep); k*courseStep < labels[len(labels)-1]; k++ {
		if s := k * courseStep; !slices.ContainsFunc(labels, func(l float64) bool { return math.Abs(l-s) < courseStep/4 }) {
			out.Stops = append(out.Stops, s)
		}
	}
	slices.Sort(out.Stops)
	n := len(out.Stops)
	for c := range out.Values {
		out.Values[c], out.Errors[c] = make([]float64, n), make([]float64, n)
	}
	_ = parallel.Each(context.Background(), 0, n, func(_, i int) error {
		at := measured.Predict(out.Stops[i])
		cost, _ := r.Grid.At(at, grade(g))
		for c, v := range Values(&cost.Cost) {
			out.Values[c][i] = math.NaN()
			if v != nil {
				out.Values[c][i] = *v
			}
		}
		return nil
	})
	r.errors(out, measured.Predict)
	return out
}

// Standard errors of costs, besides what the frames show: sizes are those of what the
// model was off by on simulated films of another making, without a source beyond.
const (
	lightnessOff  = 45.0 // L* units that a unit of density is worth at mid-grey (CIE 15)
	differenceOff = 0.1  // share of a colour difference
	noiseOff      = 0.07 // share of the noise
	crossoverOff  = 0.3  // dE00
	contrastOff   = 0.02
	lostOff       = 0.03 // share of the lost area

	// Of scans that were sharpened, whose edges shine: in stops by which tones are lost the
	// sooner or later, and of the noise.
	sharpShift    = 0.17
	sharpNoiseOff = 0.1

	// dyesOff is what the mixing of dyes that a roll does not tell is worth: dE00 a stop.
	dyesOff = 0.12
)

// errors fills in the standard errors of a course.
func (r *Roll) errors(o *latitude.Course, measured func(float64) float64) {
	m := r.Grid.Model()
	noiseOff, sharp := noiseOff, 0.0
	if r.Sharpened() {
		noiseOff, sharp = sharpNoiseOff, sharpShift
	}
	dyes := dyesOff
	if m.DyesTold() {
		dyes = 0
	}
	for i, s := range o.Stops {
		off := m.Off(measured(s))
		light, dark := m.Shift(off)
		shift := dark
		if s > 0 {
			shift = light
		}
		shift = math.Hypot(shift, sharp)
		slope := func(v []float64) float64 {
			lo, hi := max(0, i-1), min(len(v)-1, i+1)
			return math.Abs(v[hi]-v[lo]) / (o.Stops[hi] - o.Stops[lo])
		}
		for c := range o.Values {
			v := o.Values[c][i]
			e := 0.0
			switch criteria.Criterion(c) {
			case criteria.LostArea:
				e = math.Hypot(math.Hypot(slope(o.Values[c])*shift, lostOff*v), m.LostOff(measured(s)))
			case criteria.DeltaE:
				e = math.Hypot(math.Hypot(lightnessOff*off, differenceOff*v), dyes*s)
			case criteria.Noise:
				e = noiseOff * v
			case criteria.Crossover:
				e = math.Hypot(crossoverOff, differenceOff*v)
			case criteria.ContrastKept:
				e = contrastOff
			}
			if e != e || v != v {
				e = 0
			}
			if s == 0 && criteria.Criterion(c) != criteria.Noise { // the base frame is its own
				e = 0
			}
			o.Errors[c][i] = e
		}
	}
}
