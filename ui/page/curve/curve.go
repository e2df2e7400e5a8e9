// Package curve is the page that shows the measured response in the pictures' place.
package curve

import (
	"bytes"
	"errors"
	"image"
	"io"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless"
	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/pngwrite"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/paper"
	"stopladder/ui/session"
)

// Page is the page.
type Page struct {
	host   page.Host
	state  *session.State
	object fyne.CanvasObject
	paper  *paper.Paper
	hover  plot.Options
	data   plot.Data
}

// New returns the page of a state.
func New(state *session.State, apply func(session.Change), h page.Host) *Page {
	p := &Page{host: h, state: state}
	p.paper = paper.New(fyne.NewSize(220, 160), func(c *paint.Canvas, r image.Rectangle) {
		plot.Draw(c, r.Inset(c.Px(10)), p.data, p.hover)
	})
	p.paper.OnHover = func(x, _ float64, ok bool) {
		p.hover = plot.Options{Hover: ok, HoverX: int(x)}
		p.paper.Refresh()
	}
	h.Explain(p.paper, func() explain.Card {
		return explain.Plot("Response", "response", "Exposure from left to right in stops, density upwards, a line for each channel; where a line is flat the film no longer separates tones. The pointer reads densities and slopes.")
	})
	hint := widget.NewLabel("What the scans say: only differences are certain, the labels fix scale and origin. Measured stops are marked on the axis where they differ from the labels.")
	hint.Wrapping = fyne.TextWrapWord
	copied := h.Chip("Copy figures", "Copy the curve's figures as CSV.", p.copy)
	out := h.Chip("Export the curve…", "Export the curve as PNG, SVG or CSV.", p.export)
	back := chip.New("Back to the pictures", "C", func() { apply(session.ToggleCurve{}) })
	p.object = container.NewBorder(page.Padded(6, 0, 10, 10, container.NewBorder(nil, nil, nil,
		container.NewHBox(copied, out, layout.NewSpacer(), back))),
		hint, nil, nil, p.paper)
	return p
}

// Content implements page.Page.
func (p *Page) Content() fyne.CanvasObject { return p.object }

// Changed implements page.Page.
func (p *Page) Changed(c session.Parts) {
	if c&^session.Marker != 0 {
		p.data = p.state.CurveData()
	}
	p.paper.Refresh()
}

func (p *Page) copy() {
	var b bytes.Buffer
	if p.data.Curve == nil {
		p.host.Refuse("Nothing to copy", errors.New(p.data.Reason))
		return
	}
	if err := p.data.CSV(&b); err != nil {
		p.host.Refuse("Not copied", err)
		return
	}
	p.host.Copy(b.String())
}

func (p *Page) export() {
	d := p.data
	if d.Curve == nil {
		p.host.Refuse("Nothing to export", errors.New(d.Reason))
		return
	}
	p.host.Export(page.Export{What: "curve", Exts: []string{".png", ".svg", ".csv"}, Name: "curve.png", Write: func(path string) error {
		switch strings.ToLower(filepath.Ext(path)) {
		case ".svg":
			return wholefile.Write(path, func(out io.Writer) error { return plot.SVG(out, d, page.PlotWidth, page.PlotHeight, nil) })
		case ".csv":
			return wholefile.Write(path, d.CSV)
		}
		img := plot.Picture(d, 2*page.PlotWidth, 2*page.PlotHeight, 2, nil)
		return pngwrite.File(path, img, pngwrite.Meta{Title: d.Roll + ": response", Software: "Stopladder " + headless.Version})
	}})
}
