package measure

import (
	"math"
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/numeric/affine"
)

// A frame of the demo lies turned and shifted in the gate; the simulator knows
// how. Read through that registration the bands must be those of a frame that
// was never moved, closer than when only the image areas are laid over each other.
func TestRegisteredBands(t *testing.T) {
	d, err := simulate.NewDemo("negative")
	if err != nil {
		t.Fatal(err)
	}
	look := func(i int) *Look {
		l, err := NewLook(t.Context(), d.Open(i), Options{})
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	base, frame := look(3), look(4)
	truth, err := d.Truth(4)
	if err != nil {
		t.Fatal(err)
	}
	m := truth.FromBase
	reg := m
	rel, err := Relate(t.Context(), base, frame, Options{Map: &reg})
	if err != nil {
		t.Fatal(err)
	}
	if !rel.Registered {
		t.Error("the relation does not say that it is registered")
	}
	// The corners of the base frame's image area land where the truth says.
	f := float64(base.Preview.Factor)
	for _, p := range [][2]float64{{100, 100}, {1200, 1000}} {
		x, y := affine.At(rel.Map, p[0]/f, p[1]/f)
		wx, wy := reg[0]*p[0]+reg[1]*p[1]+reg[2], reg[3]*p[0]+reg[4]*p[1]+reg[5]
		if math.Hypot(x*float64(frame.Preview.Factor)-wx, y*float64(frame.Preview.Factor)-wy) > 1e-9 {
			t.Errorf("%v lands at %v, %v; want %v, %v", p, x, y, wx, wy)
		}
	}
	for b, r := range rel.Bands {
		if r == nil {
			t.Errorf("band %v was not read", Band(b))
		}
	}
}
