package render

import (
	"math"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan/colour"
)

// differ holds what a row of a difference needs.
type differ interface {
	row(out []uint8, buf *diffRow, a, b []uint16, lo, hi int)
}

// diffRow holds the buffers of one goroutine.
type diffRow struct {
	codes []uint16
	a, b  []float32

	thinA, thinB []uint16
}

func newDiffRow(w int) *diffRow {
	return &diffRow{codes: make([]uint16, 3*w), a: make([]float32, 3*w), b: make([]float32, 3*w),
		thinA: make([]uint16, 3*w), thinB: make([]uint16, 3*w)}
}

func newDiffer(a, b *measure.Look, o DifferenceOptions) differ {
	match := o.Match
	switch {
	case o.AsIs:
		match = nil
	case match == nil:
		match = Matching(a, b)
	}
	if o.Kind == DifferenceColour {
		return newColourDiffer(a, b, match, o)
	}
	return newLightDiffer(a, b, match, o)
}

// lightBits is how finely log light is tabulated: 4096 steps of a code, which is
// finer than the noise of any film, and small enough to stay near the processor.
const lightBits = 12

// lightDiffer compares log light. Table entries are log10 light in units of
// 1/lightUnit; clipped codes are marked by lost.
type lightDiffer struct {
	a, b           [3]*[1 << lightBits]int32
	shiftA, shiftB uint
	scale          float32
}

const (
	lightUnit = 1 << 16
	lost      = math.MinInt32
)

func newLightDiffer(a, b *measure.Look, match *[3][]uint16, o DifferenceOptions) *lightDiffer {
	amplify := o.Amplify
	if !(amplify > 0) {
		amplify = DefaultAmplify
	}
	d := &lightDiffer{shiftA: lightShift(a), shiftB: lightShift(b), scale: float32(127 * amplify / lightUnit)}
	for k := range 3 {
		tone, ceiling, floor := b.ColourSpace().Tone()[k], channel(b.Ceiling, k), channel(b.Floor, k)
		d.b[k] = lightTable(d.shiftB, b.Info.Max(), func(c int) float32 { return lightAt(tone, uint16(c)) }, floor, ceiling)
		own := a.ColourSpace().Tone()[k]
		d.a[k] = lightTable(d.shiftA, a.Info.Max(), func(c int) float32 {
			if match == nil {
				return lightAt(own, uint16(c))
			}
			return lightAt(tone, match[k][min(c, len(match[k])-1)])
		}, channel(a.Floor, k), channel(a.Ceiling, k))
	}
	return d
}

func channel(c measure.RGB[int], k int) int { return [3]int{c.R, c.G, c.B}[k] }

// lightShift takes codes to the tables' index.
func lightShift(l *measure.Look) uint {
	if l.Info.Max() < 1<<lightBits {
		return 0
	}
	return 16 - lightBits
}

func lightTable(shift uint, top int, light func(code int) float32, floor, ceiling int) *[1 << lightBits]int32 {
	t := new([1 << lightBits]int32)
	for i := range t {
		// The middle of the codes that share an entry.
		c := min(i<<shift+1<<shift/2, top)
		first, last := i<<shift, i<<shift+1<<shift-1
		if last >= ceiling || first <= floor {
			t[i] = lost
			continue
		}
		t[i] = int32(math.Round(lightUnit * math.Log10(float64(max(0, light(c)))+lightFloor)))
	}
	return t
}

func (d *lightDiffer) row(out []uint8, _ *diffRow, a, b []uint16, lo, hi int) {
	sa, sb, scale := d.shiftA, d.shiftB, d.scale
	a0, a1, a2, b0, b1, b2 := d.a[0], d.a[1], d.a[2], d.b[0], d.b[1], d.b[2]
	const top = 1<<lightBits - 1
	for x := lo; x < hi; x++ {
		p, q := a[3*x:3*x+3:3*x+3], b[3*x:3*x+3:3*x+3]
		var sum, n int32
		if s, t := a0[p[0]>>sa&top], b0[q[0]>>sb&top]; s != lost && t != lost {
			sum, n = s-t, 1
		}
		if s, t := a1[p[1]>>sa&top], b1[q[1]>>sb&top]; s != lost && t != lost {
			sum, n = sum+s-t, n+1
		}
		if s, t := a2[p[2]>>sa&top], b2[q[2]>>sb&top]; s != lost && t != lost {
			sum, n = sum+s-t, n+1
		}
		g := float32(levelGrey)
		if n > 0 {
			g += float32(sum) * scale * third[n]
		}
		v := uint32(min(max(g+0.5, 0), 255))
		put(out[4*x:], v*0x010101|opaque)
	}
}

var third = [4]float32{0, 1, 1.0 / 2, 1.0 / 3}

// colourDiffer compares colours by CIEDE2000.
type colourDiffer struct {
	a, b  *colour.Space
	match *[3][]uint16
	scale float64

	adjustA, adjustB *Correction // nil: none
}

func newColourDiffer(a, b *measure.Look, match *[3][]uint16, o DifferenceOptions) *colourDiffer {
	amplify := o.Amplify
	if !(amplify > 0) {
		amplify = 1
	}
	d := &colourDiffer{a: a.ColourSpace(), b: b.ColourSpace(), match: match, scale: 255 * amplify / FullColour}
	if match != nil {
		d.a = d.b // a's codes become b's
	}
	return d
}

func (d *colourDiffer) row(out []uint8, buf *diffRow, a, b []uint16, lo, hi int) {
	n := 3 * (hi - lo)
	codes := a[3*lo : 3*hi]
	if d.match != nil {
		moved := buf.codes[:n]
		for i, c := range codes {
			t := d.match[i%3]
			moved[i] = t[min(int(c), len(t)-1)]
		}
		codes = moved
	}
	la, lb := buf.a[:n], buf.b[:n]
	d.a.Linear(la, codes)
	d.b.Linear(lb, b[3*lo:3*hi])
	if d.adjustA != nil && d.adjustA.Linear != nil {
		d.adjustA.Linear(la)
	}
	if d.adjustB != nil && d.adjustB.Linear != nil {
		d.adjustB.Linear(lb)
	}
	colour.Lab(la, la)
	colour.Lab(lb, lb)
	for i := 0; i < n; i += 3 {
		e := colour.DeltaE2000(
			colour.LAB{L: float64(la[i]), A: float64(la[i+1]), B: float64(la[i+2])},
			colour.LAB{L: float64(lb[i]), A: float64(lb[i+1]), B: float64(lb[i+2])})
		v := uint32(math.Min(e*d.scale+0.5, 255))
		put(out[4*(lo+i/3):], v*0x010101|opaque)
	}
}
