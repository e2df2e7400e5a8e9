package paper

import (
	"image"
	"image/color"
	"os"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"

	"stopladder/analysis/show/paint"
)

func TestMain(m *testing.M) {
	test.NewApp()
	os.Exit(m.Run())
}

// A paper is drawn in device pixels at every scale, and tells where the pointer is in them.
func TestDrawnInDevicePixels(t *testing.T) {
	for _, scale := range []float32{1, 1.25, 1.5, 2} {
		var drawn image.Rectangle
		var at float64
		p := New(fyne.NewSize(20, 10), func(c *paint.Canvas, r image.Rectangle) {
			drawn, at = r, c.Scale
			c.Fill(r, color.NRGBA{0xFF, 0, 0, 0xFF})
		})
		w := test.NewTempWindow(t, container.NewWithoutLayout(p))
		w.SetPadded(false)
		w.Canvas().(test.WindowlessCanvas).SetScale(scale)
		w.Resize(fyne.NewSize(200, 100))
		p.Move(fyne.NewPos(8, 8))
		p.Resize(fyne.NewSize(96, 48))
		w.Canvas().Capture()
		if want := image.Rect(0, 0, int(96*scale), int(48*scale)); drawn != want || at != float64(scale) {
			t.Errorf("scale %g: drawn on %v at %g, want %v", scale, drawn, at, want)
		}
		var x, y float64
		var in bool
		p.OnHover = func(px, py float64, ok bool) { x, y, in = px, py, ok }
		p.MouseIn(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(40, 12)}})
		if x != 40*float64(scale) || y != 12*float64(scale) || !in {
			t.Errorf("scale %g: the pointer is at %g, %g, in %v", scale, x, y, in)
		}
		p.MouseOut()
		if in {
			t.Error("the pointer has not left")
		}
	}
}

func TestLeastSize(t *testing.T) {
	p := New(fyne.NewSize(20, 10), func(*paint.Canvas, image.Rectangle) {})
	if p.SetMinSize(fyne.NewSize(20, 10)) || !p.SetMinSize(fyne.NewSize(20, 30)) || p.MinSize().Height != 30 {
		t.Error("a change of the least size is not told")
	}
}

// Two sheets take turns: what was given last is not drawn on while it may be read.
func TestSheetsTakeTurns(t *testing.T) {
	var s Sheets
	a, b := s.Next(4, 4), s.Next(4, 4)
	if a == b || s.Next(4, 4) != a || s.Next(4, 4) != b {
		t.Error("the same sheet twice in a row, or more than two")
	}
	if c := s.Next(5, 4); c.Rect.Dx() != 5 {
		t.Errorf("a sheet of another size is %v", c.Rect)
	}
}
