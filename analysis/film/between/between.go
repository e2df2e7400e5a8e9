// Package between makes the pictures between the rungs: what a frame at any
// fraction of a stop would look like, from the two frames next to it and the
// roll's measured response (assets/manual/response.md#pictures-between-frames).
// They are interpolated and are to be marked so.
//
// Each of the two frames is moved along the response to the wanted exposure and
// both are mixed: by nearness, and by how much each knows of a tone (what one
// frame has clipped is taken from the other; a frame whose noise grows on the way
// counts less). On a rung the picture is that frame's own, code for code.
//
// Everything is done by tables from code value to code value, made once per
// position, so that a picture costs two look-ups and a mix per sample.
package between

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"stopladder/analysis/film/response"
	"stopladder/analysis/numeric/parallel"
)

// Roll is what is needed of the roll. It is safe for concurrent use.
type Roll struct {
	res    *response.Result
	frames []response.Frame
	rungs  []int // usable frames with a label, by rising stop, one a stop
	curve  *paths

	mu     sync.Mutex
	levels map[int]*levels
}

// New prepares a roll. res may be nil or have no Curve (one frame, scans that were
// not alike): pictures are then plain mixes of the neighbours. Frames without a
// label, without a Look or without a registration are no rungs.
func New(res *response.Result, frames []response.Frame) *Roll {
	r := &Roll{res: res, frames: frames, levels: map[int]*levels{}}
	if res != nil && res.Curve != nil {
		r.curve = newPaths(res.Curve)
	}
	for j, f := range frames {
		l := f.Look
		if f.StopKnown && !f.Unregistered && l != nil && l.Space != nil && l.Preview != nil && !math.IsNaN(f.Stop) && !math.IsInf(f.Stop, 0) {
			r.rungs = append(r.rungs, j)
		}
	}
	slices.SortStableFunc(r.rungs, func(a, b int) int { return cmp.Compare(frames[a].Stop, frames[b].Stop) })
	r.rungs = slices.CompactFunc(r.rungs, func(a, b int) bool { return frames[a].Stop == frames[b].Stop })
	return r
}

// Span returns the part of the ladder, in labelled stops, on which pictures can be
// made; ok is false for a roll without rungs.
func (r *Roll) Span() (lo, hi float64, ok bool) {
	if len(r.rungs) == 0 {
		return 0, 0, false
	}
	return r.frames[r.rungs[0]].Stop, r.frames[r.rungs[len(r.rungs)-1]].Stop, true
}

// Picture is the recipe of one position: the codes of frames Lower and Upper, both
// laid on one grid, give the codes of the picture.
type Picture struct {
	Stop         float64 // position on the ladder, in labelled stops
	Lower, Upper int     // indices of frames; equal on a rung
	Fraction     float64 // 0 on Lower's rung, 1 on Upper's
	Exact        bool    // on a rung: Lower's own picture
	Response     bool    // moved along the measured response; false: a plain mix
	Max          int     // largest code of the result: that of Lower's container
	frame        *response.Frame
	build        sync.Once
	make         func()
	lower, upper [3][]uint32 // code -> moved code << 16 | weight; made by tables
}

// tables makes the tables, once: a marker that is dragged passes more positions
// than pictures are made of, and those cost nothing.
func (m *Picture) tables() {
	if m.make != nil {
		m.build.Do(m.make)
	}
}

// onRung is how near a position is taken for the rung itself, in stops.
const onRung = 1e-6

// At prepares a position. ok is false beyond Span.
func (r *Roll) At(stop float64) (m *Picture, ok bool) {
	lo, hi, ok := r.Span()
	if !ok || !(stop >= lo-onRung && stop <= hi+onRung) {
		return nil, false
	}
	k := 0
	for k < len(r.rungs)-1 && r.frames[r.rungs[k+1]].Stop <= stop+onRung {
		k++
	}
	a := r.rungs[k]
	fa := &r.frames[a]
	m = &Picture{Stop: stop, Lower: a, Upper: a, Exact: true, Max: fa.Look.Space.Max(), frame: fa}
	if math.Abs(stop-fa.Stop) <= onRung || k == len(r.rungs)-1 {
		m.Stop = fa.Stop
		return m, true
	}
	b := r.rungs[k+1]
	m.Upper, m.Exact = b, false
	m.Fraction = (stop - fa.Stop) / (r.frames[b].Stop - fa.Stop)
	// The film's exposures are the measured ones; the ladder shows the labels.
	gap := r.frames[b].Stop - fa.Stop
	if r.curve != nil {
		m.Response = true
		if x, y := r.res.Frames[a].MeasuredStop, r.res.Frames[b].MeasuredStop; x != nil && y != nil {
			gap = *y - *x
		}
	}
	la, lb := r.levelsOf(a), r.levelsOf(b)
	m.make = func() {
		var wg sync.WaitGroup
		for c := range 3 {
			wg.Go(func() {
				m.lower[c] = r.table(la, la, c, m.Fraction*gap, 1-m.Fraction)
				m.upper[c] = r.table(lb, la, c, (m.Fraction-1)*gap, m.Fraction)
			})
		}
		wg.Wait()
	}
	return m, true
}

// Codes fills dst with the picture's code values for interleaved RGB codes of
// frames Lower and Upper laid on one grid. All three have the same length. Codes
// beyond a frame's container count as its largest.
func (m *Picture) Codes(dst, lower, upper []uint16) {
	if m.Exact {
		copy(dst, lower)
		return
	}
	m.tables()
	n := min(len(dst), len(lower), len(upper))
	lr, lg, lb := m.lower[0], m.lower[1], m.lower[2]
	ur, ug, ub := m.upper[0], m.upper[1], m.upper[2]
	if len(lr) == 1<<16 && len(ur) == 1<<16 {
		// The usual case, without bounds checks.
		codes16(dst[:n], lower[:n], upper[:n],
			(*[1 << 16]uint32)(lr), (*[1 << 16]uint32)(lg), (*[1 << 16]uint32)(lb),
			(*[1 << 16]uint32)(ur), (*[1 << 16]uint32)(ug), (*[1 << 16]uint32)(ub))
		return
	}
	for i := 0; i+2 < n; i += 3 {
		dst[i] = mixOne(look(lr, lower[i]), look(ur, upper[i]))
		dst[i+1] = mixOne(look(lg, lower[i+1]), look(ug, upper[i+1]))
		dst[i+2] = mixOne(look(lb, lower[i+2]), look(ub, upper[i+2]))
	}
}

func codes16(dst, lower, upper []uint16, lr, lg, lb, ur, ug, ub *[1 << 16]uint32) {
	for len(dst) >= 3 && len(lower) >= 3 && len(upper) >= 3 {
		dst[0] = mixOne(lr[lower[0]], ur[upper[0]])
		dst[1] = mixOne(lg[lower[1]], ug[upper[1]])
		dst[2] = mixOne(lb[lower[2]], ub[upper[2]])
		dst, lower, upper = dst[3:], lower[3:], upper[3:]
	}
}

func look(t []uint32, code uint16) uint32 { return t[min(int(code), len(t)-1)] }

// mixOne returns the weighted mean of two moved codes. Weights have weightBits, so the
// sum fits 31 bits.
func mixOne(a, b uint32) uint16 {
	wa, wb := a&0xFFFF, b&0xFFFF
	w := wa + wb
	return uint16(((a>>16)*wa + (b>>16)*wb + w/2) / w)
}

// RGBA fills dst (4 bytes a pixel, in rows of w pixels) with the picture as sRGB,
// on all processors.
func (m *Picture) RGBA(dst []uint8, lower, upper []uint16) {
	n := min(len(dst)/4, len(lower)/3, len(upper)/3)
	parallel.Bands(n, func(lo, hi int) {
		const block = 2048 // pixels: stays in the cache
		var buf [3 * block]uint16
		for lo < hi {
			k := min(block, hi-lo)
			m.Codes(buf[:3*k], lower[3*lo:3*(lo+k)], upper[3*lo:3*(lo+k)])
			m.frame.Look.Space.RGBA(dst[4*lo:4*(lo+k)], buf[:3*k])
			lo += k
		}
	})
}

// Tables returns the recipe itself, per channel: for every code value of the frame
// below (above) the moved code value << 16 | its weight 0..65535. They must not be
// changed. On a rung they leave the codes as they are.
func (m *Picture) Tables() (lower, upper *[3][]uint32) {
	m.tables()
	return &m.lower, &m.upper
}
