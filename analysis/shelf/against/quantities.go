package against

import (
	"math"
	"slices"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/stops"
)

// stop is log10 2.
const stop = 0.301029995663981

const green = 1

// Where responses, noise, casts and costs are compared, in stops.
var (
	reaches    = [2]float64{2.0, 0.1} // density: 1 % of full scale, the dark end; 79 %, near white
	noiseAt    = []float64{-4, -2, 0, 2}
	castsAt    = []float64{-3, -2, -1, 1, 2, 3}
	costsAt    = []float64{-3, -2, -1, 1, 2, 3, 4}
	aroundGrey = 1.0 // to each side of mid-grey, over which contrast is told
)

// Least errors, half widths: what samples stand apart and are rounded by.
const (
	leastStops   = 0.02
	leastDensity = 0.004
)

func (r *Result) add(q Quantity) {
	known := 0
	for _, f := range q.Figure {
		if f != nil {
			known++
		}
	}
	if known >= 2 {
		r.Quantities = append(r.Quantities, q)
	}
}

// each makes the figures of a quantity, roll by roll.
func (r *Result) each(of func(k *kept.Readings) *Figure) []*Figure {
	out := make([]*Figure, len(r.Rolls))
	for i, x := range r.Rolls {
		if f := of(x.Readings); f != nil && !math.IsNaN(f.Value) && !math.IsNaN(f.Error) {
			out[i] = f
		}
	}
	return out
}

func (r *Result) quantities() {
	if r.sameLimits() {
		r.ranges()
	}
	r.responses()
	if r.sameViewing() {
		for _, at := range noiseAt {
			r.add(Quantity{Key: "noise " + stops.ASCII(at), Group: Noise, Unit: "L*", say: noiseWords(at),
				Figure: r.each(func(k *kept.Readings) *Figure { return noiseOf(k, at) })})
		}
	}
	for c, name := range []string{"red", "blue"} {
		for _, at := range castsAt {
			r.add(Quantity{Key: "cast " + name + " " + stops.ASCII(at), Group: Casts, Unit: "CC", say: castWords(c, at),
				Figure: r.each(func(k *kept.Readings) *Figure { return CastOf(k, 2*c, at) })})
		}
	}
	if r.sameLimits() {
		for _, c := range criteria.All() {
			for _, at := range costsAt {
				r.add(Quantity{Key: c.Key() + " " + stops.ASCII(at), Group: Costs, Unit: c.Unit(), say: costWords(c, at),
					Figure: r.each(func(k *kept.Readings) *Figure { return costOf(k, c, at) })})
			}
		}
	}
}

// sameLimits reports whether all ranges and costs are by one grade and one set of limits.
func (r *Result) sameLimits() bool {
	for _, x := range r.Rolls[1:] {
		if !x.Readings.Limits.Same(r.Rolls[0].Readings.Limits) {
			return false
		}
	}
	return true
}

// viewingAlike is by what share viewing scales may differ and count as one: borders that
// are found a little otherwise. Noise grows by as much, less than it is known.
const viewingAlike = 0.03

// sameViewing reports whether all noise is told at one scale.
func (r *Result) sameViewing() bool {
	least, most := math.MaxInt, 0
	for _, x := range r.Rolls {
		if v := x.Readings.Viewing; v > 0 {
			least, most = min(least, v), max(most, v)
		}
	}
	return most == 0 || float64(most) <= float64(least)*(1+viewingAlike)
}

func (r *Result) ranges() {
	for _, level := range []struct {
		key string
		of  func(k *kept.Readings) *kept.Ends
	}{{"holds", func(k *kept.Readings) *kept.Ends { return k.Range.Holds }}, {"strains", func(k *kept.Readings) *kept.Ends { return k.Range.Strains }}} {
		for _, over := range []bool{false, true} {
			name, way := level.key+" under", -1
			if over {
				name, way = level.key+" over", 1
			}
			r.add(Quantity{Key: name, Group: Ranges, Unit: "stops", say: rangeWords(level.key, over), Figure: r.each(func(k *kept.Readings) *Figure {
				g := level.of(k)
				if g == nil {
					return nil
				}
				e := g.Lo
				if over {
					e = g.Hi
				}
				f := &Figure{Value: e.Stop, Error: math.Max(e.Error, leastStops)}
				if e.Open {
					f.Bound = way
				}
				return f
			})})
		}
	}
}

func (r *Result) responses() {
	for c, name := range []string{"red", "green", "blue"} {
		r.add(Quantity{Key: "contrast " + name, Group: Response, say: contrastWords(name), Figure: r.each(func(k *kept.Readings) *Figure {
			a, ea, ok := DensityAt(k, c, -aroundGrey)
			b, eb, ok2 := DensityAt(k, c, aroundGrey)
			if !ok || !ok2 {
				return nil
			}
			w := 2 * aroundGrey * stop
			return &Figure{Value: (a - b) / w, Error: 2 * math.Hypot(ea, eb) / w}
		})})
	}
	for i, d := range reaches {
		r.add(Quantity{Key: []string{"reach dark", "reach light"}[i], Group: Response, Unit: "stops", say: reachWords(i), Figure: r.each(func(k *kept.Readings) *Figure {
			at, e, ok := StopOf(k, green, d)
			if !ok {
				return nil
			}
			return &Figure{Value: at, Error: math.Max(2*e, leastStops)}
		})})
	}
}

// DensityAt returns a channel's density at so many stops from mid-grey, with its standard
// error; ok is false where the roll does not tell.
func DensityAt(k *kept.Readings, c int, at float64) (d, e float64, ok bool) {
	r := k.Response
	if r == nil || len(r.Density[c]) < 2 {
		return 0, 0, false
	}
	x := (at*stop - r.First) / r.Step
	if !(x >= -1e-9 && x <= float64(len(r.Density[c])-1)+1e-9) {
		return 0, 0, false
	}
	i := max(0, min(int(x), len(r.Density[c])-2))
	t := x - float64(i)
	a, b := r.Density[c][i], r.Density[c][i+1]
	if a == nil || b == nil {
		return 0, 0, false
	}
	e = math.Max((1-t)**r.Error[c][i]+t**r.Error[c][i+1], leastDensity/2)
	return (1-t)**a + t**b, e, true
}

// StopOf returns where, in stops from mid-grey, a channel has a density, with its standard
// error; ok is false where the roll does not reach it.
func StopOf(k *kept.Readings, c int, density float64) (at, e float64, ok bool) {
	r := k.Response
	if r == nil {
		return 0, 0, false
	}
	for i := 0; i+1 < len(r.Density[c]); i++ {
		a, b := r.Density[c][i], r.Density[c][i+1]
		if a == nil || b == nil || !(*a >= density && *b <= density && *a > *b) {
			continue
		}
		t := (*a - density) / (*a - *b)
		slope := (*a - *b) / (r.Step / stop) // density a stop
		s := math.Max((1-t)**r.Error[c][i]+t**r.Error[c][i+1], leastDensity/2)
		return (r.First + (float64(i)+t)*r.Step) / stop, s / slope, true
	}
	return 0, 0, false
}

func noiseOf(k *kept.Readings, at float64) *Figure {
	if k.Noise == nil {
		return nil
	}
	i := slices.Index(k.Noise.Stops, at)
	if i < 0 {
		return nil
	}
	return &Figure{Value: k.Noise.L[i], Error: 2 * k.Noise.Error[i]}
}

// CastOf returns the cast of a mid-grey that got so many stops, in CC: how much denser
// channel c (0 red, 2 blue) is than green, beyond what the base frame shows; nil where the
// roll does not tell.
func CastOf(k *kept.Readings, c int, at float64) *Figure {
	d, e, ok := DensityAt(k, c, at)
	g, eg, ok2 := DensityAt(k, green, at)
	d0, _, ok3 := DensityAt(k, c, 0)
	g0, _, ok4 := DensityAt(k, green, 0)
	if !ok || !ok2 || !ok3 || !ok4 {
		return nil
	}
	return &Figure{Value: 100 * (d - g - (d0 - g0)), Error: 100 * 2 * math.Hypot(e, eg)}
}

func costOf(k *kept.Readings, c criteria.Criterion, at float64) *Figure {
	if k.Costs == nil {
		return nil
	}
	v, e := k.Costs.Values[c.Key()], k.Costs.Errors[c.Key()]
	i := slices.Index(k.Costs.Stops, at)
	if i < 0 || i >= len(v) || v[i] == nil || e[i] == nil {
		return nil
	}
	return &Figure{Value: *v[i], Error: math.Max(2**e[i], leastCost[c])}
}

// leastCost is half the width within which no cost is known, whatever is stated: a fifth of
// what is seen at all, about (design choice, no source).
var leastCost = [criteria.Count]float64{criteria.LostArea: 0.005, criteria.DeltaE: 0.3, criteria.Noise: 0.1, criteria.Crossover: 0.3, criteria.ContrastKept: 0.02}
