package row

import (
	"image"
	"math"
	"sort"

	"stopladder/analysis/show/paint"
)

// Column is one aligned reading of all frames. Widths are units.
type Column struct {
	ID    string
	Title string   // first header line
	Short string   // in its place where it does not fit; "" is Title cut short
	Unit  string   // second header line: unit or scale
	Subs  []string // sub-columns of equal width; they take the place of Unit

	Min, Ideal, Max float64 // least, wanted and largest width; Max 0 is Ideal
	Priority        int     // lower is kept longer as the ladder is dragged narrow; see Table

	// Draw draws one frame inside r (device pixels). nil when DrawColumn is set.
	Draw func(c *paint.Canvas, r image.Rectangle, d *Data)
	// DrawColumn draws a plot that spans all rungs, once, after the rungs.
	DrawColumn func(c *paint.Canvas, full image.Rectangle, yOf func(stop float64) float64, all []*Data)
	// DrawHead takes the place of the second header line, e.g. for an axis.
	DrawHead func(c *paint.Canvas, r image.Rectangle, all []*Data)
	// Text is the reading in words, one per sub-column, for copying and for
	// screen readers; nil when the column has none.
	Text func(d *Data) []string
}

// Placed is a column with its place: X from the left edge of the rung, both in
// device pixels.
type Placed struct {
	Column
	X, W int
}

// Layout sizes, units.
const (
	gap  = 12.0 // between columns
	side = 6.0  // left and right of all columns
	pad  = 4.0  // above and below what a rung shows
)

// Table is the Priority from which columns belong to the readings table: they
// come in only when everything before them has its Ideal width.
const Table = 10

// Arrange decides which columns fit into width device pixels and where they
// stand. Columns enter by Priority; the first that does not fit ends the choice,
// so that a wider ladder always shows at least what a narrower one did. What is
// left over widens the columns, first to Ideal, then to Max. The order of cols
// is the order on the ladder. The first column by Priority is placed however
// narrow the ladder is, unless there is no room at all.
func Arrange(width int, scale float64, cols []Column) []Placed {
	if !(scale > 0) || math.IsInf(scale, 0) || width <= 0 || len(cols) == 0 {
		return nil
	}
	avail := float64(width)/scale - 2*side
	order := make([]int, len(cols))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return cols[order[a]].Priority < cols[order[b]].Priority })
	w := make([]float64, len(cols)) // 0: left out
	used, ideal := -gap, -gap       // widths so far, at Min and at Ideal
	for n, i := range order {
		need := math.Max(cols[i].Min, 1)
		have := used
		if cols[i].Priority >= Table {
			have = ideal
		}
		if have+gap+need > avail {
			if n == 0 && avail >= 1 {
				w[i] = avail
				used = avail
			}
			break
		}
		w[i] = need
		used += gap + need
		ideal += gap + math.Max(need, cols[i].Ideal)
	}
	if used < 0 {
		return nil
	}
	spare := avail - used
	spare = widen(w, cols, spare, func(c Column) float64 { return c.Ideal })
	widen(w, cols, spare, func(c Column) float64 { return math.Max(c.Max, c.Ideal) })

	var out []Placed
	x := side
	for i, c := range cols {
		if w[i] == 0 {
			continue
		}
		x0, x1 := int(math.Round(x*scale)), int(math.Round((x+w[i])*scale))
		x0, x1 = min(x0, width), min(x1, width)
		if x1 > x0 {
			out = append(out, Placed{Column: c, X: x0, W: x1 - x0})
		}
		x += w[i] + gap
	}
	return out
}

// widen shares spare among the placed columns in proportion to what each lacks
// of its goal, and returns what is left.
func widen(w []float64, cols []Column, spare float64, goal func(Column) float64) float64 {
	lack := 0.0
	for i, c := range cols {
		if w[i] > 0 {
			lack += math.Max(0, goal(c)-w[i])
		}
	}
	if lack <= 0 || spare <= 0 {
		return spare
	}
	f := math.Min(1, spare/lack)
	for i, c := range cols {
		if w[i] > 0 {
			w[i] += f * math.Max(0, goal(c)-w[i])
		}
	}
	return spare - f*lack
}

// Rect returns the placed column's rectangle inside a row.
func (p Placed) Rect(row image.Rectangle) image.Rectangle {
	return image.Rect(row.Min.X+p.X, row.Min.Y, row.Min.X+p.X+p.W, row.Max.Y).Intersect(row)
}

// subRect returns the i-th of n equal parts of r.
func subRect(r image.Rectangle, i, n int) image.Rectangle {
	w := r.Dx()
	return image.Rect(r.Min.X+w*i/n, r.Min.Y, r.Min.X+w*(i+1)/n, r.Max.Y)
}
