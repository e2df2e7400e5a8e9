package scan

import (
	"fmt"

	"stopladder/analysis/scan/colour"
)

// wideName is the name of the profile that such code values are given with.
const wideName = "L* on the primaries of ROMM RGB"

// inksOf builds the way from the inks of a file to light by its profile, puts the
// profile of the codes in its place, and notes it. The error is a feature.
func inksOf(info *Info) (*colour.Inks, error) {
	if info.ICC == nil {
		return nil, feature("CMYK colour without a colour profile that says what its inks look like")
	}
	inks, err := colour.FromCMYK(info.ICC)
	if err != nil {
		return nil, feature(fmt.Sprintf("CMYK colour whose colour profile cannot be used (%v)", err))
	}
	info.Notes = append(info.Notes, fmt.Sprintf("The file stores the inks of a print (CMYK); what they look like was taken from its profile (%s), and code values are %s.", inks.Name(), wideName))
	info.ICC = colour.WideProfile(wideName)
	return inks, nil
}

// wideCodes turns samples that are no light of channels into codes of
// colour.WideProfile. It belongs to one goroutine.
type wideCodes struct {
	work func(samples [4]uint16) [3]uint16
	seen []wideSeen // what was worked out before, by a few bits of the samples
}

type wideSeen struct {
	samples [4]uint16
	known   bool
	codes   [3]uint16
}

const wideBits = 14

// newWideCodes is for the samples of a TIFF.
func newWideCodes(l *tiffLayout) *wideCodes {
	if l.photo == photoSeparated {
		return wideOfInks(l.inks, uint16(uint32(1)<<l.bits-1))
	}
	return &wideCodes{seen: make([]wideSeen, 1<<wideBits), work: func(v [4]uint16) [3]uint16 {
		codes, _ := colour.WideOfLab(l.lab(v))
		return codes
	}}
}

// wideOfInks is for CMYK, of which top is full.
func wideOfInks(inks *colour.Inks, top uint16) *wideCodes {
	own, full := inks.Clone(), float64(top)
	return &wideCodes{seen: make([]wideSeen, 1<<wideBits), work: func(v [4]uint16) [3]uint16 {
		codes, _ := colour.WideOfXYZ(own.XYZ([4]float64{float64(v[0]) / full, float64(v[1]) / full, float64(v[2]) / full, float64(v[3]) / full}))
		return codes
	}}
}

// of returns the codes of a pixel: of its first samples, three or four.
func (w *wideCodes) of(samples []uint16) [3]uint16 {
	var key [4]uint16
	copy(key[:], samples)
	all := uint64(key[0]) | uint64(key[1])<<16 | uint64(key[2])<<32 | uint64(key[3])<<48
	s := &w.seen[all*0x9E3779B97F4A7C15>>(64-wideBits)]
	if !s.known || s.samples != key {
		*s = wideSeen{key, true, w.work(key)}
	}
	return s.codes
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
