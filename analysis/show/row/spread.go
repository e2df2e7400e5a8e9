package row

import "math"

// Spread moves centres just far enough apart that boxes of the given sizes do
// not overlap and all lie inside lo..hi, keeping their order; want must ascend.
// The moves are least squares (pooling adjacent violators). Where there is not
// room enough the boxes are shared out evenly and do overlap.
func Spread(want, sizes []float64, lo, hi float64) []float64 {
	n := len(want)
	out := make([]float64, n)
	if n == 0 {
		return out
	}
	// Subtracting what lies before a box turns "no overlap" into "not descending".
	before := make([]float64, n)
	sum := 0.0
	for i, s := range sizes {
		before[i] = sum + s/2
		sum += s
	}
	squeeze := 1.0
	if sum > hi-lo && sum > 0 {
		squeeze = math.Max(0, hi-lo) / sum
	}
	type block struct {
		mean float64
		n    int
	}
	var blocks []block
	for i := range want {
		blocks = append(blocks, block{want[i] - before[i]*squeeze, 1})
		for k := len(blocks) - 1; k > 0 && blocks[k-1].mean > blocks[k].mean; k-- {
			a, b := blocks[k-1], blocks[k]
			blocks[k-1] = block{(a.mean*float64(a.n) + b.mean*float64(b.n)) / float64(a.n+b.n), a.n + b.n}
			blocks = blocks[:k]
		}
	}
	i := 0
	for _, b := range blocks {
		m := math.Max(lo, math.Min(hi-sum*squeeze, b.mean))
		for range b.n {
			out[i] = m + before[i]*squeeze
			i++
		}
	}
	return out
}
