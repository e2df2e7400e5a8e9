package ui

import (
	"reflect"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/test"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/ui/session"
)

// Frames come without labels and are judged by keys; what is broken off goes on where it was,
// and the ordinary marks stay what they are.
func judgedBlind(t *testing.T, w *Window) {
	w.apply(session.SetVerdict{Frame: 2, Verdict: roll.Strains})
	w.apply(session.SetRange{Range: &roll.Range{Lo: -1, Hi: 2}})
	before := w.state.Roll().Clone()
	w.apply(session.BeginBlind{Day: "2026-11-30", Shown: "curves", Times: 2, Seed: 3})
	w.runBlind()
	pump(w)
	if w.blind == nil {
		t.Fatal("nothing is shown")
	}
	over := w.win.Canvas().Overlays().Top()
	if over.Size() != w.win.Canvas().Size() {
		t.Errorf("the view has %v of %v", over.Size(), w.win.Canvas().Size())
	}
	for _, o := range test.LaidOutObjects(over) {
		if c, ok := o.(*canvas.Text); ok && c.Visible() {
			for _, f := range w.state.Roll().Frames {
				if c.Text == "resampled" || c.Text == stops.Label(f.Stop) && f.Stop != 0 {
					t.Errorf("%q stands in sight", c.Text)
				}
			}
		}
	}
	key(w, fyne.KeyH, fyne.KeySpace, fyne.KeyS, fyne.KeyB, fyne.KeyBackspace, fyne.KeyH)
	b, _ := w.state.Blind()
	var said []roll.Verdict
	for _, v := range b.Views {
		if v.Verdict != "" {
			said = append(said, v.Verdict)
		}
	}
	if want := []roll.Verdict{roll.Holds, roll.Strains, roll.Holds}; !reflect.DeepEqual(said, want) {
		t.Errorf("said %v, want %v", said, want)
	}
	if w.blind.asked {
		t.Error("the base frame is still shown after a verdict")
	}
	key(w, fyne.KeyEscape)
	if w.blind != nil || w.win.Canvas().Overlays().Top() != nil {
		t.Fatal("Escape does not break off")
	}
	if !w.state.Unsaved() {
		t.Error("blind verdicts do not count as unsaved")
	}
	// A roll that comes in front ends the view: no verdict goes to another one.
	w.runBlind()
	w.redraw(session.Opened)
	if w.blind != nil {
		t.Error("the view stays over another roll")
	}
	w.runBlind()
	for range 13 {
		if w.blind == nil {
			t.Fatal("it ended before all were judged")
		}
		key(w, fyne.KeyS)
	}
	b, next := w.state.Blind()
	if next >= 0 || b.Done == "" || w.blind != nil {
		t.Errorf("not done after 16 verdicts: %+v", b)
	}
	if w.win.Canvas().Overlays().Top() == nil {
		t.Error("what it came to is not shown")
	}
	key(w, fyne.KeyEscape)
	now := w.state.Roll()
	for i := range before.Frames {
		if now.Frames[i].Verdict != before.Frames[i].Verdict {
			t.Errorf("the verdict of frame %d became %q", i, now.Frames[i].Verdict)
		}
	}
	if !reflect.DeepEqual(now.Marks, before.Marks) {
		t.Errorf("marks became %+v, were %+v", now.Marks, before.Marks)
	}
}
