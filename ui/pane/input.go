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
	if p.pull(e.Position) {
		p.cursor = e.Position
		return
	}
	if p.group.OnTrace != nil {
		p.cursor = e.Position
		if f, at, ok := p.pixel(e.Position); ok {
			p.traced = &trace{f.ID, at}
			p.group.OnTrace(f.ID, at, false)
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
	p.letGo()
	if p.hovering { // the toolkit tells no moves while something is dragged
		p.hover(p.cursor)
	}
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

// MouseDown gives the pane's frame the attention, and takes hold of an edge.
func (p *Pane) MouseDown(e *desktop.MouseEvent) {
	p.gripped = noHold
	if e != nil && e.Button != desktop.MouseButtonSecondary {
		p.grasp(e.Position)
	}
	if f := p.frame; f != nil && p.group.OnFocus != nil {
		p.group.OnFocus(f.ID)
	}
}

// MouseUp is part of desktop.Mouseable.
func (p *Pane) MouseUp(*desktop.MouseEvent) { p.letGo() }

// Tapped picks the pixel under the cursor.
func (p *Pane) Tapped(e *fyne.PointEvent) {
	switch p.gripped {
	case knobHold:
		p.group.TurnEdge()
		return
	case lineHold:
		return // the edge was taken hold of, and nothing of a picture
	}
	f, at, ok := p.pixel(e.Position)
	if ok && p.group.OnPick != nil {
		p.group.OnPick(f.ID, at)
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
	p.tell(p.frame, image.Point{}, false)
}

func (p *Pane) hover(pos fyne.Position) {
	p.hovering, p.cursor = true, pos
	p.group.hovered = p
	f, at, ok := p.pixel(pos)
	p.tell(f, at, ok)
}

// tell passes on a readout that has changed.
func (p *Pane) tell(f *frame, at image.Point, ok bool) {
	if f == nil || ok == p.hoverOK && at == p.hoverAt && f.ID == p.hoverID {
		return
	}
	p.hoverID, p.hoverAt, p.hoverOK = f.ID, at, ok
	if p.group.OnHover != nil {
		p.group.OnHover(f.ID, at, ok)
	}
}

// pixel returns the frame that stands at a position, and its full-resolution pixel there.
func (p *Pane) pixel(pos fyne.Position) (*frame, image.Point, bool) {
	x, y := p.device(pos)
	f := p.side(x, y)
	if !f.ready() || p.w == 0 {
		return f, image.Point{}, false
	}
	at, ok := render.FrameAt(f.picture(p.group.base), p.group.view, p.w, p.h, x, y)
	if !ok {
		at = image.Point{}
	}
	return f, at, ok
}

// Cursor implements desktop.Cursorable: a cross, since pixels are read, and over an edge
// how it is moved.
func (p *Pane) Cursor() desktop.Cursor {
	if c := p.edgeCursor(); c != nil {
		return c
	}
	return desktop.CrosshairCursor
}
