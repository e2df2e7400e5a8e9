package noise

import (
	"context"
	"errors"
	"math"
	"sort"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/between"
	"stopladder/analysis/film/response"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

const (
	block     = 16   // side of a block, preview pixels
	most      = 4500 // blocks of a frame, about
	quantile  = 0.10 // of a level's blocks that its noise is read from
	rounds    = 10   // of the joint fit
	leastSum  = 10.0 // blocks that a level must have
	farthest  = 1.6  // stops between two frames that are compared
	spreadTop = 1.1  // stops between the lightest and darkest quarter of a block
	slopeTop  = 3.0  // g above which a block says more of the other frame than of this one
)

// quantileOf is the 0.10 quantile of the variance of a block of Gaussian noise,
// plane taken out, over its expectation: chi-squared (Wilson & Hilferty's cube
// root, 1931), with the degrees of freedom of noise whose neighbours are alike by
// rho.
func quantileOf(rho float64) float64 {
	alike := 1 + 2*rho*rho
	n := (block*block - 3) / (alike * alike)
	const z = -1.2815516 // of the normal distribution at 0.10
	return math.Pow(1-2/(9*n)+z*math.Sqrt(2/(9*n)), 3)
}

// Options of Estimate. The zero value is ready to use.
type Options struct {
	Workers int // goroutines; 0 is GOMAXPROCS. Results do not depend on it
}

// ErrTooLittle says that no two frames of the roll could be compared.
var ErrTooLittle = errors.New("noise needs two registered frames, not more than a stop and a half apart, of one response")

// observation is one block of a pair.
type observation struct {
	v      float64 // variance of the difference
	next   float64 // covariance of the difference with itself one pixel further
	vb, db float64 // variance of the moved frame j, and its covariance with the difference
	li, lj float64 // levels, stops
	g2     float64 // square of the slope of the move
	tx, ty float64 // how far between its pixels frame j was read
}

// tuned is the variance of the difference once frame j is stretched about the
// block's mean so that it fits best: where the film hardly separates tones the
// response is known least, and a slope that is a little off leaves texture in the
// difference. by is the stretch, 1 for none. noise is the variance that frame j's
// own noise has in it, which would otherwise pass for structure that does not fit.
func (o *observation) tuned(noise float64) (v, by float64) {
	structure := o.vb - noise
	if structure < 2*noise || !(structure > 0) {
		return o.v, 1
	}
	b := math.Max(-0.5, math.Min(0.5, (o.db+noise)/structure))
	return o.v - 2*b*o.db + b*b*o.vb, 1 + b
}

// kept is the part of frame j's variance that reading between its pixels leaves,
// and the part that becomes covariance of neighbours, when neighbours are alike by
// rho. Straight lines between pixels, in each direction by itself.
func (o observation) kept(rho float64) (variance, next float64) {
	one := func(t float64) (v, n float64) {
		a, b := (1-t)*(1-t)+t*t, t*(1-t)
		return a + 2*b*rho, a*rho + b*(1+rho*rho*rho*rho)
	}
	vx, nx := one(o.tx)
	vy, ny := one(o.ty)
	return vx * vy, (nx*vy + vx*ny) / 2
}

// Estimate measures the noise of a roll whose frames were scanned alike. The error
// is ErrTooLittle or ctx's.
func Estimate(ctx context.Context, res *response.Result, frames []response.Frame, opt Options) (*Levels, error) {
	if res == nil || res.Curve == nil {
		return nil, ErrTooLittle
	}
	var order []int
	for i, f := range frames {
		if f.Look != nil && !f.Unregistered && f.StopKnown {
			order = append(order, i)
		}
	}
	at := func(i int) float64 { return frames[i].Stop }
	sort.SliceStable(order, func(a, b int) bool { return at(order[a]) < at(order[b]) })
	pictures := between.New(res, frames)
	var obs [planes][]observation
	pairs := 0
	for n := 1; n < len(order); n++ {
		lo, hi := order[n-1], order[n]
		d := at(hi) - at(lo)
		if d < 1e-6 || d > farthest {
			continue
		}
		pairs++
		// Both ways: the lower frame has the deep levels, the upper the light ones.
		for _, p := range [2][2]int{{lo, hi}, {hi, lo}} {
			got, err := compare(ctx, &frames[p[0]], &frames[p[1]], pictures.Tables(p[1], at(p[0])-at(p[1])), opt.Workers)
			if err != nil {
				return nil, err
			}
			for k := range got {
				obs[k] = append(obs[k], got[k]...)
			}
		}
	}
	if pairs == 0 || len(obs[lumPlane]) == 0 {
		return nil, ErrTooLittle
	}
	out := &Levels{Blocks: len(obs[lumPlane])}
	err := parallel.Each(ctx, 0, planes, func(_, k int) error {
		out.plane[k] = fit(obs[k])
		return nil
	})
	return out, err
}

// sampler lays frame j on frame i.
type sampler struct {
	i, j  *response.Frame
	m     f64.Aff3     // preview pixels of i to preview pixels of j
	table *[3][]uint16 // codes of j, moved to i's exposure
	tone  [2]*[3][]float32
}

// compare reads the blocks of frame i against frame j, moved to i's exposure.
func compare(ctx context.Context, i, j *response.Frame, table *[3][]uint16, workers int) (out [planes][]observation, err error) {
	if table == nil {
		return out, nil
	}
	a, b := i.Look, j.Look
	inv, ok := affine.Inverse(i.Map)
	if !ok || a.Space == nil || b.Space == nil {
		return out, nil
	}
	s := &sampler{i: i, j: j, table: table, tone: [2]*[3][]float32{a.Space.Tone(), b.Space.Tone()}}
	fa, fb := float64(max(1, a.Preview.Factor)), float64(max(1, b.Preview.Factor))
	s.m = affine.Reduced(affine.After(j.Map, inv), fa, fb)

	p := a.Preview
	area := a.Area
	x0, y0 := (area.Min.X+p.Factor-1)/p.Factor+2, (area.Min.Y+p.Factor-1)/p.Factor+2
	x1, y1 := min(area.Max.X/p.Factor, p.W)-2, min(area.Max.Y/p.Factor, p.H)-2
	stride := max(block+4, int(math.Sqrt(float64((x1-x0)*(y1-y0))/most)))
	rows := (y1 - y0 - block) / stride
	if rows < 0 || x1-x0 < block {
		return out, nil
	}
	found := make([][planes][]observation, rows+1)
	rooms := make([]work, parallel.Workers(workers, len(found)))
	err = parallel.Each(ctx, workers, len(found), func(worker, r int) error {
		for x := x0; x+block <= x1; x += stride {
			s.read(&rooms[worker], x, y0+r*stride, &found[r])
		}
		return nil
	})
	for r := range found {
		for k := range out {
			out[k] = append(out[k], found[r][k]...)
		}
	}
	return out, err
}

// work is the room of one goroutine.
type work struct {
	codes, moved [3 * block * block]uint16
	own          [3 * block * block]uint16 // of j, before the move
	linA, linB   [3 * block * block]float32
	a, b         [block * block]float64
}

// read compares one block.
func (s *sampler) read(w *work, x, y int, out *[planes][]observation) {
	a, b := s.i.Look, s.j.Look
	p, q := a.Preview, b.Preview
	sumX, sumY := 0.0, 0.0
	n := 0
	for v := range block {
		at := (y+v)*p.W + x
		for u := range block {
			if a.BlownShare[at+u]|a.BlockedShare[at+u] != 0 {
				return
			}
			fx := s.m[0]*(float64(x+u)+0.5) + s.m[1]*(float64(y+v)+0.5) + s.m[2] - 0.5
			fy := s.m[3]*(float64(x+u)+0.5) + s.m[4]*(float64(y+v)+0.5) + s.m[5] - 0.5
			ix, iy := int(math.Floor(fx)), int(math.Floor(fy))
			if !(fx >= 0 && fy >= 0) || ix+1 >= q.W || iy+1 >= q.H {
				return
			}
			k := iy*q.W + ix
			if b.BlownShare[k]|b.BlockedShare[k]|b.BlownShare[k+1]|b.BlockedShare[k+1]|
				b.BlownShare[k+q.W]|b.BlockedShare[k+q.W]|b.BlownShare[k+q.W+1]|b.BlockedShare[k+q.W+1] != 0 {
				return
			}
			t, d := fx-float64(ix), fy-float64(iy)
			w00, w01, w10, w11 := (1-t)*(1-d), t*(1-d), (1-t)*d, t*d
			sumX += t * (1 - t)
			sumY += d * (1 - d)
			for c := range 3 {
				code := w00*float64(q.Pix[3*k+c]) + w01*float64(q.Pix[3*k+3+c]) + w10*float64(q.Pix[3*(k+q.W)+c]) + w11*float64(q.Pix[3*(k+q.W)+3+c])
				w.own[3*n+c] = uint16(code + 0.5)
				w.moved[3*n+c] = s.table[c][min(int(code+0.5), len(s.table[c])-1)]
				w.codes[3*n+c] = p.Pix[3*(at+u)+c]
			}
			n++
		}
	}
	// The place between pixels that stands for the block's: of the same t(1-t).
	between := func(sum float64) float64 { return (1 - math.Sqrt(math.Max(0, 1-4*sum/float64(n)))) / 2 }
	tx, ty := between(sumX), between(sumY)
	// Three colours: the block's mean in frame j, and a little under and over it,
	// before and after the move. They give the slopes.
	var own, moved [9]uint16
	for c := range 3 {
		m := 0
		for i := range n {
			m += int(w.own[3*i+c])
		}
		m /= n
		top := min(len(s.table[c]), len(s.tone[1][c])) - 1
		d := max(4, m/64)
		for k, v := range [3]int{m - d, m, m + d} {
			v = min(max(v, 0), top)
			own[3*k+c], moved[3*k+c] = uint16(v), s.table[c][v]
		}
	}
	slope := func(a0, a1, b0, b1 float64) float64 {
		if !(b1 > b0) {
			return math.NaN()
		}
		return (a1 - a0) / (b1 - b0)
	}
	for c := range 3 {
		ta, tb := s.tone[0][c], s.tone[1][c]
		mj := 0.0
		for i := range w.a {
			w.a[i] = float64(ta[min(int(w.codes[3*i+c]), len(ta)-1)])
			w.b[i] = float64(ta[min(int(w.moved[3*i+c]), len(ta)-1)])
			mj += float64(tb[min(int(w.own[3*i+c]), len(tb)-1)])
		}
		light := func(t []float32, code uint16) float64 { return float64(t[min(int(code), len(t)-1)]) }
		g := slope(light(ta, moved[c]), light(ta, moved[6+c]), light(tb, own[c]), light(tb, own[6+c]))
		if o, ok := w.observe(mj/float64(n), g, tx, ty); ok {
			out[c] = append(out[c], o)
		}
	}
	a.Space.Linear(w.linA[:], w.codes[:])
	a.Space.Linear(w.linB[:], w.moved[:])
	for i := range w.a {
		w.a[i] = luminance(w.linA[3*i:])
		w.b[i] = luminance(w.linB[3*i:])
	}
	var la, lb [9]float32
	a.Space.Linear(la[:], moved[:])
	b.Space.Linear(lb[:], own[:])
	g := slope(luminance(la[0:]), luminance(la[6:]), luminance(lb[0:]), luminance(lb[6:]))
	b.Space.Linear(w.linA[:], w.own[:])
	mj := 0.0
	for i := range w.a {
		mj += luminance(w.linA[3*i:])
	}
	if o, ok := w.observe(mj/float64(n), g, tx, ty); ok {
		out[lumPlane] = append(out[lumPlane], o)
	}
}

func luminance(p []float32) float64 {
	return colour.Luminance(float64(p[0]), float64(p[1]), float64(p[2]))
}

// observe takes the variance of a - b about a plane. meanJ is the block's level in
// frame j, g the slope of the move there.
func (w *work) observe(meanJ, g, tx, ty float64) (o observation, ok bool) {
	const n = block * block
	var ma, mb float64
	for i := range w.a {
		ma += w.a[i]
		mb += w.b[i]
	}
	ma, mb = ma/n, mb/n
	if !(ma > 0) || !(mb > 0) || !(meanJ > 0) {
		return o, false
	}
	// The plane of the difference.
	const c = (block - 1) / 2.0
	var sx, sy, s0, q float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for v := range block {
		for u := range block {
			i := v*block + u
			d := w.a[i] - w.b[i]
			s0 += d
			sx += d * (float64(u) - c)
			sy += d * (float64(v) - c)
			q += d * d
		}
	}
	// Quarters of the block, each averaged: noise apart, how far the levels spread.
	for _, h := range [4][2]int{{0, 0}, {0, block / 2}, {block / 2, 0}, {block / 2, block / 2}} {
		m := 0.0
		for v := range block / 2 {
			for u := range block / 2 {
				m += w.a[(h[0]+v)*block+h[1]+u]
			}
		}
		lo, hi = math.Min(lo, m), math.Max(hi, m)
	}
	if !(lo > 0) || math.Log2(hi/lo) > spreadTop {
		return o, false
	}
	const xx = n * (block*block - 1) / 12.0 // sum of (u-c)^2 over the block
	rest := q - s0*s0/n - sx*sx/xx - sy*sy/xx
	if !(g >= 0 && g <= slopeTop) {
		return o, false
	}
	v := rest / (n - 3)
	if !(v > 0) {
		return o, false
	}
	// Neighbours, the plane taken out.
	d := func(u, v int) float64 {
		i := v*block + u
		return w.a[i] - w.b[i] - s0/n - sx/xx*(float64(u)-c) - sy/xx*(float64(v)-c)
	}
	next := 0.0
	for v := range block {
		for u := 1; u < block; u++ {
			next += d(u, v)*d(u-1, v) + d(v, u)*d(v, u-1)
		}
	}
	var bx, by, bb, db float64
	for v := range block {
		for u := range block {
			i := v*block + u
			e := w.b[i] - mb
			bx += e * (float64(u) - c)
			by += e * (float64(v) - c)
			bb += e * e
			db += e * (w.a[i] - w.b[i])
		}
	}
	bb -= (bx*bx + by*by) / xx
	db -= (bx*sx + by*sy) / xx
	return observation{v: v, vb: bb / (n - 3), db: db / (n - 3), next: next / (2 * block * (block - 1)), li: math.Log2(ma), lj: math.Log2(meanJ), g2: g * g, tx: tx, ty: ty}, true
}
