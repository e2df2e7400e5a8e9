package measure

// clipCount counts clipped pixels by channel, in any channel, in all.
type clipCount struct{ r, g, b, any, all uint64 }

func (c clipCount) add(d clipCount) clipCount {
	return clipCount{c.r + d.r, c.g + d.g, c.b + d.b, c.any + d.any, c.all + d.all}
}

// clipSets counts pixels by which of their channels are clipped: bit 0 of the
// index is red, bit 1 green, bit 2 blue.
type clipSets [8]uint64

func (s clipSets) count() (c clipCount) {
	for i, n := range s {
		if i == 0 {
			continue
		}
		c.any += n
		if i&1 != 0 {
			c.r += n
		}
		if i&2 != 0 {
			c.g += n
		}
		if i&4 != 0 {
			c.b += n
		}
	}
	c.all = s[7]
	return c
}

func (c clipCount) of(pixels uint64) Clip {
	if pixels == 0 {
		return Clip{}
	}
	n := float64(pixels)
	return Clip{R: float64(c.r) / n, G: float64(c.g) / n, B: float64(c.b) / n, Any: float64(c.any) / n, All: float64(c.all) / n}
}

// share returns n of all in 255ths, never 0 for a count above 0.
func share(n, all uint32) uint8 {
	if n == 0 || all == 0 {
		return 0
	}
	return uint8(max(1, (uint64(n)*255+uint64(all)/2)/uint64(all)))
}

// clipTest says of a pixel which of its channels are clipped.
type clipTest struct{ ceiling, floor [3]int32 } // the last codes that are not

func newClipTest(lim CodeRange) (t clipTest) {
	for c := range 3 {
		t.ceiling[c], t.floor[c] = int32(at(lim.Ceiling, c))-1, int32(at(lim.Floor, c))+1
	}
	return t
}

// of returns the sets of clipped channels, as clipSets indexes them.
func (t *clipTest) of(r, g, b uint16) (high, low uint32) {
	x, y, z := int32(r), int32(g), int32(b)
	high = uint32(t.ceiling[0]-x)>>31 | uint32(t.ceiling[1]-y)>>31<<1 | uint32(t.ceiling[2]-z)>>31<<2
	low = uint32(x-t.floor[0])>>31 | uint32(y-t.floor[1])>>31<<1 | uint32(z-t.floor[2])>>31<<2
	return high, low
}

// clipRow counts the clipped pixels of a row.
func clipRow(row []uint16, lim CodeRange) (high, low clipCount) {
	test := newClipTest(lim)
	var h, l clipSets
	for ; len(row) >= 3; row = row[3:] {
		i, j := test.of(row[0], row[1], row[2])
		h[i&7]++
		l[j&7]++
	}
	return h.count(), l.count()
}

// mean returns the mean code value of each channel, from the exact histogram.
func (h *Histogram) mean() RGB[float64] {
	var m [3]float64
	for c := range m {
		// At most 2^32 pixels of 2^16 codes: the sum fits 64 bits.
		var sum uint64
		for code, n := range h.Counts[c] {
			sum += uint64(code) * n
		}
		if h.Pixels > 0 {
			m[c] = float64(sum) / float64(h.Pixels)
		}
	}
	return RGB[float64]{m[0], m[1], m[2]}
}
