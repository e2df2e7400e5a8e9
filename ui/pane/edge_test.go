package pane

import (
	"bytes"
	"image"
	"math"
	"testing"

	"stopladder/analysis/show/render"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
)

// alone renders a frame as the group shows it, by itself.
func (s *stage) alone(id int, w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	pic := s.g.pic(s.g.frames[id])
	render.Render(img, pic, s.g.View(), s.g.overlay)
	return img
}

// checkParted compares what is shown with the two frames, pixel by pixel, by the distance
// from a line: that of the handle, at an angle in degrees from upright.
func (s *stage) checkParted(name string, other, id int) {
	s.t.Helper()
	p := s.pane(0)
	a, b, e := s.alone(other, p.w, p.h), s.alone(id, p.w, p.h), s.g.Edge()
	cx, cy := math.Round(e.U*float64(p.w)), math.Round(e.V*float64(p.h))
	sin, cos := math.Sincos(e.Turn * math.Pi / 180)
	bad, left, right := 0, 0, 0
	for y := range p.h {
		for x := range p.w {
			d := cos*(float64(x)+0.5-cx) - sin*(float64(y)+0.5-cy)
			if math.Abs(d) < 1e-6 {
				continue
			}
			want := b
			if d < 0 {
				want, left = a, left+1
			} else {
				right++
			}
			if p.img.RGBAAt(x, y) != want.RGBAAt(x, y) {
				bad++
			}
		}
	}
	if bad > 0 {
		s.t.Errorf("%s: %d of %d + %d pixels are not of the frame of their side", name, bad, left, right)
	}
	if len(s.g.queue.wish[urgent]) > 0 {
		s.t.Errorf("%s: something is to be rendered", name)
	}
}

func TestEdgePartsThePicture(t *testing.T) {
	s := newStage(t, 3, 1, 301, 200)
	s.g.ShowEdge(0, 2)
	s.settle()
	s.checkParted("in the middle", 0, 2)
	seq := s.g.seq
	for _, e := range []Edge{{0.25, 0.5, 0}, {0.75, 0.3, 0}, {0.75, 0.3, 90}, {0.5, 0.6, 90}, {0.4, 0.6, 30}, {0.45, 0.6, 33}, {0.45, 0.5, -40}, {0, 0, 0}, {1, 1, 0}, {1, 1, 90}, {0.5, 0.5, 120}, {0.5, 0.5, 0}} {
		s.g.SetEdge(e)
		s.checkParted("moved", 0, 2)
	}
	if s.g.seq != seq {
		t.Error("moving the edge rendered something")
	}
	s.g.SetMasks(render.Overlay{Blown: true})
	s.g.ZoomTo(1.5)
	s.settle()
	s.checkParted("magnified, under masks", 0, 2)
	s.g.ShowEdge(1, 2)
	s.settle()
	s.checkParted("another at the left", 1, 2)
	s.g.ShowEdge(1, 0)
	s.settle()
	s.checkParted("another at the marker", 1, 0)
	s.resize(250, 180)
	s.settle()
	s.checkParted("in a window of another size", 1, 0)
	s.g.ShowOne(0)
	s.settle()
	if p := s.pane(0); !bytes.Equal(p.img.Pix, s.alone(0, p.w, p.h).Pix) || p.marks.line.Visible() || p.second.back.Visible() {
		t.Error("one picture still has an edge")
	}
}

// The hand takes hold of the edge near the line, moves it, and puts it back into the middle
// with two presses; the knob turns it. Elsewhere a drag pans and a click picks.
func TestEdgeByHand(t *testing.T) {
	s := newStage(t, 2, 1, 300, 200)
	picked := -1
	s.g.OnPick = func(id int, _ image.Point) { picked = id }
	s.g.ShowEdge(0, 1)
	s.settle()
	p := s.pane(0)
	press := func(x, y float32) {
		p.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(x, y)}, Button: desktop.MouseButtonPrimary})
	}
	drag := func(x, y float32) {
		p.Dragged(&fyne.DragEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(x, y)}, Dragged: fyne.NewDelta(5, 0)})
	}
	tap := func(x, y float32) { p.MouseUp(nil); p.Tapped(&fyne.PointEvent{Position: fyne.NewPos(x, y)}) }
	view := s.g.View()
	press(155, 40) // five units beside the line, far from the handle
	drag(90, 60)
	p.DragEnd()
	if e := s.g.Edge(); math.Abs(e.U-0.3) > 1e-6 || math.Abs(e.V-0.3) > 1e-6 || e.Turn != 0 || s.g.View() != view {
		t.Errorf("dragged to %+v, the view from %+v to %+v", e, view, s.g.View())
	}
	s.checkParted("dragged", 0, 1)
	press(90, 60)
	tap(90, 60)
	if picked >= 0 {
		t.Error("a click on the edge picks a frame")
	}
	press(90, 61)
	tap(90, 61)
	if s.g.Edge() != middle {
		t.Errorf("two presses leave it at %+v", s.g.Edge())
	}
	press(150, 100+knobOff)
	tap(150, 100+knobOff)
	if s.g.Edge().Turn != 90 {
		t.Errorf("a click on the knob turns it to %g", s.g.Edge().Turn)
	}
	s.checkParted("level", 0, 1)
	press(150+knobOff, 100)
	drag(150+30, 100+40) // 3, 4: at an angle whose tangent is 3/4 from upright
	p.DragEnd()
	if want := math.Atan2(30, 40) * 180 / math.Pi; math.Abs(s.g.Edge().Turn-want) > 1e-4 {
		t.Errorf("the knob was dragged to %g, want %g", s.g.Edge().Turn, want)
	}
	drag0 := s.g.Edge()
	press(20, 180)
	drag(25, 180)
	p.DragEnd()
	if s.g.Edge() != drag0 {
		t.Error("a drag far from the edge moves it")
	}
	s.g.SetEdge(middle)
	s.g.ZoomTo(2) // the picture is everywhere
	s.settle()
	for x, want := range map[float32]int{40: 0, 260: 1} {
		press(x, 30)
		tap(x, 30)
		if picked != want {
			t.Errorf("a click at %g picks frame %d", x, picked)
		}
		told := -1
		s.g.OnHover = func(id int, _ image.Point, ok bool) { told = id }
		p.MouseMoved(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(x, 31)}})
		if told != want {
			t.Errorf("at %g frame %d is read", x, told)
		}
	}
	p.cursor = fyne.NewPos(151, 30)
	if p.Cursor() != desktop.HResizeCursor {
		t.Error("the pointer does not say that the edge moves")
	}
}

// Each side says what it is, on its own side; where nothing of a side is in sight it says
// nothing.
func TestEdgeLabels(t *testing.T) {
	s := newStage(t, 2, 1, 600, 300)
	s.g.ShowEdge(0, 1)
	s.settle()
	p := s.pane(0)
	if p.plate.label.Text != "+1" || p.second.label.Text != "+0" || !p.plate.back.Visible() || !p.second.back.Visible() {
		t.Fatalf("%q, %q", p.plate.label.Text, p.second.label.Text)
	}
	apart := func(name string) {
		a, b := p.plate.back, p.second.back
		if a.Visible() && b.Visible() {
			x, y := rect{a.Position(), a.Position().Add(a.Size())}, rect{b.Position(), b.Position().Add(b.Size())}
			if x.overlaps(y) {
				t.Errorf("%s: the labels lie on each other: %v, %v", name, x, y)
			}
		}
	}
	if x := p.plate.back.Position().X; x < 300 {
		t.Errorf("the label of the right side stands at %g", x)
	}
	for _, e := range []Edge{{0.02, 0.5, 0}, {0.98, 0.5, 0}, {0.3, 0.5, 0}, {0.5, 0.5, 90}, {0.5, 0.5, 40}, {0.5, 0.02, 90}} {
		s.g.SetEdge(e)
		apart("moved")
	}
	s.g.SetEdge(Edge{0, 0.5, 0})
	if p.second.back.Visible() || !p.plate.back.Visible() {
		t.Error("at the left end the labels are of the wrong side")
	}
	s.g.SetEdge(Edge{1, 0.5, 0})
	if !p.second.back.Visible() || p.plate.back.Visible() {
		t.Error("at the right end the labels are of the wrong side")
	}
	s.g.SetEdge(middle)
	s.g.ShowEdge(1, 1)
	s.settle()
	if p.second.back.Visible() || p.plate.note != "as scanned, on both sides: Left and Right choose another" {
		t.Errorf("with one frame on both sides: %q", p.plate.note)
	}
}

// The marker glides on one side, and the other stays.
func TestEdgeWhileGliding(t *testing.T) {
	s := newStage(t, 3, 1, 300, 200)
	s.g.ShowEdge(0, 1)
	s.settle()
	s.g.ShowBetween(1, 2, BetweenSpec{Label: "+1.4", Note: "interpolated from +1 and +2"})
	s.settle()
	p := s.pane(0)
	if p.plate.label.Text != "+1.4" || p.second.label.Text != "+0" {
		t.Errorf("labels %q, %q", p.plate.label.Text, p.second.label.Text)
	}
	a, b := s.alone(0, p.w, p.h), p.mix.shot.img
	for y := range p.h {
		for _, x := range []int{10, 149, 150, 290} {
			want := a
			if x >= 150 {
				want = b
			}
			if p.img.RGBAAt(x, y) != want.RGBAAt(x, y) {
				t.Fatalf("at %d, %d stands the wrong picture", x, y)
			}
		}
	}
	s.g.EndBetween()
	s.settle()
	s.checkParted("after gliding", 0, 1)
}
