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

	// For fill: by leading bits the code and the part of it at which they begin, and
	// by how much that rises until the next; and borders that no light lies between
	// where fill must leave it to nearest.
	leads   *[leads]lead
	borders *[1<<16 + 2]uint32
}

type lead struct{ from, rise uint32 } // in 256ths of a code

const leads = 1 << 13 // 32 doublings of light

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
	t.prepareFill()
	return t
}

func (t *codeTable) prepareFill() {
	t.leads, t.borders = new([leads]lead), new([1<<16 + 2]uint32)
	for k := range t.borders {
		t.borders[k] = math.MaxUint32
		if k >= t.twins && k < len(t.border)-1 {
			t.borders[k] = t.border[k]
		}
	}
	at := func(i int) uint32 { // the codes up to which the light has less than leading bits i
		k := int(t.start[min(i, len(t.start)-1)])
		part := 0.0
		if k+1 < len(t.border)-1 && t.border[k+1] > t.border[k] {
			edge := float64(math.Float32frombits((uint32(i) + leadingOne) << leadingShift))
			part = (edge - float64(t.border[k])) / float64(t.border[k+1]-t.border[k])
		}
		return uint32(256 * (float64(k) + max(0, min(part, 1))))
	}
	for i := range t.leads {
		from, to := at(i), at(i+1)
		t.leads[i] = lead{from, max(from, to) - from}
	}
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
// over is one over the pixels of a cell. It is nearest without a call for each: a
// quarter of a first look was spent in it, most of that waiting for tables.
func (t *codeTable) fill(dst []uint16, sums []uint32, over float64) {
	leadsOf, borders := t.leads, t.borders
	n := min(len(sums), len(dst))
	for i := 0; i < n; i += 3 {
		v := uint32(float64(sums[i])*over + 0.5)
		b := math.Float32bits(float32(v))
		l := &leadsOf[(b>>leadingShift-leadingOne)%leads]
		k := (l.from + l.rise*(b&(1<<leadingShift-1))>>leadingShift) >> 8 & 0xffff
		if borders[k] < v && v <= borders[k+1] {
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
