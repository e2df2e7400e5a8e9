// Package meter is a bar that says how far something is.
package meter

import (
	"fmt"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/theme"
)

// Meter is the bar, with its share in figures at the right.
type Meter struct {
	widget.BaseWidget
	share float64
}

// New returns a bar at its beginning.
func New() *Meter {
	m := &Meter{}
	m.ExtendBaseWidget(m)
	return m
}

// SetValue says how far it is: 0 at the beginning, 1 done.
func (m *Meter) SetValue(share float64) {
	if !(share > 0) { // what is no number as well
		share = 0
	}
	if share = min(1, share); share != m.share {
		m.share = share
		m.Refresh()
	}
}

// Value is how far it is.
func (m *Meter) Value() float64 { return m.share }

const (
	height = 26
	thick  = 6
	words  = 44
)

// CreateRenderer implements fyne.Widget.
func (m *Meter) CreateRenderer() fyne.WidgetRenderer {
	r := &renderer{m: m, track: canvas.NewRectangle(theme.Well), bar: canvas.NewRectangle(theme.Text), text: canvas.NewText("", theme.Quiet)}
	r.track.CornerRadius, r.bar.CornerRadius = thick/2, thick/2
	r.text.TextSize, r.text.Alignment = theme.Small, fyne.TextAlignTrailing
	r.Refresh()
	return r
}

type renderer struct {
	m          *Meter
	track, bar *canvas.Rectangle
	text       *canvas.Text
}

func (r *renderer) Destroy() {}
func (r *renderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.track, r.bar, r.text}
}
func (r *renderer) MinSize() fyne.Size { return fyne.NewSize(160, height) }

func (r *renderer) Layout(size fyne.Size) {
	top, w := (size.Height-thick)/2, max(0, size.Width-words)
	r.track.Move(fyne.NewPos(0, top))
	r.track.Resize(fyne.NewSize(w, thick))
	r.bar.Move(fyne.NewPos(0, top))
	r.bar.Resize(fyne.NewSize(w*float32(r.m.share), thick))
	h := r.text.MinSize().Height
	r.text.Move(fyne.NewPos(w, (size.Height-h)/2))
	r.text.Resize(fyne.NewSize(words, h))
}

func (r *renderer) Refresh() {
	r.text.Text = fmt.Sprintf("%.0f %%", 100*r.m.share)
	r.Layout(r.m.Size())
	for _, o := range r.Objects() {
		o.Refresh()
	}
}
