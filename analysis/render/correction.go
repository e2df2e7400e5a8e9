package render

import (
	"math"

	"stopladder/analysis/colour"
)

// Correction is a view correction laid over pictures: it changes what is shown
// and never what is measured. Linear works in place on interleaved linear light
// on the sRGB primaries (white = 1, unbounded) and must be safe for concurrent
// use. Developed pictures are kept per pointer: make a new Correction for every
// change of its parameters.
type Correction struct {
	Linear func(rgb []float32)

	bytes *[3]displayTable // light -> display byte, of corrections made by PerChannel
}

// A displayTable takes light to display bytes by the leading bits of a float32,
// 10 of the mantissa: steps of a thousandth of the light, a tenth of a byte at
// white. It begins at light that is black on any display.
const (
	displayShift = 13
	displayLo    = -16 // power of two
	displayHi    = 5
	displayFirst = (127 + displayLo) << (23 - displayShift)
	displayCells = (displayHi - displayLo) << (23 - displayShift)
)

type displayTable [displayCells]uint8

func (t *displayTable) at(x float32) uint8 {
	i := int(math.Float32bits(x)>>displayShift) - displayFirst
	if uint(i) < displayCells {
		return t[i]
	}
	if !(x > 0) || i < 0 { // also what is no number
		return t[0]
	}
	return t[displayCells-1]
}

// PerChannel makes the correction that takes each channel c (0 R, 1 G, 2 B) of
// light x to f(c, x): rising, and 0 at 0. It is shown several times faster than
// one that is given as Linear alone.
func PerChannel(f func(c int, x float32) float32) *Correction {
	out := &Correction{bytes: new([3]displayTable)}
	lin := make([]float32, 3*displayCells)
	row := make([]uint8, 4*displayCells)
	for i := range displayCells {
		// the middle of the cell
		x := math.Float32frombits(uint32(i+displayFirst)<<displayShift | 1<<(displayShift-1))
		for c := range 3 {
			lin[3*i+c] = f(c, x)
		}
	}
	colour.SRGB8(row, lin)
	for i := range displayCells {
		for c := range 3 {
			out.bytes[c][i] = row[4*i+c]
		}
	}
	for c := range 3 { // darker than the table: as good as nothing
		if f(c, 0) == 0 && out.bytes[c][0] <= 1 {
			out.bytes[c][0] = 0
		}
	}
	out.Linear = func(rgb []float32) {
		for i := 0; i+2 < len(rgb); i += 3 {
			rgb[i], rgb[i+1], rgb[i+2] = f(0, rgb[i]), f(1, rgb[i+1]), f(2, rgb[i+2])
		}
	}
	return out
}

// rgba corrects linear light and writes display bytes R, G, B, 255. lin is
// changed.
func (c *Correction) rgba(dst []uint8, lin []float32) {
	if c.bytes == nil {
		c.Linear(lin)
		colour.SRGB8(dst, lin)
		return
	}
	tr, tg, tb := &c.bytes[0], &c.bytes[1], &c.bytes[2]
	n := len(lin) / 3
	dst = dst[: 4*n : 4*n]
	for i := 0; i < n; i++ {
		p := lin[3*i : 3*i+3 : 3*i+3]
		q := dst[4*i : 4*i+4 : 4*i+4]
		q[0], q[1], q[2], q[3] = tr.at(p[0]), tg.at(p[1]), tb.at(p[2]), 255
	}
}
