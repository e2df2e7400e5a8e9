package ui

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/legible"
	"stopladder/ui/ask"
	"stopladder/ui/chip"
	"stopladder/ui/files"
	"stopladder/ui/meter"
	"stopladder/ui/session"
)

// say shows an error: one sentence, and what could not be done as the title.
func (w *Window) say(title string, err error) {
	w.ask(ask.Spec{Title: title, Content: ask.Text(session.Sentence(err.Error())), Width: 520, Answers: []ask.Answer{{Text: "Close", Main: true}}})
}

// editRoll asks for the title block of the roll and of the sheet.
func (w *Window) editRoll() {
	r := w.state.Roll()
	names := map[string]string{"title": "Roll", "stock": "Film stock", "scene": "Scene", "baseExposure": "Base exposure", "metering": "Metering",
		"development": "Development", "lab": "Lab", "scanner": "Scanner", "date": "Date"}
	hints := map[string]string{"scene": "what, in which light", "baseExposure": "aperture, time", "metering": "how it was metered", "development": "process, push or pull",
		"lab": "who developed and scanned", "scanner": "scanner and its settings", "date": "year-month-day"}
	form := container.New(layout.NewFormLayout())
	entries := map[string]*ask.Entry{}
	var fields []*ask.Entry
	add := func(name, text, hint string) *ask.Entry {
		e := w.entry(text)
		e.SetPlaceHolder(hint)
		form.Add(widget.NewLabel(name))
		form.Add(e)
		fields = append(fields, e)
		return e
	}
	for _, l := range r.Block() {
		entries[l.Key] = add(names[l.Key], *l.Text, hints[l.Key])
	}
	judge := add("Judge", w.state.Judge(), "")
	if judge.Text == "" {
		judge.SetText(w.settings.Judge)
	}
	keep := func() {
		w.settings.Judge = strings.TrimSpace(judge.Text)
		lines := map[string]string{}
		for key, e := range entries {
			lines[key] = strings.TrimSpace(e.Text)
		}
		w.apply(session.SetDetails{Lines: lines, Judge: w.settings.Judge})
	}
	ask.On(w.ask(ask.Spec{Title: "Title block", Content: form, Width: 540, First: fields[0],
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Keep", Main: true, Do: keep}}}), fields...)
}

func (w *Window) entry(text string) *ask.Entry { return ask.NewEntry(w.win.Canvas(), text) }

// ask shows a card that Escape closes.
func (w *Window) ask(s ask.Spec) *ask.Card {
	c := ask.New(w.win.Canvas(), s)
	w.show(c)
	return c
}

// labelRow is a frame in the dialog of labels.
type labelRow struct {
	file  string
	stop  float64
	known bool
}

// editLabels lets the stops of all frames be written.
func (w *Window) editLabels() {
	var rows []labelRow
	for _, f := range w.state.Roll().Frames {
		rows = append(rows, labelRow{f.File, f.Stop, true})
	}
	w.askLabels("The stop of each frame is its distance from the base exposure: −1, +2, 1/3, +1 1/2. The frame at 0 is the base.",
		rows, func(labels map[string]float64) {
			w.apply(session.SetLabels{Name: "labels", Stops: labels, Origin: roll.ByHand})
		})
}

// askLabels shows the stops of frames for writing, over above under as on the
// ladder. A stop that cannot be read is said beside its entry and keeps the
// dialog open; an empty entry leaves its frame out of what keep gets.
func (w *Window) askLabels(question string, frames []labelRow, keep func(labels map[string]float64)) {
	type row struct {
		labelRow
		entry *ask.Entry
		wrong *widget.Label
	}
	var rows []row
	var entries []*ask.Entry
	grid := container.NewVBox()
	for i := len(frames) - 1; i >= 0; i-- {
		f := frames[i]
		e := w.entry("")
		entries = append(entries, e)
		if f.known {
			e.SetText(stops.Label(f.stop))
		}
		wrong := widget.NewLabel("")
		wrong.Importance = widget.DangerImportance
		name := widget.NewLabel(legible.Line(filepath.Base(f.file)))
		name.Truncation = fyne.TextTruncateEllipsis
		rows = append(rows, row{f, e, wrong})
		grid.Add(container.NewBorder(nil, nil, container.NewGridWrap(fyne.NewSize(96, 34), e), wrong, name))
	}
	hint := widget.NewLabel(legible.Line(question))
	hint.Wrapping = fyne.TextWrapWord
	var card *ask.Card
	take := func() {
		labels, bad := map[string]float64{}, false
		for _, r := range rows {
			r.wrong.SetText("")
			if strings.TrimSpace(r.entry.Text) == "" {
				continue
			}
			v, err := stops.Parse(r.entry.Text)
			if err != nil {
				r.wrong.SetText("not a stop")
				bad = true
				continue
			}
			labels[r.file] = v
		}
		if !bad {
			card.Hide()
			keep(labels)
		}
	}
	card = w.ask(ask.Spec{Title: "Label the frames", Content: container.NewBorder(hint, nil, nil, nil, container.NewVScroll(grid)), First: entries[0],
		Width: 600, Height: float32(len(rows))*42 + 190, Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Keep", Main: true, Stay: true, Do: take}}})
	ask.On(card, entries...)
}

// confirmLeave asks what to do with unsaved work before go on; it goes straight
// on when there is none.
func (w *Window) confirmLeave(doing string, goOn func()) {
	if !w.state.Unsaved() {
		goOn()
		return
	}
	w.ask(ask.Spec{Title: "Unsaved marks", Content: ask.Text(legible.Line(fmt.Sprintf("%s has marks that are not in a roll file yet.", w.state.Name()))), Width: 500,
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: doing + " without saving", Do: goOn}, {Text: "Save first", Main: true, Do: func() { w.save(goOn) }}}})
}

// show shows a dialog that Escape closes.
func (w *Window) show(d interface {
	Show()
	Hide()
}) {
	w.dialog = d
	d.Show()
}

// choose asks for files; Escape ends it.
func (w *Window) choose(ask files.Ask) {
	ask.Folders = w.settings.Folders
	done := ask.Done
	ask.Done = func(paths []string) {
		if ask.Save {
			w.settings.Used(filepath.Dir(paths[0]))
		}
		done(paths)
	}
	w.dialog = files.Show(w.win, ask)
}

// askOffer asks which of the ways in which a plan and the scans may belong
// together is right; without goes on as if no plan lay beside the scans. look reads the
// scans and puts the offers in the order of how well they fit; the question comes when
// it is done, or at once when asked.
func (w *Window) askOffer(question string, offers []plan.Offer, look func(ctx context.Context, done func(n, of int)) ([]plan.Offer, error),
	take func(plan.Offer), without func()) {
	const work = "order"
	stop := func() { w.chores.Stop(work) }
	text := ask.Text(session.Sentence("A plan lies beside these scans. " + question))
	var card *ask.Card
	rows, asked := container.NewVBox(), false
	answers := func(offers []plan.Offer, note string) {
		rows.RemoveAll()
		for k, o := range offers {
			b := chip.New("This way", "", func() { card.Hide(); take(o) })
			if b.Main = k == 0; b.Main {
				b.Key = "Return"
			}
			l := widget.NewLabel(session.Sentence(o.Text))
			l.Wrapping = fyne.TextWrapWord
			rows.Add(container.NewBorder(nil, nil, nil, container.NewVBox(b), l))
		}
		l := widget.NewLabel(legible.Line(note))
		l.Wrapping = fyne.TextWrapWord
		rows.Add(l)
	}
	const byNames = "In the order of their names; how light the scans are was not looked at."
	var first []plan.Offer // what Return takes, once it is asked
	show := func(offers []plan.Offer, note string) {
		asked, first = true, offers
		answers(offers, note)
		card.Changed()
	}
	progress, at := meter.New(), widget.NewLabel("Looking at the scans, which tell more…")
	rows.Add(at)
	rows.Add(progress)
	card = w.ask(ask.Spec{Title: "Which scan is which frame of the plan?", Content: container.NewBorder(text, nil, nil, nil, container.NewVScroll(rows)),
		Width: 720, Height: 520, OnHide: stop, OnReturn: func() {
			if len(first) > 0 {
				card.Hide()
				take(first[0])
			}
		}, Answers: []ask.Answer{
			{Text: "Ask at once", Stay: true, Off: func() bool { return asked }, Do: func() { stop(); show(offers, byNames) }},
			{Text: "Cancel"}, {Text: "Without the plan", Do: without}}})
	w.chores.Start(work, func(ctx context.Context, post func(func())) func() {
		found, err := look(ctx, func(n, of int) {
			post(func() {
				at.SetText(fmt.Sprintf("Looking at the scans, which tell more: %d of %d.", n, of))
				progress.SetValue(float64(n) / float64(of))
			})
		})
		return func() {
			if err != nil || len(found) == 0 {
				show(offers, byNames)
				return
			}
			show(found, "The way that fits best how light the scans are comes first.")
		}
	})
}
