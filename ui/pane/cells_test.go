package pane

import "testing"

func TestGrid(t *testing.T) {
	for n := 3; n <= 15; n++ {
		s := newStage(t, n, 1.5, 700, 500)
		s.g.ShowGrid()
		s.settle()
		if len(s.g.panes) != n {
			t.Fatalf("%d frames in %d panes", n, len(s.g.panes))
		}
		for i, p := range s.g.panes {
			if p.frame.ID != i {
				t.Errorf("%d frames: pane %d shows frame %d", n, i, p.frame.ID)
			}
			if p.w != s.pane(0).w || p.h != s.pane(0).h {
				t.Errorf("%d frames: panes of %dx%d and %dx%d device pixels", n, p.w, p.h, s.pane(0).w, s.pane(0).h)
			}
			end := p.Position().Add(p.Size())
			if p.Position().X < 0 || p.Position().Y < 0 || end.X > 700.1 || end.Y > 500.1 {
				t.Errorf("%d frames: pane %d lies outside the group", n, i)
			}
			for j := range i {
				q := s.g.panes[j]
				if overlaps(p, q) {
					t.Errorf("%d frames: panes %d and %d overlap", n, i, j)
				}
			}
			if i > 0 && !(p.Position().Y > s.pane(i-1).Position().Y || p.Position().X > s.pane(i-1).Position().X) {
				t.Errorf("%d frames: pane %d does not follow in reading order", n, i)
			}
		}
	}
}

func overlaps(a, b *Pane) bool {
	p, q := a.Position(), b.Position()
	return p.X < q.X+b.Size().Width-0.01 && q.X < p.X+a.Size().Width-0.01 && p.Y < q.Y+b.Size().Height-0.01 && q.Y < p.Y+a.Size().Height-0.01
}

func TestGridShape(t *testing.T) {
	for _, c := range []struct {
		n          int
		w, h       float64
		aspect     float64
		cols, rows int
	}{
		{1, 1600, 1000, 1.5, 1, 1},
		{8, 1600, 1000, 1.5, 3, 3},
		{8, 3000, 1000, 1.5, 4, 2},
		{8, 1000, 1000, 0.7, 4, 2},
		{4, 1200, 800, 1.5, 2, 2},
		{12, 1600, 800, 1.5, 4, 3},
		{3, 400, 1200, 1.5, 1, 3},
		{0, 100, 100, 1, 1, 1},
	} {
		cols, rows := gridShape(c.n, c.w, c.h, 0, c.aspect)
		if cols != c.cols || rows != c.rows {
			t.Errorf("%d pictures of %g in %gx%g: %d x %d, want %d x %d", c.n, c.aspect, c.w, c.h, cols, rows, c.cols, c.rows)
		}
	}
}
