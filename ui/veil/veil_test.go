package veil

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/test"

	"stopladder/ui/theme"
)

func TestVeilComesAndGoes(t *testing.T) {
	test.NewTempApp(t)
	win := test.NewTempWindow(t, canvas.NewRectangle(theme.Surface))
	win.Resize(fyne.NewSize(600, 400))
	content := canvas.NewRectangle(theme.Raised)
	v := New(win.Canvas(), content, Middle(300, 200))
	hidden := 0
	v.OnHide = func() { hidden++ }
	v.Show()
	if win.Canvas().Overlays().Top() == nil {
		t.Fatal("nothing lies over the window")
	}
	if s := content.Size(); s.Width < 250 || s.Height < 150 || s.Width > 300 {
		t.Errorf("the content is %v", s)
	}
	win.Resize(fyne.NewSize(240, 160)) // smaller than the card
	if s := content.Size(); s.Width > 240 || s.Height > 160 {
		t.Errorf("in a small window the content is %v", s)
	}
	v.Hide()
	v.Hide()
	if win.Canvas().Overlays().Top() != nil || hidden != 1 {
		t.Errorf("after hiding: told %d times", hidden)
	}
}
