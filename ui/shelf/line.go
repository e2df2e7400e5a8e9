package shelf

import (
	"image"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/shelf"
	"stopladder/analysis/show/abreast"
	marks "stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/paper"
	"stopladder/ui/theme"
	"stopladder/ui/tick"
)

type drawing = marks.List

// drawn is a paper that shows a drawing made for its width.
type drawn struct {
	*paper.Paper
	of    func(width float64) *drawing
	list  *drawing
	width float64
}

func newDrawn(min fyne.Size) *drawn {
	d := &drawn{}
	d.Paper = paper.New(min, d.paint)
	return d
}

// draw shows another drawing.
func (d *drawn) draw(of func(width float64) *drawing) {
	d.of, d.list = of, nil
	d.Refresh()
}

func (d *drawn) paint(c *paint.Canvas, r image.Rectangle) {
	if d.of == nil {
		return
	}
	if w := float64(r.Dx()) / c.Scale; d.list == nil || d.width != w {
		d.list, d.width = d.of(w), w
	}
	c.Fill(r, abreast.PalOf(abreast.Dark).Ground)
	d.list.Paint(c, r)
}

// Room beside the drawing of a row: the mark at its left, what opens it at its right.
const besideLeft, besideRight = 40, 78

// besides lays the axis over where the rows have theirs.
type besides struct{}

func (besides) Layout(o []fyne.CanvasObject, s fyne.Size) {
	o[0].Move(fyne.NewPos(besideLeft, 0))
	o[0].Resize(fyne.NewSize(s.Width-besideLeft-besideRight, s.Height))
}
func (besides) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(300, 36) }

// narrow keeps a text to a width.
type narrow struct{ most float32 }

func (n narrow) Layout(o []fyne.CanvasObject, s fyne.Size) {
	w := min(n.most, s.Width)
	o[0].Resize(fyne.NewSize(w, s.Height))
	o[0].Move(fyne.NewPos((s.Width-w)/2, 0))
}
func (n narrow) MinSize(o []fyne.CanvasObject) fyne.Size {
	o[0].Resize(fyne.NewSize(n.most, 10))
	return fyne.NewSize(200, o[0].MinSize().Height)
}

// line is a roll of the list. A click on it marks it for the comparison.
type line struct {
	widget.BaseWidget
	w     *Window
	entry *shelf.Entry
	back  *canvas.Rectangle
	check *tick.Tick
	draw  *drawn
	open  *chip.Chip
	over  bool
}

var (
	_ fyne.Tappable     = (*line)(nil)
	_ desktop.Hoverable = (*line)(nil)
)

func newLine(w *Window) *line {
	l := &line{w: w, back: canvas.NewRectangle(theme.Surface), draw: newDrawn(fyne.NewSize(300, abreast.RowHeight))}
	l.check = tick.New("", func(on bool) {
		if l.entry != nil && on != w.chosen[l.entry.Path] {
			w.mark(l.entry, on)
		}
	})
	l.open = chip.New("Open", "", func() {
		if l.entry != nil && w.host.Open != nil {
			w.host.Open(l.entry.Path)
		}
	})
	l.ExtendBaseWidget(l)
	return l
}

func (l *line) set(e *shelf.Entry) {
	l.entry = e
	on := l.w.chosen[e.Path]
	if l.check.Checked != on {
		l.check.Checked = on
		l.check.Refresh()
	}
	l.open.Set("Open", false, e.Roll == nil)
	lo, hi := l.w.lo, l.w.hi
	l.draw.draw(func(width float64) *drawing { return abreast.Row(e, width, abreast.Dark, lo, hi) })
	l.ground()
}

func (l *line) ground() {
	col := theme.Surface
	switch {
	case l.entry != nil && l.w.chosen[l.entry.Path]:
		col = theme.Hover
	case l.over:
		col = theme.Raised
	}
	if l.back.FillColor != col {
		l.back.FillColor = col
		l.back.Refresh()
	}
}

// Tapped implements fyne.Tappable.
func (l *line) Tapped(*fyne.PointEvent) {
	if l.entry != nil {
		l.w.mark(l.entry, !l.w.chosen[l.entry.Path])
	}
}

// MouseIn implements desktop.Hoverable.
func (l *line) MouseIn(*desktop.MouseEvent) { l.over = true; l.ground() }

// MouseMoved implements desktop.Hoverable.
func (l *line) MouseMoved(*desktop.MouseEvent) {}

// MouseOut implements desktop.Hoverable.
func (l *line) MouseOut() { l.over = false; l.ground() }

// CreateRenderer implements fyne.Widget.
func (l *line) CreateRenderer() fyne.WidgetRenderer {
	box := container.New(inLine{}, l.check, l.draw, page.Padded(0, 0, 4, 8, l.open))
	return widget.NewSimpleRenderer(container.NewStack(l.back, page.Padded(1, 1, 0, 0, box)))
}

// inLine lays out a line.
type inLine struct{}

func (inLine) Layout(o []fyne.CanvasObject, s fyne.Size) {
	c := o[0].MinSize()
	o[0].Resize(c)
	o[0].Move(fyne.NewPos((besideLeft-c.Width)/2, (s.Height-c.Height)/2))
	o[1].Move(fyne.NewPos(besideLeft, 0))
	o[1].Resize(fyne.NewSize(s.Width-besideLeft-besideRight, s.Height))
	b := o[2].MinSize()
	o[2].Resize(fyne.NewSize(besideRight, b.Height))
	o[2].Move(fyne.NewPos(s.Width-besideRight, (s.Height-b.Height)/2))
}

func (inLine) MinSize([]fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(400, abreast.RowHeight)
}
