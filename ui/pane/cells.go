package pane

import "image"

// gap is the width in device-independent units between neighbouring panes.
const gap = 4

// gridShape chooses columns and rows for n pictures of an aspect (width over
// height) in a space of w x h so that the pictures become as large as possible;
// among equals the fewest empty cells, then the fewest rows.
func gridShape(n int, w, h, space, aspect float64) (cols, rows int) {
	if n < 1 {
		return 1, 1
	}
	if !(aspect > 0) {
		aspect = 1.5
	}
	best, empty := -1.0, 0
	for c := 1; c <= n; c++ {
		r := (n + c - 1) / c
		cw, ch := (w-space*float64(c-1))/float64(c), (h-space*float64(r-1))/float64(r)
		size := min(cw, ch*aspect)
		spare := c*r - n
		const same = 1e-6
		if size > best*(1+same) || size >= best*(1-same) && (spare < empty || spare == empty && r < rows) {
			best, empty, cols, rows = size, spare, c, r
		}
	}
	return cols, rows
}

// cells divides w x h device pixels into cols x rows cells with a space between
// them, in reading order. All cells are of one size, so that a frame rendered
// for one cell fits every other; what is left over goes to the right and below.
func cells(n, cols, rows, w, h, space int) []image.Rectangle {
	cw, ch := (w-space*(cols-1))/cols, (h-space*(rows-1))/rows
	out := make([]image.Rectangle, n)
	for i := range out {
		x, y := i%cols*(cw+space), i/cols*(ch+space)
		out[i] = image.Rect(x, y, x+max(cw, 1), y+max(ch, 1))
	}
	return out
}
