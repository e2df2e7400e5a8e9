package page

import (
	"image"
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"

	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/ui/paper"
)

// Tables is a paper that shows sections of figures, as high as they need.
type Tables struct {
	// OnCell is told a click on a cell; nil where cells do nothing.
	OnCell func(row.Cell)

	paper    *tablePaper
	sections []row.Section
	do       func(func())
	grown    func() // called when the height changed
	cells    []row.Cell
}

// tablePaper is a paper whose cells take clicks.
type tablePaper struct {
	paper.Paper
	t *Tables
}

// NewTables returns tables without figures. do runs a function on the toolkit's goroutine
// after what it draws now; grown is called when the height has changed.
func NewTables(do func(func()), grown func()) *Tables {
	t := &Tables{do: do, grown: grown}
	t.paper = &tablePaper{t: t}
	t.paper.Draw = t.draw
	t.paper.SetMinSize(fyne.NewSize(Width, 120))
	t.paper.ExtendBaseWidget(t.paper)
	return t
}

// Explain shows a card of the cell that the pointer rests on.
func (t *Tables) Explain(h Host) {
	was := t.paper.OnHover
	t.paper.OnHover = func(x, y float64, ok bool) {
		if was != nil {
			was(x, y, ok)
		}
		at := image.Pt(int(x), int(y))
		for k := len(t.cells) - 1; ok && k >= 0; k-- {
			if c := t.cells[k]; at.In(c.Rectangle) && c.Section < len(t.sections) {
				h.show(&t.paper.Paper, func() explain.Card { return explain.Reading(t.sections[c.Section], c.Row, c.Col) }, c.Rectangle, true)
				return
			}
		}
		h.show(&t.paper.Paper, nil, image.Rectangle{}, false)
	}
}

// Tapped implements fyne.Tappable.
func (p *tablePaper) Tapped(e *fyne.PointEvent) {
	if p.t.OnCell == nil {
		return
	}
	at := image.Pt(int(float64(e.Position.X)*p.Scale()), int(float64(e.Position.Y)*p.Scale()))
	// The last cell drawn at a place is the smallest: a row's name is the whole line.
	for k := len(p.t.cells) - 1; k >= 0; k-- {
		if c := p.t.cells[k]; at.In(c.Rectangle) {
			p.t.OnCell(c)
			return
		}
	}
}

// Cursor implements desktop.Cursorable.
func (p *tablePaper) Cursor() desktop.Cursor {
	if p.t.OnCell == nil {
		return desktop.DefaultCursor
	}
	return desktop.PointerCursor
}

// Paper returns the widget that shows them.
func (t *Tables) Paper() *paper.Paper { return &t.paper.Paper }

// Object returns Paper as it is laid out.
func (t *Tables) Object() fyne.CanvasObject { return t.paper }

// Set shows other figures.
func (t *Tables) Set(s []row.Section) {
	t.sections = s
	t.paper.Refresh()
}

func (t *Tables) draw(c *paint.Canvas, full image.Rectangle) {
	if len(t.sections) == 0 {
		return
	}
	m := c.Px(10)
	full.Min.X += m
	full.Max.X -= m
	t.cells = t.cells[:0]
	need := row.Tables(c, full, t.sections, func(q row.Cell) { t.cells = append(t.cells, q) })
	size := fyne.NewSize(Width, float32(float64(need)/c.Scale)+16)
	if math.Abs(float64(size.Height-t.paper.MinSize().Height)) > 1 {
		t.do(func() { // after this frame: a layout must not change while it is drawn
			if t.paper.SetMinSize(size) {
				t.grown()
			}
		})
	}
}
