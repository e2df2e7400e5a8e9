package session

import (
	"image"
	"testing"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
)

// The detail is a place of the base frame, whatever picture it was chosen on; a drag goes on
// until it is let go.
func TestDetailIsChosenOnAnyPicture(t *testing.T) {
	d := bracket(t)
	look := func(area image.Rectangle) *measure.Look { return &measure.Look{Area: area} }
	area := image.Rect(10, 20, 410, 320)
	d.film.Frames[d.Base()].Look = look(area)
	p1 := d.Index("/scans/p1.tif")
	d.film.Frames[p1].Look = look(area.Add(image.Pt(5, -3)))

	d.do(Click{File: "/scans/base.tif", At: image.Pt(100, 100)})
	if _, on := d.Detail(); on {
		t.Fatal("a click that was for nothing of the kind chose a detail")
	}
	d.do(ChooseDetail{})
	if k, please := d.Picking(); k != PickDetail || please == "" {
		t.Fatalf("picking %v, asked %q", k, please)
	}
	d.do(Click{File: "/scans/base.tif", At: image.Pt(100, 100)})
	if at, on := d.Detail(); !on || at != image.Pt(100, 100) {
		t.Errorf("chosen: %v, %v", at, on)
	}
	if k, _ := d.Picking(); k != PickFrame {
		t.Error("the next click is for a detail again")
	}

	d.do(ChooseDetail{})
	for i, x := range []int{50, 60, 70} { // not registered yet: as the pictures lie, area on area
		d.do(SetDetail{File: "/scans/p1.tif", At: image.Pt(x+5, 97), Done: i == 2})
		if at, _ := d.Detail(); at != image.Pt(x, 100) {
			t.Errorf("dragged to %d: %v", x, at)
		}
		if k, _ := d.Picking(); (k == PickDetail) != (i < 2) {
			t.Errorf("step %d: picking %v", i, k)
		}
	}
	d.film.Frames[p1].Map = &f64.Aff3{1, 0, 30, 0, 1, 40}
	d.do(SetDetail{File: "/scans/p1.tif", At: image.Pt(130, 240)})
	if at, _ := d.Detail(); at != image.Pt(100, 200) {
		t.Errorf("by the registration: %v", at)
	}
	d.do(SetDetail{File: "/scans/base.tif", At: image.Pt(-7, 5000)})
	if at, _ := d.Detail(); at != image.Pt(10, 319) {
		t.Errorf("beside the image area: %v", at)
	}

	d.do(ChooseDetail{})
	if d.do(ChooseDetail{}); d.picking != PickFrame {
		t.Error("a second time does not leave it")
	}
	if _, on := d.Detail(); !on {
		t.Error("leaving lost the detail")
	}
	if d.do(NoDetail{}); d.detail != nil {
		t.Error("whole frames do not come back")
	}
}

// Without a base frame nothing is chosen, and the reason is told.
func TestDetailNeedsTheBase(t *testing.T) {
	d := bracket(t)
	d.do(ChooseDetail{})
	d.do(Click{File: "/scans/base.tif", At: image.Pt(1, 1)})
	if _, on := d.Detail(); on || d.hint == "" {
		t.Errorf("chosen: %v, told %q", on, d.hint)
	}
}
