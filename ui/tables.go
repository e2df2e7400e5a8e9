package ui

import (
	"image"
	"math"

	"fyne.io/fyne/v2"

	"stopladder/analysis/ink"
	"stopladder/analysis/rung"
	"stopladder/ui/paper"
)

// tables is a paper of the side that shows sections of figures, as high as they need.
type tables struct {
	paper    *paper.Paper
	sections []rung.Section
	do       func(func())
	grown    func() // called when the height changed
}

func newTables(do func(func()), grown func()) *tables {
	t := &tables{do: do, grown: grown}
	t.paper = paper.New(fyne.NewSize(sideWidth, 120), t.draw)
	return t
}

func (t *tables) set(s []rung.Section) {
	t.sections = s
	t.paper.Refresh()
}

func (t *tables) draw(c *ink.Canvas, full image.Rectangle) {
	if len(t.sections) == 0 {
		return
	}
	m := c.Px(10)
	full.Min.X += m
	full.Max.X -= m
	need := rung.Tables(c, full, t.sections)
	size := fyne.NewSize(sideWidth, float32(float64(need)/c.Scale)+16)
	if math.Abs(float64(size.Height-t.paper.MinSize().Height)) > 1 {
		t.do(func() { // after this frame: a layout must not change while it is drawn
			if t.paper.SetMinSize(size) {
				t.grown()
			}
		})
	}
}
