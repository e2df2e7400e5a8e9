package pane

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"

	"stopladder/analysis/numeric/legible"
)

// Spot is a named place of the scene that is marked on every picture. Frames are
// registered, so one position in the base frame serves them all.
type Spot struct {
	X, Y, R float64 // centre and half side, full-resolution pixels of the base frame
	Tall    float64 // half height where it is another than R; 0: R
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
			m.inner.StrokeColor, m.name.Text = stroke, legible.Line(s.Name)
			m.inner.Refresh()
			m.name.Refresh()
		}
	}
	if changed {
		canvas.Refresh(p)
	}
}

// placeSpots places the marks where the view has their places, and the names where
// they lie on nothing; a name without such a place is left out, but for the chosen
// patch's.
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
		marks := make([]rect, 0, len(g.spots)) // of what is seen, by the order of order
		var order []int
		for i, s := range g.spots {
			m := p.spots[i]
			tall := s.R
			if s.Tall > 0 {
				tall = s.Tall
			}
			x0, y0 := at.ToDevice(s.X-s.R, s.Y-tall)
			x1, y1 := at.ToDevice(s.X+s.R, s.Y+tall)
			r := rect{fyne.NewPos(float32(x0/unit), float32(y0/unit)), fyne.NewPos(float32(x1/unit), float32(y1/unit))}
			const least = 7 // units: a spot stays visible when the view is far out
			if d := least - (r.b.X - r.a.X); d > 0 {
				r.a, r.b = r.a.SubtractXY(d/2, d/2), r.b.AddXY(d/2, d/2)
			}
			seen := r.b.X > 0 && r.b.Y > 0 && r.a.X < size.Width && r.a.Y < size.Height
			show(seen, m.outer, m.inner)
			if !seen {
				show(false, m.back, m.name)
				continue
			}
			m.outer.Move(r.a.SubtractXY(1, 1))
			m.outer.Resize(fyne.NewSize(r.b.X-r.a.X+2, r.b.Y-r.a.Y+2))
			m.inner.Move(r.a)
			m.inner.Resize(fyne.NewSize(r.b.X-r.a.X, r.b.Y-r.a.Y))
			marks = append(marks, r)
			if order = append(order, i); s.Active { // its name has the first choice
				n := len(order) - 1
				order[0], order[n] = order[n], order[0]
				marks[0], marks[n] = marks[n], marks[0]
			}
		}
		busy := append([]rect(nil), marks...)
		for k, i := range order {
			m := p.spots[i]
			n := m.name.MinSize()
			at, free := nameBeside(marks[k], n, size, busy, k)
			show(free || g.spots[i].Active, m.back, m.name)
			if !m.name.Visible() {
				continue
			}
			busy = append(busy, at)
			m.back.Move(at.a)
			m.back.Resize(fyne.NewSize(n.Width+4, n.Height))
			m.name.Move(at.a.AddXY(2, 0))
			m.name.Resize(n)
		}
	}
}

// rect is a box in units.
type rect struct{ a, b fyne.Position }

func (r rect) overlaps(q rect) bool {
	return r.a.X < q.b.X && q.a.X < r.b.X && r.a.Y < q.b.Y && q.a.Y < r.b.Y
}

// nameBeside finds a place for a name of size n beside a mark, inside a picture of
// that size and off everything in busy but the own mark: right, left, below, above.
// Where there is none it is the place at the right, and free is false.
func nameBeside(mark rect, n, size fyne.Size, busy []rect, own int) (at rect, free bool) {
	w, h := n.Width+4, n.Height
	x, y := (mark.a.X+mark.b.X-w)/2, (mark.a.Y+mark.b.Y-h)/2
	places := []fyne.Position{{X: mark.b.X + 2, Y: y}, {X: mark.a.X - 2 - w, Y: y}, {X: x, Y: mark.b.Y + 2}, {X: x, Y: mark.a.Y - 2 - h}}
	for _, q := range places {
		at = rect{q, q.AddXY(w, h)}
		free = at.a.X >= 0 && at.a.Y >= 0 && at.b.X <= size.Width && at.b.Y <= size.Height
		for k, r := range busy {
			free = free && (k == own || !at.overlaps(r))
		}
		if free {
			return at, true
		}
	}
	return rect{places[0], places[0].AddXY(w, h)}, false
}

// show shows or hides objects, where that changes anything.
func show(seen bool, objects ...fyne.CanvasObject) {
	for _, o := range objects {
		switch {
		case seen && !o.Visible():
			o.Show()
		case !seen && o.Visible():
			o.Hide()
		}
	}
}

// spotObjects returns the marks in the order of drawing.
func (p *Pane) spotObjects() (out []fyne.CanvasObject) {
	for _, m := range p.spots {
		out = append(out, m.outer, m.inner, m.back, m.name)
	}
	return out
}
