package correct

import (
	"image"
	"math"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/paint"
	"stopladder/ui/chip"
	"stopladder/ui/paper"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// The plane of the curve: stops of light from white, in and out.
const (
	curveLo   = -10.0
	curveHi   = 1.0
	curveSide = 230.0 // units
	curveGrab = 9.0   // units around a point that take hold of it
)

// curveEdit is the curve per channel: light out against light in, in stops from
// white. A click on the line makes a point, a double click takes it away.
type curveEdit struct {
	page     *Page
	object   fyne.CanvasObject
	plane    *curvePlane
	channels [4]*chip.Chip // all, R, G, B
	channel  int           // 0 all, 1..3
	now      correction.Settings
	off      bool
}

func newCurveEdit(p *Page) *curveEdit {
	e := &curveEdit{page: p}
	var row []fyne.CanvasObject
	for i, name := range []string{"Curve, all", "Red", "Green", "Blue"} {
		e.channels[i] = p.host.Chip(name, "Which channel's curve is seen and moved; all: the three together.", func() { e.channel = i; e.refresh() })
		row = append(row, e.channels[i])
	}
	e.plane = newCurvePlane(e)
	e.object = container.NewVBox(container.NewHBox(row...), e.plane)
	return e
}

func (e *curveEdit) show(s correction.Settings, off bool) {
	e.now, e.off = s, off
	e.refresh()
}

func (e *curveEdit) refresh() {
	for i, c := range e.channels {
		c.Set(c.Text, i == e.channel, false)
	}
	e.plane.Refresh()
}

// shown returns the channel whose points are seen.
func (e *curveEdit) shown() int { return max(0, e.channel-1) }

func (e *curveEdit) points() []correction.Point { return e.now.Curves[e.shown()] }

// put gives the channel, or all of them, other points.
func (e *curveEdit) put(pts []correction.Point, done bool) {
	if e.off {
		return
	}
	e.page.change("curve", done, func(s *correction.Settings) {
		for c := range s.Curves {
			if e.channel == 0 || c == e.channel-1 {
				s.Curves[c] = slices.Clone(pts)
			}
		}
	})
}

// curvePlane is the plane on which the points are moved.
type curvePlane struct {
	paper.Paper
	e    *curveEdit
	held int // point that is held, -1 none
	pts  []correction.Point
}

var (
	_ fyne.Draggable      = (*curvePlane)(nil)
	_ desktop.Mouseable   = (*curvePlane)(nil)
	_ fyne.DoubleTappable = (*curvePlane)(nil)
)

func newCurvePlane(e *curveEdit) *curvePlane {
	p := &curvePlane{e: e, held: -1}
	p.Draw = p.paint
	p.SetMinSize(fyne.NewSize(curveSide, curveSide))
	e.page.host.Explain(&p.Paper, func() explain.Card { return e.page.stepCard(session.CurveStep) })
	p.ExtendBaseWidget(p)
	return p
}

func (p *curvePlane) at(pos fyne.Position) (x, y float64) {
	s := p.Size()
	return curveLo + (curveHi-curveLo)*float64(pos.X/s.Width), curveHi - (curveHi-curveLo)*float64(pos.Y/s.Height)
}

// near returns the point under a position, -1 none.
func (p *curvePlane) near(pos fyne.Position, pts []correction.Point) int {
	s := p.Size()
	best, at := float32(curveGrab), -1
	for i, q := range pts {
		dx := pos.X - s.Width*float32((q.X-curveLo)/(curveHi-curveLo))
		dy := pos.Y - s.Height*float32((curveHi-q.Y)/(curveHi-curveLo))
		if d := float32(math.Hypot(float64(dx), float64(dy))); d < best {
			best, at = d, i
		}
	}
	return at
}

// MouseDown implements desktop.Mouseable.
func (p *curvePlane) MouseDown(e *desktop.MouseEvent) {
	if p.e.off || e.Button != desktop.MouseButtonPrimary {
		return
	}
	p.pts = slices.Clone(p.e.points())
	if p.held = p.near(e.Position, p.pts); p.held >= 0 {
		return
	}
	x, y := p.at(e.Position)
	p.held = len(p.pts)
	for i, q := range p.pts {
		if q.X > x {
			p.held = i
			break
		}
	}
	p.pts = slices.Insert(p.pts, p.held, correction.Point{X: x, Y: y})
	p.settle()
	p.e.put(p.pts, false)
}

// settle keeps the held point between its neighbours: a curve never turns back.
func (p *curvePlane) settle() {
	const least = 0.05
	q := &p.pts[p.held]
	lo, hi := correction.Point{X: curveLo, Y: curveLo - 4}, correction.Point{X: curveHi, Y: curveHi + 4}
	if p.held > 0 {
		lo = p.pts[p.held-1]
		lo.X += least
	}
	if p.held+1 < len(p.pts) {
		hi = p.pts[p.held+1]
		hi.X -= least
	}
	q.X = math.Max(lo.X, math.Min(hi.X, q.X))
	q.Y = math.Max(lo.Y, math.Min(hi.Y, q.Y))
}

// Dragged implements fyne.Draggable.
func (p *curvePlane) Dragged(e *fyne.DragEvent) {
	if p.held < 0 || p.held >= len(p.pts) {
		return
	}
	p.pts[p.held].X, p.pts[p.held].Y = p.at(e.Position)
	p.settle()
	p.e.put(p.pts, false)
}

// DragEnd implements fyne.Draggable.
func (p *curvePlane) DragEnd() { p.drop() }

// MouseUp implements desktop.Mouseable.
func (p *curvePlane) MouseUp(*desktop.MouseEvent) { p.drop() }

func (p *curvePlane) drop() {
	if p.held >= 0 {
		p.held = -1
		p.e.put(p.pts, true)
	}
}

// DoubleTapped implements fyne.DoubleTappable.
func (p *curvePlane) DoubleTapped(e *fyne.PointEvent) {
	pts := slices.Clone(p.e.points())
	if i := p.near(e.Position, pts); i >= 0 {
		p.e.put(slices.Delete(pts, i, i+1), true)
	}
}

func (p *curvePlane) paint(c *paint.Canvas, r image.Rectangle) {
	c.Fill(r, c.Pal.Well)
	at := func(x, y float64) paint.Pt {
		return paint.Pt{X: float64(r.Min.X) + float64(r.Dx())*(x-curveLo)/(curveHi-curveLo), Y: float64(r.Min.Y) + float64(r.Dy())*(curveHi-y)/(curveHi-curveLo)}
	}
	for s := math.Ceil(curveLo); s <= curveHi; s++ {
		q := at(s, s)
		w, col := 1.0, c.Pal.Rule
		if s == 0 {
			col = c.Pal.Strong
		}
		c.VLine(int(q.X), r.Min.Y, r.Max.Y, w, col)
		c.HLine(r.Min.X, r.Max.X, int(q.Y), w, col)
		if math.Mod(s, 2) == 0 && s > curveLo {
			c.Text(q.X+c.U(2), float64(r.Max.Y)-c.U(3), number.Signed(s, 0), paint.Style{Size: theme.Figure, Col: c.Pal.Dim})
		}
	}
	a, b := at(curveLo, curveLo), at(curveHi, curveHi)
	c.Line(a.X, a.Y, b.X, b.Y, 1, c.Pal.Strong)
	draw := func(ch int, col3 int, width float64) {
		var pts []paint.Pt
		for i := 0; i <= 120; i++ {
			x := curveLo + (curveHi-curveLo)*float64(i)/120
			pts = append(pts, at(x, correction.CurveAt(p.e.now.Curves[ch], x)))
		}
		col := c.Pal.Text
		if col3 >= 0 {
			col = c.Pal.Channel[col3]
		}
		c.Polyline(pts, width, col)
	}
	if p.e.channel == 0 {
		for ch := range 3 {
			draw(ch, ch, 1.2)
		}
	} else {
		for ch := range 3 {
			if ch != p.e.channel-1 {
				draw(ch, ch, 0.8)
			}
		}
		draw(p.e.channel-1, p.e.channel-1, 1.8)
	}
	for i, q := range p.e.points() {
		t := at(q.X, q.Y)
		rad := 3.5
		if i == p.held {
			rad = 5
		}
		c.Disc(t.X, t.Y, c.U(rad+1), c.Pal.Well)
		c.Disc(t.X, t.Y, c.U(rad), c.Pal.Text)
	}
}
