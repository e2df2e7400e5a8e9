// Package readings is the page of the frame under the marker: its large histogram and all
// its figures.
package readings

import (
	"image"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/ui/page"
	"stopladder/ui/paper"
	"stopladder/ui/session"
)

// Page is the page.
type Page struct {
	state  *session.State
	object *fyne.Container
	plot   *paper.Paper
	tables *page.Tables
	hover  row.PlotOptions
}

const plotHeight = 210

// New returns the page of a state.
func New(state *session.State, h page.Host) *Page {
	p := &Page{state: state}
	p.plot = paper.New(fyne.NewSize(page.Width, plotHeight), p.draw)
	p.plot.OnHover = func(x, _ float64, ok bool) {
		p.hover = row.PlotOptions{Hover: ok, HoverX: int(x)}
		p.plot.Refresh()
	}
	p.tables = page.NewTables(h.Do, func() { p.object.Refresh() })
	h.Explain(p.plot, func() explain.Card {
		return explain.Plot("Histogram", "histogram", "Light from left to right, in stops below the scan's white, on one axis for all frames; red, green and blue as lines. Dashed lines stand at the scan's floor and ceiling. The pointer reads the stop and the shares there.")
	})
	p.tables.Explain(h)
	p.object = container.NewBorder(p.plot, nil, nil, nil, container.NewVScroll(p.tables.Object()))
	return p
}

func (p *Page) draw(c *paint.Canvas, r image.Rectangle) {
	if i := p.state.Current(); i >= 0 {
		row.HistogramPlot(c, r.Inset(c.Px(10)), p.state.Rows()[i], p.hover)
	}
}

// Content implements page.Page.
func (p *Page) Content() fyne.CanvasObject { return p.object }

// Changed implements page.Page.
func (p *Page) Changed(session.Parts) {
	p.plot.Refresh()
	if i := p.state.Current(); i >= 0 {
		p.tables.Set(row.ReadingsOf(p.state.Rows()[i]))
	}
}
