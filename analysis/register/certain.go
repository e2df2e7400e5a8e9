package register

import "math"

// Limits below which two frames are said to have nothing in common that
// registers them.
const (
	leastZ     = 6.0  // standard errors by which the gradients must agree
	leastCount = 6.0  // blocks of the picture that carry the agreement
	leastCorr  = 0.02 // correlation of the gradients
	leastShare = 0.3  // of the picture that both frames show
)

// biasFloor is the error in level pixels that remains however much structure
// there is: sampling on a grid and the tone curve's bend across soft edges.
// Measured on simulated rolls (see the tests).
const biasFloor = 0.015

// spread is the covariance of the pose in level pixels (turn and grow in
// radians and natural units), from how far the blocks pull apart (a sandwich
// estimate, clustered by block: Liang & Zeger 1986, from memory).
func (f *fitness) spread(radius float64) (cov4, bool) {
	inv, ok := invert(f.h)
	if !ok || f.count <= 5 {
		return cov4{}, false
	}
	var m [16]float64
	for _, g := range f.parts {
		for i := range 4 {
			for j := range 4 {
				m[4*i+j] += g[i] * g[j]
			}
		}
	}
	var t, c cov4
	for i := range 4 {
		for j := range 4 {
			for k := range 4 {
				t[4*i+j] += inv[4*i+k] * m[4*k+j]
			}
		}
	}
	small := f.count / (f.count - 4)
	for i := range 4 {
		for j := range 4 {
			for k := range 4 {
				c[4*i+j] += t[4*i+k] * inv[4*k+j] * small
			}
		}
	}
	for i := range 4 {
		c[5*i] += biasFloor * biasFloor
	}
	for i := range 4 {
		for j := range 4 {
			if i > 1 {
				c[4*i+j] /= radius
			}
			if j > 1 {
				c[4*i+j] /= radius
			}
		}
	}
	for _, v := range c {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return c, false
		}
	}
	return c, true
}

// evident says that the pair shows the same structure at all.
func (f *fitness) evident() bool {
	return f.z >= leastZ && f.count >= leastCount && f.corr >= leastCorr && f.share >= leastShare
}
