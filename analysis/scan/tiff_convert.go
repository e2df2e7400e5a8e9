package scan

import "stopladder/analysis/scan/colour"

// wideCodes turns samples that are no light of channels into codes of
// colour.WideProfile. It belongs to one goroutine.
type wideCodes struct {
	l    *tiffLayout
	inks *colour.Inks
	seen []wideSeen // what was worked out before, by a few bits of the samples
}

type wideSeen struct {
	samples [4]uint16
	known   bool
	codes   [3]uint16
}

const wideBits = 14

func newWideCodes(l *tiffLayout) *wideCodes {
	w := &wideCodes{l: l, seen: make([]wideSeen, 1<<wideBits)}
	if l.inks != nil {
		w.inks = l.inks.Clone()
	}
	return w
}

// of returns the codes of a pixel.
func (w *wideCodes) of(samples []uint16) [3]uint16 {
	var key [4]uint16
	copy(key[:], samples)
	if w.l.photo != photoSeparated {
		key[3] = 0
	}
	all := uint64(key[0]) | uint64(key[1])<<16 | uint64(key[2])<<32 | uint64(key[3])<<48
	s := &w.seen[all*0x9E3779B97F4A7C15>>(64-wideBits)]
	if !s.known || s.samples != key {
		*s = wideSeen{key, true, w.work(key)}
	}
	return s.codes
}

func (w *wideCodes) work(v [4]uint16) (codes [3]uint16) {
	top := float64(uint32(1)<<w.l.bits - 1)
	if w.l.photo == photoSeparated {
		codes, _ = colour.WideOfXYZ(w.inks.XYZ([4]float64{float64(v[0]) / top, float64(v[1]) / top, float64(v[2]) / top, float64(v[3]) / top}))
		return codes
	}
	codes, _ = colour.WideOfLab(w.l.lab(v))
	return codes
}

// lab reads a pixel of CIELAB, of photometric interpretation 8 (TIFF 6.0, section 23:
// a* and b* in two's complement, in 16 bits with 8 of them behind the point) or 9 (the
// encoding of ICC profiles: a* and b* offset by 128, white in 16 bits at 0xFF00).
func (l *tiffLayout) lab(v [4]uint16) colour.LAB {
	switch {
	case l.photo == photoLab && l.bits == 8:
		return colour.LAB{L: float64(v[0]) * 100 / 255, A: float64(int8(v[1])), B: float64(int8(v[2]))}
	case l.photo == photoLab:
		return colour.LAB{L: float64(v[0]) * 100 / 65535, A: float64(int16(v[1])) / 256, B: float64(int16(v[2])) / 256}
	case l.bits == 8:
		return colour.LAB{L: float64(v[0]) * 100 / 255, A: float64(v[1]) - 128, B: float64(v[2]) - 128}
	}
	return colour.LAB{L: float64(v[0]) * 100 / 65280, A: float64(v[1])/256 - 128, B: float64(v[2])/256 - 128}
}
