// Package tick is a box with a word beside it that is on or off. A click, and Space while it
// has the keyboard, turn it; every other key goes on to the window or the card.
package tick

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/ui/chip"
	"stopladder/ui/theme"
)

// Tick is the box.
type Tick struct {
	widget.BaseWidget
	Text      string
	Checked   bool
	OnChanged func(bool) // nil: nobody is told

	off, hovering, focused bool
}

var (
	_ fyne.Tappable      = (*Tick)(nil)
	_ fyne.Focusable     = (*Tick)(nil)
	_ fyne.Disableable   = (*Tick)(nil)
	_ desktop.Hoverable  = (*Tick)(nil)
	_ desktop.Cursorable = (*Tick)(nil)
)

// New returns a box that is off.
func New(text string, changed func(bool)) *Tick {
	t := &Tick{Text: text, OnChanged: changed}
	t.ExtendBaseWidget(t)
	return t
}

// SetChecked turns it on or off, and tells OnChanged where it was not so.
func (t *Tick) SetChecked(on bool) {
	if t.Checked == on {
		return
	}
	t.Checked = on
	t.Refresh()
	if t.OnChanged != nil {
		t.OnChanged(on)
	}
}

// Enable implements fyne.Disableable.
func (t *Tick) Enable() { t.setOff(false) }

// Disable implements fyne.Disableable.
func (t *Tick) Disable() { t.setOff(true) }

// Disabled implements fyne.Disableable.
func (t *Tick) Disabled() bool { return t.off }

func (t *Tick) setOff(off bool) {
	if t.off != off {
		t.off = off
		t.Refresh()
	}
}

func (t *Tick) canvas() fyne.Canvas { return fyne.CurrentApp().Driver().CanvasForObject(t) }

// Tapped implements fyne.Tappable. A click ends what is being written elsewhere.
func (t *Tick) Tapped(*fyne.PointEvent) {
	if k := t.canvas(); k != nil && k.Focused() != nil && k.Focused() != fyne.Focusable(t) {
		k.Unfocus()
	}
	if !t.off {
		t.SetChecked(!t.Checked)
	}
}

// FocusGained implements fyne.Focusable.
func (t *Tick) FocusGained() { t.focused = true; t.Refresh() }

// FocusLost implements fyne.Focusable.
func (t *Tick) FocusLost() { t.focused = false; t.Refresh() }

// Focused reports whether the box has the keyboard.
func (t *Tick) Focused() bool { return t.focused }

// TypedRune implements fyne.Focusable.
func (t *Tick) TypedRune(rune) {}

// TypedKey implements fyne.Focusable.
func (t *Tick) TypedKey(e *fyne.KeyEvent) {
	if e.Name != fyne.KeySpace {
		chip.Pass(t.canvas(), e)
	} else if !t.off {
		t.SetChecked(!t.Checked)
	}
}

// MouseIn implements desktop.Hoverable.
func (t *Tick) MouseIn(*desktop.MouseEvent) { t.hovering = true; t.Refresh() }

// MouseMoved implements desktop.Hoverable.
func (t *Tick) MouseMoved(*desktop.MouseEvent) {}

// MouseOut implements desktop.Hoverable.
func (t *Tick) MouseOut() { t.hovering = false; t.Refresh() }

// Cursor implements desktop.Cursorable.
func (t *Tick) Cursor() desktop.Cursor {
	if t.off {
		return desktop.DefaultCursor
	}
	return desktop.PointerCursor
}

const (
	height = 26
	side   = 16
	gap    = 8
	margin = 2
)

// CreateRenderer implements fyne.Widget.
func (t *Tick) CreateRenderer() fyne.WidgetRenderer {
	r := &renderer{t: t, box: canvas.NewRectangle(theme.Well), down: canvas.NewLine(theme.Text), up: canvas.NewLine(theme.Text), text: canvas.NewText("", theme.Text)}
	r.box.CornerRadius = 3
	r.text.TextSize = theme.Body
	r.down.StrokeWidth, r.up.StrokeWidth = 2, 2
	r.Refresh()
	return r
}

type renderer struct {
	t        *Tick
	box      *canvas.Rectangle
	down, up *canvas.Line // of the tick
	text     *canvas.Text
}

func (r *renderer) Destroy() {}
func (r *renderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.box, r.down, r.up, r.text}
}

func (r *renderer) MinSize() fyne.Size {
	w := float32(side + 2*margin)
	if r.t.Text != "" {
		w += gap + fyne.MeasureText(legible.Line(r.t.Text), theme.Body, fyne.TextStyle{}).Width
	}
	return fyne.NewSize(w, height)
}

func (r *renderer) Layout(size fyne.Size) {
	top := (size.Height - side) / 2
	r.box.Move(fyne.NewPos(margin, top))
	r.box.Resize(fyne.NewSize(side, side))
	at := func(x, y float32) fyne.Position { return fyne.NewPos(margin+x, top+y) }
	r.down.Position1, r.down.Position2 = at(4, 8), at(7, 11)
	r.up.Position1, r.up.Position2 = at(7, 11), at(12, 5)
	h := r.text.MinSize().Height
	r.text.Move(fyne.NewPos(margin+side+gap, (size.Height-h)/2))
	r.text.Resize(fyne.NewSize(max(0, size.Width-side-gap-margin), h))
}

func (r *renderer) Refresh() {
	t := r.t
	r.text.Text, r.text.Color = legible.Line(t.Text), theme.Text
	r.box.FillColor, r.box.StrokeColor, r.box.StrokeWidth = theme.Well, theme.Line, 1
	var mark color.Color = color.Transparent
	if t.Checked {
		mark = theme.Text
	}
	switch {
	case t.off:
		r.box.FillColor, r.text.Color = theme.Surface, theme.Quiet
		if t.Checked {
			mark = theme.Quiet
		}
	case t.focused:
		r.box.StrokeColor, r.box.StrokeWidth = theme.Accent, 2
	case t.hovering:
		r.box.StrokeColor = theme.Quiet
	}
	r.down.StrokeColor, r.up.StrokeColor = mark, mark
	r.Layout(t.Size())
	for _, o := range r.Objects() {
		o.Refresh()
	}
}
