// Package veil lays a card over the window and dims the rest: what lies on it has the
// keyboard and the mouse alone, and a click beside the card closes it.
package veil

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/theme"
)

// Veil is a card over the window.
type Veil struct {
	widget.BaseWidget
	OnHide func()               // told after it was closed, whoever closed it
	OnKey  func(*fyne.KeyEvent) // gets the keys that nothing on the card takes; nil: Escape closes

	over   fyne.Canvas
	card   fyne.CanvasObject
	place  func(window fyne.Size) (at fyne.Position, size fyne.Size)
	behind fyne.Focusable // had the keyboard before
	shown  bool
}

var _ fyne.Tappable = (*Veil)(nil)

// New returns a card with content that stands where place says, toolkit units.
func New(over fyne.Canvas, content fyne.CanvasObject, place func(window fyne.Size) (at fyne.Position, size fyne.Size)) *Veil {
	back := canvas.NewRectangle(theme.Surface)
	back.StrokeColor, back.StrokeWidth, back.CornerRadius = theme.Line, 1, 4
	v := &Veil{over: over, place: place, card: container.NewStack(newPad(), back, content)}
	v.ExtendBaseWidget(v)
	return v
}

// Middle returns a place in the middle of the window, of at most that size.
func Middle(width, height float32) func(fyne.Size) (fyne.Position, fyne.Size) {
	return func(w fyne.Size) (fyne.Position, fyne.Size) {
		s := fyne.NewSize(min(width, w.Width-40), min(height, w.Height-40))
		return fyne.NewPos((w.Width-s.Width)/2, (w.Height-s.Height)/2), s
	}
}

// Show lays the card over the window and gives focus, which may be nil, the keyboard.
func (v *Veil) Show() {
	if v.shown {
		return
	}
	v.shown = true
	v.behind = v.over.Focused()
	v.BaseWidget.Show()
	v.over.Overlays().Add(v)
	v.Resize(v.over.Size())
}

// Focus gives something on the card the keyboard, after the stroke that opened the card is
// over: the toolkit sends the stroke's letter after the stroke, and it would be written into
// an entry that has the keyboard by then.
func (v *Veil) Focus(f fyne.Focusable) {
	fyne.Do(func() {
		if v.shown {
			v.over.Focus(f)
		}
	})
}

// Shown reports whether the card lies over the window.
func (v *Veil) Shown() bool { return v.shown }

// Hide takes the card away.
func (v *Veil) Hide() {
	if !v.shown {
		return
	}
	v.shown = false
	v.over.Overlays().Remove(v)
	if v.behind != nil {
		v.over.Focus(v.behind)
	}
	if v.OnHide != nil {
		v.OnHide()
	}
}

// TypedKey is what a key does that nothing on the card took.
func (v *Veil) TypedKey(k *fyne.KeyEvent) {
	switch {
	case v.OnKey != nil:
		v.OnKey(k)
	case k.Name == fyne.KeyEscape:
		v.Hide()
	}
}

// Tapped implements fyne.Tappable: a click beside the card closes it.
func (v *Veil) Tapped(*fyne.PointEvent) { v.Hide() }

// Placed lays the card anew where place says, which may have changed.
func (v *Veil) Placed() { v.lay(v.Size()) }

func (v *Veil) lay(size fyne.Size) {
	at, s := v.place(size)
	v.card.Move(at)
	v.card.Resize(s)
}

// CreateRenderer implements fyne.Widget.
func (v *Veil) CreateRenderer() fyne.WidgetRenderer {
	return &renderer{v: v, dim: canvas.NewRectangle(color.NRGBA{0, 0, 0, 0x70})}
}

type renderer struct {
	v   *Veil
	dim *canvas.Rectangle
}

func (r *renderer) Destroy()                     {}
func (r *renderer) MinSize() fyne.Size           { return fyne.NewSize(1, 1) }
func (r *renderer) Objects() []fyne.CanvasObject { return []fyne.CanvasObject{r.dim, r.v.card} }
func (r *renderer) Refresh()                     { canvas.Refresh(r.v) }
func (r *renderer) Layout(size fyne.Size) {
	r.dim.Resize(size)
	r.v.lay(size)
}

// pad keeps clicks on the card from the veil.
type pad struct{ widget.BaseWidget }

func newPad() *pad {
	p := &pad{}
	p.ExtendBaseWidget(p)
	return p
}

func (p *pad) Tapped(*fyne.PointEvent) {}
func (p *pad) CreateRenderer() fyne.WidgetRenderer {
	return widget.NewSimpleRenderer(canvas.NewRectangle(color.Transparent))
}
