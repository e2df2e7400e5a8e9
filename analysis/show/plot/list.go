// Package plot draws the roll's measured response (assets/manual/response.md): density
// against log exposure, for the window, the sheet and for export.
//
// A plot is first a List of marks (package drawing), which the window, the sheet, PNG
// and SVG all draw alike.
package plot

import (
	"math"

	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// A plot's marks; see package drawing.
type (
	Pt   = drawing.Pt
	List = drawing.List
	Line = drawing.Line
	Area = drawing.Area
	Text = drawing.Text
	Dot  = drawing.Dot
)

var gauge = drawing.Gauge

// textBox returns what a text covers, in units, capitals to descenders.
func textBox(t Text) box {
	w := gauge.Width(t.S, t.Style)
	x := t.At.X
	switch t.Style.Align {
	case paint.Right:
		x -= w
	case paint.Centre:
		x -= w / 2
	}
	return box{x, t.At.Y - gauge.Cap(t.Style), x + w, t.At.Y + 0.2*t.Style.Size}
}

// box is a rectangle in units.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) w() float64 { return b.x1 - b.x0 }
func (b box) h() float64 { return b.y1 - b.y0 }

func (b box) grow(d float64) box { return box{b.x0 - d, b.y0 - d, b.x1 + d, b.y1 + d} }

func (b box) overlaps(a box) bool {
	return b.x0 < a.x1 && a.x0 < b.x1 && b.y0 < a.y1 && a.y0 < b.y1
}

func (b box) inside(a box) bool { return b.x0 >= a.x0 && b.y0 >= a.y0 && b.x1 <= a.x1 && b.y1 <= a.y1 }

// crosses reports whether a segment has a part inside the box (Liang & Barsky 1984).
func (b box) crosses(p, q Pt) bool {
	t0, t1 := 0.0, 1.0
	dx, dy := q.X-p.X, q.Y-p.Y
	for _, e := range [4][2]float64{{-dx, p.X - b.x0}, {dx, b.x1 - p.X}, {-dy, p.Y - b.y0}, {dy, b.y1 - p.Y}} {
		if e[0] == 0 {
			if e[1] < 0 {
				return false
			}
			continue
		}
		if t := e[1] / e[0]; e[0] < 0 {
			t0 = math.Max(t0, t)
		} else {
			t1 = math.Min(t1, t)
		}
	}
	return t0 < t1
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
