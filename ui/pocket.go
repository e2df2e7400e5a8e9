package ui

import (
	"context"
	"errors"
	"io"
	"strings"

	"fyne.io/fyne/v2"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/film"
	"stopladder/analysis/headless"
	"stopladder/analysis/show/pocketcard"
	"stopladder/ui/ask"
	"stopladder/ui/files"
	"stopladder/ui/pocketpage"
)

// askPocket shows the page on which a pocket card is made up, and asks for its file.
func (w *Window) askPocket() {
	size := w.win.Canvas().Size()
	room := fyne.NewSize(min(size.Width-60-36-320, 900), size.Height-40-120)
	host := pocketpage.Host{
		Roll: func() *film.Roll { return w.state.Film() },
		Head: func() pocketcard.Head { return pocketcard.HeadOf(w.state.Roll(), "Stopladder "+headless.Version) },
		Start: func(work func(ctx context.Context) func()) {
			w.runner.Start("pocket card", func(ctx context.Context, _ func(func())) func() { return work(ctx) })
		},
		Busy:  func() bool { _, on := w.state.Reading(); return on },
		Scale: func() float32 { return w.win.Canvas().Scale() },
	}
	p := pocketpage.New(host, room, w.ratedSpeed())
	w.pocketPage = p
	w.ask(ask.Spec{Title: "Pocket card of the film", Content: p.Object, Width: room.Width + 320 + 36, OnHide: func() {
		w.pocketPage = nil
		w.runner.Stop("pocket card")
	}, Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Choose the file…", Main: true, Do: func() {
		if p.Card() == nil {
			w.say("No pocket card", errors.New("the roll gives none; the page says why"))
			return
		}
		w.choose(files.Ask{Title: "Export the pocket card", Exts: []string{p.Ext()}, Save: true, Folder: w.exportFolder(),
			Name: fileName(w.state.Name()) + " pocket card", Verb: "Export", Done: func(paths []string) { w.exportPocket(paths[0], p) }})
	}}}})
}

// ratedSpeed returns the film speed of the plan beside the scans, 0 where there is none.
func (w *Window) ratedSpeed() float64 {
	r := w.state.Roll()
	if r.Demo != "" {
		for _, stock := range []simulate.Stock{simulate.Negative(), simulate.Reversal()} {
			if strings.Contains(stock.Name, r.Demo) {
				return stock.ISO
			}
		}
		return 0
	}
	var paths []string
	for _, f := range r.Frames {
		paths = append(paths, f.File)
	}
	beside, err := plan.Beside(paths)
	if err != nil || beside == "" {
		return 0
	}
	f, err := plan.Load(beside)
	if err != nil {
		return 0
	}
	return f.Plan.ISO
}

// exportPocket writes the card that the page shows.
func (w *Window) exportPocket(path string, p *pocketpage.Page) {
	card, size, head := p.Card(), p.Size(), pocketcard.HeadOf(w.state.Roll(), "Stopladder "+headless.Version)
	write := func(out io.Writer) error { return pocketcard.PDF(out, card, head, size) }
	switch p.Ext() {
	case ".png":
		write = func(out io.Writer) error { return pocketcard.PNG(out, card, head, size) }
	case ".json":
		write = func(out io.Writer) error { return pocketcard.JSON(out, card, head) }
	}
	w.export(path, "pocket card", func(context.Context, func(float64)) error { return wholefile.Write(path, write) })
}
