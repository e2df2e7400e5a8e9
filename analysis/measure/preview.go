package measure

import (
	"context"

	"stopladder/analysis/colour"
	"stopladder/analysis/scan"
)

// previewFactor is the whole factor by which a scan is reduced.
func previewFactor(w, h int) int {
	return (max(w, h, 1) + PreviewSide - 1) / PreviewSide
}

// buildPreview averages blocks of Factor x Factor pixels in the light of each
// channel's tone curve and keeps the code whose light is nearest to the mean.
// Rows from present on were not in the file; a preview row that holds none of
// the present ones is left at code 0.
func buildPreview(ctx context.Context, px *scan.Pixels, present int, space *colour.Space, workers int, done func(rows int)) (*Preview, error) {
	w, h := px.Header.Width, px.Header.Height
	f := previewFactor(w, h)
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
	err := sweep(ctx, workers, p.H, 4, func(wk, lo, hi int) {
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
