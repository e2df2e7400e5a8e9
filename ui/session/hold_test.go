package session

import (
	"testing"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/roll"
)

// Holding shows something until it is released, and says so where it is what stands there
// already.
func TestHold(t *testing.T) {
	d := bracket(t)
	base := d.Base()
	d.do(Go{base + 1})
	d.drawn = 0
	d.do(Hold{HeldBase})
	if d.Held() != HeldBase || d.drawn != Holding || d.hint != "" {
		t.Errorf("held %v, drawn %b, told %q", d.Held(), d.drawn, d.hint)
	}
	d.drawn = 0
	if d.do(Hold{HeldBase}); d.drawn != 0 {
		t.Error("a key's repeat draws again")
	}
	d.do(Hold{HeldScan})
	if d.Held() != HeldScan || d.hint == "" {
		t.Errorf("held %v; nothing is on, told %q", d.Held(), d.hint)
	}
	d.do(Hold{})
	if d.Held() != NotHeld || d.hint != "" {
		t.Errorf("released: %v, %q", d.Held(), d.hint)
	}
	for name, c := range map[string]Change{"mask": ToggleMask{Blown}, "difference": ShowDifference{ColourDifference},
		"correction": Correct{What: "x", Done: true, Set: func(v *correction.Settings) { v.Lift = 1 }}} {
		d := bracket(t)
		d.do(Go{base + 1})
		d.do(c)
		if d.do(Hold{HeldScan}); d.hint != "" || !d.Dressed() {
			t.Errorf("under a %s: told %q", name, d.hint)
		}
	}
	d.do(Go{base})
	if d.do(Hold{HeldBase}); d.hint != "This is the base frame" {
		t.Errorf("on the base frame: told %q", d.hint)
	}
	if d.Undoes() != "" || d.Unsaved() {
		t.Error("holding is an edit")
	}
	empty := newDesk(t)
	if empty.do(Hold{HeldBase}); empty.Held() != NotHeld || empty.drawn != 0 {
		t.Error("something is held of nothing")
	}
}

// The surround goes in steps within the neutral greys, is kept with the roll and taken back
// like any setting.
func TestSurround(t *testing.T) {
	d := bracket(t)
	if d.Surround() != roll.DefaultSurround {
		t.Errorf("at first %d", d.Surround())
	}
	d.do(StepSurround{1})
	up := d.Surround()
	if up <= roll.DefaultSurround || !d.Unsaved() || d.Roll().Surround != int(up) || d.hint == "" || d.drawn&View == 0 {
		t.Errorf("one step: %d, unsaved %v, told %q", up, d.Unsaved(), d.hint)
	}
	for range 20 {
		d.do(StepSurround{1})
	}
	if top := roll.Surrounds[len(roll.Surrounds)-1]; d.Surround() != top || d.hint != "This is the lightest surround" {
		t.Errorf("at the end %d, told %q", d.Surround(), d.hint)
	}
	if d.undo(); d.Surround() != roll.DefaultSurround {
		t.Errorf("taken back: %d", d.Surround())
	}
	for range 20 {
		d.do(StepSurround{-1})
	}
	if d.Surround() != roll.Surrounds[0] || d.hint != "This is the darkest surround" {
		t.Errorf("at the other end %d, told %q", d.Surround(), d.hint)
	}
	empty := newDesk(t)
	if empty.do(StepSurround{1}); empty.Unsaved() {
		t.Error("an empty roll has a surround of its own")
	}
}

// An edge keeps its place when another frame is chosen for its left.
func TestEdgeKeepsItsPlace(t *testing.T) {
	d := bracket(t)
	d.do(SetLayout{Edge})
	d.do(ShowLeft{"/scans/p2.tif"})
	if d.Layout() != Edge || d.Roll().Frames[d.OtherIndex()].File != "/scans/p2.tif" {
		t.Errorf("layout %v, other %d", d.Layout(), d.OtherIndex())
	}
	if d.do(StepOther{-1}); d.Roll().Frames[d.OtherIndex()].File != "/scans/p1.tif" {
		t.Errorf("one down: %d", d.OtherIndex())
	}
}
