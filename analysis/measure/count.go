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

// share is n of all in 255ths, never 0 for a count above 0.
func share(n, all uint32) uint8 {
	if n == 0 || all == 0 {
		return 0
	}
	return uint8(max(1, (uint64(n)*255+uint64(all)/2)/uint64(all)))
}

// clipRow counts one row of the area.
func clipRow(row []uint16, lim Limits) (high, low clipCount) {
	cr, cg, cb := int32(lim.Ceiling.R)-1, int32(lim.Ceiling.G)-1, int32(lim.Ceiling.B)-1
	fr, fg, fb := int32(lim.Floor.R)+1, int32(lim.Floor.G)+1, int32(lim.Floor.B)+1
	var h, l [5]uint32
	for i := 0; i+2 < len(row); i += 3 {
		r, g, b := int32(row[i]), int32(row[i+1]), int32(row[i+2])
		hr, hg, hb := cr-r, cg-g, cb-b
		if (hr | hg | hb) < 0 {
			h[0] += uint32(hr) >> 31
			h[1] += uint32(hg) >> 31
			h[2] += uint32(hb) >> 31
			h[3]++
			h[4] += uint32(hr&hg&hb) >> 31
		}
		lr, lg, lb := r-fr, g-fg, b-fb
		if (lr | lg | lb) < 0 {
			l[0] += uint32(lr) >> 31
			l[1] += uint32(lg) >> 31
			l[2] += uint32(lb) >> 31
			l[3]++
			l[4] += uint32(lr&lg&lb) >> 31
		}
	}
	return clipCount{uint64(h[0]), uint64(h[1]), uint64(h[2]), uint64(h[3]), uint64(h[4])},
		clipCount{uint64(l[0]), uint64(l[1]), uint64(l[2]), uint64(l[3]), uint64(l[4])}
}

// mean is the mean code value of each channel, from the exact histogram.
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
