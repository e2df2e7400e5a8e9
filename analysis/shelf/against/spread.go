package against

import (
	"math"

	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/stops"
)

// Spread is how far a figure strays when a test is made again, beside the error that is
// stated of it.
type Spread struct {
	Quantity int     // index into Result.Quantities
	Rolls    int     // that tell the figure
	Spread   float64 // half the width that holds 95 of 100 such tests: twice the standard deviation
	Stated   float64 // the error that is stated, of the rolls together
}

// Covered reports whether the stated error covers the spread, as far as so few tests can
// tell: a standard deviation of n tests is itself uncertain, and is held against its upper
// bound (chi-squared, 95 of 100).
func (s Spread) Covered() bool { return s.Spread <= s.Stated*excess(s.Rolls) }

// excess is by how much the standard deviation of n draws passes the true one in 5 of 100
// cases: sqrt(chi2(0.95, n-1)/(n-1)); of the tables of every text.
func excess(n int) float64 {
	table := []float64{0, 0, 1.960, 1.731, 1.614, 1.540, 1.488, 1.449, 1.418, 1.392, 1.371, 1.353, 1.337}
	if n < 2 {
		return math.Inf(1)
	}
	return table[min(n, len(table)-1)]
}

// spread measures how far the rolls stray.
func (r *Result) spread() {
	r.Spread = []Spread{}
	for q := range r.Quantities {
		var v, e []float64
		for _, f := range r.Quantities[q].Figure {
			if f != nil && f.Bound == 0 {
				v, e = append(v, f.Value), append(e, f.Error)
			}
		}
		if len(v) < 2 {
			continue
		}
		mean, stated := 0.0, 0.0
		for i := range v {
			mean += v[i] / float64(len(v))
			stated += e[i] * e[i] / float64(len(v))
		}
		sum := 0.0
		for _, x := range v {
			sum += (x - mean) * (x - mean)
		}
		r.Spread = append(r.Spread, Spread{Quantity: q, Rolls: len(v), Spread: 2 * math.Sqrt(sum/float64(len(v)-1)), Stated: math.Sqrt(stated)})
	}
}

// Repeat is one stop that several frames of a roll stand at: a base frame exposed twice.
type Repeat struct {
	Roll   int // index into Result.Rolls
	Stop   float64
	Frames int
	// Spread of the measured stops, half the width that holds 95 of 100 (twice the standard
	// deviation), and Stated, the error that the readings state: what is left of the spread
	// beyond it is of the shutter and the light.
	Spread, Stated float64
	Cost           *float64 // most of the colour differences (CIEDE2000) that salvage by curves leaves of each to the base frame; nil: not known
}

// repeats finds frames that stand at one stop.
func (r *Result) repeats() {
	for i, x := range r.Rolls {
		for _, q := range RepeatsOf(x.Readings) {
			q.Roll = i
			r.Repeats = append(r.Repeats, q)
		}
	}
}

// RepeatsOf returns the stops that several frames of a roll stand at.
func RepeatsOf(k *kept.Readings) (out []Repeat) {
	for i := 0; i < len(k.Frames); {
		j := i + 1
		for j < len(k.Frames) && k.Frames[i].Stop != nil && k.Frames[j].Stop != nil && math.Abs(*k.Frames[j].Stop-*k.Frames[i].Stop) < stops.Near {
			j++
		}
		if j-i > 1 {
			if q, ok := repeat(k.Frames[i:j]); ok {
				out = append(out, q)
			}
		}
		i = j
	}
	return out
}

func repeat(frames []kept.Frame) (q Repeat, ok bool) {
	var v []float64
	stated := 0.0
	for i := range frames {
		f := &frames[i]
		if f.Measured == nil {
			continue
		}
		v = append(v, *f.Measured)
		if f.MeasuredError != nil {
			stated += 4 * *f.MeasuredError * *f.MeasuredError
		}
		if f.Curves != nil && f.Curves.DeltaE != nil && (q.Cost == nil || *f.Curves.DeltaE > *q.Cost) {
			q.Cost = f.Curves.DeltaE
		}
	}
	if len(v) < 2 {
		return q, false
	}
	mean, sum := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sum += (x - mean) * (x - mean)
	}
	q.Stop, q.Frames = *frames[0].Stop, len(v)
	q.Spread, q.Stated = 2*math.Sqrt(sum/float64(len(v)-1)), math.Sqrt(stated/float64(len(v)))
	return q, true
}
