// Package bands is the page of the tonal bands of the frame under the marker: their casts
// in the a*b* plane and in words, noise and detail.
package bands

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
	plane  *paper.Paper
	tables *page.Tables
}

// New returns the page of a state.
func New(state *session.State, h page.Host) *Page {
	p := &Page{state: state}
	p.plane = paper.New(fyne.NewSize(page.Width, 260), func(c *paint.Canvas, r image.Rectangle) {
		if i := state.Current(); i >= 0 {
			rows := state.Rows()
			row.CastPlot(c, image.Rect(r.Min.X+c.Px(10), r.Min.Y, r.Max.X-c.Px(10), r.Max.Y), rows[i], rows)
		}
	})
	p.tables = page.NewTables(h.Do, func() { p.object.Refresh() })
	h.Explain(p.plane, func() explain.Card {
		return explain.Plot("Casts of greys", "cast", "Redder to the right, yellower up, the base frame in the middle. The black, grey and white dots are greys at the light of shadows, midtones and highlights of this frame; small dots are the other frames.")
	})
	p.tables.Explain(h)
	copied := h.Chip("Copy figures", "Copy what stands here as text, for a spreadsheet.", func() {
		h.Copy(row.TablesText(state.BandTables(state.Current())))
	})
	p.object = container.NewBorder(p.plane, page.Padded(4, 6, 10, 10, container.NewHBox(copied)), nil, nil, container.NewVScroll(p.tables.Object()))
	return p
}

// Content implements page.Page.
func (p *Page) Content() fyne.CanvasObject { return p.object }

// Changed implements page.Page.
func (p *Page) Changed(session.Parts) {
	p.tables.Set(p.state.BandTables(p.state.Current()))
	p.plane.Refresh()
}
