package measure

import (
	"image"

	"stopladder/analysis/scan"
)

// grid lays the preview's cells over a picture as its file stores it. Cells are
// counted from the upright picture's top left corner; where the file runs the
// other way, the cell that is cut off stands first.
type grid struct {
	w, h, orientation int // as stored
	f                 int // pixels of a cell along each side
	px, py            int // how many of the first cell's pixels lie before the picture
	W, H              int // cells, as stored
}

func gridOf(w, h, orientation, f int) grid {
	g := grid{w: w, h: h, orientation: orientation, f: f, W: (w + f - 1) / f, H: (h + f - 1) / f}
	switch orientation {
	case 2, 3, 7, 8:
		g.px = g.W*f - w
	}
	switch orientation {
	case 3, 4, 6, 7:
		g.py = g.H*f - h
	}
	return g
}

// columns returns the stored pixels of cell column i.
func (g grid) columns(i int) (x0, x1 int) { return max(0, i*g.f-g.px), min(g.w, (i+1)*g.f-g.px) }

// rows returns the stored pixels of cell row j.
func (g grid) rows(j int) (y0, y1 int) { return max(0, j*g.f-g.py), min(g.h, (j+1)*g.f-g.py) }

// stored returns an upright rectangle of pixels in the file.
func (g grid) stored(r image.Rectangle) image.Rectangle { return g.turned(r, scan.FilePixel) }

// uprightRect returns a rectangle of stored pixels in the upright picture.
func (g grid) uprightRect(r image.Rectangle) image.Rectangle { return g.turned(r, scan.UprightPixel) }

// turned takes a rectangle where place takes its pixels.
func (g grid) turned(r image.Rectangle, place func(orientation, w, h, x, y int) (int, int)) image.Rectangle {
	if r.Empty() {
		return image.Rectangle{}
	}
	x0, y0 := place(g.orientation, g.w, g.h, r.Min.X, r.Min.Y)
	x1, y1 := place(g.orientation, g.w, g.h, r.Max.X-1, r.Max.Y-1)
	t := image.Rect(x0, y0, x1, y1) // swaps the ends where they are turned
	t.Max = t.Max.Add(image.Pt(1, 1))
	return t
}

// upright turns n values a cell, stored row by row, the way the picture stands.
func upright[T any](g grid, n int, cells []T) []T {
	if g.orientation <= 1 {
		return cells
	}
	w, h := g.W, g.H
	if g.orientation >= 5 {
		w, h = h, w
	}
	out := make([]T, 0, len(cells))
	for y := range h {
		for x := range w {
			cx, cy := scan.FilePixel(g.orientation, g.W, g.H, x, y)
			at := n * (cy*g.W + cx)
			out = append(out, cells[at:at+n]...)
		}
	}
	return out
}
