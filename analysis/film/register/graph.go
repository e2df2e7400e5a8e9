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
	g := &graph{links: links, fixed: fixed, at: make([]pose, n), reached: make([]bool, n), slot: make([]int, n)}
	g.reach()
	cov = make([]cov4, n)
	if g.count > 0 {
		if inverse := g.adjust(); inverse != nil {
			tension := g.strain()
			for i, s := range g.slot {
				if s >= 0 {
					cov[i] = g.covariance(i, tension, inverse)
				}
			}
		}
	}
	return g.at, cov, g.reached
}

// graph is the frames of a roll and the links between them.
type graph struct {
	links   []link
	fixed   int // the base
	at      []pose
	reached []bool
	slot    []int // place of a frame among the unknowns, -1 for the base and those not reached
	count   int   // frames that are unknown
	weight  []float64
}

// holds reports whether a link ties reached frames.
func (g *graph) holds(l *link) bool { return l.ok && g.reached[l.from] && g.reached[l.to] }

// reach gives frames their first poses along the surest links, base outwards (Prim's
// order), and numbers them.
func (g *graph) reach() {
	g.reached[g.fixed] = true
	for {
		best, bestCost := -1, math.Inf(1)
		for i, l := range g.links {
			if !l.ok || g.reached[l.from] == g.reached[l.to] {
				continue
			}
			if c := l.cov[0] + l.cov[5]; c < bestCost {
				best, bestCost = i, c
			}
		}
		if best < 0 {
			break
		}
		l := g.links[best]
		if g.reached[l.from] {
			g.at[l.to] = g.at[l.from].then(l.pose)
			g.reached[l.to] = true
		} else {
			g.at[l.from] = g.at[l.to].then(l.pose.inverse())
			g.reached[l.from] = true
		}
	}
	for i := range g.slot {
		g.slot[i] = -1
		if g.reached[i] && i != g.fixed {
			g.slot[i] = g.count
			g.count++
		}
	}
}

// adjust moves the frames to meet the links by least squares, weighed anew each round,
// and returns the inverse of the last normal equations; nil when there were none.
func (g *graph) adjust() *mat.SymDense {
	g.weight = make([]float64, len(g.links))
	for i := range g.weight {
		g.weight[i] = 1
	}
	var inverse mat.SymDense
	for range 8 {
		info := mat.NewSymDense(4*g.count, nil)
		rhs := mat.NewVecDense(4*g.count, nil)
		for k, l := range g.links {
			if g.holds(&l) {
				addLink(info, rhs, l, g.weight[k], g.at, g.slot)
			}
		}
		var ch mat.Cholesky
		if !ch.Factorize(info) {
			break
		}
		var x mat.VecDense
		if ch.SolveVecTo(&x, rhs) != nil || ch.InverseTo(&inverse) != nil {
			break
		}
		for i, s := range g.slot {
			if s >= 0 {
				g.at[i].x += x.AtVec(4 * s)
				g.at[i].y += x.AtVec(4*s + 1)
				g.at[i].turn += x.AtVec(4*s + 2)
				g.at[i].grow += x.AtVec(4*s + 3)
			}
		}
		for k, l := range g.links {
			if g.holds(&l) {
				g.weight[k] = math.Min(1, 8/(4+distance(residual(l, g.at), l.cov)))
			}
		}
	}
	if inverse.IsEmpty() {
		return nil
	}
	return &inverse
}

// covariance returns that of frame i.
func (g *graph) covariance(i int, tension float64, inverse *mat.SymDense) (cov cov4) {
	s := g.slot[i]
	for a := range 4 {
		for b := range 4 {
			cov[4*a+b] = tension * inverse.At(4*s+a, 4*s+b)
		}
	}
	// What the frame's links say of it, beside where it came to lie.
	for _, l := range g.links {
		if l.ok && l.to == i && g.reached[l.from] {
			r := residual(l, g.at)
			for a := range 4 {
				for b := range 4 {
					cov[4*a+b] += r[a] * r[b] / 2
				}
			}
		}
	}
	// Errors of one frame are in all its links: averaging them does not
	// make them much smaller than the best link's.
	if best := surest(g.links, i, g.fixed); best != nil {
		for a := range 4 {
			if f := best[5*a]; cov[5*a] < f {
				cov[5*a] = f
			}
		}
	}
	return cov
}

// strain returns how much larger the links' errors prove to be than they say, as a
// factor of variance, from how far the roll's circles fail to close; 1 or more.
func (g *graph) strain() float64 {
	var sum float64
	used := 0
	for k, l := range g.links {
		if g.holds(&l) {
			sum += g.weight[k] * distance(residual(l, g.at), l.cov)
			used++
		}
	}
	if used <= g.count {
		return 1
	}
	return math.Max(1, sum/float64(4*(used-g.count)))
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
