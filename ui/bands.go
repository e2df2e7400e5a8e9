package ui

import (
	"image"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/ui/chip"
	"stopladder/ui/paper"
	"stopladder/ui/session"
)

// bandsPage shows the tonal bands of the frame under the playhead: their casts in
// the a*b* plane and in words, noise and detail.
type bandsPage struct {
	w      *Window
	object *fyne.Container
	plane  *paper.Paper
	tables *tables
}

func newBandsPage(w *Window) *bandsPage {
	p := &bandsPage{w: w}
	p.plane = paper.New(fyne.NewSize(sideWidth, 260), func(c *paint.Canvas, r image.Rectangle) {
		if i := w.sess.Current(); i >= 0 {
			rows := w.sess.Rows()
			row.CastPlot(c, image.Rect(r.Min.X+c.Px(10), r.Min.Y, r.Max.X-c.Px(10), r.Max.Y), rows[i], rows)
		}
	})
	p.tables = newTables(w.do, func() { p.object.Refresh() })
	copied := chip.New("Copy figures", "", func() { w.copyTables(row.TablesText(w.sess.BandTables(w.sess.Current()))) })
	copied.Hint, copied.OnHint = "Copy what stands here as text, for a spreadsheet.", w.hint
	p.object = container.NewBorder(p.plane, padded(4, 6, 10, 10, container.NewHBox(copied)), nil, nil, container.NewVScroll(p.tables.paper))
	return p
}

func (p *bandsPage) content() fyne.CanvasObject { return p.object }

func (p *bandsPage) show(session.Changed) {
	p.tables.set(p.w.sess.BandTables(p.w.sess.Current()))
	p.plane.Refresh()
}

func (w *Window) copyTables(text string) {
	w.app.Clipboard().SetContent(text)
	w.status.hint("The figures are on the clipboard as text")
}
