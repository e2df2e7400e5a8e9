package response

import "math"

// spline is a uniform cubic B-spline: knots step apart, the first interval
// starting at lo. Beyond its ends it goes on straight.
type spline struct {
	lo, step float64
	coef     []float64 // intervals + 3
}

func (s *spline) intervals() int { return len(s.coef) - 3 }

// basis returns the first coefficient that matters at x, the four weights, and
// the weights of the derivative.
func (s *spline) basis(x float64) (k int, b, db [4]float64) {
	n := s.intervals()
	p := (x - s.lo) / s.step
	if !(p > 0) {
		p = 0
	} else if p > float64(n) {
		p = float64(n)
	}
	k = min(int(p), n-1)
	t := p - float64(k)
	o := 1 - t
	b = [4]float64{o * o * o / 6, (3*t*t*t - 6*t*t + 4) / 6, (3*o*o*o - 6*o*o + 4) / 6, t * t * t / 6}
	h := 1 / s.step
	db = [4]float64{-o * o / 2 * h, (3*t*t - 4*t) / 2 * h, -(3*o*o - 4*o) / 2 * h, t * t / 2 * h}
	// Beyond the ends the value is carried on along the tangent.
	if over := x - (s.lo + p*s.step); over != 0 && !math.IsNaN(over) {
		for i := range b {
			b[i] += over * db[i]
		}
	}
	return k, b, db
}

// at returns value and slope at x.
func (s *spline) at(x float64) (v, slope float64) {
	k, b, db := s.basis(x)
	for i := range b {
		v += b[i] * s.coef[k+i]
		slope += db[i] * s.coef[k+i]
	}
	return v, slope
}

// find returns where a rising spline has value v; ok is false when it has it
// beyond its ends, where it goes on straight.
func (s *spline) find(v float64) (x float64, ok bool) {
	lo, hi := s.lo, s.lo+s.step*float64(s.intervals())
	a, sa := s.at(lo)
	b, sb := s.at(hi)
	switch {
	case v < a:
		return lo - (a-v)/math.Max(sa, 0.05), false
	case v > b:
		return hi + (v-b)/math.Max(sb, 0.05), false
	}
	for range 60 {
		m := (lo + hi) / 2
		if y, _ := s.at(m); y < v {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2, true
}
