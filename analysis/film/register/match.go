package register

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"
)

// match is what one pair of frames says.
type match struct {
	pose pose // full-resolution pixels
	cov  cov4
	fit  fitness
	ok   bool
	why  string // a clause, when not ok
}

// reach is the largest shift that is looked for, of the longer side.
const reach = 0.12

// start returns the pose to search about: centre on centre for scans of one size, else
// the image areas on each other.
func start(a, b *measure.Look) pose {
	if a.Info.Width == b.Info.Width && a.Info.Height == b.Info.Height {
		return pose{}
	}
	return areaPose(a, b)
}

func areaPose(a, b *measure.Look) pose {
	m, _ := measure.MapAreas(a, b)
	ka, kb := float64(a.Preview.Factor), float64(b.Preview.Factor)
	s := math.Sqrt(math.Abs(m[0]*m[4])) * kb / ka
	if !(s > 0) || math.IsInf(s, 0) {
		s = 1
	}
	x, y := affine.At(m, float64(a.Info.Width)/2/ka, float64(a.Info.Height)/2/ka)
	return pose{x: x*kb - float64(b.Info.Width)/2, y: y*kb - float64(b.Info.Height)/2, grow: math.Log(s)}
}

// Turns and growths that the wide search tries when the plain one finds
// nothing.
var (
	wideTurns = []float64{0, -1, 1, -2, 2, -3.2, 3.2, -4.5, 4.5}
	wideGrows = []float64{0, -0.025, 0.025}
)

// search is how far seek goes.
type search int

const (
	plain    search = iota // no turn, no growth to begin with: all that a roll of scans should need
	thorough               // and then widely
	wideOnly               // plain was tried before
)

// seek finds b on a. guess, where not nil, is a pose in full-resolution pixels
// that is tried before any search.
func seek(ctx context.Context, a, b *pyramid, guess *pose, how search, s *scratch) match {
	for _, f := range []*pyramid{a, b} {
		if l := f.levels[0]; min(l.w, l.h) < leastSide {
			return match{why: fmt.Sprintf("one of the pictures is only %d x %d pixels", f.look.Info.Width, f.look.Info.Height)}
		}
	}
	if same(a.look, b.look) {
		m := refine(ctx, a, b, pose{}, len(a.levels), s)
		if m.ok {
			m.pose = pose{}
		}
		return m
	}
	if guess != nil {
		if m := refine(ctx, a, b, *guess, 1, s); m.ok || ctx.Err() != nil {
			return m
		}
	}
	k := newSeeker(a, b, s)
	if how != wideOnly {
		// Scans of one roll lie nearly on each other as they are.
		k.try(ctx, []candidate{{pose: k.base}})
		if k.clear() || k.try(ctx, k.likely(0, 0, 3)) {
			return k.best
		}
	}
	if how != plain {
		k.widely(ctx)
	}
	return k.best
}

// seeker is a search for b on a, with the best that it has found.
type seeker struct {
	a, b *pyramid
	s    *scratch
	base pose    // about which is searched
	step float64 // full-resolution pixels per step of the coarse search
	fb   *field  // of b, nil until it is needed
	best match
}

func newSeeker(a, b *pyramid, s *scratch) *seeker {
	base := start(a.look, b.look)
	return &seeker{a: a, b: b, s: s, base: base,
		step: math.Max(spacing(a)*math.Exp(base.grow), spacing(b)),
		best: match{why: "nothing in common was found"}}
}

// clear reports whether the best leaves no need to look further.
func (k *seeker) clear() bool { return k.best.ok && k.best.fit.corr > clearCorr }

// likely returns the likeliest poses at one turn (degrees) and growth.
func (k *seeker) likely(turn, grow float64, count int) (out []candidate) {
	if k.fb == nil {
		k.fb = directions(k.b, pose{}, k.step)
	}
	q := pose{turn: turn * math.Pi / 180, grow: grow + k.base.grow}
	for _, p := range peaks(directions(k.a, q, k.step), k.fb, count, reach) {
		out = append(out, candidate{pose{p.x * k.step, p.y * k.step, q.turn, q.grow}, p.strength})
	}
	return out
}

// try refines candidates until one is clear, and reports whether anything is found.
func (k *seeker) try(ctx context.Context, list []candidate) bool {
	for _, c := range list {
		if m := refine(ctx, k.a, k.b, c.pose, 0, k.s); m.ok && (!k.best.ok || m.fit.corr > k.best.fit.corr) {
			k.best = m
		}
		if k.clear() {
			break
		}
	}
	return k.best.ok
}

// widely tries the strongest of all wide turns and growths.
func (k *seeker) widely(ctx context.Context) {
	var list []candidate
	for _, g := range wideGrows {
		for _, t := range wideTurns {
			if ctx.Err() != nil {
				return
			}
			if t != 0 || g != 0 {
				list = append(list, k.likely(t, g, 1)...)
			}
		}
	}
	slices.SortStableFunc(list, func(p, q candidate) int { return cmp.Compare(q.strength, p.strength) })
	k.try(ctx, list[:min(len(list), 4)])
}

// candidate is a pose that the coarse search likes.
type candidate struct {
	pose     pose
	strength float64
}

// refine takes a pose from coarse to fine. skip leaves out that many of the
// coarsest levels' worth of doubt: a good guess starts nearer the end.
func refine(ctx context.Context, a, b *pyramid, at pose, skip int, s *scratch) match {
	none := match{why: "nothing in common was found"}
	n := len(a.levels)
	for i := n - 1 - min(skip, n-1); i >= 0; i-- {
		la := a.levels[i]
		lb := nearest(b, la.f*math.Exp(at.grow))
		al := newAligner(la, lb, s)
		p := at.in(1/la.f, 1/lb.f)
		steps, still := 8, 0.1
		if i == 0 {
			steps, still = 5, 0.02
		}
		q, fit, ok := al.run(ctx, p, steps, still)
		if !ok {
			return none
		}
		at = q.in(la.f, lb.f)
		if lost(at, a, b) || i <= min(2, n-1) && (fit.z < 0.8*leastZ || fit.share < leastShare || fit.corr < leastCorr) {
			return none
		}
		if i > 0 {
			continue
		}
		cov, ok := al.spread(&fit)
		if !ok || !fit.evident(cov) || !fit.held() || !distinct(a, b, at, &fit, s) {
			return none
		}
		for j := range 4 {
			for k := range 4 {
				if j < 2 {
					cov[4*j+k] *= la.f
				}
				if k < 2 {
					cov[4*j+k] *= la.f
				}
			}
		}
		return match{pose: at, cov: cov, fit: fit, ok: true}
	}
	return none
}

// nearest returns the level of p whose pixels are nearest to f full-resolution pixels.
func nearest(p *pyramid, f float64) *level {
	best := p.levels[0]
	for _, l := range p.levels {
		if math.Abs(math.Log(l.f/f)) < math.Abs(math.Log(best.f/f)) {
			best = l
		}
	}
	return best
}

// lost reports whether a pose has gone beyond what frames of a roll can be.
func lost(p pose, a, b *pyramid) bool {
	base := start(a.look, b.look)
	side := float64(max(b.look.Info.Width, b.look.Info.Height))
	return math.Hypot(p.x-base.x, p.y-base.y) > 2*reach*side || math.Abs(p.turn) > 8*math.Pi/180 || math.Abs(p.grow-base.grow) > 0.08
}
