package noise

import (
	"context"
	"errors"
	"math"
	"sort"

	"golang.org/x/image/math/f64"
	"gonum.org/v1/gonum/stat/distuv"

	"stopladder/analysis/film/between"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

const (
	most      = 4500 // blocks of a frame, about
	farthest  = 1.6  // stops between two frames that are compared
	spreadTop = 1.1  // stops between the lightest and darkest quarter of a block
	slopeTop  = 3.0  // g above which a block says more of the other frame than of this one
)

// sides of blocks in preview pixels. The larger are read where taking a plane out of the
// smaller takes more than leastLeft leaves of the noise, as of coarse grain it does.
var sides = [...]int{16, 32}

const leastLeft = 0.75

// quantileOf returns the q-quantile of the variance of a block of Gaussian noise over its
// expectation: chi-squared (Wilson & Hilferty's cube root, 1931) with n degrees of
// freedom.
func quantileOf(q, n float64) float64 {
	z := distuv.UnitNormal.Quantile(q)
	return math.Pow(1-2/(9*n)+z*math.Sqrt(2/(9*n)), 3)
}

// Options of Estimate. The zero value is ready to use.
type Options struct {
	Workers int // goroutines; 0 is GOMAXPROCS. Results do not depend on it
}

// ErrAlone says that a frame has no level with enough calm, unclipped picture.
var ErrAlone = errors.New("noise cannot be measured: the image area holds no level with enough unclipped picture")

// ErrTooLittle says that no two frames of the roll could be compared.
var ErrTooLittle = errors.New("noise needs two registered frames, not more than a stop and a half apart, of one response")

// observation is one block of a pair.
type observation struct {
	v      float64           // variance of the difference
	lag    [lagCount]float32 // its mean products at the lags; the first is v
	beside []int32           // of a frame by itself: the blocks round it; nil where two are compared
	vb, db float64           // variance of the moved frame j, and its covariance with the difference
	li, lj float64           // levels, stops
	g2     float64           // square of the slope of the move
	tx, ty float64           // mean of t(1-t) of the places between its pixels where frame j was read
	room   [2]float64        // light from the levels to the nearer end of the scan
}

// tuned returns the variance of the difference once frame j is stretched about the
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

// picture returns the variance of the block's picture, as far as both frames together
// tell it, for the noise that either has in the block. Both are weighed so that what is
// left of the noise in it is no part of that in the difference: what is chosen by it is
// not chosen for its noise.
func (o *observation) picture(vi, vj float64) float64 {
	a := vj / (vi + vj) // of frame i
	return o.vb + 2*a*o.db + a*a*o.v - vi*vj/(vi+vj)
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
	if len(order) < 2 {
		return nil, ErrTooLittle
	}
	at := func(i int) float64 { return frames[i].Stop }
	sort.SliceStable(order, func(a, b int) bool { return at(order[a]) < at(order[b]) })
	pictures := between.New(res, frames)
	out := newLevels(frames[order[len(order)/2]].Look)
	if res.Base >= 0 && res.Base < len(frames) && frames[res.Base].Look != nil {
		out = newLevels(frames[res.Base].Look)
	}
	var tiles [planes][]tile
	for _, i := range order {
		for k, t := range tilesOf(frames[i].Look) {
			tiles[k] = append(tiles[k], t...)
		}
	}
	for _, side := range sides {
		var obs [planes][]observation
		for n := 1; n < len(order); n++ {
			lo, hi := order[n-1], order[n]
			if d := at(hi) - at(lo); d < 1e-6 || d > farthest {
				continue
			}
			// Both ways: the lower frame has the deep levels, the upper the light ones.
			for _, p := range [2][2]int{{lo, hi}, {hi, lo}} {
				got, err := compare(ctx, &frames[p[0]], &frames[p[1]], pictures.Tables(p[1], at(p[0])-at(p[1])), side, opt.Workers)
				if err != nil {
					return nil, err
				}
				for k := range got {
					obs[k] = append(obs[k], got[k]...)
				}
			}
		}
		if len(obs[lumPlane]) == 0 {
			break
		}
		out.Blocks = len(obs[lumPlane])
		of := blocksOf(out.factor, side)
		if err := parallel.Each(ctx, 0, planes, func(_, k int) error {
			out.plane[k] = fit(obs[k], tiles[k], of)
			return nil
		}); err != nil {
			return nil, err
		}
		if out.plane[lumPlane].ok && of.left(out.plane[lumPlane].shapes[:]) > leastLeft {
			break
		}
	}
	if out.Blocks == 0 {
		return nil, ErrTooLittle
	}
	out.finish()
	return out, nil
}

// left returns the least that blocks leave of the variance of noise of any of the
// shapes, the plane taken out.
func (b *blocks) left(shapes []shape) float64 {
	least := 1.0
	for _, s := range shapes {
		least = math.Min(least, b.expected(s, 0, 0, 0))
	}
	return least
}

// sampler lays frame j on frame i.
type sampler struct {
	i, j  *response.Frame
	m     f64.Aff3     // preview pixels of i to preview pixels of j
	table *[3][]uint16 // codes of j, moved to i's exposure
	block int
	tone  [2]*[3][]float32
}

// compare reads the blocks of frame i against frame j, moved to i's exposure.
func compare(ctx context.Context, i, j *response.Frame, table *[3][]uint16, block, workers int) (out [planes][]observation, err error) {
	if table == nil {
		return out, nil
	}
	a, b := i.Look, j.Look
	inv, ok := affine.Inverse(i.Map)
	if !ok || a.Space == nil || b.Space == nil {
		return out, nil
	}
	s := &sampler{i: i, j: j, table: table, block: block, tone: [2]*[3][]float32{a.Space.Tone(), b.Space.Tone()}}
	fa, fb := float64(max(1, a.Preview.Factor)), float64(max(1, b.Preview.Factor))
	s.m = affine.Reduced(affine.After(j.Map, inv), fa, fb)

	p := a.Preview
	area := a.Area
	x0, y0 := (area.Min.X+p.Factor-1)/p.Factor+2, (area.Min.Y+p.Factor-1)/p.Factor+2
	x1, y1 := min(area.Max.X/p.Factor, p.W)-2, min(area.Max.Y/p.Factor, p.H)-2
	stride := max(sides[0], int(math.Sqrt(float64((x1-x0)*(y1-y0))/most)))
	rows := (y1 - y0 - block) / stride
	if rows < 0 || x1-x0 < block {
		return out, nil
	}
	found := make([][planes][]observation, rows+1)
	rooms := make([]*work, parallel.Workers(workers, len(found)))
	err = parallel.Each(ctx, workers, len(found), func(worker, r int) error {
		if rooms[worker] == nil {
			rooms[worker] = newWork(block)
		}
		for x := x0; x+block <= x1; x += stride {
			s.read(rooms[worker], x, y0+r*stride, &found[r])
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
	block            int
	codes, moved     []uint16
	own              []uint16 // of j, before the move
	linA, linB       []float32
	a, b, difference []float64
}

func newWork(block int) *work {
	n := block * block
	return &work{block: block, codes: make([]uint16, 3*n), moved: make([]uint16, 3*n), own: make([]uint16, 3*n),
		linA: make([]float32, 3*n), linB: make([]float32, 3*n), a: make([]float64, n), b: make([]float64, n), difference: make([]float64, n)}
}

// read compares one block.
func (s *sampler) read(w *work, x, y int, out *[planes][]observation) {
	a, b := s.i.Look, s.j.Look
	p, q := a.Preview, b.Preview
	block := s.block
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
	tx, ty := sumX/float64(n), sumY/float64(n)
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
	narrow := [2]float64{1, 1} // of the channels, over their light
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
			o.room = [2]float64{room(a, c, math.Exp2(o.li)), room(b, c, math.Exp2(o.lj))}
			for f := range narrow {
				narrow[f] = math.Min(narrow[f], o.room[f]/math.Exp2([2]float64{o.li, o.lj}[f]))
			}
			out[c] = append(out[c], o)
		}
	}
	a.Space.Linear(w.linA, w.codes)
	a.Space.Linear(w.linB, w.moved)
	for i := range w.a {
		w.a[i] = luminance(w.linA[3*i:])
		w.b[i] = luminance(w.linB[3*i:])
	}
	var la, lb [9]float32
	a.Space.Linear(la[:], moved[:])
	b.Space.Linear(lb[:], own[:])
	g := slope(luminance(la[0:]), luminance(la[6:]), luminance(lb[0:]), luminance(lb[6:]))
	b.Space.Linear(w.linA, w.own)
	mj := 0.0
	for i := range w.a {
		mj += luminance(w.linA[3*i:])
	}
	if o, ok := w.observe(mj/float64(n), g, tx, ty); ok {
		o.room = [2]float64{narrow[0] * math.Exp2(o.li), narrow[1] * math.Exp2(o.lj)}
		out[lumPlane] = append(out[lumPlane], o)
	}
}

func luminance(p []float32) float64 {
	return colour.Luminance(float64(p[0]), float64(p[1]), float64(p[2]))
}

// room returns the light from a level to the nearer end of the scan.
func room(l *measure.Look, c int, light float64) float64 {
	tone := l.Space.Tone()[c]
	at := func(code int) float64 { return float64(tone[min(max(code, 0), len(tone)-1)]) }
	floor, ceiling := [3]int{l.Floor.R, l.Floor.G, l.Floor.B}[c], [3]int{l.Ceiling.R, l.Ceiling.G, l.Ceiling.B}[c]
	return math.Min(light-at(floor), at(ceiling)-light)
}

// observe takes the variance of a - b about a plane. meanJ is the block's level in
// frame j, g the slope of the move there.
func (w *work) observe(meanJ, g, tx, ty float64) (o observation, ok bool) {
	block := w.block
	n := float64(block * block)
	var ma, mb float64
	for i := range w.a {
		ma += w.a[i]
		mb += w.b[i]
	}
	ma, mb = ma/n, mb/n
	if !(ma > 0) || !(mb > 0) || !(meanJ > 0) || !(g >= 0 && g <= slopeTop) {
		return o, false
	}
	// Quarters of the block, each averaged: noise apart, how far the levels spread.
	lo, hi := math.Inf(1), math.Inf(-1)
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
	c := float64(block-1) / 2
	xx := n * (n - 1) / 12 // sum of (u-c)^2 over the block
	// The planes of the difference and of frame j.
	var s0, sx, sy, bx, by float64
	for v := range block {
		for u := range block {
			i := v*block + u
			d, e := w.a[i]-w.b[i], w.b[i]-mb
			s0 += d
			sx += d * (float64(u) - c)
			sy += d * (float64(v) - c)
			bx += e * (float64(u) - c)
			by += e * (float64(v) - c)
		}
	}
	var bb, db float64
	for v := range block {
		for u := range block {
			i := v*block + u
			x, y := float64(u)-c, float64(v)-c
			d, e := w.a[i]-w.b[i]-s0/n-sx/xx*x-sy/xx*y, w.b[i]-mb-bx/xx*x-by/xx*y
			w.difference[i] = d
			bb += e * e
			db += e * d
		}
	}
	o = observation{vb: bb / n, db: db / n, li: math.Log2(ma), lj: math.Log2(meanJ), g2: g * g, tx: tx, ty: ty}
	for l, lag := range lags {
		p := products(w.difference, block, lag[0], lag[1])
		if lag[0] != lag[1] {
			p = (p + products(w.difference, block, lag[1], lag[0])) / 2
		}
		o.lag[l] = float32(p)
	}
	o.v = float64(o.lag[0])
	return o, o.v > 0
}

// products returns the mean product of values of a block that lie dx and dy apart.
func products(d []float64, block, dx, dy int) (sum float64) {
	for v := range block - dy {
		a, b := d[v*block:(v+1)*block-dx], d[(v+dy)*block+dx:(v+dy+1)*block]
		b = b[:len(a)] // as long, which the compiler cannot know
		for u, x := range a {
			sum += x * b[u]
		}
	}
	return sum / float64((block-dx)*(block-dy))
}
