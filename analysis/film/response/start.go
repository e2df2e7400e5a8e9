package response

import (
	"context"
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// The first guess is linear: h(u) = x + e with h the inverse of the response,
// solved for h, x and e at once as Debevec & Malik do. The scale is pinned on h,
// so no label is needed and no wrong label does harm; it is set later.
const (
	startSlope     = 1.6  // du per log10 exposure, assumed until labels tell
	startIntervals = 14   // of h
	startBend      = 0.04 // log10: standard deviation of h's second differences
)

// start is the guess: x per cell and channel, e per frame (0 at base), both in
// units in which the mean slope of the response is startSlope.
type start struct {
	x []float64
	e []float64
}

// used says which frames have readings enough to take part: about 50 cells.
func (m *samples) used() []bool {
	ok := make([]bool, m.frames)
	for j := range ok {
		n := 0
		for k := j; k < len(m.s); k += m.frames {
			if m.s[k] > 0 {
				n++
			}
		}
		ok[j] = n >= 150
	}
	return ok
}

// firstGuess solves for the inverse of the response: straight curves first, then with
// each reading weighed by the slope that the curves then have. ok is false where
// readings are too few or too much alike.
func firstGuess(ctx context.Context, m *samples, base int) (*start, bool) {
	g := &guess{m: m, base: base, e: make([]float64, m.frames)}
	for c := range g.h {
		if !g.straight(c) {
			return nil, false
		}
	}
	x := make([]float64, m.cells*3)
	for pass := range 3 {
		if ctx.Err() != nil || !g.solve(pass == 0) {
			return nil, false
		}
		g.places(x)
	}
	return &start{x: x, e: g.e}, true
}

// guess is the inverse response of each channel while it is found: exposure over the
// readings u.
type guess struct {
	m    *samples
	base int
	h    [3]spline
	q    [3][3]float64 // 10 %, 50 %, 90 % of u
	e    []float64     // exposure of each frame
}

// guessKnots is how many coefficients a curve of the guess has.
const guessKnots = startIntervals + 3

// straight begins channel c with a line over its readings; false where they are too
// few or too much alike.
func (g *guess) straight(c int) bool {
	m := g.m
	var v []float64
	for i := range m.cells {
		for j := range m.frames {
			if k := m.index(i, c, j); m.s[k] > 0 {
				v = append(v, m.u[k])
			}
		}
	}
	if len(v) < 60 {
		return false
	}
	slices.Sort(v)
	at := func(p float64) float64 { return v[int(p*float64(len(v)-1))] }
	g.q[c] = [3]float64{at(0.1), at(0.5), at(0.9)}
	lo, hi := at(0.002), at(0.998)
	if hi-lo < 0.05 {
		return false
	}
	g.h[c] = spline{lo: lo, step: (hi - lo) / startIntervals, coef: make([]float64, guessKnots)}
	for k := range g.h[c].coef {
		g.h[c].coef[k] = (lo + (float64(k)-1)*g.h[c].step - g.q[c][1]) / startSlope
	}
	return true
}

// weightOf returns the weight of reading k at a slope of the curve: what noise of the
// reading, and of the curve, makes of the exposure.
func (g *guess) weightOf(k int, slope float64) float64 {
	s := g.m.s[k]
	return 1 / ((s*s + 4e-4) * slope * slope)
}

func boundedSlope(v float64) float64 { return math.Min(math.Max(v, 0.15), 6) }

// solve finds curves and frames that agree on every cell; even takes the curves for
// straight in weighing.
func (g *guess) solve(even bool) bool {
	m := g.m
	n := newNormal(3*guessKnots + m.frames)
	for i := range m.cells {
		for c := range 3 {
			n.clearLocal()
			sum := 0.0
			for j := range m.frames {
				at := m.index(i, c, j)
				if m.s[at] <= 0 {
					continue
				}
				o, b, db := g.h[c].basis(m.u[at])
				slope := 1 / startSlope
				if !even {
					slope = 0
					for t := range db {
						slope += db[t] * g.h[c].coef[o+t]
					}
					slope = boundedSlope(slope)
				}
				w := g.weightOf(at, slope)
				n.row(3*guessKnots+j, -1, c*guessKnots+o, b, w, 0, 1)
				sum += w
			}
			n.eliminate(sum)
		}
	}
	g.pin(n)
	sol, _, ok := n.solve(1e-6)
	if !ok {
		return false
	}
	for c := range g.h {
		copy(g.h[c].coef, sol[c*guessKnots:(c+1)*guessKnots])
	}
	copy(g.e, sol[3*guessKnots:])
	return true
}

// pin fixes what readings leave open: the overall slope, the place of each curve and
// its evenness, the base frame.
func (g *guess) pin(n *normal) {
	pin := make([]float64, 3*guessKnots+g.m.frames)
	span := 0.0
	for c := range 3 {
		for e, sign := range [2]float64{-1, 1} {
			o, b, _ := g.h[c].basis(g.q[c][2*e])
			for t := range b {
				pin[c*guessKnots+o+t] += sign * b[t]
			}
			span += sign * g.q[c][2*e]
		}
	}
	n.dense(pin, span/startSlope, 1e10)
	for c := range 3 {
		clear(pin)
		o, b, _ := g.h[c].basis(g.q[c][1])
		copy(pin[c*guessKnots+o:], b[:])
		n.dense(pin, 0, 1e8)
		for t := 0; t+2 < guessKnots; t++ {
			n.second(c*guessKnots+t, 1/(startBend*startBend))
		}
	}
	clear(pin)
	pin[3*guessKnots+g.base] = 1
	n.dense(pin, 0, 1e10)
}

// places sets x to where the curves put each cell and channel; NaN where nothing was
// read.
func (g *guess) places(x []float64) {
	m := g.m
	for i := range m.cells {
		for c := range 3 {
			sw, sx := 0.0, 0.0
			for j := range m.frames {
				at := m.index(i, c, j)
				if m.s[at] <= 0 {
					continue
				}
				v, slope := g.h[c].at(m.u[at])
				w := g.weightOf(at, boundedSlope(slope))
				sw += w
				sx += w * (v - g.e[j])
			}
			x[i*3+c] = math.NaN()
			if sw > 0 {
				x[i*3+c] = sx / sw
			}
		}
	}
}

// normal gathers normal equations in which one unknown per cell and channel is
// eliminated as it goes.
type normal struct {
	p  int
	n  []float64 // p x p, upper triangle
	r  []float64
	l  []float64 // of the local unknown with the others
	lr float64
	// Which of l were touched, a bit each; told in rising order by gather, with their
	// values side by side and the runs of neighbours among them.
	set     []uint64
	touched []int
	value   []float64
	runs    []run
}

// run is a row of neighbours among what was touched: so many from unknown at on, whose
// values begin at from.
type run struct{ at, from, count int }

func newNormal(p int) *normal {
	return &normal{p: p, n: make([]float64, p*p), r: make([]float64, p), l: make([]float64, p), set: make([]uint64, (p+63)/64)}
}

// reset empties the equations.
func (n *normal) reset() {
	clear(n.n)
	clear(n.r)
	n.clearLocal()
}

func (n *normal) clearLocal() {
	for w, left := range n.set {
		for ; left != 0; left &= left - 1 {
			n.l[w<<6|bits.TrailingZeros64(left)] = 0
		}
		n.set[w] = 0
	}
	n.touched = n.touched[:0]
	n.lr = 0
}

func (n *normal) touch(i int, v float64) {
	n.set[i>>6] |= 1 << (i & 63)
	n.l[i] += v
}

// gather lists what was touched.
func (n *normal) gather() {
	n.touched, n.value, n.runs = n.touched[:0], n.value[:0], n.runs[:0]
	for w, left := range n.set {
		for ; left != 0; left &= left - 1 {
			i := w<<6 | bits.TrailingZeros64(left)
			if k := len(n.touched); k > 0 && n.touched[k-1] == i-1 {
				n.runs[len(n.runs)-1].count++
			} else {
				n.runs = append(n.runs, run{at: i, from: k, count: 1})
			}
			n.touched, n.value = append(n.touched, i), append(n.value, n.l[i])
		}
	}
}

// row adds an equation with four spline coefficients from o on, one frame
// unknown at f, and the local unknown with factor g; rhs is its right side.
func (n *normal) row(f int, fv float64, o int, b [4]float64, w, rhs, g float64) {
	n.rowWith(-1, 0, f, fv, o, b, w, rhs, g)
}

// rowWith is row with one more unknown at h (-1: none), which stands after all
// others in the equations.
func (n *normal) rowWith(h int, hv float64, f int, fv float64, o int, b [4]float64, w, rhs, g float64) {
	if h >= 0 {
		for i := range 4 {
			n.n[(o+i)*n.p+h] += w * b[i] * hv
		}
		n.n[f*n.p+h] += w * fv * hv
		n.n[h*n.p+h] += w * hv * hv
		n.r[h] += w * hv * rhs
		n.touch(h, w*hv*g)
	}

	for i := range 4 {
		wb := w * b[i]
		if wb == 0 {
			continue
		}
		at := (o + i) * n.p
		for t := i; t < 4; t++ {
			n.n[at+o+t] += wb * b[t]
		}
		n.n[at+f] += wb * fv
		n.r[o+i] += wb * rhs
		n.touch(o+i, wb*g)
	}
	n.n[f*n.p+f] += w * fv * fv
	n.r[f] += w * fv * rhs
	n.touch(f, w*fv*g)
	n.lr += w * g * rhs
}

// eliminate takes the local unknown, whose own sum is s, out of the equations.
func (n *normal) eliminate(s float64) {
	if !(s > 0) {
		return
	}
	n.gather()
	for k, r := range n.runs {
		for i := range r.count {
			v := n.value[r.from+i] / s
			row := n.n[(r.at+i)*n.p : (r.at+i+1)*n.p]
			less(row[r.at+i:r.at+r.count], n.value[r.from+i:], v)
			for _, o := range n.runs[k+1:] {
				less(row[o.at:o.at+o.count], n.value[o.from:], v)
			}
			n.r[r.at+i] -= v * n.lr
		}
	}
}

// less takes v times b from a.
func less(a, b []float64, v float64) {
	b = b[:len(a)]
	for i := range a {
		a[i] -= v * b[i]
	}
}

// dense adds a pin.
func (n *normal) dense(row []float64, rhs, w float64) {
	for i, a := range row {
		if a == 0 {
			continue
		}
		for t := i; t < n.p; t++ {
			n.n[i*n.p+t] += w * a * row[t]
		}
		n.r[i] += w * a * rhs
	}
}

// second adds a penalty on the second difference of unknowns i, i+1, i+2.
func (n *normal) second(i int, w float64) {
	d := [3]float64{1, -2, 1}
	for a := range 3 {
		for b := a; b < 3; b++ {
			n.n[(i+a)*n.p+i+b] += w * d[a] * d[b]
		}
	}
}

// add sums another set into n.
func (n *normal) add(o *normal) {
	for i, v := range o.n {
		n.n[i] += v
	}
	for i, v := range o.r {
		n.r[i] += v
	}
}

// solve returns the solution and the covariance (inverse). ridge is added
// relative to the diagonal.
func (n *normal) solve(ridge float64) (x []float64, chol *mat.Cholesky, ok bool) {
	s := mat.NewSymDense(n.p, slices.Clone(n.n))
	for i := range n.p {
		s.SetSym(i, i, s.At(i, i)*(1+1e-12)+ridge)
	}
	chol = new(mat.Cholesky)
	if !chol.Factorize(s) {
		return nil, nil, false
	}
	v := mat.NewVecDense(n.p, nil)
	if err := chol.SolveVecTo(v, mat.NewVecDense(n.p, slices.Clone(n.r))); err != nil {
		if _, ill := err.(mat.Condition); !ill {
			return nil, nil, false
		}
	}
	x = v.RawVector().Data
	for _, a := range x {
		if math.IsNaN(a) || math.IsInf(a, 0) {
			return nil, nil, false
		}
	}
	return x, chol, true
}

func solveWith(c *mat.Cholesky, v []float64) ([]float64, bool) {
	x := mat.NewVecDense(len(v), nil)
	if err := c.SolveVecTo(x, mat.NewVecDense(len(v), v)); err != nil {
		if _, ill := err.(mat.Condition); !ill {
			return nil, false
		}
	}
	return x.RawVector().Data, true
}
