package ladder

import (
	"image"
	"math"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// A limit's line is taken hold of, follows the pointer, and is let go as one change;
// beside it the ladder is what it was.
func TestLimitsAreDragged(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	at := []float64{-1, 0, 1, 2}
	l, s := of(&roll.Roll{})
	m := rowtest.Roll(nil, at...)
	for i := range m.Frames {
		m.Frames[i].File = string(rune('a'+i)) + ".tif"
		m.Judged.Frames[i].File = m.Frames[i].File
		m.Frames[i].Look = rowtest.Frames(at...)[i].Look
		m.Comparison.In.Frames[i].Look = m.Frames[i].Look
	}
	l.apply(session.Open{Job: load.Of(m.Judged)})
	l.apply(session.Measured{Film: m})
	l.apply(session.ToggleCosts{})
	w := test.NewTempWindow(t, l)
	w.SetPadded(false)
	w.Resize(fyne.NewSize(760, 700))
	l.draw()

	var calls []session.SetLimit
	made := l.apply
	l.apply = func(c session.Change) {
		if x, ok := c.(session.SetLimit); ok {
			calls = append(calls, x)
		}
		made(c)
	}
	wanted := s.Rows()[0].Scales.Criteria
	if wanted == nil {
		t.Fatal("no criteria")
	}
	k := wanted[criteria.DeltaE]
	var place row.Placed
	for _, p := range l.picture.placed {
		if p.Column.ID == row.CostID(int(criteria.DeltaE)) {
			place = p
		}
	}
	if place.W == 0 {
		t.Fatal("no column for the colour difference")
	}
	x := func(v float64) float32 { // the place of a value, toolkit units
		for px := place.X; px < place.X+place.W; px++ {
			if row.LimitValue(k, place.X, place.W, l.picture.scale, float64(px)) >= v {
				return axisWidth + float32(float64(px)/l.picture.scale)
			}
		}
		t.Fatalf("no place for %g", v)
		return 0
	}
	// The measured range stands on the axis although the judge has marked none.
	axis := image.NewRGBA(image.Rect(0, 0, axisWidth, 660))
	c := paint.New(axis, 1)
	l.drawAxis(c, axis.Rect, l.geo.y, s.Rows())
	e := s.Film().Range().Holds
	white := func(stop float64) (n int) {
		for x := row.AxisX(axis.Rect, 1) + 8; x < axisWidth; x++ {
			if p := axis.RGBAAt(x, int(l.geo.y(stop))); p.R == c.Pal.White.R && p.G == c.Pal.White.G {
				n++
			}
		}
		return n
	}
	if m := (e.Lo.Stop + e.Hi.Stop) / 2; white(m) < 3 || white(e.Hi.Stop+0.2) > 1 {
		t.Errorf("in the range %d white pixels, above it %d", white(m), white(e.Hi.Stop+0.2))
	}
	y := float32(headerHeight + 300)
	press(l, fyne.NewPos(x(3), y), desktop.MouseButtonPrimary)
	if l.grip != limitLine {
		t.Fatalf("the pointer holds %v", l.grip)
	}
	drag(l, fyne.NewPos(x(4), y))
	drag(l, fyne.NewPos(x(5), y))
	l.DragEnd()
	l.MouseUp(nil)
	if len(calls) != 3 || calls[0].Done || calls[1].Done || !calls[2].Done {
		t.Fatalf("calls %+v", calls)
	}
	for i, want := range []float64{4, 5, 5} {
		if c := calls[i]; c.Criterion != criteria.DeltaE || !c.Holds || math.Abs(c.Value-want) > 0.25 {
			t.Errorf("call %d: %+v, want about %g", i, c, want)
		}
	}
	if s.Undoes() != "limit" || s.Roll().Limits == nil {
		t.Errorf("the drag left %q to undo", s.Undoes())
	}
	l.apply(session.Undo{})
	if s.Roll().Limits != nil {
		t.Error("a drag is more than one step of undo")
	}
	calls = nil
	press(l, fyne.NewPos(x(4.6), y), desktop.MouseButtonPrimary) // beside both lines
	l.MouseUp(nil)
	if len(calls) != 0 || l.grip == limitLine {
		t.Errorf("a click beside the lines moved a limit: %+v", calls)
	}
}
