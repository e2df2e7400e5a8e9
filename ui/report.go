package ui

import (
	"context"
	"errors"
	"io"

	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/webreport"
	"stopladder/ui/ask"
	"stopladder/ui/files"
	"stopladder/ui/pick"
)

// askReport asks for what the report shows and for its file.
func (w *Window) askReport() {
	if done, all := w.state.Read(); done < all {
		w.say("No report yet", errors.New("wait until all scans are read and compared"))
		return
	}
	var words []string
	grades := criteria.Grades()
	for _, g := range grades {
		words = append(words, g.InWords())
	}
	grade := pick.New(words, nil)
	for i, g := range grades {
		if g == w.state.Roll().LimitSet().Grade {
			grade.SetSelectedIndex(i)
		}
	}
	next := func() {
		o := webreport.Options{Grade: grades[max(0, grade.SelectedIndex())], Corrected: w.state.Corrected(), Version: headless.Version}
		w.choose(files.Ask{Title: "Export the report", Exts: []string{".html"}, Save: true, Folder: w.exportFolder(),
			Name: fileName(w.state.Name()) + " report", Verb: "Export", Done: func(paths []string) { w.exportReport(paths[0], o) }})
	}
	w.ask(ask.Spec{Title: "Export the report", Width: 560,
		Content: container.NewBorder(ask.Text("One page for any browser, which fetches nothing: the pictures with a movable edge and their masks, the ladder, the readings, the finding. It can be sent, put on a web site, and printed."), nil, nil, nil,
			container.New(layout.NewFormLayout(), widget.NewLabel("Salvaged by"), grade)),
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Choose the file…", Main: true, Do: next}}})
}

// exportReport writes the report.
func (w *Window) exportReport(path string, o webreport.Options) {
	shown, film, open := w.state.Roll(), w.state.Film(), w.sources.open
	w.export(path, "report", func(ctx context.Context, progress func(float64)) error {
		return wholefile.Write(path, func(out io.Writer) error {
			return webreport.Write(ctx, out, film, o, func(i int) (scan.Source, error) { return open(shown, i) }, func(done, total int) {
				progress(float64(done) / float64(total))
			})
		})
	})
}
