package measure

import (
	"math"

	"stopladder/analysis/colour"
)

// lightTable gives light as whole numbers, so that sums do not depend on the
// order of adding, and finds the code of a mean. A cell's sum fits 32 bits: at
// the usual factor of 4 light has 28 bits, 300 steps for the darkest code of
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
	scale := (1<<32 - 1 - cell) / (cell * most)
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
	start []int32  // by leading bits: the first code whose light is not less
}

const leadingShift = 23 - 8 // eight bits below the leading one

func newCodeTable(light []uint32) *codeTable {
	t := &codeTable{light: make([]uint32, len(light))}
	// An insane profile may fall somewhere: the running maximum keeps the
	// search defined (its light is then an upper bound).
	var m uint32
	for i, v := range light {
		m = max(m, v)
		t.light[i] = m
	}
	bins := int(math.Float32bits(1<<32)>>leadingShift-math.Float32bits(1)>>leadingShift) + 2
	t.start = make([]int32, bins)
	k := 0
	for i := range t.start {
		edge := float64(math.Float32frombits((uint32(i) + math.Float32bits(1)>>leadingShift) << leadingShift))
		for k < len(t.light)-1 && float64(t.light[k]) < edge {
			k++
		}
		t.start[i] = int32(k)
	}
	return t
}

// nearest returns the nearest code; of codes with equal light the first.
func (t *codeTable) nearest(v uint32) uint16 {
	if v <= t.light[0] {
		return 0
	}
	if last := len(t.light) - 1; v >= t.light[last] {
		return uint16(t.first(t.light[last], 0, last))
	}
	b := math.Float32bits(float32(v))
	bin := b>>leadingShift - math.Float32bits(1)>>leadingShift
	lo, hi := int(t.start[bin]), int(t.start[bin+1])
	// Within a bin codes are nearly evenly spread.
	k := lo + (hi-lo)*int(b&(1<<leadingShift-1))>>leadingShift
	for n := 0; t.light[k] < v || k > 0 && t.light[k-1] >= v; n++ {
		if n == 8 {
			k = t.first(v, 0, len(t.light)-1)
			break
		}
		if t.light[k] < v {
			k++
		} else {
			k--
		}
	}
	if k > 0 && v-t.light[k-1] <= t.light[k]-v {
		k--
		if k > 0 && t.light[k-1] == t.light[k] {
			k = t.first(t.light[k], 0, k)
		}
	}
	return uint16(k)
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
