package ladder

import (
	"image"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	_ "stopladder/ui/early"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// of is a ladder with a roll.
func of(r *roll.Roll) (*Ladder, *session.State) {
	s := session.New(load.Options{})
	var l *Ladder
	apply := func(c session.Change) { l.Changed(s.Apply(c).Redraw) }
	l = New(s, apply)
	apply(session.Open{Job: &load.Job{Roll: r}})
	return l, s
}

// shown is a ladder of eight whole stops in a window of the test driver.
func shown(t *testing.T, width, height float32) (*Ladder, *session.State) {
	t.Helper()
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	r := &roll.Roll{}
	for s := -3; s <= 4; s++ {
		r.Frames = append(r.Frames, roll.Frame{File: "/scans/" + string(rune('a'+s+3)) + ".tif", Stop: float64(s)})
	}
	l, s := of(r)
	w := test.NewTempWindow(t, l)
	w.SetPadded(false)
	w.Resize(fyne.NewSize(width, height))
	l.draw()
	return l, s
}

// at is a place on the axis at that stop, or on a row.
func at(l *Ladder, stop float64, x float32) fyne.Position {
	return fyne.NewPos(x, float32(l.geo.y(stop)+l.header()))
}

func press(l *Ladder, p fyne.Position, b desktop.MouseButton) {
	l.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: p}, Button: b})
}

func drag(l *Ladder, p fyne.Position) {
	l.Dragged(&fyne.DragEvent{PointEvent: fyne.PointEvent{Position: p}})
}

func TestPostsAreDraggedInQuarterStops(t *testing.T) {
	l, s := shown(t, 520, 700)
	press(l, at(l, 4, 40), desktop.MouseButtonPrimary) // waits at the upper end
	drag(l, at(l, 2.4, 40))
	drag(l, at(l, 1.3, 40))
	if s.Range() != nil {
		t.Error("the range was marked before the post was let go")
	}
	l.DragEnd()
	l.MouseUp(nil)
	if r := s.Range(); r == nil || *r != (roll.Range{Lo: -3, Hi: 1.25}) {
		t.Fatalf("range %+v, want -3 .. 1.25", r)
	}
	if s.Marker() != 0 {
		t.Error("dragging a post moved the marker")
	}
	press(l, at(l, -3, 40), desktop.MouseButtonPrimary)
	drag(l, at(l, -0.55, 40))
	l.DragEnd()
	if r := s.Range(); *r != (roll.Range{Lo: -0.5, Hi: 1.25}) {
		t.Errorf("range %+v, want -0.5 .. 1.25", r)
	}
	for range 2 {
		if got := s.Undoes(); got != "range" {
			t.Errorf("undo offers %q, want one step for each drag", got)
		}
		l.apply(session.Undo{})
	}
	if s.Range() != nil {
		t.Error("two drags were more than two steps of undo")
	}
}

func TestTheMarkerMovesAndSettles(t *testing.T) {
	l, s := shown(t, 520, 700)
	press(l, at(l, 0.5, 20), desktop.MouseButtonPrimary)
	drag(l, at(l, 2.3, 20))
	if s.Marker() < 2.2 || s.Marker() > 2.4 || s.Roll().Frames[s.Current()].Stop != 2 {
		t.Errorf("while dragged to 2.3: marker %v, frame %v", s.Marker(), s.Roll().Frames[s.Current()].Stop)
	}
	l.DragEnd()
	if s.Marker() != 2 {
		t.Errorf("let go at %v, want it on the frame at 2", s.Marker())
	}
	for _, dy := range []float32{25, 25, -25, 3125} { // the toolkit multiplies large steps by 125
		l.Scrolled(&fyne.ScrollEvent{Scrolled: fyne.NewDelta(0, dy)})
	}
	if s.Marker() != 4 {
		t.Errorf("after the wheel at %v, want 4", s.Marker())
	}
	for range 4 {
		l.Scrolled(&fyne.ScrollEvent{Scrolled: fyne.NewDelta(0, -6.5)}) // a touchpad: together one frame
	}
	if s.Marker() != 3 {
		t.Errorf("after four small steps at %v, want 3", s.Marker())
	}
}

func TestRungsAndMenus(t *testing.T) {
	l, s := shown(t, 700, 700)
	var asked, menu int
	l.OnVerdict = func(f int, _ fyne.Position) { asked = f + 1 }
	l.OnContext = func(f int, _ fyne.Position) { menu = f + 1 }
	press(l, at(l, -2, 120), desktop.MouseButtonPrimary)
	if s.Marker() != -2 || asked != 0 {
		t.Errorf("a click on the picture: marker %v, verdict asked of %d", s.Marker(), asked)
	}
	var x float32
	for _, p := range l.picture.placed {
		if p.ID == "verdict" {
			x = axisWidth + float32(p.X+p.W/2)
		}
	}
	if x == 0 {
		t.Fatal("no verdict column at this width")
	}
	press(l, at(l, 3, x), desktop.MouseButtonPrimary)
	if asked != 7 || s.Marker() != 3 {
		t.Errorf("a click on the verdict of +3 asked of frame %d", asked-1)
	}
	press(l, at(l, 1, 200), desktop.MouseButtonSecondary)
	if menu != 5 || s.Marker() != 1 {
		t.Errorf("the menu was asked of frame %d", menu-1)
	}
}

// Only what changed is drawn again, or moving the marker would stutter.
func TestMovingTheMarkerDrawsTwoRungs(t *testing.T) {
	l, _ := shown(t, 520, 700)
	before := map[string]*image.RGBA{}
	for f, d := range l.picture.rungs {
		before[f] = d.img
	}
	l.apply(session.Step{Frames: 1})
	l.draw()
	again := 0
	for f, d := range l.picture.rungs {
		if before[f] != d.img {
			again++
		}
	}
	if again != 2 {
		t.Errorf("%d rungs were drawn again, want 2", again)
	}
}

func TestEverySizeDraws(t *testing.T) {
	for _, size := range []fyne.Size{fyne.NewSize(150, 240), fyne.NewSize(300, 300), fyne.NewSize(520, 700), fyne.NewSize(2400, 1300)} {
		l, s := shown(t, size.Width, size.Height)
		l.apply(session.SetRange{Range: &roll.Range{Lo: -1, Hi: 2}})
		for range s.Roll().Frames {
			l.apply(session.Step{Frames: 1})
			l.draw()
		}
		y := l.geo.y(4)
		if y < 0 || y > l.geo.view {
			t.Errorf("at %v the frame at the marker is out of sight", size)
		}
	}
	l, _ := of(&roll.Roll{})
	test.NewTempWindow(t, l).Resize(fyne.NewSize(300, 300))
	l.draw()
	press(l, fyne.NewPos(20, 90), desktop.MouseButtonPrimary)
	drag(l, fyne.NewPos(20, 190))
	l.DragEnd()
}

func BenchmarkMarker(b *testing.B) {
	test.NewApp()
	r := &roll.Roll{}
	for s := -3; s <= 4; s++ {
		r.Frames = append(r.Frames, roll.Frame{File: string(rune('a' + s + 3)), Stop: float64(s)})
	}
	l, s := of(r)
	test.NewWindow(l).Resize(fyne.NewSize(620, 1300))
	step := 1
	for b.Loop() {
		if s.Marker() == 4 {
			step = -1
		} else if s.Marker() == -3 {
			step = 1
		}
		l.apply(session.Step{Frames: step})
		l.draw()
	}
}
