package ui

import (
	"bytes"
	"context"
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
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/sheet"
	"stopladder/ui/chip"
	"stopladder/ui/files"
	"stopladder/ui/paper"
)

// curvePage shows the measured response in the pictures' place.
type curvePage struct {
	w      *Window
	object fyne.CanvasObject
	paper  *paper.Paper
	hover  plot.Options
	data   plot.Data
}

func newCurvePage(w *Window) *curvePage {
	p := &curvePage{w: w}
	p.paper = paper.New(fyne.NewSize(220, 160), func(c *paint.Canvas, r image.Rectangle) {
		plot.Draw(c, r.Inset(c.Px(10)), p.data, p.hover)
	})
	p.paper.OnHover = func(x, _ float64, ok bool) {
		p.hover = plot.Options{Hover: ok, HoverX: int(x)}
		p.paper.Refresh()
	}
	hint := widget.NewLabel("What the scans say: only differences are certain, the labels fix scale and origin. Measured stops are marked on the axis where they differ from the labels.")
	hint.Wrapping = fyne.TextWrapWord
	copied := chip.New("Copy figures", "", p.copy)
	copied.Hint, copied.OnHint = "Copy the curve's figures as CSV.", w.hint
	out := chip.New("Export the curve…", "", p.ask)
	out.Hint, out.OnHint = "Export the curve as PNG, SVG or CSV.", w.hint
	back := chip.New("Back to the pictures", "C", func() { w.toggleCurve() })
	p.object = container.NewBorder(padded(6, 0, 10, 10, container.NewBorder(nil, nil, nil,
		container.NewHBox(copied, out, layout.NewSpacer(), back))),
		hint, nil, nil, p.paper)
	return p
}

// show brings the page up to date.
func (p *curvePage) show() {
	p.data = p.w.curveData()
	p.paper.Refresh()
}

// curveData is the plot of the open roll.
func (w *Window) curveData() plot.Data {
	d := plot.Of(w.measured)
	if w.measured.Response == nil {
		switch {
		case w.loading:
			d.Reason = "The response is measured when all scans are read."
		case len(w.sess.Roll.Frames) < 2:
			d.Reason = "One frame alone has no response: open the whole bracket."
		}
	}
	d.Roll = w.rollName()
	return d
}

func (w *Window) toggleCurve() {
	w.showsCurve = !w.showsCurve
	w.showLayout()
	w.showChips()
	w.showMenu()
}

func (p *curvePage) copy() {
	var b bytes.Buffer
	if p.data.Curve == nil {
		p.w.say("Nothing to copy", errors.New(p.data.Reason))
		return
	}
	if err := p.data.CSV(&b); err != nil {
		p.w.say("Not copied", err)
		return
	}
	p.w.app.Clipboard().SetContent(b.String())
	p.w.status.hint("The curve's figures are on the clipboard as CSV")
}

func (p *curvePage) ask() {
	if p.data.Curve == nil {
		p.w.say("Nothing to export", errors.New(p.data.Reason))
		return
	}
	p.w.choose(files.Ask{Title: "Export the curve (.png, .svg or .csv)", Exts: []string{".png", ".svg", ".csv"}, Save: true,
		Folder: p.w.exportFolder(), Name: fileName(p.w.rollName()) + " curve.png", Verb: "Export",
		Done: func(paths []string) { p.export(paths[0]) }})
}

// Size of an exported curve: PNG pixels at a scale of 2, SVG units.
const curveWidth, curveHeight = 1000, 700

func (p *curvePage) export(path string) {
	d := p.data
	p.w.export(path, "curve", func(context.Context, func(float64)) error {
		switch strings.ToLower(filepath.Ext(path)) {
		case ".svg":
			return wholefile.Write(path, func(out io.Writer) error { return plot.SVG(out, d, curveWidth, curveHeight, nil) })
		case ".csv":
			return wholefile.Write(path, d.CSV)
		}
		img := plot.Picture(d, 2*curveWidth, 2*curveHeight, 2, nil)
		return sheet.WriteFile(path, img, sheet.Meta{Title: d.Roll + ": response", Software: "Stopladder " + headless.Version})
	})
}
