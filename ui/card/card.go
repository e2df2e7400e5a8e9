// Package card shows a short explanation beside what the pointer rests on. The card takes
// no events: the pointer finds what lies under it.
package card

import (
	"image/color"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/explain"
	"stopladder/ui/theme"
)

// Rest is how long the pointer rests before a card comes.
const Rest = 450 * time.Millisecond

// Sizes, toolkit units.
const (
	width     = 336
	pad       = 12
	titleSize = theme.Head
	textSize  = theme.Body
	lead      = 18
	off       = 10 // from what it explains
)

// Layer is the place, over everything else, in which a card appears.
type Layer struct {
	Object *fyne.Container
	Rest   time.Duration
	do     func(func())
	timer  *time.Timer
	asked  int // counts what was asked for, so that a timer that is late shows nothing
	shown  explain.Card
}

// New returns an empty layer; do runs a function on the toolkit's goroutine.
func New(do func(func())) *Layer {
	return &Layer{Object: container.NewWithoutLayout(), Rest: Rest, do: do}
}

// Ask shows a card beside a place, given as the rectangle of what is explained in the
// layer's own units, once the pointer has rested. An empty card takes away what is shown.
func (l *Layer) Ask(c explain.Card, at fyne.Position, size fyne.Size) {
	l.asked++
	if l.timer != nil {
		l.timer.Stop()
	}
	if c.Empty() {
		l.Hide()
		return
	}
	if !l.shown.Empty() && l.shown.Title != c.Title { // another thing: the old card would lie
		l.Hide()
	}
	mine := l.asked
	l.timer = time.AfterFunc(l.Rest, func() {
		l.do(func() {
			if mine == l.asked {
				l.Show(c, at, size)
			}
		})
	})
}

// Shown returns the card that is shown.
func (l *Layer) Shown() explain.Card { return l.shown }

// Hide takes the card away.
func (l *Layer) Hide() {
	l.asked++
	if l.shown.Empty() {
		return
	}
	l.shown = explain.Card{}
	l.Object.Objects = nil
	l.Object.Refresh()
}

// Show shows a card at once.
func (l *Layer) Show(c explain.Card, at fyne.Position, size fyne.Size) {
	l.shown = c
	back := canvas.NewRectangle(color.NRGBA{0x1E, 0x1E, 0x1E, 0xF4})
	back.StrokeColor, back.StrokeWidth, back.CornerRadius = theme.Line, 1, 4
	objects := []fyne.CanvasObject{back}
	y := float32(pad)
	text := func(s string, size float32, bold bool, col color.Color, step float32) {
		t := canvas.NewText(s, col)
		t.TextSize, t.TextStyle.Bold = size, bold
		t.Move(fyne.NewPos(pad, y))
		t.Resize(t.MinSize())
		objects = append(objects, t)
		y += step
	}
	for _, line := range wrap(c.Title, titleSize, true) {
		text(line, titleSize, true, theme.Text, 22)
	}
	y += 2
	for i, p := range c.Text {
		if i > 0 {
			y += 5
		}
		for _, line := range wrap(p, textSize, false) {
			text(line, textSize, false, theme.Text, lead)
		}
	}
	y += pad - 4
	full := fyne.NewSize(width, y)
	back.Resize(full)
	place := beside(at, size, full, l.Object.Size())
	for _, o := range objects {
		o.Move(o.Position().Add(place))
	}
	l.Object.Objects = objects
	l.Object.Refresh()
}

// beside places a card of some size right of what it explains, else left of it, else
// under or over it, inside the layer.
func beside(at fyne.Position, size, card, all fyne.Size) fyne.Position {
	y := max(4, min(at.Y, all.Height-card.Height-4))
	if x := at.X + size.Width + off; x+card.Width+4 <= all.Width {
		return fyne.NewPos(x, y)
	}
	if x := at.X - off - card.Width; x >= 4 {
		return fyne.NewPos(x, y)
	}
	x := max(4, min(at.X, all.Width-card.Width-4))
	if y := at.Y + size.Height + off; y+card.Height+4 <= all.Height {
		return fyne.NewPos(x, y)
	}
	return fyne.NewPos(x, max(4, at.Y-off-card.Height))
}

// wrap breaks a text into lines of the card's width.
func wrap(s string, size float32, bold bool) (lines []string) {
	line := ""
	for _, word := range strings.Fields(legible.Line(s)) {
		next := word
		if line != "" {
			next = line + " " + word
		}
		if line != "" && fyne.MeasureText(next, size, fyne.TextStyle{Bold: bold}).Width > width-2*pad {
			lines = append(lines, line)
			next = word
		}
		line = next
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
