package noise

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// What smooth weighs, both of the logarithm of the variance: how far a knot is off besides by
// the number of its blocks (blocks of one level are of the same few things of a scene, and
// what spoils those spoils the knot), and by how much the line through the knots bends at
// one. The first is what the adversary's rolls showed, the second as much for want of
// knowing: on the other simulator, whose knots are 2 to 4 % off, smoothing changes next to
// nothing (TestLevelsAgainstSimulator).
const (
	knotOff  = 0.15
	knotBend = 0.15
	// smoothUnder is the level, stops under white, from which on knots are smoothed: above, a
	// film comes to its least density, and its noise changes faster than this allows.
	smoothUnder = -1.5
)

// smooth returns the logarithms of the variances at the knots from first to last, smoothed.
//
// Grain is a smooth function of the film's density, and so is what a scanner adds to it: a
// knot that stands out of the line of its neighbours is off, not the film. The second
// differences of the logarithm are held against the knots' errors in least squares (Whittaker
// 1923). A straight line stays as it is: noise that is constant in density or in light, or
// any power of the light.
func (l *level) smooth(first, last int) []float64 {
	out := make([]float64, last-first+1)
	for i := range out {
		out[i] = math.Log(l.variance[first+i])
	}
	n := min(len(out), int((smoothUnder-lowest)*perStop)-first+1)
	if n < 3 {
		return out
	}
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		off := knotOff
		if v := 2 * l.off[first+i]; v == v {
			off = math.Hypot(off, v)
		}
		w := 1 / (off * off)
		a.SetSym(i, i, w)
		b.SetVec(i, w*out[i])
	}
	bend := [3]float64{1 / knotBend, -2 / knotBend, 1 / knotBend}
	for i := 0; i+2 < n; i++ {
		for p := range bend {
			for q := p; q < len(bend); q++ {
				a.SetSym(i+p, i+q, a.At(i+p, i+q)+bend[p]*bend[q])
			}
		}
	}
	var c mat.Cholesky
	var x mat.VecDense
	if c.Factorize(a) && c.SolveVecTo(&x, b) == nil {
		copy(out, x.RawVector().Data[:n])
	}
	return out
}
