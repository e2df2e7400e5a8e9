package ui

import (
	"net/url"

	"fyne.io/fyne/v2"

	"stopladder/ui/manual"
	"stopladder/ui/session"
	"stopladder/ui/tour"
)

// showManual opens the manual, at a page or where it was left.
func (w *Window) showManual(page string) {
	if w.manual == nil {
		w.manual = manual.New(w.win.Canvas(), func(u *url.URL) {
			if err := w.app.OpenURL(u); err != nil {
				w.status.hint("No program opens " + u.String())
			}
		})
	}
	if page != "" {
		w.manual.Open(page, "")
	}
	w.show(w.manual)
}

// takeTour leads through the window over the sample roll, which it opens first.
func (w *Window) takeTour() {
	lead := func() {
		w.apply(session.ShowPictures{})
		w.show(tour.New(w.win.Canvas(), w.tourSteps()))
	}
	if w.state.Roll().Demo != "" {
		lead()
		return
	}
	w.openDemo("reversal")
	if w.state.Roll().Demo != "" {
		lead()
	}
}

// offerTour offers the tour with the first sample roll that is opened, once.
func (w *Window) offerTour() {
	if w.settings.Toured || w.home == "" { // without a folder of its own it could not know that it was asked before
		return
	}
	w.settings.Toured = true
	_ = w.settings.Save() // at worst it is offered again
	w.apply(session.Notify{Notice: session.Notice{ID: "tour", Text: "New here? A tour of seven steps shows what the window does, over this roll.",
		Actions: []session.Action{{Words: "Take the tour", Command: "tour"}}}})
}

// tourSteps are the steps of the tour, in the order of the job. Where they stand is asked
// of the parts themselves, as they are laid out when the step is shown.
func (w *Window) tourSteps() []tour.Step {
	seen := func(id string) (out []fyne.CanvasObject) {
		for _, c := range w.chips[id] {
			if c.Visible() && c.Size().Width > 0 {
				out = append(out, c)
				break
			}
		}
		return out
	}
	of := func(o ...fyne.CanvasObject) func() tour.Rect { return func() tour.Rect { return tour.Of(o...) } }
	return []tour.Step{
		{Title: "The ladder", Of: of(w.ladder),
			Text: "Every frame stands at its stop: over above, under below, the base frame at 0. Its row shows what is blown, blocked and noisy, what a salvage costs, and what follows from it. Rest the pointer on anything to have it explained."},
		{Title: "The marker", Of: func() tour.Rect {
			r := tour.Of(w.ladder)
			r.Size.Width = min(r.Size.Width, 64)
			return r
		}, Text: "Up and Down move the marker from frame to frame, 0 goes back to the base frame. Drag it along the axis, and the pictures between the frames are made from the measured response."},
		{Title: "Pictures and masks", Of: of(w.stage), Before: func() {
			w.apply(session.SetLayout{Layout: session.Pair})
			if n := len(w.state.Roll().Frames); w.state.Current() == w.state.Base() && w.state.Base()+2 < n {
				w.apply(session.Go{Frame: w.state.Base() + 2})
			}
		}, Text: "Press 2 for the base frame beside the frame at the marker, 1 for one picture, 3 for all. O marks what is blown, U what is blocked, N what is noisy, X what is lost and cannot come back. The wheel zooms all pictures alike."},
		{Title: "Salvage", Of: func() tour.Rect { return tour.Of(seen("salvage")...) },
			Text: "G shows every frame brought towards the base frame; W opens the page of what that costs: lost area, noise and colour, against limits that you can move."},
		{Title: "Your range", Of: func() tour.Rect { // the axis, on which the posts stand, with what sets them under it
			r := tour.Of(w.ladder)
			r.Size.Width = min(r.Size.Width, 110)
			if under := tour.Of(w.bar.rangeTxt, w.bar.lower, w.bar.upper); under.At.Y >= r.At.Y+r.Size.Height {
				r.Size = fyne.NewSize(max(r.Size.Width, under.At.X+under.Size.Width-r.At.X), under.At.Y+under.Size.Height-r.At.Y)
			}
			return r
		},
			Text: "Put the marker where the film begins to hold and press [, then where it ends and press ]. The two posts on the axis can be dragged. Beside it stands the range that was measured."},
		{Title: "Verdict and note", Of: func() tour.Rect {
			return tour.Of(append(append(seen("holds"), seen("breaks")...), w.bar.note)...)
		}, Text: "Judge each frame for your use: H holds, S strains, B breaks. Return writes a note. What is suggested stands beside your verdict and never in its place."},
		{Title: "The sheet", Of: of(w.head),
			Text: "Click the title to say which film, exposure and judge. Ctrl+E exports the sheet: all frames with their readings, verdicts, notes and your range on one picture. / finds every command, F1 shows all keys."},
	}
}
