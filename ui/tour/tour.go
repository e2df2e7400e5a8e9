// Package tour leads through the window in place: a card beside the thing that it speaks
// of, which is outlined, and the rest dimmed.
package tour

import (
	"fmt"
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/theme"
)

// Rect is a place in the window, toolkit units from its upper left corner.
type Rect struct {
	At   fyne.Position
	Size fyne.Size
}

// Of returns where objects stand together, as they are laid out now. Hidden ones and nil do
// not count.
func Of(objects ...fyne.CanvasObject) (r Rect) {
	for _, o := range objects {
		if o == nil || !o.Visible() || o.Size().Width <= 0 {
			continue
		}
		one := Rect{fyne.CurrentApp().Driver().AbsolutePositionForObject(o), o.Size()}
		if r.Size.IsZero() {
			r = one
			continue
		}
		x0, y0 := min(r.At.X, one.At.X), min(r.At.Y, one.At.Y)
		x1, y1 := max(r.At.X+r.Size.Width, one.At.X+one.Size.Width), max(r.At.Y+r.Size.Height, one.At.Y+one.Size.Height)
		r = Rect{fyne.NewPos(x0, y0), fyne.NewSize(x1-x0, y1-y0)}
	}
	return r
}

// Step is one thing that is shown.
type Step struct {
	Title, Text string
	Before      func()      // sets the window up for it; nil: nothing
	Of          func() Rect // the thing
}

// cardWidth is the width of the card, toolkit units.
const cardWidth = 340

// Tour is the way through the steps.
type Tour struct {
	widget.BaseWidget
	over  fyne.Canvas
	steps []Step
	at    int
	shown bool

	dim         [4]*canvas.Rectangle
	frame       *canvas.Rectangle
	card        *fyne.Container
	title, foot *canvas.Text
	text        *widget.Label
	next, back  *chip.Chip
}

var _ fyne.Tappable = (*Tour)(nil)

// New returns a tour of steps, of which there is at least one.
func New(over fyne.Canvas, steps []Step) *Tour {
	t := &Tour{over: over, steps: steps, title: canvas.NewText("", theme.Text), foot: canvas.NewText("", theme.Quiet), text: widget.NewLabel("")}
	t.title.TextSize, t.foot.TextSize = theme.Head, theme.Small
	t.text.Wrapping = fyne.TextWrapWord
	for i := range t.dim {
		t.dim[i] = canvas.NewRectangle(color.NRGBA{0, 0, 0, 0x78})
	}
	t.frame = canvas.NewRectangle(color.Transparent)
	t.frame.StrokeColor, t.frame.StrokeWidth, t.frame.CornerRadius = theme.Accent, 2, 3
	t.next = chip.New("Next", "Return", func() { t.Go(t.at + 1) })
	t.next.Main = true
	t.back = chip.New("Back", "Left", func() { t.Go(t.at - 1) })
	ground := canvas.NewRectangle(theme.Surface)
	ground.StrokeColor, ground.StrokeWidth, ground.CornerRadius = theme.Line, 1, 4
	t.card = container.NewStack(ground, page.Padded(10, 10, 12, 12, container.NewVBox(page.Padded(0, 0, 6, 0, t.title), t.text,
		container.NewHBox(page.Padded(5, 0, 6, 0, t.foot), layout.NewSpacer(), chip.New("Leave", "Esc", t.Hide), t.back, t.next))))
	t.ExtendBaseWidget(t)
	return t
}

// Show begins with the first step.
func (t *Tour) Show() {
	if !t.shown {
		t.shown = true
		t.over.Unfocus()
		t.BaseWidget.Show()
		t.over.Overlays().Add(t)
	}
	t.Go(0)
}

// Shown reports whether the tour is on.
func (t *Tour) Shown() bool { return t.shown }

// Hide ends the tour.
func (t *Tour) Hide() {
	if t.shown {
		t.shown = false
		t.over.Overlays().Remove(t)
	}
}

// At returns the step that is shown, the first is 0.
func (t *Tour) At() int { return t.at }

// Go shows a step; after the last one the tour is over.
func (t *Tour) Go(step int) {
	if step >= len(t.steps) {
		t.Hide()
		return
	}
	t.at = max(0, step)
	s := t.steps[t.at]
	if s.Before != nil {
		s.Before()
	}
	t.title.Text, t.foot.Text = s.Title, fmt.Sprintf("%d of %d", t.at+1, len(t.steps))
	t.text.SetText(s.Text)
	words := "Next"
	if t.at == len(t.steps)-1 {
		words = "Done"
	}
	t.next.Set(words, false, false)
	t.back.Set(t.back.Text, false, t.at == 0)
	t.title.Refresh()
	t.foot.Refresh()
	t.Resize(t.over.Size())
	t.lay(t.over.Size())
	canvas.Refresh(t)
}

// TypedKey is what a key does while the tour is on.
func (t *Tour) TypedKey(k *fyne.KeyEvent) {
	switch k.Name {
	case fyne.KeyReturn, fyne.KeyEnter, fyne.KeyRight, fyne.KeySpace, fyne.KeyPageDown:
		t.Go(t.at + 1)
	case fyne.KeyLeft, fyne.KeyBackspace, fyne.KeyPageUp:
		t.Go(t.at - 1)
	case fyne.KeyEscape:
		t.Hide()
	}
}

// Tapped implements fyne.Tappable: a click anywhere goes on.
func (t *Tour) Tapped(*fyne.PointEvent) { t.Go(t.at + 1) }

// lay puts the frame round the thing, dims what lies about it, and puts the card where
// there is room: right of it, left, below, above, else into its lower right corner.
func (t *Tour) lay(size fyne.Size) {
	r := t.steps[t.at].Of()
	const out = 4
	x0, y0 := max(0, r.At.X-out), max(0, r.At.Y-out)
	x1, y1 := min(size.Width, r.At.X+r.Size.Width+out), min(size.Height, r.At.Y+r.Size.Height+out)
	put := func(o fyne.CanvasObject, ax, ay, bx, by float32) {
		o.Move(fyne.NewPos(ax, ay))
		o.Resize(fyne.NewSize(max(0, bx-ax), max(0, by-ay)))
	}
	put(t.frame, x0, y0, x1, y1)
	put(t.dim[0], 0, 0, size.Width, y0)
	put(t.dim[1], 0, y1, size.Width, size.Height)
	put(t.dim[2], 0, y0, x0, y1)
	put(t.dim[3], x1, y0, size.Width, y1)

	t.card.Resize(fyne.NewSize(cardWidth, t.card.Size().Height)) // what wraps knows its height only then
	w, h := float32(cardWidth), t.card.MinSize().Height
	const gap = 12
	inX := func(x float32) float32 { return max(gap, min(size.Width-w-gap, x)) }
	inY := func(y float32) float32 { return max(gap, min(size.Height-h-gap, y)) }
	var at fyne.Position
	switch {
	case x1+gap+w+gap <= size.Width:
		at = fyne.NewPos(x1+gap, inY((y0+y1-h)/2))
	case x0-gap-w >= gap:
		at = fyne.NewPos(x0-gap-w, inY((y0+y1-h)/2))
	case y1+gap+h+gap <= size.Height:
		at = fyne.NewPos(inX((x0+x1-w)/2), y1+gap)
	case y0-gap-h >= gap:
		at = fyne.NewPos(inX((x0+x1-w)/2), y0-gap-h)
	default:
		at = fyne.NewPos(inX(x1-w-gap), inY(y1-h-gap))
	}
	t.card.Move(at)
	t.card.Resize(fyne.NewSize(w, h))
}

// CreateRenderer implements fyne.Widget.
func (t *Tour) CreateRenderer() fyne.WidgetRenderer { return &renderer{t} }

type renderer struct{ t *Tour }

func (r *renderer) Destroy()              {}
func (r *renderer) MinSize() fyne.Size    { return fyne.NewSize(1, 1) }
func (r *renderer) Layout(size fyne.Size) { r.t.lay(size) }
func (r *renderer) Refresh()              { r.t.lay(r.t.Size()) }
func (r *renderer) Objects() []fyne.CanvasObject {
	t := r.t
	return []fyne.CanvasObject{t.dim[0], t.dim[1], t.dim[2], t.dim[3], t.frame, t.card}
}
