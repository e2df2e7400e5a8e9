// Package drawing keeps a page or a plot as a list of marks in units that no output
// medium has a say in. The list is painted by package paint (the window, the sheet,
// PNG) and written as SVG here, and as PDF by package card, so that all show the very
// same marks.
package drawing

import (
	"image"
	"image/color"
	"math"
	"strings"

	"stopladder/analysis/numeric/legible"
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

// Mark is one of Line, Area, Frame, Text and Dot. Positions and sizes are units.
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

// Frame is the outline of an upright rectangle, inside its edges.
type Frame struct {
	Min, Max Pt
	Width    float64
	Col      color.NRGBA
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

func (Line) mark()  {}
func (Area) mark()  {}
func (Frame) mark() {}
func (Text) mark()  {}
func (Dot) mark()   {}

// Add puts marks over those that are there.
func (l *List) Add(m ...Mark) { l.Marks = append(l.Marks, m...) }

// Rect returns the area of an upright rectangle.
func Rect(x0, y0, x1, y1 float64, col color.NRGBA) Area {
	return Area{Pts: []Pt{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}, Col: col}
}

// Segment returns a straight whole line.
func Segment(x0, y0, x1, y1, width float64, col color.NRGBA) Line {
	return Line{Pts: []Pt{{X: x0, Y: y0}, {X: x1, Y: y1}}, Width: width, Col: col}
}

// Gauge measures type in units. Other media set the same words up to a few per cent
// wider.
var Gauge = paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1)

func finite(p Pt) bool {
	return !math.IsNaN(p.X) && !math.IsInf(p.X, 0) && !math.IsNaN(p.Y) && !math.IsInf(p.Y, 0)
}

// Plain replaces what no text may hold: control codes and broken UTF-8 are shown as
// escapes, as paint shows them.
func Plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r == 0xFFFE || r == 0xFFFF { // of no XML
			return '\uFFFD'
		}
		return r
	}, legible.Line(s))
}
