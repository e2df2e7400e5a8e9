package render

import (
	"image"

	"stopladder/analysis/measure"
)

// Flags of one pixel. The film-flat flags are reserved for the response of
// method.md section 6; nothing sets them yet.
const (
	flagBlown uint8 = 1 << iota
	flagBlocked
	flagNoisy
	flagBlownFlat
	flagBlockedFlat
)

// half is the share of pixels, of 255, from which a reduced pixel is marked.
const halfShare = 128

// marks are the masks at the sizes of the developed preview.
type marks struct {
	look   *measure.Look
	rel    *measure.Relation
	levels []flagLevel
}

type flagLevel struct {
	w, h int
	pix  []uint8
}

func (m *marks) fits(look *measure.Look, rel *measure.Relation) bool {
	return m.look == look && m.rel == rel
}

// newMarks builds the masks from shares; reductions average the shares, so that
// a pixel is marked where half of what it stands for is, at any size.
func newMarks(look *measure.Look, rel *measure.Relation) *marks {
	pv := look.Preview
	m := &marks{look: look, rel: rel}
	shares := [3][]uint8{whole(look.BlownShare, pv.W*pv.H), whole(look.BlockedShare, pv.W*pv.H), noisyShare(rel, pv.W*pv.H)}
	w, h := pv.W, pv.H
	for {
		f := flagLevel{w: w, h: h, pix: make([]uint8, w*h)}
		for k, flag := range [3]uint8{flagBlown, flagBlocked, flagNoisy} {
			for i, s := range shares[k] {
				if s >= halfShare {
					f.pix[i] |= flag
				}
			}
		}
		m.levels = append(m.levels, f)
		if w <= 64 || h <= 64 {
			return m
		}
		for k := range shares {
			shares[k] = halfShares(shares[k], w, h)
		}
		w, h = (w+1)/2, (h+1)/2
	}
}

// whole returns s when it has a share for every pixel, else nil: a mask of the
// wrong size is no mask.
func whole(s []uint8, n int) []uint8 {
	if len(s) != n {
		return nil
	}
	return s
}

func noisyShare(rel *measure.Relation, n int) []uint8 {
	if rel == nil || len(rel.NoiseL) != n {
		return nil
	}
	s := make([]uint8, n)
	limit := float32(rel.NoiseLimit)
	for i, v := range rel.NoiseL {
		if v > limit { // false for NaN: unknown is not noisy
			s[i] = 255
		}
	}
	return s
}

func halfShares(s []uint8, w, h int) []uint8 {
	if s == nil {
		return nil
	}
	ow, oh := (w+1)/2, (h+1)/2
	o := make([]uint8, ow*oh)
	for y := 0; y < oh; y++ {
		a := s[w*2*y:]
		b := a
		if 2*y+1 < h {
			b = s[w*(2*y+1):]
		}
		for x := 0; x < ow; x++ {
			i, j := 2*x, min(2*x+1, w-1)
			o[ow*y+x] = uint8((uint(a[i]) + uint(a[j]) + uint(b[i]) + uint(b[j]) + 2) / 4)
		}
	}
	return o
}

// flags marks the detail's pixels: exactly by their code values, or by half of
// the pixels that they stand for when the detail is reduced.
func (d *Detail) flags(look *measure.Look) []uint8 {
	f := make([]uint8, d.W*d.H)
	if d.Step > 1 {
		for i := range whole(d.BlownShare, len(f)) {
			if d.BlownShare[i] >= halfShare {
				f[i] |= flagBlown
			}
		}
		for i := range whole(d.BlockedShare, len(f)) {
			if d.BlockedShare[i] >= halfShare {
				f[i] |= flagBlocked
			}
		}
		return f
	}
	hi, lo := look.Ceiling, look.Floor
	for i := range f {
		f[i] = clipFlags(d.Pix[3*i:3*i+3:3*i+3], hi, lo)
	}
	return f
}

// clipFlags is Blown when any channel is at or beyond the ceiling, Blocked when
// any is at or beyond the floor (method.md section 3).
func clipFlags(p []uint16, ceiling, floor measure.RGB[int]) (f uint8) {
	r, g, b := int(p[0]), int(p[1]), int(p[2])
	if r >= ceiling.R || g >= ceiling.G || b >= ceiling.B {
		f = flagBlown
	}
	if r <= floor.R || g <= floor.G || b <= floor.B {
		f |= flagBlocked
	}
	return f
}

// FlagsAt says what the masks hold at a full-resolution position of the frame,
// at the preview's resolution. It is for tests and readouts; p must be Prepared.
func (p *Picture) FlagsAt(at image.Point) (blown, blocked, noisy bool) {
	if p.marks == nil || !at.In(p.Look.Area) {
		return
	}
	l := p.marks.levels[0]
	x, y := at.X/p.Look.Preview.Factor, at.Y/p.Look.Preview.Factor
	if x >= l.w || y >= l.h {
		return
	}
	f := l.pix[y*l.w+x]
	return f&flagBlown != 0, f&flagBlocked != 0, f&flagNoisy != 0
}
