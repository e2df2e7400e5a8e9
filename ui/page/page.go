// Package page is what the pages beside the pictures have in common. Each of them is a
// package of its own: it takes the state, which it shows, and a function that makes
// changes of it, and knows nothing of the window around it but what Host has.
package page

import (
	"image"
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"

	"stopladder/analysis/show/explain"
	"stopladder/ui/chip"
	"stopladder/ui/paper"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// Width of the pages, toolkit units.
const Width = 340

// Size of an exported plot: PNG pixels at a scale of 2, SVG units.
const PlotWidth, PlotHeight = 1000, 700

// Page is one page.
type Page interface {
	Content() fyne.CanvasObject
	// Changed brings the page up to date; it is called while the page is open only.
	Changed(session.Parts)
}

// Host is what a page may ask of the window.
type Host struct {
	Hint   func(string)                                           // shows words in the status line, "" for none
	Over   func(c *chip.Chip, in bool)                            // shows a card of a chip, or takes it away; nil: the hint stands in the status line
	Card   func(c explain.Card, at fyne.Position, size fyne.Size) // explains a place on the window, an empty card nothing; nil: nobody does
	Do     func(func())                                           // runs a function on the toolkit's goroutine, after what it draws now
	Copy   func(text string)                                      // puts figures on the clipboard
	Refuse func(string, error)                                    // says what could not be done, and why
	Export func(Export)
}

// Export is a file that a page offers to write.
type Export struct {
	What  string   // is written, e.g. "curve"
	Exts  []string // its ending chooses the kind
	Name  string   // proposed, with an ending, after the roll's own
	Write func(path string) error
}

// Chip returns a button whose hint the window shows.
func (h Host) Chip(text, hint string, tap func()) *chip.Chip {
	c := chip.New(text, "", tap)
	c.Hint = hint
	if c.OnOver = h.Over; h.Over == nil {
		c.OnHint = h.Hint
	}
	return c
}

// Explain shows a card of a plot while the pointer is on it.
func (h Host) Explain(p *paper.Paper, of func() explain.Card) {
	was := p.OnHover
	p.OnHover = func(x, y float64, ok bool) {
		if was != nil {
			was(x, y, ok)
		}
		w, hgt, _ := paper.Device(p)
		h.show(p, of, image.Rect(0, 0, w, hgt), ok) // beside it: the pointer reads in the plot
	}
}

// show explains a part of a paper, given in device pixels.
func (h Host) show(p *paper.Paper, of func() explain.Card, r image.Rectangle, ok bool) {
	if h.Card == nil {
		return
	}
	if !ok {
		h.Card(explain.Card{}, fyne.Position{}, fyne.Size{})
		return
	}
	k := float32(1 / p.Scale())
	at := fyne.CurrentApp().Driver().AbsolutePositionForObject(p.Self()).Add(fyne.NewPos(float32(r.Min.X)*k, float32(r.Min.Y)*k))
	h.Card(of(), at, fyne.NewSize(float32(r.Dx())*k, float32(r.Dy())*k))
}

// Padded returns an object with room around it.
func Padded(top, bottom, left, right float32, o fyne.CanvasObject) fyne.CanvasObject {
	return container.New(layout.NewCustomPaddedLayout(top, bottom, left, right), o)
}

// Row returns chips side by side at the right of what room there is.
func Row(chips ...fyne.CanvasObject) *fyne.Container { return container.New(&chip.Row{}, chips...) }

// Line returns chips side by side from the left edge.
func Line(chips ...fyne.CanvasObject) *fyne.Container {
	return container.New(&chip.Row{Left: true}, chips...)
}

// namedWidth is the width of the word before a line of chips, toolkit units: the longest,
// so that the lines of a page begin at one edge.
const namedWidth = 50

// Named returns a line of chips behind the word for what they choose.
func Named(word string, chips []fyne.CanvasObject) fyne.CanvasObject {
	t := canvas.NewText(word, theme.Quiet)
	t.TextSize = theme.Small
	room := canvas.NewRectangle(color.Transparent)
	room.SetMinSize(fyne.NewSize(namedWidth, 1))
	return container.NewBorder(nil, nil, container.NewStack(room, container.NewHBox(container.NewCenter(t))), nil, Line(chips...))
}

// inner is the room that the toolkit leaves around the text of a label, toolkit units.
const inner = 6

// Flush lays a label's text at the edge of what is around it, where other things begin: the
// toolkit leaves room around it.
func Flush(label fyne.CanvasObject) fyne.CanvasObject { return Padded(-2, -2, -inner, -inner, label) }
