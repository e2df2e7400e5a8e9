package render

import (
	"encoding/binary"
	"image"
	"sync"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/parallel"
)

// Between is a picture between two frames: the codes of both are moved by
// tables and mixed by weights, channel by channel,
//
//	code = (wl*moved_l + wu*moved_u) / (wl + wu)
//
// and shown through Lower's colour space. Where only one frame has something to
// show, it is shown alone.
type Between struct {
	Lower, Upper Picture
	// Tables hold for every code value of their frame, per channel, the moved code
	// value << 16 | the weight 0..65535. nil leaves the codes as they are, with
	// full weight.
	LowerTable, UpperTable *[3][]uint32
	// Exact says that the picture is Lower's own: it stands on a rung. Then Lower
	// is rendered as Render does it and Upper and the tables are not looked at.
	Exact bool
}

// Between draws b into the whole of dst. Masks are of the synthesised codes: a
// pixel is Blown where one of its channels is at or above Lower's ceiling, and
// Blocked at or below its floor; what is Noisy is not known between frames.
// draft takes half the resolution, for markers in motion.
func (s *Sampler) Between(dst *image.RGBA, b *Between, v View, o Overlay, draft bool) {
	if b.Exact {
		picture(dst, b.Lower, v, o, draft)
		return
	}
	size := dst.Bounds().Size()
	if size.X == 0 || size.Y == 0 {
		return
	}
	step := 1
	if draft {
		step = 2
	}
	lower, upper := s.of(&b.Lower, v, size.X, size.Y, step), s.of(&b.Upper, v, size.X, size.Y, step)
	m := newMixer(b)
	o.Noisy = false
	pats := patternsOf(o, size.X)
	parallel.Bands((size.Y+step-1)/step, func(y0, y1 int) {
		buf := &mixBuf{codes: make([]uint16, 3*size.X), bytes: make([]uint8, 4*size.X), light: make([]float32, 3*size.X)}
		flags := make([]uint8, size.X)
		for y := y0 * step; y < min(y1*step, size.Y); y += step {
			m.row(line(dst, y), buf, flags, lower, upper, y, step, len(pats) > 0)
			for i := 1; i < step && y+i < size.Y; i++ {
				copy(line(dst, y+i), line(dst, y))
			}
			for i := 0; i < step && y+i < size.Y; i++ {
				lay(pats, line(dst, y+i), flags, y+i)
			}
		}
	})
}

// mixer holds what a row of an in-between picture needs.
type mixer struct {
	lower, upper   [3]*[1 << 16]uint32
	look           *Picture
	ceiling, floor measure.RGB[int]
	flat           Flat
}

func newMixer(b *Between) *mixer {
	m := &mixer{look: &b.Lower}
	for k := range 3 {
		m.lower[k], m.upper[k] = moveTable(b.LowerTable, k), moveTable(b.UpperTable, k)
	}
	if l := b.Lower.Look; l != nil {
		m.ceiling, m.floor, m.flat = l.Ceiling, l.Floor, flatOf(b.Lower.Flat)
	}
	return m
}

// moveTable returns a channel's table with an entry for every uint16, so that the
// loops need no check of their indices.
func moveTable(t *[3][]uint32, k int) *[1 << 16]uint32 {
	if t == nil || len(t[k]) == 0 {
		return unmoved()
	}
	if len(t[k]) == 1<<16 {
		return (*[1 << 16]uint32)(t[k])
	}
	full := new([1 << 16]uint32)
	n := copy(full[:], t[k])
	for i := n; i < len(full); i++ {
		full[i] = full[n-1]
	}
	return full
}

var unmoved = sync.OnceValue(func() *[1 << 16]uint32 {
	t := new([1 << 16]uint32)
	for i := range t {
		t[i] = uint32(i)<<16 | 0xffff
	}
	return t
})

// mixBuf holds the buffers of one goroutine.
type mixBuf struct {
	codes []uint16
	bytes []uint8
	light []float32
}

// row draws device row y from every step-th pixel.
func (m *mixer) row(out []uint8, buf *mixBuf, flags []uint8, lower, upper *samples, y, step int, masks bool) {
	w := len(out) / 4
	l, u := lower.in[y], upper.in[y]
	all := l
	if l.lo >= l.hi {
		all = u
	} else if u.lo < u.hi {
		all = run{min(l.lo, u.lo), max(l.hi, u.hi)}
	}
	cell := func(r run) (lo, hi int) {
		return (int(r.lo) + step - 1) / step, (int(r.hi) + step - 1) / step
	}
	lo, hi := cell(all)
	if lo >= hi {
		fill(out, 0, w, m.look.surround())
		return
	}
	codes := buf.codes[:3*hi]
	both := l.meet(u)
	if blo, bhi := cell(both); blo < bhi {
		lp, up := lower.pix[3*w*y:], upper.pix[3*w*y:]
		m.both(codes, lp, up, blo, bhi, 3*step)
		moveRun(codes, lp, &m.lower, cellsOf(l, run{all.lo, both.lo}, step), step)
		moveRun(codes, up, &m.upper, cellsOf(u, run{all.lo, both.lo}, step), step)
		moveRun(codes, lp, &m.lower, cellsOf(l, run{both.hi, all.hi}, step), step)
		moveRun(codes, up, &m.upper, cellsOf(u, run{both.hi, all.hi}, step), step)
	} else {
		// Nothing in common: each for itself, and what lies between is surround.
		if l.lo < l.hi {
			moveRun(codes, lower.pix[3*w*y:], &m.lower, cellsOf(l, l, step), step)
		}
		if u.lo < u.hi {
			moveRun(codes, upper.pix[3*w*y:], &m.upper, cellsOf(u, u, step), step)
		}
	}
	m.show(out, buf, codes, lo, hi, step)
	if both.lo >= both.hi && l.lo < l.hi && u.lo < u.hi {
		fill(out, int(min(l.hi, u.hi)), int(max(l.lo, u.lo)), m.look.surround())
	}
	fill(out, 0, int(all.lo), m.look.surround())
	fill(out, int(all.hi), w, m.look.surround())
	if !masks {
		return
	}
	clear(flags)
	area := lower.area[y]
	if area.lo >= area.hi {
		area = upper.area[y]
	}
	area = area.meet(all)
	for x := int(area.lo); x < int(area.hi); x++ {
		i := 3 * min(x/step, hi-1)
		if i < 3*lo {
			i = 3 * lo
		}
		c := codes[i : i+3 : i+3]
		f := clipFlags(c, m.ceiling, m.floor)
		if m.flat != (Flat{}) {
			f = unlessClipped(f | flatFlags(c, m.flat))
		}
		flags[x] = f
	}
}

// cellsOf returns the part of r in s, in cells of step pixels.
func cellsOf(r, s run, step int) run {
	r = r.meet(s)
	return run{int32((int(r.lo) + step - 1) / step), int32((int(r.hi) + step - 1) / step)}
}

// moveRun takes the codes of one frame alone.
func moveRun(codes, pix []uint16, t *[3]*[1 << 16]uint32, r run, step int) {
	for i := int(r.lo); i < int(r.hi); i++ {
		p := pix[3*i*step:]
		q := codes[3*i : 3*i+3 : 3*i+3]
		q[0], q[1], q[2] = uint16(t[0][p[0]]>>16), uint16(t[1][p[1]]>>16), uint16(t[2][p[2]]>>16)
	}
}

// both runs the inner loop: cells lo to hi are mixed of both frames.
func (m *mixer) both(codes, lp, up []uint16, lo, hi, stride int) {
	l0, l1, l2 := m.lower[0], m.lower[1], m.lower[2]
	u0, u1, u2 := m.upper[0], m.upper[1], m.upper[2]
	out := codes[3*lo : 3*hi]
	at := lo * stride
	for len(out) >= 3 {
		p, q := lp[at:at+3:at+3], up[at:at+3:at+3]
		out[0] = blend(l0[p[0]], u0[q[0]])
		out[1] = blend(l1[p[1]], u1[q[1]])
		out[2] = blend(l2[p[2]], u2[q[2]])
		out = out[3:]
		at += stride
	}
}

// blend mixes two moved codes by their weights; without any weight it is their
// mean.
func blend(a, b uint32) uint16 {
	wa, wb := a&0xffff, b&0xffff
	if wa+wb == 0 {
		wa, wb = 1, 1
	}
	base, step := int32(a>>16), int32(b>>16)-int32(a>>16)
	// One division of 32-bit floats; its error is far below half a code.
	f := float32(wb) / float32(wa+wb)
	return uint16(float32(base) + float32(step)*f + 0.5)
}

// show takes cells lo to hi of codes to display pixels.
func (m *mixer) show(out []uint8, buf *mixBuf, codes []uint16, lo, hi, step int) {
	look, adjust := m.look.Look, m.look.Adjust
	to := out
	if step > 1 {
		to = buf.bytes
	}
	space := look.ColourSpace()
	if adjust != nil && adjust.Linear != nil {
		lin := buf.light[:3*(hi-lo)]
		space.Linear(lin, codes[3*lo:3*hi])
		adjust.rgba(to[4*lo:4*hi], lin)
	} else {
		space.RGBA(to[4*lo:4*hi], codes[3*lo:3*hi])
	}
	if step == 1 {
		return
	}
	for i := lo; i < hi; i++ {
		p := binary.LittleEndian.Uint32(to[4*i:])
		for x := i * step; x < min(len(out)/4, (i+1)*step); x++ {
			put(out[4*x:], p)
		}
	}
}
