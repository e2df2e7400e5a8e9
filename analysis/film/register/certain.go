package register

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

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
	leastTurnZ = 1.6 // standard errors by which any direction must be held
	surelyZ    = 4.5 // a direction held by many blocks
	surelyCorr = 0.2 // a direction held by few
)

// biasFloor is the error in level pixels that remains however much structure
// there is: sampling on a grid and the tone curve's bend across soft edges.
// Measured on simulated rolls (see the tests).
const biasFloor = 0.01

// narrowFloor is the same where one small place alone carries the pair: its few
// edges err alike, where those of a whole picture err to all sides. Measured on
// painted lamps (see the tests).
const narrowFloor = 0.04

// spread returns the covariance of the pose in level pixels (turn and grow in radians
// and natural units), from how far the blocks pull apart (a sandwich estimate,
// clustered by block: Liang & Zeger 1986, from memory), and from the floor: an error
// of the shift, and of turn and grow at the rim, of the place where the blocks lie. A
// lamp far from the centre swings the centre about.
func (al *aligner) spread(f *fitness) (cov4, bool) { // pixels of the level
	radius := al.radius()
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
	g := &al.grid
	floor, x, y, rim := biasFloor, 0.0, 0.0, radius
	if g.share > 0 {
		floor = narrowFloor
		x, y = float64(g.box.Min.X+g.box.Max.X)/2-al.a.cx, float64(g.box.Min.Y+g.box.Max.Y)/2-al.a.cy
		rim = float64(max(g.box.Dx(), g.box.Dy())) / 2
	}
	k := radius / rim
	x, y = x/rim, y/rim
	swing := cov4{
		1 + x*x + y*y, 0, -y * k, -x * k,
		0, 1 + x*x + y*y, x * k, -y * k,
		-y * k, x * k, k * k, 0,
		-x * k, -y * k, 0, k * k,
	}
	for i, v := range swing {
		c[i] += floor * floor * v
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

// evident reports whether the pair shows the same structure, by its own figures.
func (f *fitness) evident(cov cov4) bool {
	return f.z >= leastZ && f.count >= leastCount && f.corr >= leastCorr && f.share >= leastShare &&
		math.Max(cov[0], cov[5]) < mostSpread*mostSpread
}

// held reports whether every direction in which the pose can move is held by
// structure: along the edges of a scene that has no others, or round the middle of one
// that is all rings, chance alone would say where to stop.
func (f *fitness) held() bool {
	// All four parameters, then the two of the shift more strictly: few blocks
	// must agree closely, many may agree through noise.
	if !f.along(4, func(z float64, _ []float64) bool { return z > leastTurnZ }) {
		return false
	}
	return f.along(2, func(z float64, e []float64) bool {
		of := func(m [3]float64) float64 { return e[0]*e[0]*m[0] + 2*e[0]*e[1]*m[1] + e[1]*e[1]*m[2] }
		both := of([3]float64{f.h[0], f.h[1], f.h[5]})
		return z > leastZ && (z > surelyZ || both > surelyCorr*math.Sqrt(of(f.uu)*of(f.vv)))
	})
}

// along asks say about each principal direction of the information on the first
// n parameters: how many standard errors it has, and the direction.
func (f *fitness) along(n int, say func(z float64, direction []float64) bool) bool {
	k := [4]float64{1, 1, 1, 1}
	if n > 2 {
		k = units(f.h)
	}
	m := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			m.SetSym(i, j, f.h[4*i+j]*k[i]*k[j])
		}
	}
	var e mat.EigenSym
	if !e.Factorize(m, true) {
		return false
	}
	var v mat.Dense
	e.VectorsTo(&v)
	d := make([]float64, n)
	for c := range n {
		for i := range n {
			d[i] = v.At(i, c) * k[i]
		}
		var sum, sum2 float64
		for _, h := range f.info {
			var q float64
			for i := range n {
				for j := range n {
					q += d[i] * h[4*i+j] * d[j]
				}
			}
			sum, sum2 = sum+q, sum2+q*q
		}
		if !(sum2 > 0) || !say(sum/math.Sqrt(sum2), d) {
			return false
		}
	}
	return true
}

// distinct reports whether the agreement is at home at this pose: at decoys some
// pixels of a coarse level away it must be far less. Light and dark halves of a
// picture, a border, a gradient of light agree over wide shifts and register nothing.
func distinct(a, b *pyramid, at pose, f *fitness, s *scratch) bool {
	if f.corr > clearCorr && f.z > clearZ {
		return true
	}
	here, decoy := contrast(a, b, at, s)
	return here > leastCorr && decoy < mostDecoy*here
}

// contrast returns the correlation of the gradients at a pose, and the largest at
// decoys round it.
func contrast(a, b *pyramid, at pose, s *scratch) (here, decoy float64) {
	la := a.levels[min(2, len(a.levels)-1)]
	lb := nearest(b, la.f*math.Exp(at.grow))
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
