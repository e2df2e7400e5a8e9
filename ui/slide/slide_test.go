package slide

import (
	"fmt"
	"image"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"

	"stopladder/ui/theme"
)

func made(t *testing.T) (*Slide, *[]string) {
	t.Helper()
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	s := New("Exposure", -6, 6, 0, 0.5, func(v float64) string { return fmt.Sprint(v) })
	var told []string
	s.OnChange = func(v float64, done bool) { told = append(told, fmt.Sprint(v, done)) }
	win := test.NewTempWindow(t, s)
	win.SetPadded(false)
	win.Resize(fyne.NewSize(240+2*margin, LimitHeight))
	return s, &told
}

func at(v float64) fyne.Position { return fyne.NewPos(margin+float32((v+6)*20), 25) }

func TestDragged(t *testing.T) {
	s, told := made(t)
	s.Dragged(&fyne.DragEvent{PointEvent: fyne.PointEvent{Position: at(1.4)}})
	s.Set(-3) // what comes from the state does not tear it out of the hand
	s.Dragged(&fyne.DragEvent{PointEvent: fyne.PointEvent{Position: at(99)}})
	s.DragEnd()
	if got := fmt.Sprint(*told); got != "[1.5 false 6 false 6 true]" || s.Value() != 6 {
		t.Errorf("told %s, stands at %v", got, s.Value())
	}
	s.Set(-3)
	if s.Value() != -3 {
		t.Error("after the drag it does not follow the state")
	}
}

func TestWheelTapAndBack(t *testing.T) {
	s, told := made(t)
	s.Scrolled(&fyne.ScrollEvent{Scrolled: fyne.NewDelta(0, 4)})
	s.Tapped(&fyne.PointEvent{Position: at(-2)})
	s.DoubleTapped(&fyne.PointEvent{Position: at(-2)})
	if got := fmt.Sprint(*told); got != "[0.5 true -2 true 0 true]" {
		t.Errorf("told %s", got)
	}
	s.Disable(true)
	s.Tapped(&fyne.PointEvent{Position: at(3)})
	if s.Value() != 0 {
		t.Error("a slide that is off was moved")
	}
}

// Limits need more height, are drawn, and go again.
func TestLimits(t *testing.T) {
	s, _ := made(t)
	img := func() image.Image { return test.NewTempWindow(t, s).Canvas().Capture() }
	plain := lit(img())
	if !s.SetLimits([]Zone{{Lo: -6, Hi: 1, Level: 2}, {Lo: 1, Hi: 6, Level: 0}}, []Mark{{At: 1, Words: "breaks by noise"}}) {
		t.Error("limits do not ask for more height")
	}
	if s.MinSize().Height != LimitHeight {
		t.Errorf("height %v with limits", s.MinSize().Height)
	}
	if n := lit(img()); n <= plain+50 {
		t.Errorf("%d bright pixels with limits, %d without", n, plain)
	}
	if s.SetLimits([]Zone{{Lo: -6, Hi: 1, Level: 2}, {Lo: 1, Hi: 6, Level: 0}}, []Mark{{At: 1, Words: "breaks by noise"}}) {
		t.Error("the same limits ask for another height")
	}
	if !s.SetLimits(nil, nil) || s.MinSize().Height != Height {
		t.Errorf("height %v after the limits went", s.MinSize().Height)
	}
}

func lit(img image.Image) (n int) {
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if r, _, _, _ := img.At(x, y).RGBA(); r > 0x9000 {
				n++
			}
		}
	}
	return n
}
