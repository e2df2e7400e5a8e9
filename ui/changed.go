package ui

import (
	"path/filepath"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/numeric/legible"
	"stopladder/ui/session"
)

// askChanged shows what another program made of the roll file beside the marks here, and
// asks which to keep. Neither is lost: what is not kept in the file stays beside it. then,
// which may be nil, runs when the roll is safe on the disk.
func (w *Window) askChanged(c *roll.ChangedError, then func()) {
	mine := w.state.Roll().Clone()
	name := filepath.Base(c.Path)
	text := widget.NewLabel(session.Sentence(name + " was changed by another program since it was opened here. Nothing was written yet. Whichever is kept, the other stays beside it as " +
		filepath.Base(roll.OtherPath(c.Path))))
	text.Wrapping = fyne.TextWrapWord
	var d *dialog.CustomDialog
	done := func(kept string) {
		w.apply(session.Notify{Notice: session.Notice{ID: "other version", Text: "The other version of " + name + " stays beside it as " + filepath.Base(kept) + "."}})
		if then != nil {
			then()
		}
	}
	theirs := widget.NewButton("Keep theirs", func() {
		d.Hide()
		aside := roll.OtherPath(c.Path)
		if err := mine.Save(aside); err != nil {
			w.say("Nothing was changed", err)
			return
		}
		w.dropBackup()
		w.apply(session.Open{Job: load.Of(c.Theirs)})
		done(aside)
	})
	keep := widget.NewButton("Keep mine", func() {
		d.Hide()
		aside := roll.OtherPath(c.Path)
		if err := mine.SaveOver(c.Path); err != nil {
			w.say("Not saved", err)
			return
		}
		w.saved(mine)
		done(aside)
	})
	other := widget.NewButton("Save mine under another name…", func() { d.Hide(); w.saveAs(then) })
	cancel := widget.NewButton("Cancel", func() { d.Hide() })
	rows := container.New(layout.NewGridLayoutWithColumns(3))
	cell := func(s string, bold bool) {
		l := widget.NewLabel(legible.Line(s))
		l.Wrapping = fyne.TextWrapWord
		l.TextStyle.Bold = bold
		rows.Add(l)
	}
	switch {
	case c.Theirs == nil:
		theirs.Disable()
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
	d = dialog.NewCustomWithoutButtons("Changed on disk", container.NewBorder(text,
		container.NewHBox(layout.NewSpacer(), cancel, theirs, other, keep), nil, nil, container.NewVScroll(container.NewVBox(rows))), w.win)
	size := w.win.Canvas().Size()
	d.Resize(fyne.NewSize(min(820, size.Width-60), min(560, size.Height-60)))
	w.show(d)
	w.changed = &choices{theirs, keep, other, cancel}
}

// choices are the buttons of the question which version of a roll file to keep.
type choices struct{ theirs, mine, other, cancel *widget.Button }

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}
