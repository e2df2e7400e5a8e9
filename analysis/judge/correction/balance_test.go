package correction

import (
	"math"
	"testing"
)

// A picked neutral comes out neutral whatever else the settings do to the channels.
func TestNeutralAt(t *testing.T) {
	rgb := [3]float64{0.21, 0.18, 0.12}
	for name, s := range map[string]Settings{
		"nothing":                            {},
		"an exposure, a lift and a shoulder": {Exposure: -1, Lift: 2, Highlights: 0.4},
		"a black point":                      {Black: 0.02},
		"a curve of each channel": {Curves: [3][]Point{
			{{X: -8, Y: -7}, {X: 0, Y: 0.2}}, {{X: -8, Y: -8}, {X: -2, Y: -1.5}, {X: 0, Y: 0}}, {{X: -6, Y: -6.5}, {X: 0, Y: -0.3}}}},
	} {
		got := s.NeutralAt(rgb)
		r, g, b := got.At(0, rgb[0]), got.At(1, rgb[1]), got.At(2, rgb[2])
		if math.Abs(r/g-1) > 1e-6 || math.Abs(b/g-1) > 1e-6 || got.At(1, rgb[1]) != s.At(1, rgb[1]) {
			t.Errorf("%s: %g %g %g", name, r, g, b)
		}
	}
	if s := (Settings{}).NeutralAt(rgb); math.Abs(s.RG-math.Log10(rgb[1]/rgb[0])) > 1e-9 {
		t.Errorf("without anything else %g", s.RG)
	}
	if s := (Settings{Black: MaxBlack}).NeutralAt([3]float64{0.001, 0.002, 0.003}); s.Validate() != nil || s.RG == 0 {
		t.Error("no balance makes black neutral, but the light's own is kept")
	}
}
