package ui

import (
	"bytes"
	"context"
	"errors"
	"image"
	"io"
	"math"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/sheet"
	"stopladder/ui/chip"
	"stopladder/ui/files"
	"stopladder/ui/pane"
	"stopladder/ui/paper"
	"stopladder/ui/session"
)

// patchesPage is where places of the scene are named and read in every frame.
type patchesPage struct {
	w       *Window
	object  *fyne.Container
	name    *widget.Entry
	neutral *chip.Chip
	plot    *paper.Paper
	hover   int // device pixel under the pointer, -1 for none
	tables  *tables
}

func newPatchesPage(w *Window) *patchesPage {
	p := &patchesPage{w: w, hover: -1}
	button := func(text, hint string, do func()) *chip.Chip {
		c := chip.New(text, "", do)
		c.Hint, c.OnHint = hint, w.hint
		return c
	}
	p.name = widget.NewEntry()
	p.name.SetPlaceHolder("Name of the patch")
	p.name.OnSubmitted = func(text string) {
		if text = strings.TrimSpace(text); text == "" || utf8.RuneCountInString(text) > 60 {
			w.status.hint("A patch has a name of 1 to 60 letters")
			return
		}
		w.sess.ChangePatch("name of a patch", func(q *roll.Patch) bool { q.Name = text; return true })
		w.win.Canvas().Unfocus()
	}
	p.neutral = button("Neutral", "This place is grey in the scene: casts are told against it.", func() {
		w.sess.ChangePatch("neutral patch", func(q *roll.Patch) bool { q.Neutral = !q.Neutral; return true })
	})
	p.plot = paper.New(fyne.NewSize(sideWidth, 190), func(c *paint.Canvas, r image.Rectangle) {
		r = image.Rect(r.Min.X+c.Px(10), r.Min.Y, r.Max.X-c.Px(4), r.Max.Y)
		plot.DrawOver(c, r, w.sess.PatchPlot(w.sess.Current()), p.hover)
	})
	p.plot.OnHover = func(x, _ float64, ok bool) {
		if p.hover = -1; ok {
			p.hover = int(x)
		}
		p.plot.Refresh()
	}
	p.tables = newTables(w.do, func() { p.object.Refresh() })
	p.tables.paper.OnHover = func(_, _ float64, ok bool) {
		w.hint(map[bool]string{true: "A click on a head sorts by it, on a row chooses it; what is chosen is plotted.", false: ""}[ok])
	}
	top := container.NewVBox(
		container.New(&chip.Row{},
			button("Place a patch", "Click on the picture; the patch follows into every frame.", p.place),
			button("Suggest", "Flat places over the tonal range, neutral ones first, in the place of the patches that there are.", func() {
				if w.sess.SuggestPatches() == 0 {
					w.status.hint("No flat place was found, or the base frame is not read yet")
				}
			}),
			button("Next", "Choose the next patch.", func() {
				if n := len(w.sess.Roll.Patches); n > 0 {
					w.sess.Patch = (w.sess.Patch + 1) % n
					w.sess.Emit(session.ViewChanged)
				}
			})),
		container.NewBorder(nil, nil, nil, container.New(&chip.Row{}, p.neutral,
			button("Take away", "Take the chosen patch away.", func() {
				w.sess.ChangePatch("taking a patch away", func(*roll.Patch) bool { return false })
			})), p.name))
	foot := container.New(&chip.Row{},
		button("Copy as CSV", "Copy every reading of every patch as CSV.", p.copy),
		button("Export…", "Write every reading of every patch as CSV, or the plot as PNG or SVG.", p.ask))
	p.object = container.NewBorder(container.NewVBox(padded(4, 4, 10, 10, top), p.plot), padded(4, 6, 10, 10, foot), nil, nil, container.NewVScroll(p.tables.paper))
	return p
}

func (p *patchesPage) content() fyne.CanvasObject { return p.object }

func (p *patchesPage) show(session.Changed) {
	s := p.w.sess
	name, neutral := "", false
	if s.Patch < len(s.Roll.Patches) {
		name, neutral = s.Roll.Patches[s.Patch].Name, s.Roll.Patches[s.Patch].Neutral
	}
	if p.w.win.Canvas().Focused() != p.name && p.name.Text != name {
		p.name.SetText(name)
	}
	p.neutral.Set(p.neutral.Text, neutral, false)
	sections, click := s.PatchTables(s.Current())
	p.tables.onCell = click
	p.tables.set(sections)
	if len(s.Roll.Patches) == 0 {
		p.plot.Hide()
	} else {
		p.plot.Show()
	}
	p.plot.Refresh()
}

// showSpots marks the patches on the pictures while their page is open.
func (w *Window) showSpots() {
	var spots []pane.Spot
	if w.sess.Panel == session.PatchesPanel {
		for i, q := range w.sess.Roll.Patches {
			spots = append(spots, pane.Spot{X: q.X, Y: q.Y, R: q.R, Name: q.Name, Active: i == w.sess.Patch})
		}
	}
	w.pictures.SetSpots(spots)
}

func (p *patchesPage) place() {
	p.w.pickNext("Click on the place of the new patch; Escape leaves.", func(i int, at image.Point) {
		if err := p.w.sess.AddPatch(i, float64(at.X), float64(at.Y)); err != nil {
			p.w.say("No patch placed", err)
		}
	})
}

func (p *patchesPage) copy() {
	var b bytes.Buffer
	if err := p.w.sess.PatchCSV(&b); err != nil {
		p.w.say("Nothing to copy", err)
		return
	}
	p.w.copyTables(b.String())
}

func (p *patchesPage) ask() {
	s := p.w.sess
	d := s.PatchPlot(s.Current())
	if len(d.Series) == 0 {
		p.w.say("Nothing to export", errors.New("there is no patch that could be read yet"))
		return
	}
	for i := range d.Series { // a page of its own has no chosen patch and no playhead
		d.Series[i].Strong = false
	}
	d.At = math.NaN()
	name := p.w.rollName()
	p.w.choose(files.Ask{Title: "Export the patches (.csv, .png or .svg)", Exts: []string{".csv", ".png", ".svg"}, Save: true,
		Folder: p.w.exportFolder(), Name: fileName(name) + " patches.csv", Verb: "Export",
		Done: func(paths []string) {
			path := paths[0]
			p.w.export(path, "patches", func(context.Context, func(float64)) error {
				switch strings.ToLower(filepath.Ext(path)) {
				case ".svg":
					return wholefile.Write(path, func(out io.Writer) error { return plot.OverSVG(out, d, curveWidth, curveHeight, nil) })
				case ".png":
					return sheet.WriteFile(path, plot.OverPicture(d, 2*curveWidth, 2*curveHeight, 2, nil),
						sheet.Meta{Title: name + ": " + d.Title + " of the patches", Software: "Stopladder " + headless.Version})
				}
				return wholefile.Write(path, s.PatchCSV)
			})
		}})
}
