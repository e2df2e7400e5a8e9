package measure

import (
	"math"

	"stopladder/analysis/scan/colour"
)

// lightTable gives light as whole numbers, so that sums do not depend on the
// order of adding, and finds the code of a mean. A cell's sum fits 31 bits: at
// the usual factor of 4 light has 27 bits, 150 steps for the darkest code of
// sRGB.
type lightTable struct {
	light [3][]uint32
	code  [3]*codeTable
}

func newLightTable(space *colour.Space, f int) *lightTable {
	tone := space.Tone()
	t := new(lightTable)
	most := 1.0
	for c := range tone {
		for _, v := range tone[c] {
			most = max(most, float64(v))
		}
	}
	cell := float64(f * f)
	scale := (1<<31 - 1 - cell) / (cell * most)
	for c := range tone {
		if c > 0 && &tone[c][0] == &tone[c-1][0] {
			t.light[c], t.code[c] = t.light[c-1], t.code[c-1]
			continue
		}
		t.light[c] = make([]uint32, len(tone[c]))
		for i, v := range tone[c] {
			if v > 0 {
				t.light[c][i] = uint32(math.Round(float64(v) * scale))
			}
		}
		t.code[c] = newCodeTable(t.light[c])
	}
	return t
}

// codeTable finds the code whose light is nearest to a value. A first guess comes
// from the value's leading bits, as a floating-point number has them, so that
// dark codes, which lie closer together, are found as quickly as bright ones.
type codeTable struct {
	light []uint32 // ascending
	// border[k] is the largest light that is no further from code k-1 than from
	// code k; one entry more than codes.
	border []uint32
	twins  int // codes below it may have the light of the one before
	leads  *leadTable
	// sure is border with no light between two of it where code k is not to be
	// believed at once: twins, and beyond the codes.
	sure *[1<<16 + 2]uint32
}

// lead is where the codes begin whose light has the same leading bits, and by how
// much they rise until the next, in 256ths of a code.
type lead struct{ from, rise uint32 }

type leadTable [leads]lead

const (
	leads        = 1 << 13 // 32 doublings of light
	leadingShift = 23 - 8  // eight bits below the leading one
)

var leadingOne = math.Float32bits(1) >> leadingShift

func newCodeTable(light []uint32) *codeTable {
	n := len(light)
	t := &codeTable{light: make([]uint32, n), border: make([]uint32, n+1), leads: new(leadTable), sure: new([1<<16 + 2]uint32)}
	// An insane profile may fall somewhere: the running maximum keeps the
	// search defined (its light is then an upper bound).
	var m uint32
	for i, v := range light {
		if v <= m && i > 0 {
			t.twins = i + 1
		}
		m = max(m, v)
		t.light[i] = m
	}
	for k := 1; k < n; k++ {
		t.border[k] = uint32((uint64(t.light[k-1]) + uint64(t.light[k])) / 2)
	}
	t.border[n] = math.MaxUint32
	for k := range t.sure {
		t.sure[k] = math.MaxUint32
		if k >= t.twins && k < n {
			t.sure[k] = t.border[k]
		}
	}
	var last uint32
	k := 0
	for i := range leads + 1 {
		edge := float64(math.Float32frombits((uint32(i) + leadingOne) << leadingShift))
		for k < n-1 && float64(t.border[k+1]) < edge {
			k++
		}
		at := 256 * uint32(k)
		if lo, hi := float64(t.border[k]), float64(t.border[k+1]); k < n-1 && hi > lo { // within the code
			at += uint32(256 * max(0, min((edge-lo)/(hi-lo), 1)))
		}
		if i > 0 {
			t.leads[i-1] = lead{last, at - last}
		}
		last = at
	}
	return t
}

// guess is the code that v has if codes are spread evenly between leading bits: the
// right one nearly always, and within the codes.
func (t *leadTable) guess(v uint32) uint32 {
	b := math.Float32bits(float32(v))
	l := &t[(b>>leadingShift-leadingOne)%leads]
	return (l.from + l.rise*(b&(1<<leadingShift-1))>>leadingShift) >> 8 & 0xffff
}

// nearest returns the nearest code; of codes with equal light the first.
func (t *codeTable) nearest(v uint32) uint16 {
	if v == 0 {
		return 0
	}
	k := min(int(t.leads.guess(v)), len(t.light)-1)
	if k > 0 && t.border[k] >= v { // mostly one off
		k--
	} else if t.border[k+1] < v {
		k++
	}
	if k > 0 && t.border[k] >= v || t.border[k+1] < v {
		k = t.search(v)
	}
	if k < t.twins {
		for k > 0 && t.light[k-1] == t.light[k] {
			k = t.first(t.light[k], 0, k)
		}
	}
	return uint16(k)
}

// fill finds the codes of the means of a row of sums, every third of both slices;
// over is one over the pixels of a cell.
func (t *codeTable) fill(dst []uint16, sums []uint32, over float64) {
	leads, sure := t.leads, t.sure
	n := min(len(sums), len(dst))
	for i := 0; i < n; i += 3 {
		v := uint32(float64(sums[i])*over + 0.5)
		if k := leads.guess(v); sure[k] < v && v <= sure[k+1] {
			dst[i] = uint16(k)
			continue
		}
		dst[i] = t.nearest(v)
	}
}

// search finds the code without a guess.
func (t *codeTable) search(v uint32) int {
	lo, hi := 0, len(t.light)-1
	for lo < hi {
		m := (lo + hi + 1) / 2
		if t.border[m] < v {
			lo = m
		} else {
			hi = m - 1
		}
	}
	return lo
}

// first is the lowest code in lo..hi whose light is >= v, hi when there is none.
func (t *codeTable) first(v uint32, lo, hi int) int {
	for lo < hi {
		m := (lo + hi) / 2
		if t.light[m] < v {
			lo = m + 1
		} else {
			hi = m
		}
	}
	return lo
}

// CeilingLight returns the linear light, 1 is white, at which the scan is clipped in all
// channels, on the sRGB primaries.
func (l *Look) CeilingLight() (out [3]float64) {
	var lin [3]float32
	l.ColourSpace().Linear(lin[:], []uint16{uint16(l.Ceiling.R), uint16(l.Ceiling.G), uint16(l.Ceiling.B)})
	for c, v := range lin {
		out[c] = float64(v)
	}
	return out
}
