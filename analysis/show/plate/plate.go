// Package plate lays a roll out as a page to publish: photographs with the figures that
// annotate them. A page is a list of marks (package drawing) and the places of its
// pictures, in points of the stated print, so that the very same page goes to PNG, JPEG
// and PDF (package publish) and is shown before it is written.
package plate

import (
	"fmt"
	"image"
	"math"
	"strings"

	"stopladder/analysis/show/drawing"
)

// Arrangement is how a page is made up.
type Arrangement string

// The arrangements.
const (
	Wide    Arrangement = "wide"    // all frames in rows by stop, the ranges under them as one axis
	Ladder  Arrangement = "ladder"  // one column of large pictures, the most exposed on top
	Pair    Arrangement = "pair"    // as scanned above salvaged, with the cost between
	Details Arrangement = "details" // chosen details, pixel for pixel, through all frames
	Single  Arrangement = "single"  // two or three frames large
	Record  Arrangement = "record"  // everything, for the file
)

// Arrangements returns all arrangements in the order in which they are offered, the
// default first.
func Arrangements() []Arrangement {
	return []Arrangement{Wide, Ladder, Pair, Details, Single, Record}
}

// Words says what an arrangement is, in one clause.
func (a Arrangement) Words() string {
	return map[Arrangement]string{
		Wide:    "all frames in rows by stop, the ranges under them",
		Ladder:  "one column of large pictures, the readings beside them",
		Pair:    "as scanned above salvaged, with the cost between",
		Details: "details pixel for pixel through all frames",
		Single:  "two or three frames large",
		Record:  "everything that was measured, for the file",
	}[a]
}

// Ground is what a page is printed on.
type Ground string

// The grounds, all neutral.
const (
	Dark  Ground = "dark"
	Grey  Ground = "grey"
	White Ground = "white"
)

// Grounds returns the grounds, the default first.
func Grounds() []Ground { return []Ground{Dark, Grey, White} }

// Shape is the page's width over its height.
type Shape string

// The shapes. A ladder is as high as its pictures make it; pages that are not Wide take
// from the shape only which way they stand.
const (
	Shape16x9 Shape = "16:9"
	Shape3x2  Shape = "3:2"
	Shape2x3  Shape = "2:3"
	Shape9x16 Shape = "9:16"
)

// Shapes returns the shapes, the default first.
func Shapes() []Shape { return []Shape{Shape16x9, Shape3x2, Shape2x3, Shape9x16} }

// ratio returns width over height.
func (s Shape) ratio() float64 {
	switch s {
	case Shape3x2:
		return 1.5
	case Shape2x3:
		return 2.0 / 3
	case Shape9x16:
		return 9.0 / 16
	}
	return 16.0 / 9
}

// Upright reports whether the page is higher than wide.
func (s Shape) Upright() bool { return s.ratio() < 1 }

// Options say how a page is made up. The zero value is the default.
type Options struct {
	Arrangement Arrangement // "" is Wide
	Ground      Ground      // "" is Dark
	Shape       Shape       // "" is 16:9
	Masks       bool        // lay Blown, Blocked and Noisy over the pictures
	Frames      []int       // of Single, indices of Input.Frames; nil: chosen by the readings
	Width       int         // pixels that the page will have across; 0 is 2400. Details are as large as they show at 1:1
}

// Widths of a page, pixels.
const (
	MinWidth     = 1600
	MaxWidth     = 12000
	DefaultWidth = 2400
)

// LeastType is the smallest type of a page, points.
const LeastType = 7.0

func (o Options) filled() (Options, error) {
	if o.Arrangement == "" {
		o.Arrangement = Wide
	}
	if o.Ground == "" {
		o.Ground = Dark
	}
	if o.Shape == "" {
		o.Shape = Shape16x9
	}
	if o.Width == 0 {
		o.Width = DefaultWidth
	}
	switch {
	case !contains(Arrangements(), o.Arrangement):
		return o, fmt.Errorf("%s is no arrangement; choose one of: %s", o.Arrangement, list(Arrangements()))
	case !contains(Grounds(), o.Ground):
		return o, fmt.Errorf("%s is no ground; choose one of: %s", o.Ground, list(Grounds()))
	case !contains(Shapes(), o.Shape):
		return o, fmt.Errorf("%s is no shape of a page; choose one of: %s", o.Shape, list(Shapes()))
	case o.Width < MinWidth || o.Width > MaxWidth:
		return o, fmt.Errorf("a sheet is %d to %d pixels wide, and %d were asked for", MinWidth, MaxWidth, o.Width)
	}
	return o, nil
}

func contains[T comparable](all []T, v T) bool {
	for _, a := range all {
		if a == v {
			return true
		}
	}
	return false
}

func list[T ~string](all []T) string {
	var s []string
	for _, a := range all {
		s = append(s, string(a))
	}
	return strings.Join(s, ", ")
}

// Box is a rectangle in points, y down.
type Box struct{ X, Y, W, H float64 }

// Right and Bottom are its far edges.
func (b Box) Right() float64 { return b.X + b.W }

// Bottom is the lower edge.
func (b Box) Bottom() float64 { return b.Y + b.H }

// Page is a page that was laid out. Its list is in points.
type Page struct {
	drawing.List
	Pictures []Picture
	Options  Options
	Ground   [3]uint8 // sRGB

	pal *palette
	// away: no notes stand at the pictures, all in the foot
	away bool
	// share is the widest share that a frame of the page has, in words: all frames have
	// their bars in one way. "" where there is no room for that.
	share string
}

// Picture is the place of a picture.
type Picture struct {
	Box
	Frame    int  // index of Input.Frames
	Salvaged bool // brought to the base frame; else as the input shows it
	Masks    bool
	Detail   *Detail      // a detail at 1:1 instead of the whole frame
	Outlines [][4]float64 // boxes drawn over it: x0, y0, x1, y1 in shares of the picture
}

// Pixels returns the size of the page in pixels at Options.Width.
func (p *Page) Pixels() image.Point {
	return image.Pt(p.Options.Width, max(1, int(math.Round(p.H*p.Scale()))))
}

// Scale returns pixels per point.
func (p *Page) Scale() float64 { return float64(p.Options.Width) / p.W }

// PPI returns the pixels per inch at which the page has its stated size.
func (p *Page) PPI() float64 { return 72 * p.Scale() }

// Rect returns a box in whole pixels.
func (p *Page) Rect(b Box) image.Rectangle {
	px := func(v float64) int { return int(math.Round(v * p.Scale())) }
	return image.Rect(px(b.X), px(b.Y), px(b.Right()), px(b.Bottom()))
}
