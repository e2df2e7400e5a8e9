package page

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/chip"
	_ "stopladder/ui/early"
	"stopladder/ui/theme"
)

// Lines of chips begin at one edge, with the word before them or without; rows end at one.
func TestLinesBeginAtOneEdge(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	new := func(s ...string) (out []fyne.CanvasObject) {
		for _, x := range s {
			out = append(out, chip.New(x, "", nil))
		}
		return out
	}
	first, second, line, row := new("Exposure", "By hand"), new("Screen"), new("Copy"), new("Copy")
	box := test.NewTempWindow(t, Padded(0, 0, 10, 10, fixed(Named("Grade", first), Named("Limits", second), Line(line...), Row(row...))))
	box.SetPadded(false)
	box.Resize(fyne.NewSize(Width, 300))
	x := func(o fyne.CanvasObject) float32 {
		return fyne.CurrentApp().Driver().AbsolutePositionForObject(o).X
	}
	if x(first[0]) != x(second[0]) {
		t.Errorf("the lines begin at %g and %g", x(first[0]), x(second[0]))
	}
	if a, b := x(line[0]), x(row[0])+row[0].Size().Width; a > 14 || b < Width-14 {
		t.Errorf("a line begins at %g, a row ends at %g of %d", a, b, Width)
	}
	if first[1].Position().X <= first[0].Position().X {
		t.Error("chips lie over each other")
	}
}

func fixed(o ...fyne.CanvasObject) fyne.CanvasObject {
	g := container.New(rows{}, o...)
	return g
}

type rows struct{}

func (rows) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(10, 10) }
func (rows) Layout(o []fyne.CanvasObject, s fyne.Size) {
	for i, x := range o {
		x.Move(fyne.NewPos(0, float32(30*i)))
		x.Resize(fyne.NewSize(s.Width, 28))
	}
}

// A label's text begins where other things begin.
func TestFlush(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	l := widget.NewLabel("words")
	w := test.NewTempWindow(t, fixed(Flush(l)))
	w.SetPadded(false)
	w.Resize(fyne.NewSize(200, 60))
	if l.Position().X != -inner || l.Size().Width < 200 {
		t.Errorf("the label is at %v, %v", l.Position(), l.Size())
	}
}
