package ui

import (
	"context"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/ui/start"
)

// newStart makes the page of a window without a roll, and begins to draw its picture.
//
// Who starts the program without scans gets this page and not the sample roll, which it
// once was: a roll of somebody else's courtyard tells a newcomer neither what the program
// is for nor what to do next, and who has scans must first get rid of it. It is one key
// away here.
func (w *Window) newStart() {
	w.startNotices = newNoticeStrip(w.act, w.apply)
	way := func(id, text, words string) start.Way {
		c := w.chip(id, text)
		return start.Way{Chip: c, Text: words}
	}
	open := way("open", "Open scans", "The scans of one bracket, or the folder that they are in: 16-bit TIFF, PNG or JPEG.")
	open.Chip.Main = true
	w.start = start.New(w.startNotices.box, []start.Way{open,
		way("plan", "Plan a bracket", "Which exposures to make, a field card to print, and a log of what was exposed."),
		way("shelf", "Look along the shelf", "All rolls of a folder on one axis of stops, and two to twelve held against each other."),
		way("demo-reversal", "Try the sample roll", "Eight frames of a courtyard on reversal film, made by the program. A tour shows what it does."),
	}, func(path string) { w.openPaths([]string{path}) })
	w.status.echo = w.start.Say
}

// drawStart draws the picture, once, when the page is first seen.
func (w *Window) drawStart() {
	if w.drawn || !w.visible {
		return
	}
	w.drawn = true
	w.chores.Start("start picture", func(ctx context.Context, _ func(func())) func() {
		s, err := start.Render(ctx)
		return func() {
			if err == nil { // else the words stand alone
				w.start.Show(s)
			}
		}
	})
}

// whole lays the page of a window without a roll over the desk, in whose place it stands.
func (w *Window) whole(desk fyne.CanvasObject) fyne.CanvasObject {
	w.board = desk
	return container.NewStack(desk, w.start.Object)
}

// showStart shows the page while no roll is open, and the desk else.
func (w *Window) showStart() {
	empty := w.state.Empty() && !w.expecting
	if empty != w.start.Object.Visible() || empty == w.board.Visible() {
		if empty {
			w.board.Hide()
			w.start.Object.Show()
		} else {
			w.start.Object.Hide()
			w.board.Show()
		}
	}
	if empty {
		w.start.Recent(w.settings.Recent)
		w.drawStart()
	}
}
