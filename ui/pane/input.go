package pane

import (
	"image"
	"math"

	"stopladder/analysis/show/render"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
)

var (
	_ fyne.Scrollable        = (*Pane)(nil)
	_ fyne.Draggable         = (*Pane)(nil)
	_ fyne.Tappable          = (*Pane)(nil)
	_ fyne.SecondaryTappable = (*Pane)(nil)
	_ desktop.Hoverable      = (*Pane)(nil)
	_ desktop.Mouseable      = (*Pane)(nil)
	_ desktop.Cursorable     = (*Pane)(nil)
)

// notch is what the toolkit reports for one notch of a wheel.
const notch = 25

// Scrolled zooms at the cursor: a notch is a quarter of a doubling. The toolkit
// multiplies fast scrolling by 125, so an event counts for two notches at most.
func (p *Pane) Scrolled(e *fyne.ScrollEvent) {
	d := float64(e.Scrolled.DY)
	if d == 0 {
		d = float64(e.Scrolled.DX) // Shift swaps the axes
	}
	n := math.Min(math.Max(d/notch, -2), 2)
	if n == 0 || math.IsNaN(n) {
		return
	}
	x, y := p.device(e.Position)
	p.group.zoomAt(p, x, y, math.Pow(2, n/4))
	p.hover(e.Position)
}

// Dragged pans, or follows the hand where somebody asks for that.
func (p *Pane) Dragged(e *fyne.DragEvent) {
	if p.group.OnTrace != nil {
		if at, ok := p.pixel(e.Position); ok {
			p.traced = &trace{p.frame.ID, at}
			p.group.OnTrace(p.frame.ID, at, false)
		}
		return
	}
	p.dragged = true
	s := p.Size()
	if s.Width <= 0 || s.Height <= 0 {
		return
	}
	p.group.panBy(p, float64(e.Dragged.DX)*float64(p.w)/float64(s.Width), float64(e.Dragged.DY)*float64(p.h)/float64(s.Height))
	p.cursor = e.Position
}

// DragEnd ends a pan.
func (p *Pane) DragEnd() {
	p.dragged = false
	if t := p.traced; t != nil {
		p.traced = nil
		if p.group.OnTrace != nil {
			p.group.OnTrace(t.id, t.at, true)
		}
	}
}

// trace is the last pixel of a drag that is followed.
type trace struct {
	id int
	at image.Point
}

// MouseDown gives the pane's frame the attention.
func (p *Pane) MouseDown(*desktop.MouseEvent) {
	if f := p.frame; f != nil && p.group.OnFocus != nil {
		p.group.OnFocus(f.ID)
	}
}

// MouseUp is part of desktop.Mouseable.
func (p *Pane) MouseUp(*desktop.MouseEvent) {}

// Tapped picks the pixel under the cursor.
func (p *Pane) Tapped(e *fyne.PointEvent) {
	at, ok := p.pixel(e.Position)
	if ok && p.group.OnPick != nil {
		p.group.OnPick(p.frame.ID, at)
	}
}

// TappedSecondary asks for the frame's menu.
func (p *Pane) TappedSecondary(e *fyne.PointEvent) {
	if f := p.frame; f != nil && p.group.OnMenu != nil {
		p.group.OnMenu(f.ID, e.AbsolutePosition)
	}
}

// MouseIn starts reading pixels.
func (p *Pane) MouseIn(e *desktop.MouseEvent) { p.hover(e.Position) }

// MouseMoved reads the pixel under the cursor.
func (p *Pane) MouseMoved(e *desktop.MouseEvent) { p.hover(e.Position) }

// MouseOut ends reading pixels.
func (p *Pane) MouseOut() {
	p.hovering = false
	if p.group.hovered == p {
		p.group.hovered = nil
	}
	p.tell(image.Point{}, false)
}

func (p *Pane) hover(pos fyne.Position) {
	p.hovering, p.cursor = true, pos
	p.group.hovered = p
	at, ok := p.pixel(pos)
	p.tell(at, ok)
}

// tell passes on a readout that has changed.
func (p *Pane) tell(at image.Point, ok bool) {
	if ok == p.hoverOK && at == p.hoverAt {
		return
	}
	p.hoverAt, p.hoverOK = at, ok
	if p.frame != nil && p.group.OnHover != nil {
		p.group.OnHover(p.frame.ID, at, ok)
	}
}

// pixel returns the full-resolution pixel of the pane's frame at a position.
func (p *Pane) pixel(pos fyne.Position) (image.Point, bool) {
	if !p.frame.ready() || p.w == 0 {
		return image.Point{}, false
	}
	x, y := p.device(pos)
	at, ok := render.FrameAt(p.frame.picture(p.group.base), p.group.view, p.w, p.h, x, y)
	if !ok {
		at = image.Point{}
	}
	return at, ok
}

// Cursor implements desktop.Cursorable: a cross, since pixels are read.
func (p *Pane) Cursor() desktop.Cursor { return desktop.CrosshairCursor }
