package render

import (
	"image"
	"math"

	"golang.org/x/image/math/f64"
)

// layer is one level drawn through a map.
type layer struct {
	w, h    int        // of the level
	pic     *level     // nil: drawn from codes
	codes   *codeLayer // nil: drawn from pic
	flags   []uint8    // w*h
	nearest bool
	keep    uint8 // flags that stay as the layer below left them

	toFrame f64.Aff3        // device -> frame pixels
	inside  image.Rectangle // frame pixels that the layer shows
	area    image.Rectangle // frame pixels that may be marked
	origin  image.Point     // frame pixel at the level's corner
	scale   float64         // frame pixels per level pixel

	flagsOnly bool // the picture is hidden by the layer above
	fills     bool // every device pixel is inside

	cols, rows axis      // for straight maps
	in, marked fixedRect // inside and area on the level, for turned maps
}

func newLayer(toFrame f64.Aff3, inside image.Rectangle, origin image.Point, scale float64, area image.Rectangle) layer {
	l := layer{toFrame: toFrame, inside: inside, area: area.Intersect(inside), origin: origin, scale: scale}
	l.in, l.marked = l.window(l.inside), l.window(l.area)
	return l
}

// axis holds where each device column (or row) falls on a straight layer.
type axis struct {
	lo, hi   int // device positions inside the layer
	alo, ahi int // device positions inside the area
	near     []int32
	a, b     []int32  // neighbours for bilinear; b is the one after a, or a at the edge
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
	l.cols = newAxis(w, m[0], m[2], l.inside.Min.X, l.inside.Max.X, l.area.Min.X, l.area.Max.X, l.origin.X, l.scale, l.w)
	l.rows = newAxis(h, m[4], m[5], l.inside.Min.Y, l.inside.Max.Y, l.area.Min.Y, l.area.Max.Y, l.origin.Y, l.scale, l.h)
	l.fills = !l.flagsOnly && l.cols.lo == 0 && l.cols.hi == w && l.rows.lo == 0 && l.rows.hi == h
}

// rowBuf is what rows of one goroutine are drawn with, handed from row to row.
type rowBuf struct {
	mixed []uint64  // mixRow's
	code  []uint16  // code values of a row of device pixels
	light []float32 // and their light
}

// straightRow draws row y of a layer without rotation.
func (l *layer) straightRow(dst, flags []uint8, buf *rowBuf, y int, masks bool) {
	if y < l.rows.lo || y >= l.rows.hi {
		return
	}
	lo, hi := l.cols.lo, l.cols.hi
	w := l.w
	if !l.flagsOnly && lo < hi {
		out := dst[4*lo : 4*hi]
		switch {
		case l.codes != nil:
			code := buf.codes(hi - lo)
			if l.nearest {
				l.codes.nearestColumns(code, int(l.rows.near[y]), l.cols.near[lo:hi])
			} else {
				l.codes.mixedColumns(code, int(l.rows.a[y]), int(l.rows.b[y]), l.rows.w[y], l.cols.a[lo:hi], l.cols.b[lo:hi], l.cols.w[lo:hi])
			}
			l.codes.show(out, code, buf)
		case l.nearest:
			src := l.pic.pix[w*int(l.rows.near[y]):][:w]
			for i, x := range l.cols.near[lo:hi] {
				put(out[4*i:], src[x])
			}
		default:
			a := l.pic.pix[w*int(l.rows.a[y]):][:w]
			b := l.pic.pix[w*int(l.rows.b[y]):][:w]
			buf.mixed = mixRow(out, a, b, l.cols.a[lo:hi], l.cols.w[lo:hi], l.rows.w[y], buf.mixed)
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

// spread puts the four bytes of a pixel into four 16-bit lanes, so that one
// multiplication weighs all of them.
func spread(p uint32) uint64 {
	return uint64(p&0x00ff00ff) | uint64(p&0xff00ff00)<<24
}

// mixRow runs the bilinear inner loop: the source rows are mixed once over the
// columns in use, then the neighbours in each row. Lanes hold 8 bits after each step,
// rounded, so that a plane of one colour stays that colour.
func mixRow(out []uint8, a, b []uint32, cols []int32, wx []uint32, wy uint32, scratch []uint64) []uint64 {
	const lanes, round = 0x00ff00ff00ff00ff, 0x0080008000800080
	// cols rises or falls (a mirrored map); its ends are the range in use.
	from, to := int(cols[0]), int(cols[len(cols)-1])
	if from > to {
		from, to = to, from
	}
	n := to - from + 2
	if cap(scratch) < n {
		scratch = make([]uint64, n)
	}
	s := scratch[:n]
	last := len(a) - 1
	top, bottom := a[from:min(to+2, len(a))], b[from:min(to+2, len(a))]
	bottom = bottom[:len(top)]
	s = s[:len(top)]
	v, w := uint64(256-wy), uint64(wy)
	if w == 0 {
		for i, p := range top {
			s[i] = spread(p)
		}
	} else {
		for i, p := range top {
			s[i] = (spread(p)*v + spread(bottom[i])*w + round) >> 8 & lanes
		}
	}
	if to+1 > last {
		s = append(s, s[len(s)-1]) // beside the edge stands the edge; there is room by n
	}
	wx = wx[:len(cols)]
	for i, j := range cols {
		k := int(j) - from
		q := s[k : k+2 : k+2]
		w := uint64(wx[i])
		m := (q[0]*(256-w) + q[1]*w + round) >> 8 & lanes
		put(out[4*i:4*i+4:4*i+4], uint32(m)|uint32(m>>24))
	}
	return scratch
}

// mix returns p where w is 0 and q where it is 256, per byte, rounded.
func mix(p, q, w uint32) uint32 {
	const even, round = 0x00ff00ff, 0x00800080
	v := 256 - w
	lo := ((p&even)*v + (q&even)*w + round) >> 8 & even
	hi := ((p>>8&even)*v + (q>>8&even)*w + round) & (even << 8)
	return lo | hi
}
