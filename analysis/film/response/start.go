package response

import (
	"context"
	"math"
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

func firstGuess(ctx context.Context, m *samples, base int) (*start, bool) {
	var h [3]spline
	var q [3][3]float64 // 10 %, 50 %, 90 % of u
	for c := range 3 {
		var v []float64
		for i := range m.cells {
			for j := range m.frames {
				if k := m.index(i, c, j); m.s[k] > 0 {
					v = append(v, m.u[k])
				}
			}
		}
		if len(v) < 60 {
			return nil, false
		}
		slices.Sort(v)
		at := func(p float64) float64 { return v[int(p*float64(len(v)-1))] }
		q[c] = [3]float64{at(0.1), at(0.5), at(0.9)}
		lo, hi := at(0.002), at(0.998)
		if hi-lo < 0.05 {
			return nil, false
		}
		h[c] = spline{lo: lo, step: (hi - lo) / startIntervals, coef: make([]float64, startIntervals+3)}
		for k := range h[c].coef {
			h[c].coef[k] = (lo + (float64(k)-1)*h[c].step - q[c][1]) / startSlope
		}
	}
	k := startIntervals + 3
	p := 3*k + m.frames
	s := &start{x: make([]float64, m.cells*3), e: make([]float64, m.frames)}
	w := make([]float64, m.frames)
	for pass := range 3 {
		if ctx.Err() != nil {
			return nil, false
		}
		n := newNormal(p)
		for i := range m.cells {
			for c := range 3 {
				n.clearLocal()
				sum := 0.0
				for j := range m.frames {
					at := m.index(i, c, j)
					if m.s[at] <= 0 {
						continue
					}
					o, b, db := h[c].basis(m.u[at])
					slope := 1 / startSlope
					if pass > 0 {
						slope = 0
						for t := range db {
							slope += db[t] * h[c].coef[o+t]
						}
						slope = math.Min(math.Max(slope, 0.15), 6)
					}
					wt := 1 / ((m.s[at]*m.s[at] + 4e-4) * slope * slope)
					w[j] = wt
					n.row(3*k+j, -1, c*k+o, b, wt, 0, 1)
					sum += wt
				}
				n.eliminate(sum)
			}
		}
		// Pins: the overall slope, the place of each curve, the base frame.
		pin := make([]float64, p)
		span := 0.0
		for c := range 3 {
			for e, sign := range [2]float64{-1, 1} {
				o, b, _ := h[c].basis(q[c][2*e])
				for t := range b {
					pin[c*k+o+t] += sign * b[t]
				}
				span += sign * q[c][2*e]
			}
		}
		n.dense(pin, span/startSlope, 1e10)
		for c := range 3 {
			clear(pin)
			o, b, _ := h[c].basis(q[c][1])
			copy(pin[c*k+o:], b[:])
			n.dense(pin, 0, 1e8)
			for t := 0; t+2 < k; t++ {
				n.second(c*k+t, 1/(startBend*startBend))
			}
		}
		clear(pin)
		pin[3*k+base] = 1
		n.dense(pin, 0, 1e10)
		sol, _, ok := n.solve(1e-6)
		if !ok {
			return nil, false
		}
		for c := range 3 {
			copy(h[c].coef, sol[c*k:(c+1)*k])
		}
		copy(s.e, sol[3*k:])
		// Places of the cells.
		for i := range m.cells {
			for c := range 3 {
				sw, sx := 0.0, 0.0
				for j := range m.frames {
					at := m.index(i, c, j)
					if m.s[at] <= 0 {
						continue
					}
					v, slope := h[c].at(m.u[at])
					slope = math.Min(math.Max(slope, 0.15), 6)
					wt := 1 / ((m.s[at]*m.s[at] + 4e-4) * slope * slope)
					sw += wt
					sx += wt * (v - s.e[j])
				}
				s.x[i*3+c] = math.NaN()
				if sw > 0 {
					s.x[i*3+c] = sx / sw
				}
			}
		}
	}
	return s, true
}

// normal gathers normal equations in which one unknown per cell and channel is
// eliminated as it goes.
type normal struct {
	p       int
	n       []float64 // p x p, upper triangle
	r       []float64
	l       []float64 // of the local unknown with the others
	lr      float64
	touched []int
	isTouch []bool
}

func newNormal(p int) *normal {
	return &normal{p: p, n: make([]float64, p*p), r: make([]float64, p), l: make([]float64, p), isTouch: make([]bool, p)}
}

func (n *normal) clearLocal() {
	for _, t := range n.touched {
		n.l[t] = 0
		n.isTouch[t] = false
	}
	n.touched = n.touched[:0]
	n.lr = 0
}

func (n *normal) touch(i int, v float64) {
	if !n.isTouch[i] {
		n.isTouch[i] = true
		n.touched = append(n.touched, i)
	}
	n.l[i] += v
}

// row adds an equation with four spline coefficients from o on, one frame
// unknown at f, and the local unknown with factor g; rhs is its right side.
func (n *normal) row(f int, fv float64, o int, b [4]float64, w, rhs, g float64) {
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
	slices.Sort(n.touched)
	for i, a := range n.touched {
		v := n.l[a] / s
		row := n.n[a*n.p:]
		for _, b := range n.touched[i:] {
			row[b] -= v * n.l[b]
		}
		n.r[a] -= v * n.lr
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
