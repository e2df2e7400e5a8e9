package salvage

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"stopladder/analysis/film/model"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/scan/colour"
)

// Of the neutrals that curves are drawn through: from black to white of the base frame,
// so many a stop.
const (
	neutralStops = 14
	neutralsEach = 16
)

// Of the bends.
const (
	bendKnots  = 8   // of a curve, evenly over the cube root of light
	bendRounds = 6   // of reweighting
	bendNear   = 0.1 // dE00 under which a difference counts squared
	greyShare  = 0.5 // of the weight is that of a scale of greys
	greySteps  = 24  // even in the cube root of light
	endsShort  = 0.01
)

// sampled is a colour of the base frame that curves are fitted on: cube roots of its light
// on the sRGB primaries, and what a small step of them is in CIEDE2000, squared: of each
// and of each two.
type sampled struct {
	place  int
	root   [3]float64
	metric [3][3]float64
}

// sampledOf returns a colour of these cube roots.
func sampledOf(place int, root [3]float64) sampled {
	const h = 0.01 // a unit of L*, about
	s := sampled{place: place, root: root}
	lab := func(by [3]float64) colour.LAB {
		var l [3]float64
		for c := range l {
			r := root[c] + by[c]*h
			l[c] = r * r * r
		}
		return colour.LabOf(l[0], l[1], l[2])
	}
	here := lab([3]float64{})
	square := func(by [3]float64) float64 { d := colour.DeltaE2000(here, lab(by)) / h; return d * d }
	for c := range 3 {
		var by [3]float64
		by[c] = 1
		s.metric[c][c] = square(by)
	}
	for c := range 3 {
		for d := range c {
			var by [3]float64
			by[c], by[d] = 1, 1
			v := (square(by) - s.metric[c][c] - s.metric[d][d]) / 2
			s.metric[c][d], s.metric[d][c] = v, v
		}
	}
	return s
}

// far returns the square of the CIEDE2000 of a small step of the cube roots.
func (s *sampled) far(u [3]float64) float64 {
	v := 0.0
	for c := range 3 {
		for d := range 3 {
			v += u[c] * s.metric[c][d] * u[d]
		}
	}
	return math.Max(0, v)
}

// samples are one place of every other block of a model, those that the base frame has not
// lost, and a scale of greys.
type samples struct {
	places []sampled
	greys  []sampled
}

func newSamples(m *model.Model) *samples {
	out := &samples{}
	blocks, cells, per := m.Blocks()
	n := cells * per
	for b := 0; b < blocks; b += 2 {
		p := b*n + b*7%n // not the same place of each
		if m.Base.State[p]&(model.LostLight|model.LostDark|model.Absent) != 0 {
			continue
		}
		rgb := m.RGB(m.Base.Light[3*p : 3*p+3])
		for c := range rgb {
			rgb[c] = math.Cbrt(rgb[c])
		}
		out.places = append(out.places, sampledOf(p, rgb))
	}
	for k := range greySteps {
		v := (float64(k) + 0.5) / greySteps
		out.greys = append(out.greys, sampledOf(-1, [3]float64{v, v, v}))
	}
	return out
}

// tone is a rising curve over the cube root of light, in it; lift is how far beyond its end
// what the scan has full is brought.
type tone struct {
	x, y []float64
	lift float64
}

// at returns the curve at a cube root of light.
func (t *tone) at(x float64) float64 {
	n := len(t.x) - 1
	switch i, _ := slices.BinarySearch(t.x, x); {
	case i == 0:
		return t.y[0] * x / t.x[0]
	case i > n:
		return t.y[n] * x / t.x[n]
	default:
		return t.y[i-1] + (x-t.x[i-1])/(t.x[i]-t.x[i-1])*(t.y[i]-t.y[i-1])
	}
}

// full reports whether a cube root of light is the scan's end.
func (t *tone) full(x float64) bool { return x >= t.x[len(t.x)-1]-1e-5 }

// greyTones returns the curves that bring back every grey, by the response.
func (s *seen) greyTones() (t [3]tone) {
	for i := range neutralStops*neutralsEach + 1 {
		l := math.Exp2(float64(i)/neutralsEach - neutralStops)
		rgb, _, ok := s.m.Neutral(l, s.v.Stop)
		if !ok {
			continue
		}
		for c := range 3 {
			x := math.Cbrt(math.Max(rgb[c], 0))
			if n := len(t[c].x); n == 0 && x > 0 || n > 0 && x > t[c].x[n-1]+1e-5 {
				t[c].x, t[c].y = append(t[c].x, x), append(t[c].y, math.Cbrt(l))
			}
		}
	}
	for c := range 3 {
		if len(t[c].x) == 0 {
			t[c] = tone{x: []float64{1}, y: []float64{1}}
		}
	}
	return t
}

// seenPlace is a sample beside what the greys' curves make of it at a stop.
type seenPlace struct {
	*sampled
	from [3]float64
	full [3]bool
}

// places returns the samples that a stop has not lost: those in which every channel
// speaks, and those of which it has some channel full.
func (s *seen) places(t *[3]tone) (clean, full []seenPlace) {
	for i := range s.on.places {
		p := &s.on.places[i]
		state := s.m.Base.State[p.place] | s.v.State[p.place]
		if state&(model.LostLight|model.LostDark|model.Absent) != 0 {
			continue
		}
		o := seenPlace{sampled: p}
		rgb := s.m.RGB(s.v.Light[3*p.place : 3*p.place+3])
		some := false
		for c := range rgb {
			x := math.Cbrt(rgb[c])
			o.from[c], o.full[c] = t[c].at(x), t[c].full(x)
			some = some || o.full[c]
		}
		switch {
		case state == 0:
			clean = append(clean, o)
		case some:
			full = append(full, o)
		}
	}
	return clean, full
}

// curves returns the curves that leave the least mean difference over the samples in which
// every channel speaks and over greys: those that bring back every grey, which leave
// nothing where each channel shows one layer alone, bent where dyes mix the channels. What
// the scan has full is brought to what leaves the least over the samples that have it.
func (s *seen) curves() (out [3][]correction.Point) {
	t := s.greyTones()
	clean, full := s.places(&t)
	var by [3][bendKnots]float64
	if s.m.Mixed() && len(clean) > 0 {
		by = s.bends(clean)
		for c := range t {
			for i, v := range t[c].y {
				t[c].y[i] = bent(v, &by[c])
				if i > 0 {
					t[c].y[i] = math.Max(t[c].y[i], t[c].y[i-1])
				}
			}
		}
	}
	if len(full) > 10 {
		for c, v := range lifts(full, &by) {
			t[c].lift = v
		}
	}
	return pointsOf(&t)
}

// hat returns the knot under a value of the greys' curves, and how far it is on the way to
// the next.
func hat(v float64) (k int, f float64) {
	u := math.Max(0, math.Min(1, v)) * (bendKnots - 1)
	k = min(int(u), bendKnots-2)
	return k, u - float64(k)
}

// bent returns such a value bent.
func bent(v float64, by *[bendKnots]float64) float64 {
	k, f := hat(v)
	return v * math.Exp(by[k]*(1-f)+by[k+1]*f)
}

// bends finds by how much curves are bent, in logarithms at knots: least absolute
// differences by reweighted least squares.
func (s *seen) bends(clean []seenPlace) (by [3][bendKnots]float64) {
	all := slices.Clone(clean)
	for i := range s.on.greys {
		g := &s.on.greys[i]
		if _, state, ok := s.m.Neutral(g.root[0]*g.root[0]*g.root[0], s.v.Stop); ok && state == 0 {
			all = append(all, seenPlace{sampled: g, from: g.root})
		}
	}
	const n = 3 * bendKnots
	for range bendRounds {
		a, rhs := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
		for k := range n {
			a.SetSym(k, k, 1e-6) // where nothing asks for a bend
		}
		for i := range all {
			p := &all[i]
			weight := (1 - greyShare) / float64(len(clean))
			if i >= len(clean) {
				weight = greyShare / float64(len(all)-len(clean))
			}
			var left [3]float64
			var col [6]int
			var slope [6]float64
			for c := range 3 {
				y := bent(p.from[c], &by[c])
				left[c] = p.root[c] - y
				k, f := hat(p.from[c])
				col[2*c], col[2*c+1] = c*bendKnots+k, c*bendKnots+k+1
				slope[2*c], slope[2*c+1] = y*(1-f), y*f
			}
			weight /= math.Sqrt(p.far(left) + bendNear*bendNear)
			for q := range 6 {
				pull := 0.0
				for d := range 3 {
					pull += p.metric[q/2][d] * left[d]
				}
				rhs.SetVec(col[q], rhs.AtVec(col[q])+weight*slope[q]*pull)
				for r := q; r < 6; r++ {
					a.SetSym(col[q], col[r], a.At(col[q], col[r])+weight*slope[q]*slope[r]*p.metric[q/2][r/2])
				}
			}
		}
		var ch mat.Cholesky
		var x mat.VecDense
		if !ch.Factorize(a) || ch.SolveVecTo(&x, rhs) != nil {
			return by
		}
		for c := range by {
			for k := range by[c] {
				by[c][k] = math.Max(-1, math.Min(1, by[c][k]+x.AtVec(c*bendKnots+k)))
			}
		}
	}
	return by
}

// lifts finds how far beyond the ends of curves full channels are brought.
func lifts(full []seenPlace, by *[3][bendKnots]float64) (lift [3]float64) {
	for range bendRounds {
		a, rhs := mat.NewSymDense(3, nil), mat.NewVecDense(3, nil)
		for c := range 3 {
			a.SetSym(c, c, 1e-6)
		}
		for i := range full {
			p := &full[i]
			var left [3]float64
			for c := range 3 {
				left[c] = p.root[c] - bent(p.from[c], &by[c])
				if p.full[c] {
					left[c] -= lift[c]
				}
			}
			w := 1 / math.Sqrt(p.far(left)+bendNear*bendNear)
			for c := range 3 {
				if !p.full[c] {
					continue
				}
				for d := range 3 {
					rhs.SetVec(c, rhs.AtVec(c)+w*p.metric[c][d]*left[d])
					if d >= c && p.full[d] {
						a.SetSym(c, d, a.At(c, d)+w*p.metric[c][d])
					}
				}
			}
		}
		var ch mat.Cholesky
		var x mat.VecDense
		if !ch.Factorize(a) || ch.SolveVecTo(&x, rhs) != nil {
			return lift
		}
		for c := range lift {
			lift[c] = math.Max(0, lift[c]+x.AtVec(c))
		}
	}
	return lift
}

// pointsOf returns tones as curves of a correction, in stops: knots lie evenly along the
// way in and out, so that a shoulder's bend is not left out. A lift is the last step.
func pointsOf(t *[3]tone) (out [3][]correction.Point) {
	for c := range 3 {
		var x, y, run []float64
		for i := range t[c].x {
			a, b := 3*math.Log2(t[c].x[i]), 3*math.Log2(t[c].y[i])
			if n := len(x); n > 0 {
				if a-x[n-1] < 1e-4 { // steeper than any film can be read
					continue
				}
				run = append(run, run[n-1]+math.Max(a-x[n-1], b-y[n-1]))
			} else {
				run = append(run, 0)
			}
			x, y = append(x, a), append(y, b)
		}
		n := len(x)
		if n < 2 {
			out[c] = []correction.Point{{X: 0, Y: y[0] - x[0]}}
			continue
		}
		points := correction.MaxPoints
		if t[c].lift > 0 {
			points -= 2
		}
		k := 1
		for i := range points {
			r := run[n-1] * float64(i) / float64(points-1)
			for k+1 < n && run[k] < r {
				k++
			}
			w := math.Min(1, (r-run[k-1])/(run[k]-run[k-1]))
			out[c] = append(out[c], correction.Point{X: x[k-1] + w*(x[k]-x[k-1]), Y: y[k-1] + w*(y[k]-y[k-1])})
		}
		if t[c].lift > 0 {
			out[c] = lifted(out[c], 3*math.Log2(t[c].y[len(t[c].y)-1]+t[c].lift))
		}
	}
	return out
}

// lifted returns points that go on to y in a last short step.
func lifted(p []correction.Point, y float64) []correction.Point {
	end := p[len(p)-1]
	before := p[len(p)-2]
	short := math.Min(endsShort, (end.X-before.X)/4)
	slope := (end.Y - before.Y) / (end.X - before.X)
	p[len(p)-1] = correction.Point{X: end.X - 2*short, Y: end.Y - 2*short*slope}
	return append(p, correction.Point{X: end.X - short, Y: end.Y - short*slope}, correction.Point{X: end.X, Y: math.Max(y, end.Y)})
}
