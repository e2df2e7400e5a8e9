// Package plot draws the roll's measured response (assets/manual/response.md): density
// against log exposure, for the window, the sheet and for export.
//
// A plot is first a List, a short drawing in units that no output medium has a
// say in. Two back ends draw it: package paint (the window, the sheet, PNG) and
// SVG, so that all show the very same marks.
package plot

import (
	"image"
	"image/color"
	"math"
	"strings"
	"unicode/utf8"

	"stopladder/analysis/show/paint"
)

// Pt is a position in units, the origin top left, y down.
type Pt = paint.Pt

// List is a drawing. Marks are drawn in order, later ones over earlier ones.
type List struct {
	W, H  float64 // units
	Title string  // what it shows, a few words; for those who do not see it
	Desc  string  // what it says, whole sentences
	Marks []Mark
}

// Mark is one of Line, Area, Text and Dot. Positions and sizes are units.
type Mark interface{ mark() }

// Line is a joined line. Two points at one height, or above each other, are
// drawn sharp.
type Line struct {
	Pts     []Pt
	Width   float64
	On, Off float64 // lengths of dashes and of the gaps between them; 0 is a whole line
	Col     color.NRGBA
}

// Area is a filled polygon.
type Area struct {
	Pts []Pt
	Col color.NRGBA
}

// Text is one line of type; At is on its baseline, at its left edge, right edge
// or centre as the style is aligned.
type Text struct {
	At    Pt
	S     string
	Style paint.Style
}

// Dot is a circle: filled, or a ring where Width is not 0.
type Dot struct {
	At    Pt
	R     float64
	Width float64
	Col   color.NRGBA
}

func (Line) mark() {}
func (Area) mark() {}
func (Text) mark() {}
func (Dot) mark()  {}

func (l *List) add(m ...Mark) { l.Marks = append(l.Marks, m...) }

func (l *List) rect(x0, y0, x1, y1 float64, col color.NRGBA) {
	l.add(Area{Pts: []Pt{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}, Col: col})
}

func (l *List) line(x0, y0, x1, y1, width float64, col color.NRGBA) {
	l.add(Line{Pts: []Pt{{X: x0, Y: y0}, {X: x1, Y: y1}}, Width: width, Col: col})
}

// gauge measures type in units.
var gauge = paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1)

// textWidth returns the width of s in units. Other media set the same words up to a
// few per cent wider.
func textWidth(s string, st paint.Style) float64 { return gauge.Width(s, st) }

// textBox returns what a text covers, in units, capitals to descenders.
func textBox(t Text) box {
	w := textWidth(t.S, t.Style)
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

func finitePt(p Pt) bool { return finite(p.X) && finite(p.Y) }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// plain replaces what no text may hold: control codes and broken UTF-8.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case r < 0x20 || r >= 0x7F && r < 0xA0 || r == 0xFFFE || r == 0xFFFF || r == utf8.RuneError:
			return '\uFFFD'
		}
		return r
	}, s)
}
