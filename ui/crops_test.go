package ui

import (
	"image"
	"testing"
	"time"

	"fyne.io/fyne/v2"

	"stopladder/analysis/show/render"
	"stopladder/ui/session"
)

// A detail that is chosen on a picture comes back for every frame, as sharp as the scans
// have it, and follows what is laid over the pictures.
func TestDetailsOfAllFrames(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	got := map[string]render.Crop{}
	w.pictures.showDetails(40, 30, func(file string, c render.Crop) { got[file] = c })
	pump(w)
	if len(got) > 0 {
		t.Fatal("details were drawn that nobody has chosen")
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyZ})
	if k, _ := w.state.Picking(); k != session.PickDetail || w.pictures.group.OnTrace == nil {
		t.Fatal("the key does not begin to choose a detail")
	}
	base := w.state.Roll().Frames[w.state.Base()].File
	w.pictures.group.OnPick(w.pictures.id(base), image.Pt(80, 60))
	all := func(fine bool) bool {
		for _, f := range w.state.Roll().Frames {
			if c := got[f.File]; c.Image == nil || fine && !c.Fine || c.Image.Rect.Dx() != 40 || c.Image.Rect.Dy() != 30 {
				return false
			}
		}
		return true
	}
	until(t, w, func() bool { return all(true) })
	if w.pictures.group.OnTrace != nil {
		t.Error("drags are still for a detail")
	}
	before := got[base].Image
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyZ})
	w.pictures.group.OnTrace(w.pictures.id(base), image.Pt(90, 61), false)
	until(t, w, func() bool { return got[base].Image != before })
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if k, _ := w.state.Picking(); k != session.PickFrame {
		t.Error("Escape does not leave it")
	}
}

// until waits for something that workers bring about.
func until(t *testing.T, w *Window, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !ok(); {
		if pump(w); time.Now().After(end) {
			t.Fatal("waited in vain")
		}
	}
}
