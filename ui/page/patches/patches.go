// Package patches is the page on which places of the scene are named and read in every
// frame.
package patches

import (
	"bytes"
	"errors"
	"image"
	"io"
	"math"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless"
	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/row"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/paper"
	"stopladder/ui/session"
)

// Page is the page.
type Page struct {
	host    page.Host
	state   *session.State
	apply   func(session.Change)
	object  *fyne.Container
	name    *widget.Entry
	neutral *chip.Chip
	plot    *paper.Paper
	hover   int // device pixel under the pointer, -1 for none
	tables  *page.Tables
}

// New returns the page of a state.
func New(state *session.State, apply func(session.Change), h page.Host) *Page {
	p := &Page{host: h, state: state, apply: apply, hover: -1}
	button := func(text, hint string, c session.Change) *chip.Chip { return h.Chip(text, hint, func() { apply(c) }) }
	p.name = widget.NewEntry()
	p.name.SetPlaceHolder("Name of the patch")
	p.name.OnSubmitted = func(text string) {
		apply(session.NamePatch{Name: text})
		if c := p.canvas(); c != nil {
			c.Unfocus()
		}
	}
	p.neutral = button("Neutral", "This place is grey in the scene: casts are told against it.", session.ToggleNeutral{})
	p.plot = paper.New(fyne.NewSize(page.Width, 190), func(c *paint.Canvas, r image.Rectangle) {
		r = image.Rect(r.Min.X+c.Px(10), r.Min.Y, r.Max.X-c.Px(4), r.Max.Y)
		plot.DrawOver(c, r, state.PatchPlot(state.Current()), p.hover)
	})
	p.plot.OnHover = func(x, _ float64, ok bool) {
		if p.hover = -1; ok {
			p.hover = int(x)
		}
		p.plot.Refresh()
	}
	p.tables = page.NewTables(h.Do, func() { p.object.Refresh() })
	p.tables.Paper().OnHover = func(_, _ float64, ok bool) {
		h.Hint(map[bool]string{true: "A click on a head sorts by it, on a row chooses it; what is chosen is plotted.", false: ""}[ok])
	}
	h.Explain(p.plot, func() explain.Card {
		return explain.Plot("Patches over stops", "patch", "The reading by which the table is sorted, of the chosen patch, in every frame from under to over. The pointer reads a frame.")
	})
	p.tables.Explain(h)
	top := container.NewVBox(
		page.Line(
			button("Place a patch", "Click on the picture; the patch follows into every frame.", session.Pick{For: session.PickPatch}),
			button("Suggest", "Flat places over the tonal range, neutral ones first, in the place of the patches that there are.", session.SuggestPatches{}),
			button("Next", "Choose the next patch.", session.NextPatch{})),
		container.NewBorder(nil, nil, nil, page.Row(p.neutral, button("Take away", "Take the chosen patch away.", session.RemovePatch{})), p.name))
	foot := page.Line(
		h.Chip("Copy as CSV", "Copy every reading of every patch as CSV.", p.copy),
		h.Chip("Export…", "Write every reading of every patch as CSV, or the plot as PNG or SVG.", p.export))
	p.object = container.NewBorder(container.NewVBox(page.Padded(4, 4, 10, 10, top), p.plot), page.Padded(4, 6, 10, 10, foot), nil, nil, container.NewVScroll(p.tables.Object()))
	return p
}

// canvas returns where the page stands, nil while it is not shown.
func (p *Page) canvas() fyne.Canvas { return fyne.CurrentApp().Driver().CanvasForObject(p.name) }

// Content implements page.Page.
func (p *Page) Content() fyne.CanvasObject { return p.object }

// Changed implements page.Page.
func (p *Page) Changed(session.Parts) {
	s := p.state
	name, neutral, all := "", false, s.Roll().Patches
	if k := s.Patch(); k < len(all) {
		name, neutral = all[k].Name, all[k].Neutral
	}
	if c := p.canvas(); (c == nil || c.Focused() != p.name) && p.name.Text != name {
		p.name.SetText(name)
	}
	p.neutral.Set(p.neutral.Text, neutral, false)
	sections, click := s.PatchTables(s.Current())
	p.tables.OnCell = func(at row.Cell) {
		if c := click(at); c != nil {
			p.apply(c)
		}
	}
	p.tables.Set(sections)
	if len(all) == 0 {
		p.plot.Hide()
	} else {
		p.plot.Show()
	}
	p.plot.Refresh()
}

func (p *Page) copy() {
	var b bytes.Buffer
	if err := p.state.PatchCSV(&b); err != nil {
		p.host.Refuse("Nothing to copy", err)
		return
	}
	p.host.Copy(b.String())
}

func (p *Page) export() {
	d := p.state.PatchPlot(p.state.Current())
	var figures bytes.Buffer
	if err := p.state.PatchCSV(&figures); err != nil || len(d.Series) == 0 {
		p.host.Refuse("Nothing to export", errors.New("there is no patch that could be read yet"))
		return
	}
	for i := range d.Series { // a page of its own has no chosen patch and no marker
		d.Series[i].Strong = false
	}
	d.At = math.NaN()
	title := p.state.Name() + ": " + d.Title + " of the patches"
	p.host.Export(page.Export{What: "patches", Exts: []string{".csv", ".png", ".svg"}, Name: "patches.csv", Write: func(path string) error {
		switch strings.ToLower(filepath.Ext(path)) {
		case ".svg":
			return wholefile.Write(path, func(out io.Writer) error { return plot.OverSVG(out, d, page.PlotWidth, page.PlotHeight, nil) })
		case ".png":
			return pngwrite.File(path, plot.OverPicture(d, 2*page.PlotWidth, 2*page.PlotHeight, 2, nil),
				pngwrite.Meta{Title: title, Software: "Stopladder " + headless.Version})
		}
		return wholefile.Write(path, func(out io.Writer) error { _, err := out.Write(figures.Bytes()); return err })
	}})
}
