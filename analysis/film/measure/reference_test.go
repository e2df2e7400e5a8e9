package measure

import (
	"context"
	"image"

	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// What the one-pass look must agree with: the plain way, over a picture in
// memory, one thing after the other.

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
	err := parallel.Chunks(ctx, workers, r.Dy(), 16, func(w, lo, hi int) {
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

// countClipped counts the pixels of area at or above the ceilings and at or
// below the floors, channels jointly, and fills the shares for the whole
// picture.
func countClipped(ctx context.Context, px *scan.Pixels, present int, p *Preview, area image.Rectangle, lim CodeRange, workers int) (clipped, error) {
	out := clipped{highShare: make([]uint8, p.W*p.H), lowShare: make([]uint8, p.W*p.H)}
	type tally struct {
		high, low           clipCount
		highCells, lowCells []uint32
	}
	tallies := make([]*tally, workers)
	w := px.Header.Width
	f := p.Factor
	err := parallel.Chunks(ctx, workers, p.H, 4, func(wk, lo, hi int) {
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
					h, l := plainClip(row[3*area.Min.X:3*area.Max.X], lim)
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

// cellRow adds one row's clipped pixels to the preview cells over it. Ceilings
// and floors are compared by the sign of a difference: no branch for the
// processor to guess wrong in a grainy highlight.
func cellRow(row []uint16, f int, high, low []uint32, lim CodeRange) {
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

// buildPreview averages blocks of Factor x Factor pixels in the light of each
// channel's tone curve and keeps the code whose light is nearest to the mean.
// Rows from present on were not in the file; a preview row that holds none of
// the present ones is left at code 0.
func buildPreview(ctx context.Context, px *scan.Pixels, present int, space *colour.Space, workers int, done func(rows int)) (*Preview, error) {
	w, h := px.Header.Width, px.Header.Height
	f := previewFactor(w, h, 0)
	p := &Preview{Factor: f, W: (w + f - 1) / f, H: (h + f - 1) / f}
	p.Pix = make([]uint16, 3*p.W*p.H)
	if f == 1 {
		copy(p.Pix, px.Pix[:3*w*present])
		return p, ctx.Err()
	}
	tone := space.Tone()
	var inv [3]*inverseTone
	for c := range inv {
		if c > 0 && &tone[c][0] == &tone[0][0] {
			inv[c] = inv[0]
			continue
		}
		inv[c] = newInverseTone(tone[c])
	}
	acc := make([][]float32, workers)
	err := parallel.Chunks(ctx, workers, p.H, 4, func(wk, lo, hi int) {
		if acc[wk] == nil {
			acc[wk] = make([]float32, 3*p.W)
		}
		sum := acc[wk]
		for y := lo; y < hi; y++ {
			rows := min(present, (y+1)*f) - y*f
			if rows <= 0 {
				continue
			}
			clear(sum)
			for r := range rows {
				at := 3 * w * (y*f + r)
				addRow(sum, px.Pix[at:at+3*w], f, tone)
			}
			out := p.Pix[3*p.W*y : 3*p.W*(y+1)]
			for x := range p.W {
				n := float32(rows * min(f, w-x*f))
				out[3*x] = inv[0].code(sum[3*x] / n)
				out[3*x+1] = inv[1].code(sum[3*x+1] / n)
				out[3*x+2] = inv[2].code(sum[3*x+2] / n)
			}
		}
		if done != nil {
			done((hi - lo) * f)
		}
	})
	return p, err
}

// addRow adds one row's light to the sums of its preview row.
func addRow(sum []float32, row []uint16, f int, tone *[3][]float32) {
	tr, tg, tb := tone[0], tone[1], tone[2]
	i := 0
	for o := 0; o+2 < len(sum); o += 3 {
		end := min(i+3*f, len(row))
		var r, g, b float32
		for ; i+2 < end; i += 3 {
			r += tr[row[i]]
			g += tg[row[i+1]]
			b += tb[row[i+2]]
		}
		sum[o] += r
		sum[o+1] += g
		sum[o+2] += b
	}
}

// inverseTone finds the code whose light is nearest to a value.
type inverseTone struct {
	light []float32 // ascending
	start []int32   // start[i]: first code whose light is >= i/inverseSteps of the range
	lo    float32
	scale float32
}

const inverseSteps = 8192

func newInverseTone(tone []float32) *inverseTone {
	t := &inverseTone{light: make([]float32, len(tone)), start: make([]int32, inverseSteps+2)}
	// An insane profile may fall somewhere: the running maximum keeps the
	// search defined (its light is then an upper bound).
	m := tone[0]
	for i, v := range tone {
		if v > m {
			m = v
		}
		t.light[i] = m
	}
	last := t.light[len(t.light)-1]
	t.lo = t.light[0]
	if last > t.lo {
		t.scale = inverseSteps / (last - t.lo)
	}
	k := 0
	for i := range t.start {
		edge := t.lo
		if t.scale > 0 {
			edge += float32(i) / t.scale
		}
		for k < len(t.light)-1 && t.light[k] < edge {
			k++
		}
		t.start[i] = int32(k)
	}
	return t
}

// code returns the nearest code; of codes with equal light the first.
func (t *inverseTone) code(v float32) uint16 {
	if !(v > t.lo) {
		return 0
	}
	i := int((v - t.lo) * t.scale)
	if i > inverseSteps {
		return uint16(t.first(t.light[len(t.light)-1], 0, len(t.light)-1))
	}
	// One step of slack at each end covers the rounding of float32.
	lo, hi := int(t.start[max(i-1, 0)]), int(t.start[min(i+2, inverseSteps+1)])
	k := t.first(v, lo, hi)
	if k > 0 && v-t.light[k-1] <= t.light[k]-v {
		k--
	}
	return uint16(k)
}

// first is the lowest code in lo..hi whose light is >= v, hi when there is none.
func (t *inverseTone) first(v float32, lo, hi int) int {
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

// plainClip counts clipped pixels as the method words it, without the reader's
// arithmetic.
func plainClip(row []uint16, lim CodeRange) (high, low clipCount) {
	count := func(n *clipCount, r, g, b bool) {
		for _, x := range []struct {
			is bool
			n  *uint64
		}{{r, &n.r}, {g, &n.g}, {b, &n.b}, {r || g || b, &n.any}, {r && g && b, &n.all}} {
			if x.is {
				*x.n++
			}
		}
	}
	for i := 0; i+2 < len(row); i += 3 {
		r, g, b := int(row[i]), int(row[i+1]), int(row[i+2])
		count(&high, r >= lim.Ceiling.R, g >= lim.Ceiling.G, b >= lim.Ceiling.B)
		count(&low, r <= lim.Floor.R, g <= lim.Floor.G, b <= lim.Floor.B)
	}
	return high, low
}
