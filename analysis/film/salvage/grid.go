// Package salvage brings every frame of a roll towards the base frame, with three
// grades of effort, and measures what that costs (assets/manual/salvage.md):
//
//	exposure   one gain
//	balance    a gain for each channel
//	curves     a rising curve for each channel
//
// All of them act on linear light on the sRGB primaries, as package view applies
// them, so that what is measured is what is shown.
//
// # Costs
//
// A roll whose frames were scanned alike is a model (package model): light of every
// place, response and noise. Costs are read in what it shows at a stop, without noise, so
// that they hold between frames too; blocks of three by three cells give the colour
// differences. A roll that is no model is measured frame by frame: the base frame's image
// area is divided into cells of a few preview pixels, and every frame is read through its
// registration into the same cells, averaged in light, and smoothed over three by three of
// them, over what neither frame has lost.
//
// # Lost
//
// A channel says nothing where its code is at the scan's ceiling or floor, or where
// the film separates tones so little that a third of a stop of the scene is less
// than the noise at the viewing scale: no salvage brings that back. (The masks' flat
// areas are another thing, a share of the film's steepest slope: what is flat may
// still be salvaged where the grain is fine. Where the noise is not known, flat
// stands in.) A place is lost when the channels that say nothing carry half of the
// luminance or more (sRGB: green, or all three): what the eye calls detail is gone
// then, while a single clipped channel costs colour, which the colour difference
// counts. Lost area is what has detail in the base frame and none in the frame.
//
// # Contrast kept
//
// Local contrast is the relative variance of luminance from pixel to pixel in a cell,
// after the correction; what is kept is the root of the ratio to the base frame's.
// Between frames that are measured, a frame is read between its pixels, which smooths it;
// so the base frame is read in the same way for the ratio, or a shift by half a pixel
// would cost a fifth of the contrast, and what is noise is taken off.
package salvage

import (
	"context"
	"errors"
	"image"
	"math"
	"sync"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/model"
	"stopladder/analysis/film/response"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/matrix"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

// longest is the grid's longest side in cells, about.
const longest = 340

// weights are the channels' shares of luminance.
var weights = [3]float32{colour.LumR, colour.LumG, colour.LumB}

func luminance(p []float32) float32 { return weights[0]*p[0] + weights[1]*p[1] + weights[2]*p[2] }

// Noise is what the roll knows of its noise; NaN where it does not.
type Noise interface {
	// SigmaY returns the standard deviation of luminance y at the viewing scale.
	SigmaY(y float64) float64
	// Sigma returns that of the light of the scan's channel c (0 R, 1 G, 2 B).
	Sigma(c int, light float64) float64
	// Mean returns that of the mean over a square of side preview pixels.
	Mean(c int, light, side float64) float64
	// Within returns the variance of luminance y among the preview pixels of a square of
	// side, read between pixels so that kept is left of noise without autocorrelation.
	Within(y float64, side int, kept float64) float64
}

// Grid is a roll laid into cells of the base frame. It is made once and is safe for
// concurrent use.
type Grid struct {
	frames []response.Frame
	res    *response.Result
	noise  Noise
	bounds Noise // by which tones are lost
	base   int
	area   image.Rectangle // preview pixels of the base frame
	side   int             // preview pixels of a cell
	w, h   int
	bands  []uint8 // measure.Band of each cell, by the base frame
	own    *cells  // of the base frame
	// lostInBase are the bounds of the base frame's codes.
	lostInBase dead
	lum        []float32 // luminance of the base frame's preview

	model *model.Model // nil: the frames alone tell
	on    func() *samples

	mu   sync.Mutex
	kept map[int]*cells
	seen map[int]*seen // frames by the model, made by CostOf
}

// cells are one frame in the grid.
type cells struct {
	lin   []float32 // 3 a cell: mean light of the pixels that neither frame has lost
	base  []float32 // the base frame's, of the same pixels
	rough []float32 // variance of luminance in the cell over its square
	grain []float32 // the part of rough that is noise; 0 where noise is not known
	// What the base frame's rough and grain would be, read between its pixels as the
	// frame is read between its own: interpolation takes fine contrast away, and what
	// it takes must not be told as the frame's loss.
	ref, refGrain []float32
	flags         []uint8
	mix           matrix.Of // light of the scan's channels to the sRGB primaries
	back          matrix.Of // its inverse
	paired        *pair     // made by CostOf
	mask          []uint8   // lost, on the frame's own preview; nil for the base frame
}

const (
	missing   uint8 = 1 << iota // beyond the frame's picture, or marked as none
	lostLight                   // half of the cell or more has lost its light tones
	lostDark
	partial // some channel of some pixel says nothing: not for fitting
)

// Errors of NewGrid.
var errNoBase = errors.New("there is no base frame to bring the others to")

// NewGrid prepares a roll. res may be nil (then the film's flat parts are not known
// and clipping alone counts as lost), and so may noise (then there is no noise, and
// contrast holds the noise). The error says that there is no base frame, or is
// ctx's.
func NewGrid(ctx context.Context, frames []response.Frame, base int, res *response.Result, noise Noise) (*Grid, error) {
	return newGrid(ctx, frames, base, res, noise, noise)
}

// newGrid is NewGrid with the noise that bounds what is lost given apart.
func newGrid(ctx context.Context, frames []response.Frame, base int, res *response.Result, noise, bounds Noise) (*Grid, error) {
	if base < 0 || base >= len(frames) || frames[base].Look == nil || frames[base].Look.Preview == nil {
		return nil, errNoBase
	}
	l := frames[base].Look
	f := max(1, l.Preview.Factor)
	g := &Grid{frames: frames, res: res, noise: noise, bounds: bounds, base: base, kept: map[int]*cells{}, seen: map[int]*seen{}}
	g.area = image.Rect((l.Area.Min.X+f-1)/f, (l.Area.Min.Y+f-1)/f, l.Area.Max.X/f, l.Area.Max.Y/f).Intersect(image.Rect(0, 0, l.Preview.W, l.Preview.H))
	g.side = max(1, (max(g.area.Dx(), g.area.Dy())+longest-1)/longest)
	g.w, g.h = g.area.Dx()/g.side, g.area.Dy()/g.side
	if g.w < 4 || g.h < 4 {
		return nil, errors.New("the base frame's image area is too small to compare anything in")
	}
	if res != nil && (res.Scan.Fixed == nil || *res.Scan.Fixed) { // else each frame has a response of its own
		var n model.Noise
		if bounds != nil {
			n = bounds
		}
		if g.model, _ = model.New(ctx, frames, base, res, n); ctx.Err() != nil {
			return nil, ctx.Err()
		}
		g.on = sync.OnceValue(func() *samples { return newSamples(g.model) })
	}
	var err error
	if g.lum, err = luminances(ctx, l); err != nil {
		return nil, err
	}
	g.lostInBase = g.boundsOf(base)
	if g.own, err = g.read(ctx, base); err != nil {
		return nil, err
	}
	g.bands = make([]uint8, g.w*g.h)
	for i := range g.bands {
		g.bands[i] = uint8(measure.BandOf(float64(luminance(g.own.lin[3*i:]))))
	}
	return g, nil
}

// luminances are those of a preview's pixels. The error is ctx's.
func luminances(ctx context.Context, l *measure.Look) ([]float32, error) {
	p := l.Preview
	out := make([]float32, p.W*p.H)
	space := l.ColourSpace()
	return out, parallel.Chunks(ctx, 0, p.H, 0, func(_, y0, y1 int) {
		lin := make([]float32, 3*p.W)
		for y := y0; y < y1; y++ {
			space.Linear(lin, p.Pix[3*p.W*y:3*p.W*(y+1)])
			for x := range p.W {
				out[p.W*y+x] = luminance(lin[3*x:])
			}
		}
	})
}

// toFrame takes preview pixels of the base frame to preview pixels of a frame.
func (g *Grid) toFrame(i int) f64.Aff3 {
	fb, ff := float64(max(1, g.frames[g.base].Look.Preview.Factor)), float64(max(1, g.frames[i].Look.Preview.Factor))
	return affine.Reduced(g.frames[i].Map, fb, ff)
}

// read lays a frame into the cells.
func (g *Grid) read(ctx context.Context, i int) (*cells, error) {
	l := g.frames[i].Look
	p := l.Preview
	n := g.w * g.h
	c := &cells{lin: make([]float32, 3*n), base: make([]float32, 3*n), rough: make([]float32, n), grain: make([]float32, n), flags: make([]uint8, n),
		ref: make([]float32, n), refGrain: make([]float32, n)}
	space := l.ColourSpace()
	c.mix, c.back = primaries(space)
	d, m := g.boundsOf(i), g.toFrame(i)
	if i == g.base {
		m = affine.Identity
	}
	r := &reading{c, p, space, &d, m, m == affine.Identity, l.PreviewArea(), g.frames[i].Marks}
	err := parallel.Chunks(ctx, 0, g.h, 0, func(_, y0, y1 int) {
		per := g.side * g.side
		buf := &buffers{codes: make([]uint16, 3*4*per), lin: make([]float32, 3*4*per), places: make([]place, per)}
		for y := y0; y < y1; y++ {
			for x := range g.w {
				g.cell(r, x, y, buf)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	if i == g.base {
		c.base = c.lin
	} else {
		if c.mask, err = g.lostMask(ctx, i, &d, m); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// reading is a frame that is laid into its cells.
type reading struct {
	c     *cells
	p     *measure.Preview
	space *colour.Space
	d     *dead
	m     f64.Aff3 // preview pixels of the base frame to those of the frame
	still bool     // m leaves every pixel in its place
	area  image.Rectangle
	marks *measure.Marks
}

// shows reports whether the frame has the pixel at (x, y) of its preview and the next
// ones, between which it is read: beyond its image area lies no picture.
func (r *reading) shows(x, y int) bool {
	more := 1
	if r.still {
		more = 0
	}
	return x >= r.area.Min.X && y >= r.area.Min.Y && x+more < r.area.Max.X && y+more < r.area.Max.Y
}

// taps is how many pixels of the frame are mixed for one of the base frame: the four
// around its place, or the one under it.
func (r *reading) taps() int {
	if r.still {
		return 1
	}
	return 4
}

// buffers are kept from cell to cell.
type buffers struct {
	codes  []uint16
	lin    []float32
	places []place
}

// place is a pixel of the base frame, read in the frame.
type place struct {
	w    [4]float32 // shares of the taps
	base int        // pixel of the base frame
	flag uint8      // what is lost there in the frame
}

// texture sums luminances for their mean and variance.
type texture struct {
	sum, squares float64
	n            int
}

func (t *texture) add(y float64) {
	t.sum, t.squares, t.n = t.sum+y, t.squares+y*y, t.n+1
}

// cell reads one cell: pixels of the base frame's preview, each read between the
// pixels of the frame's. Where some pixels are lost in either frame both are averaged
// over the others, for a frame that has lost the crevices is not the lighter for it.
func (g *Grid) cell(r *reading, x, y int, buf *buffers) {
	c, at, taps := r.c, y*g.w+x, r.taps()
	px, ok := g.place(r, x, y, buf)
	if !ok {
		c.flags[at] |= missing
		return
	}
	// One call of the colour space for all pixels of the cell.
	r.space.Linear(buf.lin[:3*taps*px], buf.codes[:3*taps*px])
	base := g.frames[g.base].Look.Preview
	var sum [3]float64
	var own, ref texture
	var lostTo struct{ light, dark int }
	kept := 0.0 // sum of what interpolation leaves of the noise of each
	for i := range px {
		pl := &buf.places[i]
		c.flags[at] |= pl.flag & partial
		if pl.flag&lostLight != 0 {
			lostTo.light++
			continue
		}
		if pl.flag&lostDark != 0 {
			lostTo.dark++
			continue
		}
		if o := 3 * pl.base; g.lostInBase.at(base.Pix[o:o+3])&(lostLight|lostDark) != 0 {
			continue
		}
		buf.places[own.n].base = pl.base // those kept move to the front
		rgb, k := pl.mix(buf.lin[3*taps*i:], taps)
		own.add(float64(luminance(rgb[:])))
		ref.add(g.baseLuminance(pl, taps))
		kept += k
		for ch := range 3 {
			sum[ch] += float64(rgb[ch])
		}
	}
	lost := lostTo.light + lostTo.dark
	switch half := (px + 1) / 2; {
	case lost >= half && lostTo.light >= lostTo.dark:
		c.flags[at] |= lostLight
	case lost >= half:
		c.flags[at] |= lostDark
	}
	if own.n == 0 {
		return
	}
	f := 1 / float64(own.n)
	for ch := range 3 {
		c.lin[3*at+ch] = float32(sum[ch] * f)
	}
	switch {
	case g.own == nil: // this is the base frame
	case lost == 0 && px == g.side*g.side: // the base frame's mean is over these pixels
		copy(c.base[3*at:3*at+3], g.own.lin[3*at:])
	default:
		g.baseMean(c.base[3*at:3*at+3], own.n, buf)
	}
	if own.n < 4 {
		return
	}
	c.rough[at], c.grain[at] = g.roughness(own, kept)
	c.ref[at], c.refGrain[at] = g.roughness(ref, kept)
}

// place finds the pixels of a cell in the frame and what is lost there, and gathers
// the codes of their taps; ok is false where the cell leaves the frame's image area, or
// half of it is marked as no picture.
func (g *Grid) place(r *reading, x, y int, buf *buffers) (px int, ok bool) {
	p, m, still, taps := r.p, r.m, r.still, r.taps()
	width := g.frames[g.base].Look.Preview.W
	for v := range g.side {
		for u := range g.side {
			bx, by := float64(g.area.Min.X+x*g.side+u)+0.5, float64(g.area.Min.Y+y*g.side+v)+0.5
			fx, fy := m[0]*bx+m[1]*by+m[2]-0.5, m[3]*bx+m[4]*by+m[5]-0.5
			ix, iy := int(math.Floor(fx)), int(math.Floor(fy))
			if !r.shows(ix, iy) {
				return px, false
			}
			if r.marks.At(ix, iy) || g.frames[g.base].Marks.At(int(bx), int(by)) {
				continue // no picture
			}
			t, s := float32(fx-float64(ix)), float32(fy-float64(iy))
			w := [4]float32{(1 - t) * (1 - s), t * (1 - s), (1 - t) * s, t * s}
			if still {
				w = [4]float32{1, 0, 0, 0}
			}
			k := 3 * (iy*p.W + ix)
			for q := range taps {
				o := k + 3*(q&1) + 3*p.W*(q>>1)
				copy(buf.codes[3*(taps*px+q):], p.Pix[o:o+3])
			}
			buf.places[px] = place{w, int(by)*width + int(bx), r.flag(&w, buf.codes[3*taps*px:], taps)}
			px++
		}
	}
	return px, 2*px >= g.side*g.side
}

// flag returns what is lost in a pixel read from taps of these codes. The greater part
// decides: noise about the bound then adds nothing.
func (r *reading) flag(w *[4]float32, codes []uint16, taps int) (flag uint8) {
	var light, dark float32 // weight of taps that have lost their light, their dark tones
	for q := range taps {
		f := r.d.at(codes[3*q : 3*q+3])
		if w[q] > 0.05 {
			flag |= f & partial
		}
		if f&lostLight != 0 {
			light += w[q]
		} else if f&lostDark != 0 {
			dark += w[q]
		}
	}
	switch {
	case light+dark < 0.5:
		return flag
	case light >= dark:
		return flag&^lostDark | lostLight
	}
	return flag | lostDark
}

// mix returns the light of a place from that of its taps, and the part of their
// noise's variance that is left.
func (p *place) mix(lin []float32, taps int) (rgb [3]float32, kept float64) {
	for q := range taps {
		w := p.w[q]
		kept += float64(w * w)
		for ch := range 3 {
			rgb[ch] += w * lin[3*q+ch]
		}
	}
	return rgb, kept
}

// baseLuminance returns the base frame's luminance at a place, mixed as the frame's
// was, so that both are as sharp. At the last column and row of the picture the pixel
// stands for its neighbour.
func (g *Grid) baseLuminance(p *place, taps int) (y float64) {
	width := g.frames[g.base].Look.Preview.W
	for q := range taps {
		o := p.base
		if q&1 != 0 && (o+1)%width != 0 {
			o++
		}
		if q>>1 != 0 && o+width < len(g.lum) {
			o += width
		}
		y += float64(p.w[q] * g.lum[o])
	}
	return y
}

// baseMean sets dst to the base frame's mean light over the first n places.
func (g *Grid) baseMean(dst []float32, n int, buf *buffers) {
	base := g.frames[g.base].Look
	for i := range n {
		o := 3 * buf.places[i].base
		copy(buf.codes[3*i:3*i+3], base.Preview.Pix[o:o+3])
	}
	base.ColourSpace().Linear(buf.lin[:3*n], buf.codes[:3*n])
	f := 1 / float64(n)
	var sum [3]float64
	for i := range 3 * n {
		sum[i%3] += float64(buf.lin[i])
	}
	for ch := range 3 {
		dst[ch] = float32(sum[ch] * f)
	}
}

// roughness returns the variance of luminances over the square of their mean, and the
// part of it that is noise; kept is the sum of what interpolation leaves of the noise
// of each.
func (g *Grid) roughness(t texture, kept float64) (rough, grain float32) {
	f := 1 / float64(t.n)
	mean := t.sum * f
	if !(mean > 0) {
		return 0, 0
	}
	rough = float32((t.squares*f - mean*mean) * float64(t.n) / float64(t.n-1) / (mean * mean))
	if g.noise != nil {
		if v := g.noise.Within(mean, g.side, kept*f); v == v {
			grain = float32(v / (mean * mean))
		}
	}
	return rough, grain
}

// of gives a frame's cells, reading them when they are not kept.
func (g *Grid) of(ctx context.Context, i int) (*cells, error) {
	if i == g.base {
		return g.own, nil
	}
	g.mu.Lock()
	c := g.kept[i]
	g.mu.Unlock()
	if c != nil {
		return c, nil
	}
	c, err := g.read(ctx, i)
	if err != nil {
		return nil, err
	}
	g.mu.Lock()
	g.kept[i] = c
	g.mu.Unlock()
	return c, nil
}

// smooth averages light over three by three cells that both frames have.
func (g *Grid) smooth(lin []float32, ok []bool) []float32 {
	out := make([]float32, len(lin))
	for y := range g.h {
		for x := range g.w {
			at := y*g.w + x
			if !ok[at] {
				continue
			}
			var s [3]float32
			n := float32(0)
			for v := max(0, y-1); v <= min(g.h-1, y+1); v++ {
				for u := max(0, x-1); u <= min(g.w-1, x+1); u++ {
					if k := v*g.w + u; ok[k] {
						s[0] += lin[3*k]
						s[1] += lin[3*k+1]
						s[2] += lin[3*k+2]
						n++
					}
				}
			}
			out[3*at], out[3*at+1], out[3*at+2] = s[0]/n, s[1]/n, s[2]/n
		}
	}
	return out
}

// primaries returns the scan's own channels on the sRGB primaries, which noise is carried
// by, and the way back.
func primaries(s *colour.Space) (m, inv matrix.Of) {
	m = model.Primaries(s)
	inv, ok := m.Inverse(1e-9)
	if !ok {
		m = matrix.Unit
	}
	return m, inv
}
