package register

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// link is one measured pair of the roll: from's content to to's.
type link struct {
	from, to int
	match
}

// settle places all frames on the base so that every link is met as well as its errors
// ask (least squares), links that the others contradict counting less (as in a t
// distribution with 4 degrees of freedom, never more than once). fixed is the base.
// Only frames that links reach from it are in the result.
//
// A frame's covariance is that of the least squares plus what its own links
// disagree by: agreement of two ways makes certain, disagreement makes doubtful.
func settle(n, fixed int, links []link) (at []pose, cov []cov4, reached []bool) {
	at, cov, reached = make([]pose, n), make([]cov4, n), make([]bool, n)
	reached[fixed] = true
	// First poses along the surest links, base outwards (Prim's order).
	for {
		best, bestCost := -1, math.Inf(1)
		for i, l := range links {
			if !l.ok || reached[l.from] == reached[l.to] {
				continue
			}
			if c := l.cov[0] + l.cov[5]; c < bestCost {
				best, bestCost = i, c
			}
		}
		if best < 0 {
			break
		}
		l := links[best]
		if reached[l.from] {
			at[l.to] = at[l.from].then(l.pose)
			reached[l.to] = true
		} else {
			at[l.from] = at[l.to].then(l.pose.inverse())
			reached[l.from] = true
		}
	}
	slot := make([]int, n)
	count := 0
	for i := range n {
		slot[i] = -1
		if reached[i] && i != fixed {
			slot[i] = count
			count++
		}
	}
	if count == 0 {
		return at, cov, reached
	}
	weight := make([]float64, len(links))
	for i := range weight {
		weight[i] = 1
	}
	var inverse mat.SymDense
	for range 8 {
		info := mat.NewSymDense(4*count, nil)
		rhs := mat.NewVecDense(4*count, nil)
		for k, l := range links {
			if !l.ok || !reached[l.from] || !reached[l.to] {
				continue
			}
			addLink(info, rhs, l, weight[k], at, slot)
		}
		var ch mat.Cholesky
		if !ch.Factorize(info) {
			break
		}
		var x mat.VecDense
		if ch.SolveVecTo(&x, rhs) != nil || ch.InverseTo(&inverse) != nil {
			break
		}
		for i := range n {
			if s := slot[i]; s >= 0 {
				at[i].x += x.AtVec(4 * s)
				at[i].y += x.AtVec(4*s + 1)
				at[i].turn += x.AtVec(4*s + 2)
				at[i].grow += x.AtVec(4*s + 3)
			}
		}
		for k, l := range links {
			if l.ok && reached[l.from] && reached[l.to] {
				r := residual(l, at)
				weight[k] = math.Min(1, 8/(4+distance(r, l.cov)))
			}
		}
	}
	if inverse.IsEmpty() {
		return at, cov, reached
	}
	tension := strain(links, weight, at, reached, count)
	for i := range n {
		s := slot[i]
		if s < 0 {
			continue
		}
		for a := range 4 {
			for b := range 4 {
				cov[i][4*a+b] = tension * inverse.At(4*s+a, 4*s+b)
			}
		}
		// What the frame's links say of it, beside where it came to lie.
		for _, l := range links {
			if l.ok && l.to == i && reached[l.from] {
				r := residual(l, at)
				for a := range 4 {
					for b := range 4 {
						cov[i][4*a+b] += r[a] * r[b] / 2
					}
				}
			}
		}
		// Errors of one frame are in all its links: averaging them does not
		// make them much smaller than the best link's.
		if best := surest(links, i, fixed); best != nil {
			for a := range 4 {
				if f := best[5*a]; cov[i][5*a] < f {
					cov[i][5*a] = f
				}
			}
		}
	}
	return at, cov, reached
}

// strain returns how much larger the links' errors prove to be than they say, as a
// factor of variance, from how far the roll's circles fail to close; 1 or more.
func strain(links []link, weight []float64, at []pose, reached []bool, count int) float64 {
	var sum float64
	used := 0
	for k, l := range links {
		if l.ok && reached[l.from] && reached[l.to] {
			sum += weight[k] * distance(residual(l, at), l.cov)
			used++
		}
	}
	if used <= count {
		return 1
	}
	return math.Max(1, sum/float64(4*(used-count)))
}

// surest returns the least covariance of the links from the base to frame i, nil where
// there is none.
func surest(links []link, i, fixed int) *cov4 {
	var best *cov4
	for k := range links {
		if l := &links[k]; l.ok && l.to == i && l.from == fixed && (best == nil || l.cov[0] < best[0]) {
			best = &l.cov
		}
	}
	return best
}

// residual returns what a link measured minus what the poses say, in to's pixels.
func residual(l link, at []pose) [4]float64 {
	want := at[l.from].then(l.pose)
	got := at[l.to]
	return [4]float64{want.x - got.x, want.y - got.y, want.turn - got.turn, want.grow - got.grow}
}

// distance returns r' cov^-1 r.
func distance(r [4]float64, cov cov4) float64 {
	inv, ok := invert(scaled(cov))
	if !ok {
		return 0
	}
	k := units(cov)
	var d float64
	for i := range 4 {
		for j := range 4 {
			d += r[i] * k[i] * inv[4*i+j] * k[j] * r[j]
		}
	}
	return d
}

// units returns one over the standard deviations; scaled is the correlation matrix.
// Pixels and radians differ by orders of magnitude, which inverting dislikes.
func units(c cov4) (k [4]float64) {
	for i := range 4 {
		k[i] = 1 / math.Sqrt(math.Max(c[5*i], 1e-18))
	}
	return k
}

func scaled(c cov4) [16]float64 {
	k := units(c)
	for i := range 4 {
		for j := range 4 {
			c[4*i+j] *= k[i] * k[j]
		}
	}
	return c
}

// addLink adds a link to the normal equations of the steps.
func addLink(info *mat.SymDense, rhs *mat.VecDense, l link, weight float64, at []pose, slot []int) {
	inv, ok := invert(scaled(l.cov))
	if !ok {
		return
	}
	k := units(l.cov)
	r := residual(l, at)
	// d(want)/d(from) turns from's shift by the link; to's own part is -1.
	a, b := l.pose.ab()
	from := [16]float64{a, b, 0, 0, -b, a, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1}
	one := [16]float64{-1, 0, 0, 0, 0, -1, 0, 0, 0, 0, -1, 0, 0, 0, 0, -1}
	type side struct {
		slot int
		j    *[16]float64
	}
	sides := []side{{slot[l.from], &from}, {slot[l.to], &one}}
	w := func(i, j int) float64 { return weight * k[i] * inv[4*i+j] * k[j] }
	for _, p := range sides {
		if p.slot < 0 {
			continue
		}
		for c := range 4 {
			var g float64
			for i := range 4 {
				for j := range 4 {
					g -= p.j[4*i+c] * w(i, j) * r[j]
				}
			}
			rhs.SetVec(4*p.slot+c, rhs.AtVec(4*p.slot+c)+g)
		}
		for _, q := range sides {
			if q.slot < 0 {
				continue
			}
			for c := range 4 {
				for d := range 4 {
					row, col := 4*p.slot+c, 4*q.slot+d
					if row > col {
						continue
					}
					var h float64
					for i := range 4 {
						for j := range 4 {
							h += p.j[4*i+c] * w(i, j) * q.j[4*j+d]
						}
					}
					info.SetSym(row, col, info.At(row, col)+h)
				}
			}
		}
	}
}
