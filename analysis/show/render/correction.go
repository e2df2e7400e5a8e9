package render

import (
	"math"
	"sync"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

// Correction is a view correction laid over pictures: it changes what is shown
// and never what is measured. Linear works in place on interleaved linear light
// on the sRGB primaries (white = 1, unbounded) and must be safe for concurrent
// use.
//
// A correction made by PerChannel is laid over the device pixels as they are
// drawn, so that a change of it costs no more than a picture. Any other is
// developed into the whole preview, which is kept per pointer: make a new
// Correction for every change of its parameters.
type Correction struct {
	Linear func(rgb []float32)

	// Of corrections made by PerChannel, both made when they are first used.
	f     func() func(c int, x float32) float32
	bytes func() *[3]*displayTable // light -> display byte
}

// A displayTable takes light to display bytes by the leading bits of a float32,
// 10 of the mantissa: steps of a thousandth of the light, a tenth of a byte at
// white. Cells within which a correction takes more than one step of a byte are
// marked wide, and reckoned.
const (
	displayShift = 13
	displayLo    = -16 // power of two; about the lightest code but 0
	displayHi    = 1
	displayFirst = (127 + displayLo) << (23 - displayShift)
	displayCells = (displayHi - displayLo) << (23 - displayShift)

	wide = 1 << 8
)

type displayTable [displayCells]uint16

func (t *displayTable) at(x float32) uint16 {
	i := int(math.Float32bits(x)>>displayShift) - displayFirst
	if uint(i) < displayCells {
		return t[i]
	}
	return wide
}

// PerChannel makes the correction that takes each channel c (0 R, 1 G, 2 B) of
// light x to f(c, x): never falling, and black for light of 0 or less. f must be
// safe for concurrent use; it is made in the worker that first needs it, and
// nothing is reckoned before a picture needs it.
func PerChannel(build func() func(c int, x float32) float32) *Correction {
	c := &Correction{f: sync.OnceValue(build)}
	c.bytes = sync.OnceValue(c.tables)
	c.Linear = func(rgb []float32) {
		f := c.f()
		for i := 0; i+2 < len(rgb); i += 3 {
			rgb[i], rgb[i+1], rgb[i+2] = f(0, rgb[i]), f(1, rgb[i+1]), f(2, rgb[i+2])
		}
	}
	return c
}

// Corrected returns the correction that lays a frame's salvage over it, and then what
// corrects all frames alike; nil when neither does anything.
func Corrected(salvage, all correction.Settings) *Correction {
	if salvage.IsZero() && all.IsZero() {
		return nil
	}
	salvage, all = salvage.Clone(), all.Clone() // read by a worker, while the owner may change
	return PerChannel(func() func(c int, x float32) float32 {
		first, then := salvage.Tables(), all.Tables()
		return func(c int, x float32) float32 { return then[c].At(first[c].At(x)) }
	})
}

// Blend returns the correction between two, of which b has the share w of 0..1: light
// is taken to the mean of what both make of it. nil stands for none. It is for
// corrections made by PerChannel; of any other a is taken.
func Blend(a, b *Correction, w float64) *Correction {
	if a == b || a != nil && !a.live() || b != nil && !b.live() {
		return a
	}
	return PerChannel(func() func(c int, x float32) float32 {
		of := func(k *Correction) func(c int, x float32) float32 {
			if k == nil {
				return func(_ int, x float32) float32 { return x }
			}
			return k.f()
		}
		f, g, w := of(a), of(b), float32(w)
		return func(c int, x float32) float32 { return (1-w)*f(c, x) + w*g(c, x) }
	})
}

// live reports whether a correction is laid over device pixels as they are drawn.
func (c *Correction) live() bool { return c != nil && c.f != nil }

func (c *Correction) tables() *[3]*displayTable {
	// The edges of the cells, and their middles, which stand for them.
	const n = 2*displayCells + 1
	f := c.f()
	lin := make([]float32, 3*n)
	row := make([]uint8, 4*n)
	parallel.Bands(n, func(from, to int) {
		for i := from; i < to; i++ {
			x := math.Float32frombits(uint32(2*displayFirst+i) << (displayShift - 1))
			lin[3*i], lin[3*i+1], lin[3*i+2] = f(0, x), f(1, x), f(2, x)
		}
		colour.SRGB8(row[4*from:4*to], lin[3*from:3*to])
	})
	var out [3]*displayTable
	for k := range out {
		t := new(displayTable)
		for i := range t {
			lo, mid, hi := row[8*i+k], row[8*i+4+k], row[8*i+8+k]
			t[i] = uint16(mid)
			if hi > lo+1 && lo < 255 {
				t[i] |= wide
			}
		}
		out[k] = t
	}
	return &out
}

// exact returns the display byte of one value.
func (c *Correction) exact(channel int, x float32) uint8 {
	if !(x > 0) { // also what is no number
		return 0
	}
	lin := [3]float32{c.f()(channel, x)}
	var out [4]uint8
	colour.SRGB8(out[:], lin[:])
	return out[0]
}

// rgba corrects linear light and writes display bytes R, G, B, 255. lin may be
// changed.
func (c *Correction) rgba(dst []uint8, lin []float32) {
	if !c.live() {
		c.Linear(lin)
		colour.SRGB8(dst, lin)
		return
	}
	t := c.bytes()
	tr, tg, tb := t[0], t[1], t[2]
	n := len(lin) / 3
	dst = dst[: 4*n : 4*n]
	for i := 0; i < n; i++ {
		p := lin[3*i : 3*i+3 : 3*i+3]
		r, g, b := tr.at(p[0]), tg.at(p[1]), tb.at(p[2])
		if (r|g|b)&wide != 0 {
			if r&wide != 0 {
				r = uint16(c.exact(0, p[0]))
			}
			if g&wide != 0 {
				g = uint16(c.exact(1, p[1]))
			}
			if b&wide != 0 {
				b = uint16(c.exact(2, p[2]))
			}
		}
		q := dst[4*i : 4*i+4 : 4*i+4]
		q[0], q[1], q[2], q[3] = uint8(r), uint8(g), uint8(b), 255
	}
}
