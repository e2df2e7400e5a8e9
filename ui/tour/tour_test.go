package tour

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/theme"
)

func TestTour(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	a, b, c := widget.NewLabel("left"), widget.NewLabel("right"), widget.NewLabel("foot")
	win := test.NewTempWindow(t, container.NewBorder(nil, c, a, b, widget.NewLabel("middle")))
	win.Resize(fyne.NewSize(1280, 800))
	set := 0
	tour := New(win.Canvas(), []Step{
		{Title: "One", Text: "x", Of: func() Rect { return Of(a) }},
		{Title: "Two", Text: "x", Of: func() Rect { return Of(b) }, Before: func() { set++ }},
		{Title: "Three", Text: "x", Of: func() Rect { return Of(c, nil) }},
		{Title: "Four", Text: "x", Of: func() Rect { return Rect{fyne.NewPos(0, 0), fyne.NewSize(1280, 800)} }},
	})
	tour.Show()
	press := func(k fyne.KeyName) { tour.TypedKey(&fyne.KeyEvent{Name: k}) }
	for i := range 4 {
		if tour.At() != i || !tour.Shown() {
			t.Fatalf("step %d, shown %v", tour.At(), tour.Shown())
		}
		win.Canvas().Capture()
		at, size := tour.card.Position(), tour.card.Size()
		if at.X < 0 || at.Y < 0 || at.X+size.Width > 1280 || at.Y+size.Height > 800 || size.Height < 60 {
			t.Errorf("step %d: the card stands at %v, %v", i, at, size)
		}
		f, s := tour.frame.Position(), tour.frame.Size()
		if apart := at.X >= f.X+s.Width || at.X+size.Width <= f.X || at.Y >= f.Y+s.Height || at.Y+size.Height <= f.Y; !apart && i < 3 {
			t.Errorf("step %d: the card at %v, %v lies over what it speaks of at %v, %v", i, at, size, f, s)
		}
		press(fyne.KeyReturn)
	}
	if tour.Shown() || set != 1 {
		t.Errorf("after the last step it is shown: %v; set up %d times", tour.Shown(), set)
	}
	tour.Show()
	press(fyne.KeyRight)
	press(fyne.KeyLeft)
	if tour.At() != 0 {
		t.Error("Left does not go back")
	}
	press(fyne.KeyEscape)
	if tour.Shown() || win.Canvas().Overlays().Top() != nil {
		t.Error("Escape does not end it")
	}
}
