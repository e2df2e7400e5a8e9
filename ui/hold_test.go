package ui

import (
	"bytes"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/session"
)

// quiet waits until the pictures are as they will be.
func quiet(t *testing.T, w *Window) {
	t.Helper()
	until(t, w, func() bool { return w.pictures.group.Settled() })
}

// A key that is held shows the base frame in the same place, at once, and its way up takes
// that away; so does a dialog, an entry, or another window that takes the keyboard.
func TestBaseWhileHeld(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	g, h := w.pictures.group, w.holder
	base := w.pictures.baseID()
	w.typedKey(&fyne.KeyEvent{Name: fyne.Key1})
	w.apply(session.Go{Frame: w.state.Base()})
	quiet(t, w)
	baseImg := append([]uint8(nil), g.Shown(base).Pix...)
	h.keyDown(&fyne.KeyEvent{Name: fyne.KeySpace})
	if w.status.text.Text != "This is the base frame" {
		t.Errorf("on the base frame the key says %q", w.status.text.Text)
	}
	h.keyUp(&fyne.KeyEvent{Name: fyne.KeySpace})

	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyUp})
	quiet(t, w)
	down := func() { h.keyDown(&fyne.KeyEvent{Name: fyne.KeySpace}) }
	down()
	if img := g.Shown(base); img == nil || !bytes.Equal(img.Pix, baseImg) {
		t.Error("the base frame is not there at once")
	}
	down() // auto-repeat
	h.live = true
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeySpace})
	if w.state.Held() != session.HeldBase {
		t.Error("a repeat of the key ends it")
	}
	h.keyUp(&fyne.KeyEvent{Name: fyne.KeyY})
	if w.state.Held() != session.HeldBase {
		t.Error("another key's way up ends it")
	}
	h.keyUp(&fyne.KeyEvent{Name: fyne.KeySpace})
	if g.Shown(base) != nil || w.state.Held() != session.NotHeld || g.Holds() {
		t.Error("it stays after the key was let go")
	}

	down()
	w.win.Canvas().Focus(w.bar.note)
	until(t, w, func() bool { return w.state.Held() == session.NotHeld })
	down()
	if w.state.Held() != session.NotHeld {
		t.Error("the key is heard while an entry has the keyboard")
	}
	w.win.Canvas().Unfocus()
	down()
	pop := widget.NewModalPopUp(widget.NewLabel("x"), w.win.Canvas())
	pop.Show()
	until(t, w, func() bool { return w.state.Held() == session.NotHeld })
	pop.Hide()
	down()
	if w.state.Held() != session.HeldBase {
		t.Fatal("after a dialog the key is not heard")
	}
	h.release() // as when the window loses the keyboard
	if w.state.Held() != session.NotHeld || h.key != "" {
		t.Error("losing the keyboard does not end it")
	}
}

// The scan alone, by its key, by its button and by the menu.
func TestScanWhileHeld(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	w.apply(session.Go{Frame: 2})
	w.apply(session.ToggleMask{Mask: session.Blown})
	w.apply(session.ToggleMask{Mask: session.Blocked})
	quiet(t, w)
	g := w.pictures.group
	id := w.pictures.id(w.state.Roll().Frames[2].File)
	dressed := g.Shown(id)
	w.holder.keyDown(&fyne.KeyEvent{Name: fyne.KeyY})
	if w.state.Held() != session.HeldScan || !g.Holds() {
		t.Error("the key shows nothing")
	}
	w.holder.keyUp(&fyne.KeyEvent{Name: fyne.KeyY})
	if g.Shown(id) != dressed {
		t.Error("the picture does not come back")
	}
	c := w.chips["hold-scan"][0]
	c.MouseDown(&desktop.MouseEvent{Button: desktop.MouseButtonPrimary})
	if w.state.Held() != session.HeldScan || !c.On {
		t.Error("the button shows nothing")
	}
	c.MouseUp(nil)
	if w.state.Held() != session.NotHeld || c.On {
		t.Error("the button does not end it")
	}
	c.MouseDown(&desktop.MouseEvent{Button: desktop.MouseButtonPrimary})
	c.MouseOut()
	if w.state.Held() != session.NotHeld {
		t.Error("it stays when the pointer leaves the button")
	}
	test.Tap(c)
	if w.state.Held() != session.NotHeld {
		t.Error("a click leaves something held")
	}
	w.cmds.Find("hold-base").Do()
	if w.state.Held() != session.HeldBase {
		t.Error("the menu shows nothing")
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if w.state.Held() != session.NotHeld {
		t.Error("Escape does not end it")
	}
}

// All frames stand in the ladder's order, over above under, while none of them is read yet
// and when they are.
func TestGridInTheLaddersOrder(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-2.tif", "-1.tif", "0.tif", "+1.tif", "+2.tif")}})
	for end := 0; w.state.Empty() && end < 1000; end++ {
		pump(w)
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.Key3})
	want := func(when string) {
		ids := w.pictures.group.InSight()
		frames := w.state.Roll().Frames
		if len(ids) != len(frames) {
			t.Fatalf("%s: %d pictures of %d frames", when, len(ids), len(frames))
		}
		for i, id := range ids {
			if f := frames[len(frames)-1-i]; w.pictures.fileOf(id) != f.File {
				t.Errorf("%s: picture %d is of %s, want the frame at %g", when, i, w.pictures.fileOf(id), f.Stop)
			}
		}
	}
	want("at first")
	for range 3 {
		pump(w)
		want("while they are read")
	}
	settled(t, w)
	want("at the end")
}

// Two frames with an edge between them: the key shows them, Left and Right choose the left
// one, the marker the right one.
func TestEdgeByKeys(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	key := func(k fyne.KeyName) { w.typedKey(&fyne.KeyEvent{Name: k}) }
	key(fyne.KeyUp)
	key(fyne.Key5)
	quiet(t, w)
	if w.state.Layout() != session.Edge || !w.chips["edge"][0].On {
		t.Fatal("the key shows no edge")
	}
	if ids := w.pictures.group.InSight(); len(ids) != 1 || ids[0] != w.pictures.id(w.state.Roll().Frames[2].File) {
		t.Errorf("at the right %v", ids)
	}
	key(fyne.KeyLeft)
	if w.state.OtherIndex() != 0 {
		t.Errorf("at the left frame %d", w.state.OtherIndex())
	}
	w.cmds.Find("edge-turn").Do()
	if w.pictures.group.Edge().Turn != 90 {
		t.Error("the edge is not turned")
	}
	key(fyne.Key1)
	w.cmds.Find("edge-turn").Do() // shows it, too
	if w.state.Layout() != session.Edge || w.pictures.group.Edge().Turn != 0 {
		t.Error("turning does not show the edge")
	}
}

// Three pictures of a frame with nothing on say that the scan stands there twice.
func TestThreeWithoutACorrection(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyUp})
	w.typedKey(&fyne.KeyEvent{Name: fyne.Key4})
	id := w.pictures.id(w.state.Roll().Frames[2].File)
	if note := w.pictures.group.Note(id); note != "not corrected: press G or V" {
		t.Errorf("its label says %q", note)
	}
}
