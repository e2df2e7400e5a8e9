package ui

import (
	"path/filepath"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/numeric/legible"
	"stopladder/ui/ask"
	"stopladder/ui/session"
)

// askChanged shows what another program made of the roll file beside the marks here, and
// asks which to keep. Neither is lost: what is not kept in the file stays beside it. then,
// which may be nil, runs when the roll is safe on the disk.
func (w *Window) askChanged(c *roll.ChangedError, then func()) {
	mine := w.state.Keeping()
	name := filepath.Base(c.Path)
	text := ask.Text(session.Sentence(name + " was changed by another program since it was opened here. Nothing was written yet. Whichever is kept, the other stays beside it as " +
		filepath.Base(roll.OtherPath(c.Path))))
	done := func(kept string) {
		w.apply(session.Notify{Notice: session.Notice{ID: "other version", Text: "The other version of " + name + " stays beside it as " + filepath.Base(kept) + "."}})
		if then != nil {
			then()
		}
	}
	theirs := func() {
		aside := roll.OtherPath(c.Path)
		if err := mine.Save(aside); err != nil {
			w.say("Nothing was changed", err)
			return
		}
		w.dropBackup()
		w.apply(session.Open{Job: load.Of(c.Theirs)})
		done(aside)
	}
	keep := func() {
		aside := roll.OtherPath(c.Path)
		if err := mine.SaveOver(c.Path); err != nil {
			w.say("Not saved", err)
			return
		}
		w.saved(mine)
		done(aside)
	}
	rows := container.New(layout.NewGridLayoutWithColumns(3))
	cell := func(s string, bold bool) {
		l := widget.NewLabel(legible.Line(s))
		l.Wrapping = fyne.TextWrapWord
		l.TextStyle.Bold = bold
		rows.Add(l)
	}
	switch {
	case c.Theirs == nil:
		rows = container.New(layout.NewGridLayoutWithColumns(1))
		cell(session.Sentence("What stands in it now cannot be read: "+c.Err.Error()), false)
	default:
		cell("", true)
		cell("In the file, by the other program", true)
		cell("Here", true)
		diff := roll.Differences(c.Theirs, mine)
		for _, x := range diff {
			cell(x.What, true)
			cell(orNone(x.Theirs), false)
			cell(orNone(x.Mine), false)
		}
		if len(diff) == 0 {
			cell("No mark differs; other parts of the file do.", false)
		}
	}
	w.changed = w.ask(ask.Spec{Title: "Changed on disk", Content: container.NewBorder(text, nil, nil, nil, container.NewVScroll(container.NewVBox(rows))),
		Width: 840, Height: 560, Answers: []ask.Answer{
			{Text: "Cancel"}, {Text: "Keep theirs", Do: theirs, Off: func() bool { return c.Theirs == nil }},
			{Text: "Save mine under another name…", Do: func() { w.saveAs(then) }}, {Text: "Keep mine", Main: true, Do: keep}}})
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}
