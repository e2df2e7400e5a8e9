package noise

import (
	"cmp"
	"math"
	"slices"
)

// knot is where a level lies among the knots: part (0..1) of the way from knot i to
// the next.
type knot struct {
	i    int
	part float64
}

// knotAt places a level, log2 of light.
func knotAt(level float64) knot {
	t := (level - lowest) * perStop
	i := min(max(int(math.Floor(t)), 0), knots-2)
	return knot{i, math.Max(0, math.Min(1, t-float64(i)))}
}

// mix returns the variance part of the way from knot a to knot b, along the
// logarithm.
func (l *level) mix(a, b int, part float64) float64 {
	return math.Exp(math.Log(l.variance[a])*(1-part) + math.Log(l.variance[b])*part)
}

// expected is what the knots make of a block: where its two levels lie, and the
// variances that frame i, and frame j moved to its exposure, add to a - b.
type expected struct {
	i, j   knot
	vi, vj float64
}

func (l *level) expect(o *observation) (e expected) {
	e.i, e.j = knotAt(o.li), knotAt(o.lj)
	e.vi = l.mix(e.i.i, e.i.i+1, e.i.part)
	e.vj = o.g2 * l.mix(e.j.i, e.j.i+1, e.j.part)
	return e
}

// share is what a block says to a knot: the variance that it has over what was
// expected of it, and the knot's share in that.
type share struct{ ratio, weight float64 }

const (
	leastShare = 0.02 // what a knot has less of a block than this is not counted
	tunedFrom  = 2    // rounds before which the move is taken as it is
	alikeFrom  = 3    // rounds before which neighbours are taken for strangers
)

// fit finds the variance at the knots that explains the blocks. Each round
// multiplies every knot by the quantile of what its blocks have over what was
// expected of them, each block with the share that the knot has in it.
func fit(obs []observation) (l level) {
	if len(obs) == 0 {
		return l
	}
	// Begin where noise is a twentieth of the light, and neighbours are strangers.
	for k := range l.variance {
		y := math.Exp2(lowest + float64(k)/perStop)
		l.variance[k] = y * y / 400
	}
	var shares [knots][]share
	for round := range rounds {
		l.share(obs, round >= tunedFrom, &shares)
		l.correct(&shares)
		if round >= alikeFrom {
			l.rho = l.alike(obs)
		}
	}
	first, last, ok := l.bridge()
	if !ok {
		return level{}
	}
	l.draw(first, last)
	l.ok = true
	return l
}

// share deals the blocks to the knots. tuned lets each block tell how far the move
// of frame j is off there.
func (l *level) share(obs []observation, tuned bool, shares *[knots][]share) {
	for k := range shares {
		shares[k] = shares[k][:0]
	}
	for n := range obs {
		o := &obs[n]
		e := l.expect(o)
		keep, _ := o.kept(l.rho)
		vj := e.vj * keep
		v, by := o.v, 1.0
		if tuned {
			v, by = o.tuned(vj)
		}
		vj *= by * by
		want := e.vi + vj
		ofI, ofJ := e.vi/want, vj/want
		give := func(k int, weight float64) {
			if weight > leastShare {
				shares[k] = append(shares[k], share{v / want, weight})
			}
		}
		give(e.i.i, ofI*(1-e.i.part))
		give(e.i.i+1, ofI*e.i.part)
		give(e.j.i, ofJ*(1-e.j.part))
		give(e.j.i+1, ofJ*e.j.part)
	}
}

// correct multiplies each knot by the quantile of its shares over that of noise
// alone; knots with too little stay.
func (l *level) correct(shares *[knots][]share) {
	alone := quantileOf(l.rho)
	for k, of := range shares {
		l.weight[k] = 0
		for _, s := range of {
			l.weight[k] += s.weight
		}
		if l.weight[k] < leastSum {
			continue
		}
		slices.SortFunc(of, func(a, b share) int { return cmp.Compare(a.ratio, b.ratio) })
		sum := 0.0
		for _, s := range of {
			if sum += s.weight; sum >= quantile*l.weight[k] {
				l.variance[k] *= s.ratio / alone
				break
			}
		}
	}
}

// bridge fills the levels without blocks between measured ones, and returns the
// first and the last of those; ok is false where there are none.
func (l *level) bridge() (first, last int, ok bool) {
	before := -1
	for k := range l.weight {
		if l.weight[k] < leastSum {
			continue
		}
		if before < 0 {
			first = k
		} else {
			for m := before + 1; m < k; m++ {
				l.variance[m] = l.mix(before, k, float64(m-before)/float64(k-before))
			}
		}
		before = k
	}
	return first, before, before >= 0
}

// alike is by how much the noise of neighbouring pixels is alike: grain that is
// larger than a pixel. It is what explains the neighbours' covariance in blocks
// that are about as noisy as expected; those that are noisier hold structure.
func (l *level) alike(obs []observation) float64 {
	type sample struct{ r, vi, vj, tx, ty float64 }
	var all []sample
	for n := range obs {
		o := &obs[n]
		e := l.expect(o)
		keep, _ := o.kept(0)
		if o.v < 1.1*(e.vi+e.vj*keep) {
			all = append(all, sample{o.next / o.v, e.vi, e.vj, o.tx, o.ty})
		}
	}
	if len(all) < 2*leastSum {
		return 0
	}
	// The mean of what is measured less what rho makes expect falls with rho.
	off := func(rho float64) (sum float64) {
		for _, s := range all {
			v, n := observation{tx: s.tx, ty: s.ty}.kept(rho)
			sum += s.r - (s.vi*rho+s.vj*n)/(s.vi+s.vj*v)
		}
		return sum
	}
	lo, hi := 0.0, 0.9
	if off(lo) <= 0 {
		return 0
	}
	for range 20 {
		if m := (lo + hi) / 2; off(m) > 0 {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}
