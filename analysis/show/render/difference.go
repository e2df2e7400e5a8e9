package render

import (
	"image"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/parallel"
)

// DifferenceKind says what a difference shows.
type DifferenceKind int

// Kinds of differences.
const (
	// DifferenceLight is the signed difference of log light, the mean of the
	// channels: mid-grey where both frames agree, lighter where the frame is
	// lighter than the other, darker where it is darker. Channels that one of the
	// frames has clipped say nothing and are left out.
	DifferenceLight DifferenceKind = iota
	// DifferenceColour is the CIEDE2000 difference: black where both agree.
	DifferenceColour
)

// DifferenceOptions say how two frames are compared.
type DifferenceOptions struct {
	Kind DifferenceKind
	// Amplify is the contrast. DifferenceLight: at 1 a difference of one density
	// reaches black or white, at 10 a tenth of that; 0 is DefaultAmplify.
	// DifferenceColour: white is at FullColour/Amplify ΔE00; 0 is 1.
	Amplify float64
	// Match holds, per channel, the code of the other frame that each code of the
	// first frame is to be taken for. nil: Matching, from both histograms.
	Match *[3][]uint16
	// AsIs compares the frames as they are scanned, without any match.
	// DifferenceColour then compares what is shown: each picture with its own view
	// correction, which is its match.
	AsIs bool
}

// DefaultAmplify makes a sixth of a density, about half a stop of light, black
// or white: a shift by half a pixel is seen along every edge of some contrast.
const DefaultAmplify = 6

// FullColour is the ΔE00 that is shown white at an amplification of 1.
const FullColour = 20.0

// White returns the ΔE00 that DifferenceColour shows white.
func (o DifferenceOptions) White() float64 {
	if o.Amplify > 0 {
		return FullColour / o.Amplify
	}
	return FullColour
}

// Level is the display byte of no difference of light.
const levelGrey = 128

// lightFloor keeps the noise of the deepest shadows, relative to white, from
// looking like differences: log light is taken of light + lightFloor.
const lightFloor = 0.003

// Matching finds, per channel, the monotone match of a's codes to b's by their
// histograms: equal shares of the image area are taken for equal tones. That
// holds for two exposures of one scene whose crop differs by little.
func Matching(a, b *measure.Look) *[3][]uint16 {
	m := new([3][]uint16)
	for k := range m {
		m[k] = matchChannel(a.Hist.Channel(k), b.Hist.Channel(k), a.Info.Max(), b.Info.Max())
	}
	return m
}

func matchChannel(a, b []uint64, maxA, maxB int) []uint16 {
	out := make([]uint16, maxA+1)
	var sumA, sumB float64
	for _, n := range a {
		sumA += float64(n)
	}
	for _, n := range b {
		sumB += float64(n)
	}
	if sumA == 0 || sumB == 0 || len(a) != maxA+1 || len(b) != maxB+1 {
		for c := range out { // no histograms: codes are what they are
			out[c] = uint16((c*maxB + maxA/2) / maxA)
		}
		return out
	}
	// The middle of a code's own share stands for it, on both sides, so that
	// equal histograms match code for code. Codes that a does not use, which
	// averaging brings about all the same, lie evenly between those that it uses.
	belowA, belowB, at, last := 0.0, 0.0, 0, -1
	for c, n := range a {
		if n == 0 {
			continue
		}
		share := (belowA + float64(n)/2) / sumA * sumB
		belowA += float64(n)
		for at < maxB && belowB+float64(b[at]) <= share {
			belowB += float64(b[at])
			at++
		}
		out[c] = uint16(at)
		if last < 0 {
			for i := range c { // below all that is used: at the same distance
				out[i] = uint16(max(0, at-(c-i)))
			}
		} else {
			from := int(out[last])
			for i := last + 1; i < c; i++ {
				out[i] = uint16(from + ((at-from)*(i-last)*2+(c-last))/(2*(c-last)))
			}
		}
		last = c
	}
	for i := last + 1; i < len(out); i++ {
		out[i] = uint16(min(maxB, int(out[last])+i-last))
	}
	return out
}

// draftStep is the side of a draft's squares for DifferenceColour, which costs
// a third of a microsecond a pixel.
const draftStep = 4

// Difference draws the difference of frame a against frame b, both registered
// to the base by their maps, into the whole of dst: neutral greys, surround where
// one of them has nothing. draft takes a quarter of the resolution for
// DifferenceColour and is without effect on DifferenceLight.
func (s *Sampler) Difference(dst *image.RGBA, a, b Picture, v View, o DifferenceOptions, draft bool) {
	size := dst.Bounds().Size()
	if size.X == 0 || size.Y == 0 {
		return
	}
	var d differ
	if a.Look != nil && b.Look != nil {
		d = newDiffer(a.Look, b.Look, o)
		if c, ok := d.(*colourDiffer); ok && o.AsIs {
			c.adjustA, c.adjustB = a.Adjust, b.Adjust
		}
	}
	step := 1
	if draft && o.Kind == DifferenceColour {
		step = draftStep
	}
	pa, pb := s.of(&a, v, size.X, size.Y, step), s.of(&b, v, size.X, size.Y, step)
	parallel.Bands((size.Y+step-1)/step, func(y0, y1 int) {
		buf := newDiffRow(size.X)
		for y := y0 * step; y < min(y1*step, size.Y); y += step {
			row := line(dst, y)
			both := pa.in[y].meet(pb.in[y])
			lo, hi := int(both.lo), int(both.hi)
			if lo < hi {
				ca, cb := pa.pix[3*size.X*y:], pb.pix[3*size.X*y:]
				if step == 1 {
					d.row(row, buf, ca, cb, lo, hi)
				} else {
					d.row(row, buf, thinned(buf.thinA, ca, lo, hi, step), thinned(buf.thinB, cb, lo, hi, step), 0, (hi-lo+step-1)/step)
					widen(row, lo, hi, step)
				}
			}
			fill(row, 0, lo, a.surround())
			fill(row, hi, size.X, a.surround())
			for i := 1; i < step && y+i < size.Y; i++ {
				copy(line(dst, y+i), row)
			}
		}
	})
}

// thinned takes every step-th pixel of [lo, hi).
func thinned(out, codes []uint16, lo, hi, step int) []uint16 {
	n := 0
	for x := lo; x < hi; x += step {
		n += copy(out[n:n+3], codes[3*x:3*x+3])
	}
	return out[:n]
}

// widen spreads the pixels from 0 on over [lo, hi), each over step of them. It
// goes from right to left, so that nothing is overwritten before it is read.
func widen(row []uint8, lo, hi, step int) {
	for x := hi - 1; x >= lo; x-- {
		copy(row[4*x:4*x+4], row[4*((x-lo)/step):])
	}
}
