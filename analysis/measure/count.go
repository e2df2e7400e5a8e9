package measure

import (
	"context"
	"image"

	"stopladder/analysis/scan"
)

// countCodes makes the exact histogram of r, which lies in the rows that are
// present. Each worker counts on its own and the counts are added: whole
// numbers, so the order does not matter.
func countCodes(ctx context.Context, px *scan.Pixels, r image.Rectangle, workers int) (Histogram, error) {
	top := px.Header.Max()
	h := Histogram{Max: top}
	for c := range h.Counts {
		h.Counts[c] = make([]uint64, top+1)
	}
	h.Pixels = uint64(r.Dx()) * uint64(r.Dy())
	type table struct {
		n [3][]uint32
		// rows counted since the tables were last emptied into sum: a 32-bit
		// count overflows beyond 2^32 pixels.
		pixels uint64
		sum    [3][]uint64
	}
	tables := make([]*table, workers)
	flush := func(t *table) {
		for c := range t.n {
			if t.sum[c] == nil {
				t.sum[c] = make([]uint64, top+1)
			}
			for i, v := range t.n[c] {
				t.sum[c][i] += uint64(v)
			}
			clear(t.n[c])
		}
		t.pixels = 0
	}
	stride := 3 * px.Header.Width
	err := sweep(ctx, workers, r.Dy(), 16, func(w, lo, hi int) {
		t := tables[w]
		if t == nil {
			t = new(table)
			for c := range t.n {
				t.n[c] = make([]uint32, top+1)
			}
			tables[w] = t
		}
		for y := lo; y < hi; y++ {
			at := stride*(r.Min.Y+y) + 3*r.Min.X
			row := px.Pix[at : at+3*r.Dx()]
			nr, ng, nb := t.n[0], t.n[1], t.n[2]
			for i := 0; i+2 < len(row); i += 3 {
				nr[row[i]]++
				ng[row[i+1]]++
				nb[row[i+2]]++
			}
		}
		if t.pixels += uint64(hi-lo) * uint64(r.Dx()); t.pixels > 1<<31 {
			flush(t)
		}
	})
	for _, t := range tables {
		if t == nil {
			continue
		}
		flush(t)
		for c := range h.Counts {
			for i, v := range t.sum[c] {
				h.Counts[c][i] += v
			}
		}
	}
	return h, err
}

// clipped is what countClipped finds: pixels of the area at or beyond the
// limits, and the share of clipped pixels under every preview pixel.
type clipped struct {
	high, low           clipCount
	highShare, lowShare []uint8
}

type clipCount struct{ r, g, b, any, all uint64 }

func (c clipCount) add(d clipCount) clipCount {
	return clipCount{c.r + d.r, c.g + d.g, c.b + d.b, c.any + d.any, c.all + d.all}
}

func (c clipCount) of(pixels uint64) Clip {
	if pixels == 0 {
		return Clip{}
	}
	n := float64(pixels)
	return Clip{R: float64(c.r) / n, G: float64(c.g) / n, B: float64(c.b) / n, Any: float64(c.any) / n, All: float64(c.all) / n}
}

// countClipped counts the pixels of area at or above the ceilings and at or
// below the floors, channels jointly, and fills the shares for the whole
// picture.
func countClipped(ctx context.Context, px *scan.Pixels, present int, p *Preview, area image.Rectangle, lim Limits, workers int) (clipped, error) {
	out := clipped{highShare: make([]uint8, p.W*p.H), lowShare: make([]uint8, p.W*p.H)}
	type tally struct {
		high, low           clipCount
		highCells, lowCells []uint32
	}
	tallies := make([]*tally, workers)
	w := px.Header.Width
	f := p.Factor
	err := sweep(ctx, workers, p.H, 4, func(wk, lo, hi int) {
		t := tallies[wk]
		if t == nil {
			t = &tally{highCells: make([]uint32, p.W), lowCells: make([]uint32, p.W)}
			tallies[wk] = t
		}
		for py := lo; py < hi; py++ {
			rows := min(present, (py+1)*f) - py*f
			if rows <= 0 {
				continue
			}
			clear(t.highCells)
			clear(t.lowCells)
			for y := py * f; y < py*f+rows; y++ {
				row := px.Pix[3*w*y : 3*w*(y+1)]
				inRow := y >= area.Min.Y && y < area.Max.Y
				cellRow(row, f, t.highCells, t.lowCells, lim)
				if inRow {
					h, l := clipRow(row[3*area.Min.X:3*area.Max.X], lim)
					t.high = t.high.add(h)
					t.low = t.low.add(l)
				}
			}
			for x := range p.W {
				n := uint32(rows * min(f, w-x*f))
				out.highShare[py*p.W+x] = share(t.highCells[x], n)
				out.lowShare[py*p.W+x] = share(t.lowCells[x], n)
			}
		}
	})
	for _, t := range tallies {
		if t != nil {
			out.high = out.high.add(t.high)
			out.low = out.low.add(t.low)
		}
	}
	return out, err
}

// share is n of all in 255ths, never 0 for a count above 0.
func share(n, all uint32) uint8 {
	if n == 0 || all == 0 {
		return 0
	}
	return uint8(max(1, (uint64(n)*255+uint64(all)/2)/uint64(all)))
}

// cellRow adds one row's clipped pixels to the preview cells over it. Ceilings
// and floors are compared by the sign of a difference: no branch for the
// processor to guess wrong in a grainy highlight.
func cellRow(row []uint16, f int, high, low []uint32, lim Limits) {
	cr, cg, cb := int32(lim.Ceiling.R)-1, int32(lim.Ceiling.G)-1, int32(lim.Ceiling.B)-1
	fr, fg, fb := int32(lim.Floor.R)+1, int32(lim.Floor.G)+1, int32(lim.Floor.B)+1
	i := 0
	for x := range high {
		end := min(i+3*f, len(row))
		var h, l uint32
		for ; i+2 < end; i += 3 {
			r, g, b := int32(row[i]), int32(row[i+1]), int32(row[i+2])
			h += uint32((cr-r)|(cg-g)|(cb-b)) >> 31
			l += uint32((r-fr)|(g-fg)|(b-fb)) >> 31
		}
		high[x] += h
		low[x] += l
	}
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
