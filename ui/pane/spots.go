package pane

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
)

// Spot is a named place of the scene that is marked on every picture. Frames are
// registered, so one position in the base frame serves them all.
type Spot struct {
	X, Y, R float64 // centre and half side, full-resolution pixels of the base frame
	Name    string
	Active  bool
}

// spotMark is a spot on one pane: a white square in a dark one, seen on any
// ground, and its name.
type spotMark struct {
	outer, inner, back *canvas.Rectangle
	name               *canvas.Text
}

var (
	spotDark   = color.NRGBA{0x10, 0x10, 0x10, 0xd0}
	spotLight  = color.NRGBA{0xee, 0xee, 0xee, 0xff}
	spotActive = color.NRGBA{0xE6, 0x9F, 0x00, 0xFF} // the accent
)

func newSpotMark() *spotMark {
	m := &spotMark{outer: canvas.NewRectangle(color.Transparent), inner: canvas.NewRectangle(color.Transparent),
		back: canvas.NewRectangle(chipBack), name: canvas.NewText("", chipText)}
	m.outer.StrokeColor, m.outer.StrokeWidth = spotDark, 3
	m.inner.StrokeWidth = 1
	m.back.CornerRadius = 2
	m.name.TextSize = noteSize
	return m
}

// SetSpots marks places of the scene on all pictures; nil takes the marks away.
func (g *Group) SetSpots(spots []Spot) {
	g.spots = append([]Spot(nil), spots...)
	for _, p := range g.panes {
		p.spotNames()
	}
	g.placeSpots()
}

// spotNames gives a pane as many marks as there are spots.
func (p *Pane) spotNames() {
	spots := p.group.spots
	changed := len(p.spots) != len(spots)
	for len(p.spots) < len(spots) {
		p.spots = append(p.spots, newSpotMark())
	}
	p.spots = p.spots[:len(spots)]
	for i, s := range spots {
		m := p.spots[i]
		stroke := color.Color(spotLight)
		if s.Active {
			stroke = spotActive
		}
		if m.inner.StrokeColor != stroke || m.name.Text != s.Name {
			m.inner.StrokeColor, m.name.Text = stroke, s.Name
			m.inner.Refresh()
			m.name.Refresh()
		}
	}
	if changed {
		canvas.Refresh(p)
	}
}

// placeSpots lays the marks where the view has their places.
func (g *Group) placeSpots() {
	for _, p := range g.panes {
		if len(p.spots) != len(g.spots) {
			p.spotNames()
		}
		if p.w == 0 || g.base.Empty() {
			continue
		}
		at := g.port(p).Place(g.view)
		unit := p.density()
		size := p.Size()
		for i, s := range g.spots {
			m := p.spots[i]
			x0, y0 := at.ToDevice(s.X-s.R, s.Y-s.R)
			x1, y1 := at.ToDevice(s.X+s.R, s.Y+s.R)
			a, b := fyne.NewPos(float32(x0/unit), float32(y0/unit)), fyne.NewPos(float32(x1/unit), float32(y1/unit))
			const least = 7 // units: a spot stays visible when the view is far out
			if d := least - (b.X - a.X); d > 0 {
				a, b = a.SubtractXY(d/2, d/2), b.AddXY(d/2, d/2)
			}
			seen := b.X > 0 && b.Y > 0 && a.X < size.Width && a.Y < size.Height
			for _, o := range []fyne.CanvasObject{m.outer, m.inner, m.back, m.name} {
				if seen != o.Visible() {
					if seen {
						o.Show()
					} else {
						o.Hide()
					}
				}
			}
			if !seen {
				continue
			}
			m.outer.Move(a.SubtractXY(1, 1))
			m.outer.Resize(fyne.NewSize(b.X-a.X+2, b.Y-a.Y+2))
			m.inner.Move(a)
			m.inner.Resize(fyne.NewSize(b.X-a.X, b.Y-a.Y))
			n := m.name.MinSize()
			tag := fyne.NewPos(b.X+4, a.Y+(b.Y-a.Y-n.Height)/2)
			if tag.X+n.Width+6 > size.Width { // at the picture's right edge the name stands at the left
				tag.X = a.X - n.Width - 8
			}
			m.back.Move(tag.SubtractXY(2, 0))
			m.back.Resize(fyne.NewSize(n.Width+4, n.Height))
			m.name.Move(tag)
			m.name.Resize(n)
		}
	}
}

// spotObjects are the marks in the order of drawing.
func (p *Pane) spotObjects() (out []fyne.CanvasObject) {
	for _, m := range p.spots {
		out = append(out, m.outer, m.inner, m.back, m.name)
	}
	return out
}
