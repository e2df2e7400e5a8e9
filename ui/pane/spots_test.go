package pane

import (
	"testing"

	"fyne.io/fyne/v2"
)

// Names beside marks lie on no mark and no other name, and inside the picture.
func TestNamesBesideMarks(t *testing.T) {
	size, n := fyne.NewSize(200, 100), fyne.NewSize(60, 12)
	mark := func(x, y float32) rect { return rect{fyne.NewPos(x-4, y-4), fyne.NewPos(x+4, y+4)} }
	for _, c := range []struct {
		name  string
		marks []rect // the first is the one to be named
		right bool   // of the mark
		free  bool
	}{
		{"alone", []rect{mark(50, 50)}, true, true},
		{"at the right edge", []rect{mark(190, 50)}, false, true},
		{"another mark at its right", []rect{mark(90, 50), mark(110, 50)}, false, true},
		{"in a crowd", []rect{mark(100, 50), mark(110, 50), mark(90, 50), mark(100, 62), mark(100, 38)}, true, false},
	} {
		at, free := nameBeside(c.marks[0], n, size, c.marks, 0)
		if free != c.free || (at.a.X > c.marks[0].b.X) != c.right {
			t.Errorf("%s: at %v, free %v", c.name, at, free)
		}
		for k, m := range c.marks {
			if free && at.overlaps(m) {
				t.Errorf("%s: the name lies on mark %d", c.name, k)
			}
		}
		if free && (at.a.X < 0 || at.b.X > size.Width) {
			t.Errorf("%s: beyond the picture", c.name)
		}
	}
}
