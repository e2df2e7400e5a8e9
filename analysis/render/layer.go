package render

import (
	"image"
	"math"

	"golang.org/x/image/math/f64"
)

// layer is one level drawn through a map.
type layer struct {
	pic     *level
	flags   []uint8 // as many as pic has pixels
	nearest bool
	keep    uint8 // flags that stay as the layer below left them

	toFrame f64.Aff3        // device -> frame pixels
	inside  image.Rectangle // frame pixels that the layer shows
	area    image.Rectangle // frame pixels that may be marked
	origin  image.Point     // frame pixel at the level's corner
	scale   float64         // frame pixels per level pixel

	flagsOnly bool // the picture is hidden by the layer above
	fills     bool // every device pixel is inside

	cols, rows axis // for straight maps
}

func newLayer(toFrame f64.Aff3, inside image.Rectangle, origin image.Point, scale float64, area image.Rectangle) layer {
	return layer{toFrame: toFrame, inside: inside, area: area.Intersect(inside), origin: origin, scale: scale}
}

// axis holds where each device column (or row) falls on a straight layer.
type axis struct {
	lo, hi   int // device positions inside the layer
	alo, ahi int // device positions inside the area
	near     []int32
	a, b     []int32  // neighbours for bilinear
	w        []uint32 // weight of b, 0..256
}

func newAxis(n int, m, c float64, in0, in1, area0, area1, origin int, scale float64, size int) axis {
	t := axis{near: make([]int32, n), a: make([]int32, n), b: make([]int32, n), w: make([]uint32, n)}
	t.lo, t.hi = span(n, m, c, in0, in1)
	t.alo, t.ahi = span(n, m, c, area0, area1)
	last := float64(size - 1)
	for i := 0; i < n; i++ {
		u := (m*(float64(i)+0.5) + c - float64(origin)) / scale
		t.near[i] = int32(math.Min(math.Max(math.Floor(u), 0), last))
		g := math.Min(math.Max(u-0.5, 0), last)
		f := math.Floor(g)
		t.a[i] = int32(f)
		t.b[i] = int32(math.Min(f+1, last))
		t.w[i] = uint32((g-f)*256 + 0.5)
	}
	return t
}

// span returns the device positions whose centres fall into [from, to). They
// are contiguous since the map is straight; m may be negative (a mirrored map).
func span(n int, m, c float64, from, to int) (lo, hi int) {
	in := func(i int) bool {
		f := m*(float64(i)+0.5) + c
		return f >= float64(from) && f < float64(to)
	}
	lo = 0
	for lo < n && !in(lo) {
		lo++
	}
	hi = lo
	for hi < n && in(hi) {
		hi++
	}
	return lo, hi
}

func (l *layer) tabulate(w, h int) {
	m := l.toFrame
	l.cols = newAxis(w, m[0], m[2], l.inside.Min.X, l.inside.Max.X, l.area.Min.X, l.area.Max.X, l.origin.X, l.scale, l.pic.w)
	l.rows = newAxis(h, m[4], m[5], l.inside.Min.Y, l.inside.Max.Y, l.area.Min.Y, l.area.Max.Y, l.origin.Y, l.scale, l.pic.h)
	l.fills = !l.flagsOnly && l.cols.lo == 0 && l.cols.hi == w && l.rows.lo == 0 && l.rows.hi == h
}

// straightRow draws row y of a layer without rotation.
func (l *layer) straightRow(dst, flags []uint8, y int, masks bool) {
	if y < l.rows.lo || y >= l.rows.hi {
		return
	}
	lo, hi := l.cols.lo, l.cols.hi
	w := l.pic.w
	if !l.flagsOnly && lo < hi {
		out := dst[4*lo : 4*hi]
		if l.nearest {
			src := l.pic.pix[w*int(l.rows.near[y]):][:w]
			for i, x := range l.cols.near[lo:hi] {
				put(out[4*i:], src[x])
			}
		} else {
			a := l.pic.pix[w*int(l.rows.a[y]):][:w]
			b := l.pic.pix[w*int(l.rows.b[y]):][:w]
			mixRow(out, a, b, l.cols.a[lo:hi], l.cols.b[lo:hi], l.cols.w[lo:hi], l.rows.w[y])
		}
	}
	if !masks || y < l.rows.alo || y >= l.rows.ahi {
		return
	}
	src := l.flags[w*int(l.rows.near[y]):][:w]
	for x := l.cols.alo; x < l.cols.ahi; x++ {
		flags[x] = flags[x]&l.keep | src[l.cols.near[x]]
	}
}

// mixRow is the bilinear inner loop: two bytes are mixed in one multiplication.
func mixRow(out []uint8, a, b []uint32, x0, x1 []int32, wx []uint32, wy uint32) {
	x1, wx = x1[:len(x0)], wx[:len(x0)]
	for i, j := range x0 {
		k, w := x1[i], wx[i]
		put(out[4*i:4*i+4:4*i+4], mix(mix(a[j], a[k], w), mix(b[j], b[k], w), wy))
	}
}

// mix is p where w is 0 and q where it is 256, per byte, rounded.
func mix(p, q, w uint32) uint32 {
	const even, round = 0x00ff00ff, 0x00800080
	v := 256 - w
	lo := ((p&even)*v + (q&even)*w + round) >> 8 & even
	hi := ((p>>8&even)*v + (q>>8&even)*w + round) & (even << 8)
	return lo | hi
}

// turnedRow draws row y through any affine map, in fixed point with 20 bits of
// fraction: exact to a thousandth of a pixel over a row of 1000 pixels.
func (l *layer) turnedRow(dst, flags []uint8, y int, masks bool) {
	const bits = 20
	const one = 1 << bits
	m := l.toFrame
	fx, fy := Apply(m, 0.5, float64(y)+0.5)
	fixed := func(f float64) int64 { return int64(math.Floor(f * one)) }
	u, v := fixed((fx-float64(l.origin.X))/l.scale), fixed((fy-float64(l.origin.Y))/l.scale)
	du, dv := int64(math.Round(m[0]/l.scale*one)), int64(math.Round(m[3]/l.scale*one))
	window := func(r image.Rectangle) (x0, y0, x1, y1 int64) {
		return fixed(float64(r.Min.X-l.origin.X) / l.scale), fixed(float64(r.Min.Y-l.origin.Y) / l.scale),
			fixed(float64(r.Max.X-l.origin.X) / l.scale), fixed(float64(r.Max.Y-l.origin.Y) / l.scale)
	}
	ix0, iy0, ix1, iy1 := window(l.inside)
	ax0, ay0, ax1, ay1 := window(l.area)
	w, h := l.pic.w, l.pic.h
	for x := range flags {
		if u >= ix0 && u < ix1 && v >= iy0 && v < iy1 {
			nx, ny := min(int(u>>bits), w-1), min(int(v>>bits), h-1)
			switch {
			case l.flagsOnly:
			case l.nearest:
				put(dst[4*x:], l.pic.pix[ny*w+nx])
			default:
				gu, gv := max(u-one/2, 0), max(v-one/2, 0)
				x0, y0 := min(int(gu>>bits), w-1), min(int(gv>>bits), h-1)
				x1, y1 := min(x0+1, w-1), min(y0+1, h-1)
				wx, wy := uint32(gu&(one-1))>>(bits-8), uint32(gv&(one-1))>>(bits-8)
				p := l.pic.pix
				put(dst[4*x:], mix(mix(p[y0*w+x0], p[y0*w+x1], wx), mix(p[y1*w+x0], p[y1*w+x1], wx), wy))
			}
			if masks && u >= ax0 && u < ax1 && v >= ay0 && v < ay1 {
				flags[x] = flags[x]&l.keep | l.flags[ny*w+nx]
			}
		}
		u, v = u+du, v+dv
	}
}
