package adversary

import (
	"math"

	"gonum.org/v1/gonum/optimize"
)

// The curves of salvage are the three rising ones that leave the least mean colour
// difference over pixels in which every channel speaks, and over greys. Where each channel
// hangs on one layer alone those that bring back every grey leave nothing; where dyes mix
// them they are bent from there. What the scan has full has no tone left: it is brought to
// the one value that leaves the least.
const (
	greyShare = 0.5 // of the weight: a scale of greys that is photographed with the scene
	greys     = 24  // in even steps of the cube root of light, from black to white
	fitPixels = 800
	bends     = 6 // of a curve: Chebyshev polynomials of degree 0 to 5
	perCurve  = bends + 1
	nearZero  = 0.02    // dE00: below it a difference counts as its square does
	nearFull  = 0.99995 // cube root of light: from here on the scan is full
)

// tint is a colour of the base frame beside what the frame shows of it.
type tint struct {
	want   lab
	from   [3]float64        // what the greys' curves make of the frame's, cube root of light
	cheb   [3][bends]float64 // the polynomials there
	full   [3]bool
	weight float64
}

// chebyshev returns the polynomials at a cube root of light, from black at -1 to white at 1.
func chebyshev(root float64) (t [bends]float64) {
	u := math.Max(-1, math.Min(1, 2*root-1))
	t[0], t[1] = 1, u
	for k := 2; k < bends; k++ {
		t[k] = 2*u*t[k-1] - t[k-2]
	}
	return t
}

// bent returns a value of the greys' curve bent by parameters a: factors of the
// polynomials, then the logarithm of how far a full scan is lifted over the curve's end.
func bent(from float64, cheb *[bends]float64, full bool, a []float64) float64 {
	d := 0.0
	for k, v := range cheb {
		d += a[k] * v
	}
	y := from * math.Exp(d)
	if full {
		y += math.Exp(a[bends])
	}
	return y
}

// curves finds the curves that bring the frame to the base frame.
func (o *seen) curves() *[3]*tone {
	plain := o.greyTones()
	p := make([]float64, 3*perCurve)
	for c := range 3 {
		p[c*perCurve+bends] = -20 // not lifted
	}
	clean, full := o.tints(plain)
	if o.v.m.film.Mix != [3][3]float64{} {
		p = least(clean, p, func(k int) bool { return k < bends })
	}
	if len(full) > 10 {
		for c := range 3 {
			p[c*perCurve+bends] = math.Log(0.02)
		}
		p = least(full, p, func(k int) bool { return k == bends })
	}
	var out [3]*tone
	for c := range 3 {
		t := &tone{}
		for i, x := range plain[c].x {
			cheb := chebyshev(plain[c].y[i])
			y := bent(plain[c].y[i], &cheb, x > nearFull, p[c*perCurve:])
			if i > 0 {
				y = math.Max(y, t.y[i-1])
			}
			t.x, t.y = append(t.x, x), append(t.y, y)
		}
		out[c] = t
	}
	return &out
}

// greyTones returns the curves that bring back every grey, with what is full apart.
func (o *seen) greyTones() *[3]*tone {
	var t [3]*tone
	for c := range 3 {
		t[c] = &tone{}
	}
	for i := range 700 {
		l := math.Pow(10, -5+5*float64(i)/699)
		p, ok := o.v.m.neutral(l, o.s)
		if !ok {
			continue
		}
		for c := range 3 {
			x := math.Cbrt(p[c] * o.gain[c])
			if n := len(t[c].x); n == 0 && x < nearFull || n > 0 && x > t[c].x[n-1]+1e-6 && t[c].x[n-1] < nearFull {
				t[c].x, t[c].y = append(t[c].x, math.Min(x, nearFull)), append(t[c].y, math.Cbrt(l))
			}
		}
	}
	for c := range 3 {
		n := len(t[c].x)
		if n == 0 {
			t[c], n = gainTone(1), 1
		}
		if x := t[c].x[n-1]; x < nearFull {
			t[c].x, t[c].y = append(t[c].x, nearFull), append(t[c].y, t[c].y[n-1]*nearFull/x)
		}
		end := t[c].y[len(t[c].y)-1]
		t[c].x, t[c].y = append(t[c].x, nearFull+1e-5, 1), append(t[c].y, end, end)
	}
	return &t
}

// tints returns what curves are found on: pixels in which every channel speaks, with
// greys, and pixels of which the frame has some channel full. What is gone is left out.
func (o *seen) tints(plain *[3]*tone) (clean, full []tint) {
	of := func(base, frame [3]float64) (t tint) {
		t.want = labOf(base)
		for c := range 3 {
			x := math.Cbrt(math.Min(1, frame[c]))
			t.full[c] = x > nearFull
			t.from[c] = math.Cbrt(plain[c].at(frame[c]))
			t.cheb[c] = chebyshev(t.from[c])
		}
		return t
	}
	n := 0
	for _, b := range o.blocks {
		n += len(b.state)
	}
	step := uint64(max(1, n/fitPixels))
	k := 0
	for i, b := range o.blocks {
		for p := range b.state {
			if k++; scattered(k)%step != 0 || (b.state[p]|o.state[i][p])&(gone|unshown) != 0 {
				continue
			}
			var base, frame [3]float64
			for c := range 3 {
				base[c], frame[c] = float64(b.light[3*p+c]), float64(o.light[i][3*p+c])
			}
			if (b.state[p]|o.state[i][p])&partial == 0 {
				clean = append(clean, of(base, frame))
			} else if t := of(base, frame); t.full[0] || t.full[1] || t.full[2] {
				full = append(full, t)
			}
		}
	}
	pixels := len(clean)
	for k := range greys {
		l := math.Pow((float64(k)+0.5)/greys, 3)
		if g := o.neutralsAt([3]float64{l, math.NaN(), math.NaN()})[0]; g[0] == g[0] {
			clean = append(clean, of([3]float64{l, l, l}, g))
		}
	}
	for i := range clean {
		if clean[i].weight = greyShare / float64(len(clean)-pixels); i < pixels {
			clean[i].weight = (1 - greyShare) / float64(pixels)
		}
	}
	for i := range full {
		full[i].weight = 1 / float64(len(full))
	}
	return clean, full
}

// least returns the parameters that leave the least over tints, by a quasi-Newton method
// (L-BFGS, by gonum), beginning from p; of each curve's those that free names are moved.
func least(t []tint, p []float64, free func(k int) bool) []float64 {
	left := func(p, grad []float64) float64 {
		clear(grad)
		total := 0.0
		for i := range t {
			v := &t[i]
			var q [3]float64
			for c := range 3 {
				q[c] = bent(v.from[c], &v.cheb[c], v.full[c], p[c*perCurve:])
			}
			of := func(q [3]float64) float64 {
				d := difference(v.want, labOf([3]float64{q[0] * q[0] * q[0], q[1] * q[1] * q[1], q[2] * q[2] * q[2]}))
				return math.Sqrt(d*d + nearZero*nearZero)
			}
			d := of(q)
			total += v.weight * d
			if grad == nil {
				continue
			}
			for c := range 3 {
				const h = 1e-5
				moved := q
				moved[c] += h
				g := v.weight * (of(moved) - d) / h
				a := p[c*perCurve : (c+1)*perCurve]
				lift := 0.0
				if v.full[c] {
					lift = math.Exp(a[bends])
				}
				for k := range perCurve {
					switch {
					case !free(k):
					case k == bends:
						grad[c*perCurve+k] += g * lift
					default:
						grad[c*perCurve+k] += g * (q[c] - lift) * v.cheb[c][k]
					}
				}
			}
		}
		return total
	}
	problem := optimize.Problem{
		Func: func(x []float64) float64 { return left(x, nil) },
		Grad: func(g, x []float64) { left(x, g) },
	}
	res, err := optimize.Minimize(problem, p, &optimize.Settings{MajorIterations: 100,
		Converger: &optimize.FunctionConverge{Absolute: 1e-4, Iterations: 5}}, &optimize.LBFGS{})
	if res != nil && (err == nil || res.F < left(p, nil)) {
		return res.X
	}
	return p
}
