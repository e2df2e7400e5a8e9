package packing

import (
	"math"
	"testing"

	"stopladder/analysis/judge/roll"
)

// Ends stay ends, order stays order, and nothing moves by more than half a step.
func TestKeptBits(t *testing.T) {
	before := uint16(0)
	for v := range 1 << 16 {
		k := kept(uint16(v), 16)
		if k < before {
			t.Fatalf("%d comes before %d", v, v-1)
		}
		before = k
		if v < math.MaxUint16 && (k&15 != 0 || math.Abs(float64(k)-float64(v)) > 15) {
			t.Fatalf("%d is kept as %d", v, k)
		}
	}
	if kept(0, 16) != 0 || kept(math.MaxUint16, 16) != math.MaxUint16 || kept(math.MaxUint16-1, 16) == math.MaxUint16 {
		t.Error("the ends moved")
	}
	if kept(255, 8) != math.MaxUint16 || kept(0, 8) != 0 {
		t.Error("the ends of 8 bits moved")
	}
}

func TestPlacesInPreviews(t *testing.T) {
	if a := reduced(&roll.Area{X: 100, Y: 51, W: 2001, H: 900}, 2); *a != (roll.Area{X: 50, Y: 25, W: 1000, H: 450}) {
		t.Error(a)
	}
	if p := placed(&roll.Placement{DX: 9, DY: -3, Rotation: 1, Scale: 1.01}, 3); *p != (roll.Placement{DX: 3, DY: -1, Rotation: 1, Scale: 1.01}) {
		t.Error(p)
	}
	if s := spots([]roll.Patch{{Name: "grey", X: 100, Y: 50, R: 8}}, 4); s[0] != (roll.Patch{Name: "grey", X: 25, Y: 12.5, R: 2}) {
		t.Error(s)
	}
}
