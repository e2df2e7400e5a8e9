package render

import (
	"encoding/binary"
	"sync"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/parallel"
)

// Flat says, per channel, where the film no longer separates tones although the
// scan is not clipped (assets/manual/clipping.md#flat-fraction): codes at or above Light, and codes at
// or below Dark. Bounds beyond the scale mark nothing.
type Flat struct{ Light, Dark [3]int }

// Flags of one pixel. The flat flags stand only where the clipped ones do not.
const (
	flagBlown uint8 = 1 << iota
	flagBlocked
	flagNoisy
	flagBlownFlat
	flagBlockedFlat
	flagLost
	flagDust
)

// half is the share of pixels, of 255, from which a reduced pixel is marked.
const halfShare = 128

// Share is a mask that is computed elsewhere and may change while the frame stays
// what it is: for every preview pixel the share 0..255 of it that is marked.
// Masks are kept per pointer: make a new Share for every change.
type Share struct {
	Pix []uint8

	by func() []uint8 // makes Pix where it is first needed; nil: it is there
}

// ShareBy returns a Share that takes time to make: it is made in the worker that first
// needs it. make must be safe to call once from any goroutine.
func ShareBy(make func() []uint8) *Share { return &Share{by: sync.OnceValue(make)} }

func (s *Share) pix() []uint8 {
	if s.by != nil {
		return s.by()
	}
	return s.Pix
}

// marks are the masks at the sizes of the developed preview.
type marks struct {
	rel    *measure.Relation
	noise  *Share
	lost   *Share
	dust   *Share
	fixed  *fixedMarks
	levels []flagLevel
}

// fixedMarks are the masks that the look and the film's flat parts give. They do
// not change while a limit is dragged, so they are kept apart.
type fixedMarks struct {
	look   *measure.Look
	flat   Flat // zero: not known
	levels []flagLevel
}

type flagLevel struct {
	w, h int
	pix  []uint8
}

func (m *marks) fits(p *Picture) bool {
	return m.fixed.fits(p) && m.rel == p.Rel && m.noise == p.Noise && m.lost == p.Lost && m.dust == p.Dust
}

func (f *fixedMarks) fits(p *Picture) bool { return f.look == p.Look && f.flat == flatOf(p.Flat) }

func flatOf(f *Flat) Flat {
	if f == nil {
		return Flat{}
	}
	return *f
}

// newMarks builds the masks from shares; reductions average the shares, so that
// a pixel is marked where half of what it stands for is, at any size.
func newMarks(p *Picture, fixed *fixedMarks) *marks {
	if fixed == nil {
		fixed = newFixedMarks(p.Look, flatOf(p.Flat))
	}
	m := &marks{rel: p.Rel, noise: p.Noise, lost: p.Lost, dust: p.Dust, fixed: fixed}
	n := p.Look.Preview.W * p.Look.Preview.H
	var noisy, lost, dust []uint8
	if p.Noise != nil {
		noisy = whole(p.Noise.pix(), n)
	} else {
		noisy = noisyShare(p.Rel, n)
	}
	if p.Lost != nil {
		lost = whole(p.Lost.pix(), n)
	}
	if p.Dust != nil {
		dust = whole(p.Dust.pix(), n)
	}
	if noisy == nil && lost == nil && dust == nil {
		m.levels = fixed.levels
		return m
	}
	m.levels = make([]flagLevel, len(fixed.levels))
	for i, f := range fixed.levels {
		l := flagLevel{w: f.w, h: f.h, pix: make([]uint8, len(f.pix))}
		parallel.Bands(l.h, func(y0, y1 int) {
			copy(l.pix[l.w*y0:l.w*y1], f.pix[l.w*y0:])
			l.mark(noisy, flagNoisy, y0, y1)
			l.mark(lost, flagLost, y0, y1)
			l.mark(dust, flagDust, y0, y1)
		})
		m.levels[i] = l
		noisy, lost, dust = halfShares(noisy, f.w, f.h), halfShares(lost, f.w, f.h), halfShares(dust, f.w, f.h)
	}
	return m
}

// mark sets a flag in rows y0..y1 where half of a pixel bears it.
func (l *flagLevel) mark(share []uint8, flag uint8, y0, y1 int) {
	if share == nil {
		return
	}
	pix, s := l.pix[l.w*y0:l.w*y1], share[l.w*y0:l.w*y1]
	for ; len(s) >= 8 && len(pix) >= 8; s, pix = s[8:], pix[8:] { // eight pixels in a word
		half := binary.LittleEndian.Uint64(s) >> 7 & 0x0101010101010101
		binary.LittleEndian.PutUint64(pix, binary.LittleEndian.Uint64(pix)|half*uint64(flag))
	}
	for i, v := range s {
		pix[i] |= v >> 7 * flag
	}
}

func newFixedMarks(look *measure.Look, flat Flat) *fixedMarks {
	pv := look.Preview
	m := &fixedMarks{look: look, flat: flat}
	light, dark := flatShares(pv, flat)
	n := pv.W * pv.H
	shares := [4][]uint8{whole(look.BlownShare, n), whole(look.BlockedShare, n), light, dark}
	w, h := pv.W, pv.H
	for {
		f := flagLevel{w: w, h: h, pix: make([]uint8, w*h)}
		for k, flag := range [4]uint8{flagBlown, flagBlocked, flagBlownFlat, flagBlockedFlat} {
			f.mark(shares[k], flag, 0, h)
		}
		if light != nil {
			for i, v := range f.pix {
				f.pix[i] = unlessClipped(v)
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

// unlessClipped drops the weaker flags where the stronger ones stand.
func unlessClipped(f uint8) uint8 {
	if f&flagBlown != 0 {
		f &^= flagBlownFlat
	}
	if f&flagBlocked != 0 {
		f &^= flagBlockedFlat
	}
	return f
}

// flatShares marks preview pixels by their mean code: what has no tones has no
// texture that the mean would hide.
func flatShares(pv *measure.Preview, flat Flat) (light, dark []uint8) {
	if flat == (Flat{}) || len(pv.Pix) != 3*pv.W*pv.H {
		return nil, nil
	}
	light, dark = make([]uint8, pv.W*pv.H), make([]uint8, pv.W*pv.H)
	for i := range light {
		f := flatFlags(pv.Pix[3*i:3*i+3:3*i+3], flat)
		light[i], dark[i] = -(f & flagBlownFlat / flagBlownFlat), -(f & flagBlockedFlat / flagBlockedFlat)
	}
	return light, dark
}

// flatFlags reports whether any channel is in the film's flat parts.
func flatFlags(p []uint16, t Flat) (f uint8) {
	r, g, b := int(p[0]), int(p[1]), int(p[2])
	if r >= t.Light[0] || g >= t.Light[1] || b >= t.Light[2] {
		f = flagBlownFlat
	}
	if r <= t.Dark[0] || g <= t.Dark[1] || b <= t.Dark[2] {
		f |= flagBlockedFlat
	}
	return f
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
	parallel.Bands(n, func(from, to int) {
		for i, v := range rel.NoiseL[from:to] {
			if v > limit { // false for NaN: unknown is not noisy
				s[from+i] = 255
			}
		}
	})
	return s
}

func halfShares(s []uint8, w, h int) []uint8 {
	if s == nil {
		return nil
	}
	ow, oh := (w+1)/2, (h+1)/2
	o := make([]uint8, ow*oh)
	parallel.Bands(oh, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			a := s[w*2*y:]
			b := a
			if 2*y+1 < h {
				b = s[w*(2*y+1):]
			}
			for x := range w / 2 {
				p, q := a[2*x:2*x+2:2*x+2], b[2*x:2*x+2:2*x+2]
				o[ow*y+x] = uint8((uint(p[0]) + uint(p[1]) + uint(q[0]) + uint(q[1]) + 2) / 4)
			}
			for x := w / 2; x < ow; x++ { // the last column of an odd width
				i, j := 2*x, min(2*x+1, w-1)
				o[ow*y+x] = uint8((uint(a[i]) + uint(a[j]) + uint(b[i]) + uint(b[j]) + 2) / 4)
			}
		}
	})
	return o
}

// flags marks the detail's pixels: exactly by their code values, or by half of
// the pixels that they stand for when the detail is reduced.
func (d *Detail) flags(look *measure.Look, flat Flat) []uint8 {
	f := d.clipped(look)
	if flat != (Flat{}) {
		for i := range f {
			f[i] = unlessClipped(f[i] | flatFlags(d.Pix[3*i:3*i+3:3*i+3], flat))
		}
	}
	return f
}

func (d *Detail) clipped(look *measure.Look) []uint8 {
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

// clipFlags returns Blown when any channel is at or beyond the ceiling, Blocked when
// any is at or beyond the floor (assets/manual/clipping.md).
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
