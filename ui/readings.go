package ui

import (
	"image"
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/ui/paper"
	"stopladder/ui/session"
)

// readings is the panel beside the picture: the large histogram and all figures
// of the frame under the playhead.
type readings struct {
	object *fyne.Container
	plot   *paper.Paper
	tables *tables
	data   *row.Data
	hover  row.PlotOptions
	w      *Window
}

const plotHeight = 210

func newReadings(w *Window) *readings {
	r := &readings{w: w}
	r.plot = paper.New(fyne.NewSize(sideWidth, plotHeight), r.drawPlot)
	r.plot.OnHover = func(x, _ float64, ok bool) {
		r.hover = row.PlotOptions{Hover: ok, HoverX: int(x)}
		r.plot.Refresh()
	}
	r.tables = newTables(w.do, func() { r.object.Refresh() })
	r.object = container.NewBorder(r.plot, nil, nil, nil, container.NewVScroll(r.tables.paper))
	return r
}

func (r *readings) plotRect(full image.Rectangle, scale float64) image.Rectangle {
	m := int(math.Round(10 * scale))
	return image.Rect(full.Min.X+m, full.Min.Y+m, full.Max.X-m, full.Max.Y)
}

func (r *readings) drawPlot(c *paint.Canvas, full image.Rectangle) {
	if r.data == nil {
		return
	}
	row.HistogramPlot(c, r.plotRect(full, c.Scale), r.data, r.hover)
}

func (r *readings) content() fyne.CanvasObject { return r.object }

func (r *readings) show(session.Changed) {
	r.data = r.w.sess.Rows()[r.w.sess.Current()]
	r.plot.Refresh()
	r.tables.set(row.ReadingsOf(r.data))
}
