package ui

import (
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/ask"
	"stopladder/ui/session"
	"stopladder/ui/tour"
)

// No menu is longer than the smallest window is high.
func TestMenusFit(t *testing.T) {
	w := open(t, Options{})
	listed := map[string]bool{}
	for _, m := range w.win.MainMenu().Items {
		listed[m.Label] = true
		if h := widget.NewMenu(m).MinSize().Height; h > 740 || h < 20 { // under the menu bar and inside 800
			t.Errorf("the menu %s is %g high", m.Label, h)
		}
	}
	for _, c := range w.cmds {
		if c.Menu != "" && !listed[c.Menu] || c.In() == "" {
			t.Errorf("%s stands in the menu %q and the group %q", c.ID, c.Menu, c.In())
		}
	}
}

// The page of keys is seen whole in the smallest window.
func TestPageOfKeysFits(t *testing.T) {
	w := open(t, Options{})
	w.showKeys()
	w.win.Canvas().Capture()
	var page *container.Scroll
	for _, o := range test.LaidOutObjects(w.win.Canvas().Overlays().Top()) {
		if s, ok := o.(*container.Scroll); ok {
			page = s
		}
	}
	if page == nil {
		t.Fatal("no page of keys")
	}
	if need, room := page.Content.MinSize().Height, page.Size().Height; need > room || need < 200 {
		t.Errorf("the page of keys is %g high, and %g are seen", need, room)
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if w.win.Canvas().Overlays().Top() != nil {
		t.Error("Escape does not close the page of keys")
	}
}

// A key without effect says why.
func TestKeysSayWhyNot(t *testing.T) {
	w := open(t, Options{})
	saying := func(k fyne.KeyName, want string) {
		t.Helper()
		w.typedKey(&fyne.KeyEvent{Name: k})
		if got := w.status.text.Text; !strings.Contains(got, want) {
			t.Errorf("%s says %q, not %q", k, got, want)
		}
	}
	for _, c := range w.cmds {
		if len(c.Keys) > 0 && !c.Keys[0].Ctrl && !c.Keys[0].Shift && !alone[c.ID] {
			saying(c.Keys[0].Name, "no roll is open")
		}
	}
	saying(fyne.Key7, "has no command")
	w = open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	saying(fyne.Key0, "this is the base frame")
	saying(fyne.KeyP, "this is the base frame")
	saying(fyne.KeyLeft, "two pictures first")
	w.apply(session.Step{Frames: 1})
	saying(fyne.KeyUp, "the most exposure")
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyDown})
	if w.status.text.Text != "" {
		t.Errorf("after a key that did something it still says %q", w.status.text.Text)
	}
}

// Return and the keys of a question are taken where nothing on its card has the keyboard.
func TestKeysOfAQuestion(t *testing.T) {
	w := open(t, Options{})
	took := ""
	w.ask(ask.Spec{Title: "A question", Content: ask.Text("x"), Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Yes", Main: true, Do: func() { took += "yes" }}},
		OnKey: func(k fyne.KeyName) bool {
			if k == fyne.KeyR {
				took += "R"
			}
			return k == fyne.KeyR
		}})
	w.win.Canvas().Unfocus()
	key(w, fyne.KeyR, fyne.KeyReturn)
	if took != "Ryes" || w.win.Canvas().Overlays().Top() != nil {
		t.Errorf("the keys did %q", took)
	}
}

func TestManualInTheWindow(t *testing.T) {
	w := open(t, Options{})
	w.cmds.Find("manual").Do()
	w.showManual("noise")
	if p, _ := w.manual.Page(); p != "noise" || !w.manual.Shown() {
		t.Errorf("the page %q is open", p)
	}
	w.win.Canvas().Unfocus()
	key(w, fyne.KeyBackspace)
	if p, _ := w.manual.Page(); p == "noise" {
		t.Error("Backspace does not go back")
	}
	key(w, fyne.KeyEscape)
	if w.manual.Shown() {
		t.Error("Escape does not close it")
	}
}

// The tour speaks of what is there: each step has a place inside the window. It is offered
// once.
func TestTourInTheWindow(t *testing.T) {
	home := t.TempDir()
	w := open(t, Options{Home: home, Demo: "reversal"})
	if !strings.Contains(w.said(), "seven steps") {
		t.Errorf("with the first sample roll it is said: %q", w.said())
	}
	w.win.Canvas().Capture() // lays the window out
	steps := w.tourSteps()
	if len(steps) != 7 {
		t.Fatalf("%d steps", len(steps))
	}
	seen := map[tour.Rect]bool{}
	for _, s := range steps {
		if s.Before != nil {
			s.Before()
		}
		r := s.Of()
		if r.Size.Width < 20 || r.Size.Height < 10 || r.At.X < -4 || r.At.Y < 0 || r.At.X+r.Size.Width > 1281 || r.At.Y+r.Size.Height > 801 || seen[r] {
			t.Errorf("%s speaks of %+v", s.Title, r)
		}
		seen[r] = true
	}
	w.cmds.Find("tour").Do()
	on, ok := w.win.Canvas().Overlays().Top().(*tour.Tour)
	if !ok {
		t.Fatal("there is no tour")
	}
	key(w, fyne.KeyReturn, fyne.KeyReturn)
	if on.At() != 2 {
		t.Errorf("two keys lead to step %d", on.At())
	}
	key(w, fyne.KeyEscape)
	if on.Shown() {
		t.Error("Escape does not end the tour")
	}
	again := open(t, Options{Home: home, Demo: "reversal"})
	if strings.Contains(again.said(), "seven steps") {
		t.Error("it is offered again")
	}
}

func TestPaletteInTheWindow(t *testing.T) {
	w := open(t, Options{})
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeySlash})
	w.typedRune('/') // comes after the key
	if len(w.win.Canvas().Overlays().List()) != 1 || !w.palette.Shown() {
		t.Fatal("the palette is not open once")
	}
	w.palette.Hide()
	w.typedRune('/')
	if !w.palette.Shown() {
		t.Error("the letter alone does not open it")
	}
}
