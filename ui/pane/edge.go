package pane

import (
	"image"
	"image/color"
	"math"
	"time"

	"stopladder/analysis/numeric/parallel"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
)

// Edge is where two frames meet in one picture: a straight line that the hand moves and
// turns.
type Edge struct {
	U, V float64 // a point on it, where its handle is: shares of the picture's width and height
	Turn float64 // degrees: 0 upright, the other frame at its left; 90 level, the other frame below
}

// middle is where an edge begins and where a double click puts it.
var middle = Edge{U: 0.5, V: 0.5}

// ShowEdge shows two frames in one picture: other on the one side of an edge, id on the
// other side, which the calls for one picture (ShowBetween, SetActive) mean.
func (g *Group) ShowEdge(other, id int) {
	was := g.under
	g.under = other
	if g.mode == edged && was != other {
		g.assignUnder()
	}
	g.show(edged, []int{id})
	g.caption()
	g.placeEdges()
}

// Edge returns where the edge stands.
func (g *Group) Edge() Edge { return g.edge }

// SetEdge moves the edge; nothing is rendered for it.
func (g *Group) SetEdge(e Edge) {
	e.U, e.V = min(max(e.U, 0), 1), min(max(e.V, 0), 1)
	if e == g.edge {
		return
	}
	g.edge = e
	for _, p := range g.panes {
		p.recompose()
	}
	g.placeEdges()
}

// TurnEdge turns the edge from upright to level and back, about its handle.
func (g *Group) TurnEdge() {
	e := g.edge
	if e.Turn == 0 {
		e.Turn = 90
	} else {
		e.Turn = 0
	}
	g.SetEdge(e)
}

// assignUnder gives the panes the frame of the edge's other side.
func (g *Group) assignUnder() {
	for _, p := range g.panes {
		p.under = nil
		if g.mode == edged {
			p.under = g.frames[g.under]
		}
	}
}

// placeEdges places the lines, their handles and the labels.
func (g *Group) placeEdges() {
	for _, p := range g.panes {
		p.placeEdge()
		p.placePlates()
	}
}

// edgeLine is an edge over a buffer: pixels with a negative distance are the other frame's.
type edgeLine struct{ nx, ny, x, y float64 }

func (e Edge) over(w, h int) edgeLine {
	s, c := math.Sincos(e.Turn * math.Pi / 180)
	if math.Abs(s) < 1e-9 || math.Abs(c) < 1e-9 { // exactly along the pixels
		s, c = math.Round(s), math.Round(c)
	}
	return edgeLine{nx: c, ny: -s, x: math.Round(e.U * float64(w)), y: math.Round(e.V * float64(h))}
}

// dist returns how far a point lies from the edge, negative on the other frame's side.
func (l edgeLine) dist(x, y float64) float64 { return l.nx*(x-l.x) + l.ny*(y-l.y) }

// span returns the pixels [from, to) of row y that are the other frame's.
func (l edgeLine) span(y, w int) (from, to int) {
	down := l.ny * (float64(y) + 0.5 - l.y)
	if l.nx == 0 {
		if down < 0 {
			return 0, w
		}
		return 0, 0
	}
	at := int(min(max(math.Ceil(l.x-down/l.nx-0.5), 0), float64(w)))
	if l.nx > 0 {
		return 0, at
	}
	return at, w
}

// joined is a picture put together from two, so that the edge between them moves at the
// cost of the pixels that it passes.
type joined struct {
	img         *image.RGBA
	other, main *image.RGBA // what it was made from; nil: of nothing
	line        edgeLine
}

// join brings the picture up to date and reports whether it changed. The three are of one
// size.
func (j *joined) join(other, main *image.RGBA, l edgeLine) bool {
	same := j.img != nil && j.other == other && j.main == main
	if same && j.line == l {
		return false
	}
	b := main.Rect
	if j.img == nil || j.img.Rect != b {
		j.img, same = image.NewRGBA(b), false
	}
	w, was := b.Dx(), j.line
	parallel.Bands(b.Dy(), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			o := y * main.Stride
			dst, left, right := j.img.Pix[o:o+4*w], other.Pix[o:o+4*w], main.Pix[o:o+4*w]
			from, to := l.span(y, w)
			if !same {
				copy(dst[:4*from], right[:4*from])
				copy(dst[4*from:4*to], left[4*from:4*to])
				copy(dst[4*to:], right[4*to:])
				continue
			}
			f0, t0 := was.span(y, w)
			for _, c := range [2]struct {
				src        []uint8
				a, b, c, d int // what is in [a, b) and not in [c, d)
			}{{left, from, to, f0, t0}, {right, f0, t0, from, to}} {
				if u, v := c.a, min(c.b, c.c); u < v {
					copy(dst[4*u:4*v], c.src[4*u:4*v])
				}
				if u, v := max(c.a, c.d), c.b; u < v {
					copy(dst[4*u:4*v], c.src[4*u:4*v])
				}
			}
		}
	})
	j.other, j.main, j.line = other, main, l
	return true
}

// recompose moves the edge in what is shown.
func (p *Pane) recompose() {
	if p.parted() && p.main != nil && p.held == nil && p.img == p.join.img && p.join.img != nil {
		if o := p.underImage(); o != nil && p.join.join(o, p.main, p.group.edge.over(p.w, p.h)) {
			p.raster.Refresh()
		}
	}
}

// parted reports whether an edge stands in the pane.
func (p *Pane) parted() bool { return p.under != nil && p.held == nil }

// underImage returns the picture of the other side, nil while there is none of the size of
// the main one.
func (p *Pane) underImage() *image.RGBA {
	if !p.under.ready() {
		return nil
	}
	o := p.under.shot.img
	if o == nil || p.main == nil || o.Rect != p.main.Rect {
		return nil
	}
	return o
}

// side returns the frame that stands at a device position of the pane.
func (p *Pane) side(x, y float64) *frame {
	if p.held != nil {
		return p.held.frame
	}
	if p.parted() && p.group.edge.over(p.w, p.h).dist(x, y) < 0 {
		return p.under
	}
	return p.frame
}

const (
	edgeReach  = 9  // units beside the line at which it is taken hold of
	gripLong   = 44 // the handle
	gripShort  = 14
	knobSide   = 16 // what turns the edge
	knobOff    = 46 // along the line from the handle's middle
	doubleTime = 400 * time.Millisecond
	snapDegree = 5 // from upright and level at which a turned edge falls into them
)

// edgeMarks are what is seen of the edge.
type edgeMarks struct {
	shade, line *canvas.Line
	grip, knob  *canvas.Rectangle
	arrows      [2]*canvas.Line // in the knob: that it turns
}

func newEdgeMarks() *edgeMarks {
	white := color.NRGBA{0xff, 0xff, 0xff, 0xff}
	m := &edgeMarks{shade: canvas.NewLine(spotDark), line: canvas.NewLine(white), grip: canvas.NewRectangle(white), knob: canvas.NewRectangle(white)}
	m.shade.StrokeWidth, m.line.StrokeWidth = 4, 2
	m.shade.StrokeColor = color.NRGBA{0x10, 0x10, 0x10, 0x60}
	for _, r := range []*canvas.Rectangle{m.grip, m.knob} {
		r.StrokeColor, r.StrokeWidth = spotDark, 1
	}
	m.knob.CornerRadius = knobSide / 2
	for i := range m.arrows {
		m.arrows[i] = canvas.NewLine(spotDark)
		m.arrows[i].StrokeWidth = 1.5
	}
	show(false, m.objects()...)
	return m
}

func (m *edgeMarks) objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{m.shade, m.line, m.grip, m.knob, m.arrows[0], m.arrows[1]}
}

// along returns the handle's and the knob's middles in units, and the direction of the line.
func (p *Pane) along() (grip, knob fyne.Position, dx, dy float32) {
	size, e := p.Size(), p.group.edge
	s, c := math.Sincos(e.Turn * math.Pi / 180)
	dx, dy = float32(s), float32(c) // upright: downwards; level: to the right
	grip = fyne.NewPos(float32(e.U)*size.Width, float32(e.V)*size.Height)
	for _, way := range []float32{1, -1} { // the side on which it is seen
		knob = grip.AddXY(way*knobOff*dx, way*knobOff*dy)
		if knob.X > 0 && knob.Y > 0 && knob.X < size.Width && knob.Y < size.Height {
			break
		}
	}
	return grip, knob, dx, dy
}

// placeEdge places the line over the boundary of the two pictures.
func (p *Pane) placeEdge() {
	m, size := p.marks, p.Size()
	on := p.parted() && size.Width > 0
	show(on, m.objects()...)
	if !on {
		return
	}
	grip, knob, dx, dy := p.along()
	// As far as the pane goes: the line is cut where it leaves it.
	back, ahead := reach(grip, -dx, -dy, size), reach(grip, dx, dy, size)
	for _, l := range []*canvas.Line{m.shade, m.line} {
		l.Position1, l.Position2 = grip.SubtractXY(back*dx, back*dy), grip.AddXY(ahead*dx, ahead*dy)
		l.Refresh()
	}
	w, h := float32(gripShort), float32(gripLong)
	switch {
	case math.Abs(float64(dx)) > 0.999:
		w, h = h, w
	case math.Abs(float64(dy)) < 0.999: // at an angle: a handle of no direction
		w, h = 24, 24
	}
	m.grip.CornerRadius = min(w, h) / 2
	m.grip.Move(grip.SubtractXY(w/2, h/2))
	m.grip.Resize(fyne.NewSize(w, h))
	m.knob.Move(knob.SubtractXY(knobSide/2, knobSide/2))
	m.knob.Resize(fyne.NewSize(knobSide, knobSide))
	// A small cross: the edge as it is and as it would stand.
	const arm = 4
	m.arrows[0].Position1, m.arrows[0].Position2 = knob.SubtractXY(arm, 0), knob.AddXY(arm, 0)
	m.arrows[1].Position1, m.arrows[1].Position2 = knob.SubtractXY(0, arm), knob.AddXY(0, arm)
	for _, o := range m.objects()[2:] {
		o.Refresh()
	}
}

// reach returns how far a point may go in a direction before it leaves a box at the origin.
func reach(p fyne.Position, dx, dy float32, size fyne.Size) float32 {
	far := float32(math.Inf(1))
	for _, a := range [2]struct{ at, d, most float32 }{{p.X, dx, size.Width}, {p.Y, dy, size.Height}} {
		switch {
		case a.d > 1e-6:
			far = min(far, (a.most-a.at)/a.d)
		case a.d < -1e-6:
			far = min(far, -a.at/a.d)
		}
	}
	return max(0, far)
}

// hold is what of the edge the hand has.
type hold int

const (
	noHold hold = iota
	lineHold
	knobHold
)

// holdAt returns what of the edge a press at a position takes hold of.
func (p *Pane) holdAt(pos fyne.Position) hold {
	if !p.parted() || p.w == 0 {
		return noHold
	}
	grip, knob, dx, dy := p.along()
	d := pos.Subtract(knob)
	if math.Hypot(float64(d.X), float64(d.Y)) <= knobSide*0.75 {
		return knobHold
	}
	d = pos.Subtract(grip)
	if math.Abs(float64(d.X*dy-d.Y*dx)) <= edgeReach {
		return lineHold
	}
	if math.Hypot(float64(d.X), float64(d.Y)) <= gripLong/2 && math.Abs(float64(d.X*dy-d.Y*dx)) <= 16 {
		return lineHold
	}
	return noHold
}

// grasp takes hold of the edge where a press is near it. A second press soon after puts it
// back into the middle.
func (p *Pane) grasp(pos fyne.Position) {
	p.grip = p.holdAt(pos)
	p.gripped = p.grip
	if p.grip == lineHold {
		now := time.Now()
		if now.Sub(p.pressed) < doubleTime {
			e := middle
			e.Turn = p.group.edge.Turn
			p.group.SetEdge(e)
			now = time.Time{}
		}
		p.pressed = now
	}
}

// pull moves or turns the edge to where the hand is; it reports whether the hand has it.
func (p *Pane) pull(pos fyne.Position) bool {
	size, e := p.Size(), p.group.edge
	if p.grip == noHold || size.Width <= 0 || size.Height <= 0 {
		return false
	}
	switch p.grip {
	case lineHold:
		e.U, e.V = float64(pos.X/size.Width), float64(pos.Y/size.Height)
	case knobHold:
		grip, _, _, _ := p.along()
		d := pos.Subtract(grip)
		if math.Hypot(float64(d.X), float64(d.Y)) < 4 {
			return true
		}
		e.Turn = turnTo(e.Turn, math.Atan2(float64(d.X), float64(d.Y))*180/math.Pi)
		p.gripped = lineHold // a drag of the knob is no click on it
	}
	p.group.SetEdge(e)
	return true
}

// turnTo returns the turn, -90 < t <= 90, of a line towards a direction in degrees; near
// upright and level it falls into them. Of the two sides the other frame keeps its own.
func turnTo(_, to float64) float64 {
	for to > 135 {
		to -= 180
	}
	for to <= -45 {
		to += 180
	}
	switch {
	case math.Abs(to) < snapDegree:
		return 0
	case math.Abs(to-90) < snapDegree:
		return 90
	}
	return to
}

// letGo ends a pull, and turns the edge where its knob was clicked.
func (p *Pane) letGo() { p.grip = noHold }

// edgeCursor is the pointer over the edge, nil where there is none.
func (p *Pane) edgeCursor() desktop.Cursor {
	switch p.holdAt(p.cursor) {
	case knobHold:
		return desktop.PointerCursor
	case lineHold:
		if math.Abs(p.group.edge.Turn-90) < 45 {
			return desktop.VResizeCursor
		}
		return desktop.HResizeCursor
	}
	return nil
}
