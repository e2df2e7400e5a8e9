package measure

import (
	"math"

	"stopladder/analysis/colour"
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
	start  []int32 // by leading bits: the code of the least light that has them
	twins  int     // codes below it may have the light of the one before
}

const leadingShift = 23 - 8 // eight bits below the leading one

var leadingOne = math.Float32bits(1) >> leadingShift

func newCodeTable(light []uint32) *codeTable {
	n := len(light)
	t := &codeTable{light: make([]uint32, n), border: make([]uint32, n+1)}
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
	bins := int(math.Float32bits(1<<32)>>leadingShift-leadingOne) + 2
	t.start = make([]int32, bins)
	k := 0
	for i := range t.start {
		edge := float64(math.Float32frombits((uint32(i) + leadingOne) << leadingShift))
		for k < n-1 && float64(t.border[k+1]) < edge {
			k++
		}
		t.start[i] = int32(k)
	}
	return t
}

// nearest returns the nearest code; of codes with equal light the first.
func (t *codeTable) nearest(v uint32) uint16 {
	if v == 0 {
		return 0
	}
	b := math.Float32bits(float32(v))
	bin := b>>leadingShift - leadingOne
	lo, hi := int(t.start[bin]), int(t.start[bin+1])
	// Within a bin codes are nearly evenly spread: the guess is right or one off,
	// and put right without a branch.
	k := lo + ((hi-lo)*int(b&(1<<leadingShift-1))+1<<(leadingShift-1))>>leadingShift
	k += int(uint64(int64(t.border[k+1])-int64(v)) >> 63)
	k -= int(uint64(int64(v)-int64(t.border[k])-1) >> 63)
	k = max(k, 0)
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
// over is one over the pixels of a cell. It is nearest without a call for each.
func (t *codeTable) fill(dst []uint16, sums []uint32, over float64) {
	border, start, twins := t.border, t.start, t.twins
	for i := 0; i < len(sums) && i < len(dst); i += 3 {
		v := uint32(float64(sums[i])*over + 0.5)
		b := math.Float32bits(float32(v))
		bin := int(b>>leadingShift) - int(leadingOne)
		if uint(bin) < uint(len(start)-1) {
			lo, hi := int(start[bin]), int(start[bin+1])
			k := lo + ((hi-lo)*int(b&(1<<leadingShift-1))+1<<(leadingShift-1))>>leadingShift
			if uint(k) < uint(len(border)-1) {
				k += int(uint64(int64(border[k+1])-int64(v)) >> 63)
				k -= int(uint64(int64(v)-int64(border[k])-1) >> 63)
				if k >= twins && k > 0 && k < len(border)-1 && border[k] < v && v <= border[k+1] {
					dst[i] = uint16(k)
					continue
				}
			}
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
