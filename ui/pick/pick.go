// Package pick is a choice of one thing of several, in a field that opens a list. With the
// keyboard on it Up and Down go to the neighbours, a letter to what begins with it, and
// Space opens the list; every other key goes on to the window or the card.
package pick

import (
	"image/color"
	"slices"
	"strings"
	"unicode"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	ftheme "fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/ui/chip"
	"stopladder/ui/theme"
)

// One is the field.
type One struct {
	widget.BaseWidget
	Options   []string
	Selected  string
	OnChanged func(string) // nil: nobody is told

	off, hovering, focused bool
	list                   *list // that is open; nil: none
}

var (
	_ fyne.Tappable      = (*One)(nil)
	_ fyne.Focusable     = (*One)(nil)
	_ fyne.Disableable   = (*One)(nil)
	_ desktop.Hoverable  = (*One)(nil)
	_ desktop.Cursorable = (*One)(nil)
)

// New returns a field without a choice.
func New(options []string, changed func(string)) *One {
	o := &One{Options: options, OnChanged: changed}
	o.ExtendBaseWidget(o)
	return o
}

// SelectedIndex is the place of what is chosen, -1 for nothing of what is offered.
func (o *One) SelectedIndex() int { return slices.Index(o.Options, o.Selected) }

// SetSelectedIndex chooses by place; a place that is not there is nothing.
func (o *One) SetSelectedIndex(i int) {
	if i >= 0 && i < len(o.Options) {
		o.SetSelected(o.Options[i])
	}
}

// SetSelected chooses, and tells OnChanged where that is another choice.
func (o *One) SetSelected(s string) {
	if o.Selected == s {
		return
	}
	o.Selected = s
	o.Refresh()
	if o.OnChanged != nil {
		o.OnChanged(s)
	}
}

// SetOptions offers other things; what is chosen stays.
func (o *One) SetOptions(options []string) {
	o.Options = options
	o.Refresh()
}

// Enable implements fyne.Disableable.
func (o *One) Enable() { o.setOff(false) }

// Disable implements fyne.Disableable.
func (o *One) Disable() { o.setOff(true) }

// Disabled implements fyne.Disableable.
func (o *One) Disabled() bool { return o.off }

func (o *One) setOff(off bool) {
	if o.off != off {
		o.off = off
		o.Refresh()
	}
}

func (o *One) canvas() fyne.Canvas { return fyne.CurrentApp().Driver().CanvasForObject(o) }

// Tapped implements fyne.Tappable.
func (o *One) Tapped(*fyne.PointEvent) { o.open() }

// open shows the list.
func (o *One) open() {
	if k := o.canvas(); k != nil && !o.off && len(o.Options) > 0 && o.list == nil {
		o.list = newList(o, k)
		o.list.show()
	}
}

// Opened reports whether the list is open.
func (o *One) Opened() bool { return o.list != nil }

// closed is told by the list that it is gone. The keyboard stays with the field, so that
// Tab goes on from it.
func (o *One) closed() {
	o.list = nil
	if k := o.canvas(); k != nil && !o.off {
		k.Focus(o)
	}
}

// FocusGained implements fyne.Focusable.
func (o *One) FocusGained() { o.focused = true; o.Refresh() }

// FocusLost implements fyne.Focusable.
func (o *One) FocusLost() { o.focused = false; o.Refresh() }

// Focused reports whether the field has the keyboard.
func (o *One) Focused() bool { return o.focused }

// TypedRune implements fyne.Focusable.
func (o *One) TypedRune(r rune) {
	if i := begins(o.Options, o.SelectedIndex(), r); i >= 0 {
		o.SetSelectedIndex(i)
	}
}

// TypedKey implements fyne.Focusable.
func (o *One) TypedKey(e *fyne.KeyEvent) {
	i := o.SelectedIndex()
	switch e.Name {
	case fyne.KeySpace:
		o.open()
	case fyne.KeyUp:
		o.SetSelectedIndex(i - 1)
	case fyne.KeyDown:
		o.SetSelectedIndex(i + 1)
	case fyne.KeyReturn, fyne.KeyEnter:
		if k := o.canvas(); k != nil && k.Overlays().Top() == nil {
			o.open() // on a card Return is the card's
			return
		}
		chip.Pass(o.canvas(), e)
	default:
		chip.Pass(o.canvas(), e)
	}
}

// begins returns the next option after from that begins with a letter, -1 for none.
func begins(options []string, from int, r rune) int {
	for d := 1; d <= len(options); d++ {
		i := (max(from, -1) + d) % len(options)
		if first := []rune(strings.TrimSpace(options[i])); len(first) > 0 && unicode.ToLower(first[0]) == unicode.ToLower(r) {
			return i
		}
	}
	return -1
}

// MouseIn implements desktop.Hoverable.
func (o *One) MouseIn(*desktop.MouseEvent) { o.hovering = true; o.Refresh() }

// MouseMoved implements desktop.Hoverable.
func (o *One) MouseMoved(*desktop.MouseEvent) {}

// MouseOut implements desktop.Hoverable.
func (o *One) MouseOut() { o.hovering = false; o.Refresh() }

// Cursor implements desktop.Cursorable.
func (o *One) Cursor() desktop.Cursor {
	if o.off {
		return desktop.DefaultCursor
	}
	return desktop.PointerCursor
}

const (
	padX    = 8
	arrow   = 8 // width of the mark that says that a list opens
	widest  = 280
	minimum = 64
)

// Height is that of an entry of the toolkit, beside which fields stand.
func Height() float32 {
	return fyne.MeasureText("M", theme.Body, fyne.TextStyle{}).Height + 2*fyne.CurrentApp().Settings().Theme().Size(ftheme.SizeNameInnerPadding)
}

// width returns what a text wants.
func width(s string) float32 {
	return fyne.MeasureText(legible.Line(s), theme.Body, fyne.TextStyle{}).Width
}

// CreateRenderer implements fyne.Widget.
func (o *One) CreateRenderer() fyne.WidgetRenderer {
	r := &renderer{o: o, back: canvas.NewRectangle(theme.Well), text: canvas.NewText("", theme.Text),
		left: canvas.NewLine(theme.Quiet), right: canvas.NewLine(theme.Quiet)}
	r.back.CornerRadius = 3
	r.text.TextSize = theme.Body
	r.left.StrokeWidth, r.right.StrokeWidth = 1.5, 1.5
	r.Refresh()
	return r
}

type renderer struct {
	o           *One
	back        *canvas.Rectangle
	text        *canvas.Text
	left, right *canvas.Line // of the mark
}

func (r *renderer) Destroy() {}
func (r *renderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.back, r.text, r.left, r.right}
}

func (r *renderer) MinSize() fyne.Size {
	w := float32(minimum)
	for _, s := range r.o.Options {
		w = max(w, width(s)+3*padX+arrow)
	}
	return fyne.NewSize(min(w, widest), Height())
}

func (r *renderer) Layout(size fyne.Size) {
	r.back.Resize(size)
	r.text.Text = fitted(legible.Line(r.o.Selected), size.Width-3*padX-arrow)
	h := r.text.MinSize().Height
	r.text.Move(fyne.NewPos(padX, (size.Height-h)/2))
	r.text.Resize(fyne.NewSize(max(0, size.Width-3*padX-arrow), h))
	x, y := size.Width-padX-arrow, size.Height/2-arrow/4
	r.left.Position1, r.left.Position2 = fyne.NewPos(x, y), fyne.NewPos(x+arrow/2, y+arrow/2)
	r.right.Position1, r.right.Position2 = fyne.NewPos(x+arrow/2, y+arrow/2), fyne.NewPos(x+arrow, y)
}

func (r *renderer) Refresh() {
	o := r.o
	r.back.FillColor, r.back.StrokeColor, r.back.StrokeWidth = theme.Well, theme.Line, 1
	r.text.Color = theme.Text
	var mark color.Color = theme.Quiet
	switch {
	case o.off:
		r.back.FillColor, r.text.Color, mark = theme.Surface, theme.Quiet, theme.Line
	case o.focused:
		r.back.StrokeColor, r.back.StrokeWidth = theme.Accent, 2
	case o.hovering:
		r.back.StrokeColor, mark = theme.Quiet, theme.Text
	}
	r.left.StrokeColor, r.right.StrokeColor = mark, mark
	r.Layout(o.Size())
	for _, x := range r.Objects() {
		x.Refresh()
	}
}

// fitted returns as much of a line as there is room for, with an ellipsis where it is cut.
func fitted(s string, room float32) string {
	if width(s) <= room {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && width(string(runes)+"…") > room {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}
