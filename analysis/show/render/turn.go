package render

import (
	"image"
	"math"

	"stopladder/analysis/numeric/affine"

	"golang.org/x/image/math/f64"
)

// Positions on a level are stepped along a row in fixed point: after a row of
// 10 000 pixels the rounding of the step amounts to 0.0003 pixels.
const (
	fixBits = 24
	fixOne  = 1 << fixBits
)

func fixed(f float64) int64 { return int64(math.Floor(f * fixOne)) }

// steps is where the pixels of one device row fall on a level: pixel x at
// u + x*du, v + x*dv, in fixed point.
type steps struct{ u, v, du, dv int64 }

// within returns the part of n steps from a by d that lies in [from, to). It is
// contiguous since the steps are even.
func within(n int, a, d, from, to int64) (lo, hi int) {
	switch {
	case d == 0:
		if a >= from && a < to {
			return 0, n
		}
		return 0, 0
	case d > 0:
		lo, hi = ceilDiv(from-a, d), ceilDiv(to-a, d)
	default:
		lo, hi = -ceilDiv(to-a, -d)+1, -ceilDiv(from-a, -d)+1
		// a + x*d >= from  <=>  x <= floor((a-from)/-d), and floor(q) = -ceil(-q).
	}
	lo, hi = min(max(lo, 0), n), min(max(hi, 0), n)
	return lo, max(lo, hi)
}

// ceilDiv returns a/b rounded up, for b > 0, kept within what an int of a row may be.
func ceilDiv(a, b int64) int {
	q := a / b
	if a%b > 0 {
		q++
	}
	return int(min(max(q, -1<<30), 1<<30))
}

// within returns the part of n steps whose level pixels lie in a window.
func (s steps) within(n int, w fixedRect) (lo, hi int) {
	lo, hi = within(n, s.u, s.du, w.x0, w.x1)
	lo2, hi2 := within(n, s.v, s.dv, w.y0, w.y1)
	lo, hi = max(lo, lo2), min(hi, hi2)
	return lo, max(lo, hi)
}

// fixedRect is a window on a level in fixed point.
type fixedRect struct{ x0, y0, x1, y1 int64 }

// window returns r, in frame pixels, on the layer's level.
func (l *layer) window(r image.Rectangle) fixedRect {
	return fixedRect{
		fixed(float64(r.Min.X-l.origin.X) / l.scale), fixed(float64(r.Min.Y-l.origin.Y) / l.scale),
		fixed(float64(r.Max.X-l.origin.X) / l.scale), fixed(float64(r.Max.Y-l.origin.Y) / l.scale),
	}
}

// stepsOf starts device row y.
func (l *layer) stepsOf(y int) steps {
	m := l.toFrame
	fx, fy := affine.At(m, 0.5, float64(y)+0.5)
	return steps{
		fixed((fx - float64(l.origin.X)) / l.scale), fixed((fy - float64(l.origin.Y)) / l.scale),
		int64(math.Round(m[0] / l.scale * fixOne)), int64(math.Round(m[3] / l.scale * fixOne)),
	}
}

// centred returns the steps of the upper left one of the four pixels that bilinear
// interpolation takes, and the part [lo, hi) of the row in which all four exist.
func (s steps) centred(n, w, h int) (c steps, lo, hi int) {
	c = steps{s.u - fixOne/2, s.v - fixOne/2, s.du, s.dv}
	lo, hi = c.within(n, fixedRect{0, 0, int64(w-1) << fixBits, int64(h-1) << fixBits})
	return c, lo, hi
}

// turnedRow draws row y through any affine map.
func (l *layer) turnedRow(dst, flags []uint8, buf *rowBuf, y int, masks bool) {
	n, s := len(flags), l.stepsOf(y)
	w, h := l.w, l.h
	lo, hi := s.within(n, l.in)
	if !l.flagsOnly && lo < hi {
		switch {
		case l.codes != nil:
			code := buf.codes(hi)
			l.codes.run(code, s, n, lo, hi, l.nearest)
			l.codes.show(dst[4*lo:4*hi], code[3*lo:], buf)
		case l.nearest:
			l.nearestRun(dst, s, lo, hi)
		default:
			c, from, to := s.centred(n, w, h)
			from, to = min(max(from, lo), hi), min(max(to, lo), hi)
			l.edgeRun(dst, c, lo, from)
			l.mixedRun(dst, c, from, to)
			l.edgeRun(dst, c, to, hi)
		}
	}
	if !masks {
		return
	}
	lo, hi = s.within(n, l.marked)
	u, v := s.u+int64(lo)*s.du, s.v+int64(lo)*s.dv
	for x := lo; x < hi; x++ {
		nx, ny := min(int(u>>fixBits), w-1), min(int(v>>fixBits), h-1)
		flags[x] = flags[x]&l.keep | l.flags[ny*w+nx]
		u, v = u+s.du, v+s.dv
	}
}

func (l *layer) nearestRun(dst []uint8, s steps, lo, hi int) {
	w, h := l.pic.w, l.pic.h
	u, v := s.u+int64(lo)*s.du, s.v+int64(lo)*s.dv
	out := dst[4*lo : 4*hi]
	for len(out) >= 4 {
		nx, ny := min(int(u>>fixBits), w-1), min(int(v>>fixBits), h-1)
		put(out, l.pic.pix[ny*w+nx])
		out = out[4:]
		u, v = u+s.du, v+s.dv
	}
}

// mixedRun runs the bilinear inner loop of turned maps. The four weights add up to
// 256 exactly, so that a plane of one colour stays that colour.
func (l *layer) mixedRun(dst []uint8, c steps, lo, hi int) {
	const lanes, round = 0x00ff00ff00ff00ff, 0x0080008000800080
	w, pix := l.pic.w, l.pic.pix
	u, v := c.u+int64(lo)*c.du, c.v+int64(lo)*c.dv
	out := dst[4*lo : 4*hi]
	for len(out) >= 4 {
		o := int(v>>fixBits)*w + int(u>>fixBits)
		p, q := pix[o:o+2:o+2], pix[o+w:o+w+2:o+w+2]
		wx, wy := uint64(u)>>(fixBits-8)&255, uint64(v)>>(fixBits-8)&255
		d := (wx*wy + 128) >> 8
		m := (spread(p[0])*(256-wx-wy+d) + spread(p[1])*(wx-d) + spread(q[0])*(wy-d) + spread(q[1])*d + round) >> 8 & lanes
		put(out, uint32(m)|uint32(m>>24))
		out = out[4:]
		u, v = u+c.du, v+c.dv
	}
}

// edgeRun does what mixedRun does at the level's edge: beside the edge stands the edge.
func (l *layer) edgeRun(dst []uint8, c steps, lo, hi int) {
	w, h, pix := l.pic.w, l.pic.h, l.pic.pix
	for x := lo; x < hi; x++ {
		e := c.edge(x, w, h)
		wx, wy := e.wx, e.wy
		put(dst[4*x:], mix(mix(pix[e.y0*w+e.x0], pix[e.y0*w+e.x1], wx), mix(pix[e.y1*w+e.x0], pix[e.y1*w+e.x1], wx), wy))
	}
}

// four are the pixels and weights (0..255) of one bilinear sample.
type four struct {
	x0, x1, y0, y1 int
	wx, wy         uint32
}

func (c steps) edge(x, w, h int) four {
	u, v := max(c.u+int64(x)*c.du, 0), max(c.v+int64(x)*c.dv, 0)
	f := four{x0: min(int(u>>fixBits), w-1), y0: min(int(v>>fixBits), h-1)}
	f.x1, f.y1 = min(f.x0+1, w-1), min(f.y0+1, h-1)
	f.wx, f.wy = uint32(u>>(fixBits-8))&255, uint32(v>>(fixBits-8))&255
	return f
}

// Limits in device pixels up to which a map that turns or scales a little is
// taken for a mere shift over what is in sight. At 1:1 and above that keeps the
// pixels those of the file, grain and all, where resampling would soften them;
// the limit is what registration itself is sure of. Below 1:1 it saves time.
const (
	shiftLimitFile  = 0.3
	shiftLimitSmall = 0.05
)

// turnedFrom is the magnification from which a turned picture shows the file's
// pixels as squares instead of interpolating: then they are large enough to be
// seen in their true places.
const turnedFrom = 4

// deviceMap chains device -> base -> frame for a view, in the simplest form
// that is true in sight.
func (p *Picture) deviceMap(v View, w, h int) (m f64.Aff3, port Port) {
	port = Port{Area: p.BaseArea(), W: w, H: h}
	m = port.Place(v).deviceToFrame(p.Map())
	// The shift that is true in the middle, at the scale of the base.
	z := 1 / port.Clamp(v).Zoom
	if m[0]*m[4]-m[1]*m[3] < 0 || m[0] < 0 {
		return m, port // mirrored or turned by far: no shift is near
	}
	cx, cy := float64(w)/2, float64(h)/2
	fx, fy := affine.At(m, cx, cy)
	shift := f64.Aff3{z, 0, fx - z*cx, 0, z, fy - z*cy}
	limit := shiftLimitSmall
	if z <= nearOne {
		limit = shiftLimitFile
	}
	dx := math.Abs(m[0]-z)*cx + math.Abs(m[1])*cy
	dy := math.Abs(m[3])*cx + math.Abs(m[4]-z)*cy
	if math.Hypot(dx, dy) <= limit*z {
		return shift, port
	}
	return m, port
}

// straight reports whether a map neither turns nor slants.
func straight(m f64.Aff3) bool { return m[1] == 0 && m[3] == 0 }

// filesOwn reports whether pixels of step full-resolution pixels are shown as they
// are, not interpolated, through m.
func filesOwn(m f64.Aff3, step float64) bool {
	per := pixelsPerDevice(m)
	if step != 1 || per > nearOne {
		return false
	}
	return straight(m) || per <= nearOne/turnedFrom
}

// Resampled reports whether a view at 1:1 or above does not show the file's own pixels
// but interpolates them, because registration turns or scales the frame by a visible
// amount. Grain looks softer then.
func Resampled(p Picture, v View, w, h int) bool {
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() || w <= 0 || h <= 0 {
		return false
	}
	m, port := p.deviceMap(v, w, h)
	return port.Clamp(v).Zoom*nearOne >= 1 && !straight(m) && !filesOwn(m, 1)
}
