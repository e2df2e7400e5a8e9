package plate

import (
	"math"

	"stopladder/analysis/numeric/median"
)

// part divides n frames into k rows of neighbours, the first ones longer by one where
// they cannot be equal.
func part(n, k int) (rows [][2]int) {
	at := 0
	for i := range k {
		m := n / k
		if i < n%k {
			m++
		}
		if m > 0 {
			rows = append(rows, [2]int{at, at + m})
		}
		at += m
	}
	return rows
}

// order returns the frames by stop, the least exposed first.
func (in *Input) order() []int {
	idx := make([]int, len(in.Frames))
	for i := range idx {
		idx[i] = i
	}
	stop := func(i int) float64 {
		if d := in.Frames[i].Data; d != nil && finite(d.Stop) {
			return d.Stop
		}
		return math.Inf(1)
	}
	// Insertion keeps frames at one stop in the roll's order.
	for i := 1; i < len(idx); i++ {
		for j := i; j > 0 && stop(idx[j]) < stop(idx[j-1]); j-- {
			idx[j], idx[j-1] = idx[j-1], idx[j]
		}
	}
	return idx
}

// aspect returns width over height of a frame's picture, kept within what a page can
// hold.
func (in *Input) aspect(i int) float64 {
	a := 1.5
	var known []float64
	for _, v := range in.Aspects {
		if v > 0 && finite(v) {
			known = append(known, v)
		}
	}
	if len(known) > 0 { // what was not read has the room that the others take
		a = median.Upper(known)
	}
	if i < len(in.Aspects) && in.Aspects[i] > 0 && finite(in.Aspects[i]) {
		a = in.Aspects[i]
	}
	return math.Max(0.4, math.Min(3, a))
}

// alike returns the aspects of frames; where they differ by the uncertainty of finding
// the film's edge alone all have the middle one, so that the pictures are of one size.
func (in *Input) alike(idx []int) []float64 {
	out := make([]float64, len(idx))
	lo, hi := math.Inf(1), 0.0
	for k, i := range idx {
		out[k] = in.aspect(i)
		lo, hi = math.Min(lo, out[k]), math.Max(hi, out[k])
	}
	if hi <= lo*1.06 {
		for k := range out {
			out[k] = math.Sqrt(lo * hi)
		}
	}
	return out
}

// gridRow is a row of pictures of one height.
type gridRow struct {
	from, to int       // of the order
	x        []float64 // left edges, from the grid's
	w        []float64
	cap      float64 // height of what stands under the highest caption
}

// grid places frames in rows of pictures that are h high: rows, and the width and height
// of all. under returns the height of what stands under (or in) the k-th of the order, w
// wide.
func grid(aspects []float64, rows [][2]int, h, gap, rowGap float64, under func(k int, w float64) float64) (out []gridRow, width, height float64) {
	for r, part := range rows {
		g := gridRow{from: part[0], to: part[1]}
		x := 0.0
		for k := part[0]; k < part[1]; k++ {
			w := aspects[k] * h
			g.x, g.w = append(g.x, x), append(g.w, w)
			x += w + gap
			g.cap = math.Max(g.cap, under(k, w))
		}
		width = math.Max(width, x-gap)
		if r > 0 {
			height += rowGap
		}
		height += h + g.cap
		out = append(out, g)
	}
	return out, width, height
}

// highest returns the height of pictures at which a grid fits into w x room points; 0
// where it does not at least.
func highest(aspects []float64, rows [][2]int, gap, rowGap, w, room, least float64, under func(k int, w float64) float64) float64 {
	hi := math.Inf(1)
	for _, part := range rows {
		sum := 0.0
		for k := part[0]; k < part[1]; k++ {
			sum += aspects[k]
		}
		hi = math.Min(hi, (w-gap*float64(part[1]-part[0]-1))/sum)
	}
	fits := func(h float64) bool {
		_, _, height := grid(aspects, rows, h, gap, rowGap, under)
		return height <= room
	}
	if hi < least {
		return 0
	}
	if fits(hi) {
		return hi
	}
	lo := least
	if !fits(lo) {
		return 0
	}
	for range 24 {
		if mid := (lo + hi) / 2; fits(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
