package ui

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/publish"
	"stopladder/analysis/show/sheet"
	"stopladder/ui/ask"
	"stopladder/ui/files"
	"stopladder/ui/meter"
	"stopladder/ui/page"
	uipublish "stopladder/ui/publish"
	"stopladder/ui/session"
)

// askSheet shows the page on which a sheet is made up, and asks for its file.
func (w *Window) askSheet() {
	size := w.win.Canvas().Size()
	room := fyne.NewSize(size.Width-60-36-320, size.Height-40-120)
	shown := w.state.Roll()
	open := w.sources.open
	host := uipublish.Host{
		Sheet: func() *publish.Sheet {
			s := w.state.Sheet("Stopladder "+headless.Version, func(i int) (scan.Source, error) { return open(shown, i) })
			s.Details = w.sheetDetails()
			return s
		},
		Start: func(work func(ctx context.Context) func()) {
			w.runner.Start("sheet preview", func(ctx context.Context, _ func(func())) func() { return work(ctx) })
		},
		Scale: func() float32 { return w.win.Canvas().Scale() },
	}
	p := uipublish.New(host, w.settings.Sheet, room, w.sheetLacks())
	w.sheetPage = p
	w.ask(ask.Spec{Title: "Export the sheet", Content: p.Object, Width: room.Width + 320 + 36, OnHide: func() {
		w.sheetPage = nil
		w.runner.Stop("sheet preview")
	},
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Choose the file…", Main: true, Do: func() {
			sheet := p.Sheet()
			w.settings.Sheet = p.Chosen()
			w.keepSettings()
			w.choose(files.Ask{Title: "Export the sheet", Exts: []string{p.Ext()}, Save: true, Folder: w.exportFolder(),
				Name: fileName(w.state.Name()) + " sheet", Verb: "Export", Done: func(paths []string) { w.exportSheet(paths[0], sheet) }})
		}}}})
}

// sheetDetails returns the detail that is chosen on the ladder, as the first of a sheet's;
// nil where the sheet is to choose its own.
func (w *Window) sheetDetails() []plate.Detail {
	at, ok := w.state.Detail()
	if !ok {
		return nil
	}
	return []plate.Detail{{Name: "Detail", At: at}}
}

// sheetLacks returns what is still missing on the sheet, "" for nothing.
func (w *Window) sheetLacks() string {
	var missing []string
	judged := 0
	for _, f := range w.state.Roll().Frames {
		if f.Verdict != "" {
			judged++
		}
	}
	if judged == 0 {
		missing = append(missing, "no frame is judged")
	} else if n := len(w.state.Roll().Frames); judged < n {
		missing = append(missing, fmt.Sprintf("%d of %d frames are judged", judged, n))
	}
	if w.state.Range() == nil {
		missing = append(missing, "no range is marked")
	}
	if done, all := w.state.Read(); done < all {
		missing = append(missing, fmt.Sprintf("%d of %d scans are read", done, all))
	} else if _, on := w.state.Reading(); on {
		missing = append(missing, "the frames are still being compared")
	}
	if len(missing) == 0 {
		return ""
	}
	return session.Sentence("So far " + strings.Join(missing, " and "))
}

func (w *Window) exportFolder() string {
	if w.state.Roll().Path() != "" {
		return filepath.Dir(w.state.Roll().Path())
	}
	return w.settings.Folder
}

// exportSheet draws and writes the sheet.
func (w *Window) exportSheet(path string, s *publish.Sheet) {
	if lacking := paint.Lacking(s.Input().Texts()...); lacking != "" {
		w.apply(session.Notify{Notice: session.Notice{ID: "fonts", Text: sheet.LackingWords(lacking)}})
	}
	w.export(path, "sheet", func(ctx context.Context, progress func(float64)) error {
		s.Progress = func(done, total int) { progress(0.95 * float64(done) / float64(total)) }
		return wholefile.Write(path, func(out io.Writer) error { return s.Write(ctx, out) })
	})
}

// askReadings asks for a file for all readings; its ending chooses the kind.
func (w *Window) askReadings() {
	w.choose(files.Ask{Title: "Export the readings (.json or .csv)", Exts: []string{".json", ".csv"}, Save: true,
		Folder: w.exportFolder(), Name: fileName(w.state.Name()) + " readings.json", Verb: "Export",
		Done: func(paths []string) { w.exportReadings(paths[0]) }})
}

func (w *Window) exportReadings(path string) {
	doc := w.state.Report(headless.Version)
	write := doc.EncodeJSON
	if strings.EqualFold(filepath.Ext(path), ".csv") {
		write = doc.EncodeCSV
	}
	w.export(path, "readings", func(context.Context, func(float64)) error {
		return wholefile.Write(path, func(out io.Writer) error { return write(out) })
	})
}

// exportPage asks for a file for what a page offers to write.
func (w *Window) exportPage(e page.Export) {
	last := len(e.Exts) - 1
	w.choose(files.Ask{Title: "Export the " + e.What + " (" + strings.Join(e.Exts[:last], ", ") + " or " + e.Exts[last] + ")", Exts: e.Exts, Save: true,
		Folder: w.exportFolder(), Name: fileName(w.state.Name()) + " " + e.Name, Verb: "Export",
		Done: func(paths []string) {
			w.export(paths[0], e.What, func(context.Context, func(float64)) error { return e.Write(paths[0]) })
		}})
}

// guarded returns the guard of the files that the window has open: the roll's scans, its
// roll file, the plan beside them.
func (w *Window) guarded() *guard.Guard {
	g := new(guard.Guard)
	r := w.state.Roll()
	g.Judged(r)
	if r.Demo == "" {
		var paths []string
		for _, f := range r.Frames {
			paths = append(paths, f.File)
		}
		if beside, err := plan.Beside(paths); err == nil && beside != "" {
			g.Reads(beside)
		}
	}
	return g
}

// export runs a piece of work with a progress dialog that can end it, unless
// the path is one of the files that are read: those are never written to.
func (w *Window) export(path, what string, work func(ctx context.Context, progress func(float64)) error) {
	g := w.guarded()
	if err := g.Writes(path); err != nil {
		w.say("Not exported", err)
		return
	}
	w.running(what, func(ctx context.Context, progress func(float64)) error {
		if err := g.Still(path); err != nil {
			return err
		}
		return work(ctx, progress)
	}, func() { w.exported(what, path, false) })
}

// running runs the work of an export under a card with its progress, which can end it. done
// is called when all went well.
func (w *Window) running(what string, work func(ctx context.Context, progress func(float64)) error, done func()) {
	bar := meter.New()
	running := true
	d := w.ask(ask.Spec{Title: "Exporting the " + what, Content: bar, Width: 420, Answers: []ask.Answer{{Text: "Cancel"}}, OnHide: func() {
		if running {
			w.runner.Stop("export")
			w.status.hint("Export stopped, nothing was written")
		}
	}})
	w.runner.Start("export", func(ctx context.Context, post func(func())) func() {
		err := work(ctx, func(p float64) { post(func() { bar.SetValue(p) }) })
		return func() {
			running = false
			d.Hide()
			if err != nil {
				w.say("Not exported", err)
				return
			}
			done()
		}
	})
}
