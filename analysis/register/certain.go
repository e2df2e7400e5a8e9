package register

import "math"

// Limits below which two frames are said to have nothing in common that
// registers them. Set from pairs known to match and known not to (see the
// tests). The scatter says most: at a false place the blocks pull apart.
const (
	leastZ     = 2.5  // standard errors by which the gradients must agree
	leastCount = 6.0  // blocks of the picture that carry the agreement
	leastCorr  = 0.03 // correlation of the gradients
	leastShare = 0.3  // of the picture that both frames show
	mostSpread = 0.6  // pixels of the finest level: beyond it there is no lock
	mostDecoy  = 0.4  // of the agreement, elsewhere
	decoyStep  = 6.0  // pixels of the coarse level
	clearCorr  = 0.6  // an agreement that needs no decoys
	clearZ     = 4.0
)

// biasFloor is the error in level pixels that remains however much structure
// there is: sampling on a grid and the tone curve's bend across soft edges.
// Measured on simulated rolls (see the tests).
const biasFloor = 0.015

// spread is the covariance of the pose in level pixels (turn and grow in
// radians and natural units), from how far the blocks pull apart (a sandwich
// estimate, clustered by block: Liang & Zeger 1986, from memory).
func (f *fitness) spread(radius float64) (cov4, bool) { // pixels of the level
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

// evident says that the pair shows the same structure, by its own figures.
func (f *fitness) evident(cov cov4) bool {
	return f.z >= leastZ && f.count >= leastCount && f.corr >= leastCorr && f.share >= leastShare &&
		math.Max(cov[0], cov[5]) < mostSpread*mostSpread
}

// distinct asks whether the agreement is at home at this pose: at decoys some
// pixels of a coarse level away it must be far less. Light and dark halves of a
// picture, a border, a gradient of light agree over wide shifts and register
// nothing.
func distinct(a, b *frame, at pose, f *fitness, s *scratch) bool {
	if f.corr > clearCorr && f.z > clearZ {
		return true
	}
	here, decoy := contrast(a, b, at, s)
	return here > leastCorr && decoy < mostDecoy*here
}

// contrast is the correlation of the gradients at a pose, and the largest at
// decoys round it.
func contrast(a, b *frame, at pose, s *scratch) (here, decoy float64) {
	la := a.levels[min(2, len(a.levels)-1)]
	lb := nearest(b.pyramid, la.f*math.Exp(at.grow))
	al := newAligner(la, lb, s)
	p := at.in(1/la.f, 1/lb.f)
	f, ok := al.evaluate(p)
	if !ok {
		return 0, 0
	}
	here = f.corr
	for i := range 8 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 4)
		q := p
		q.x += decoyStep * cos
		q.y += decoyStep * sin
		if f, ok := al.evaluate(q); ok {
			decoy = math.Max(decoy, math.Abs(f.corr))
		}
	}
	return here, decoy
}
