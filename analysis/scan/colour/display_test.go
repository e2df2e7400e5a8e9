package colour

import (
	"math"
	"testing"
)

// Neutrals have sRGB's codes in both spaces, to the code of 65,536 that is nearest or, where
// two are about as near, the other; sRGB's red in Display P3 is
// 0.9175, 0.2003, 0.1386 (CSS Color 4, worked example of color(display-p3)).
func TestDisplay(t *testing.T) {
	// P3's primaries take neutrals through a matrix, in float32.
	for d, tolerance := range map[Display]float64{SRGB: 0.6, DisplayP3: 1} {
		for i := range 20000 {
			v := math.Pow(float64(i)/19999, 2.2)
			lin := []float32{float32(v), float32(v), float32(v)}
			var out [3]uint16
			d.Encode(out[:], lin)
			for _, c := range out {
				if want := 65535 * encodeSRGB(v); math.Abs(float64(c)-want) > tolerance {
					t.Fatalf("%v: light %v is %d, not %.1f", d, v, c, want)
				}
			}
		}
	}
	nan := float32(math.NaN())
	var out [3]uint16
	SRGB.Encode(out[:], []float32{-1e-9, nan, float32(math.Inf(-1))})
	if out != [3]uint16{} {
		t.Errorf("below black, no number: %v", out)
	}
	SRGB.Encode(out[:], []float32{math.Nextafter32(1, 0), 1, float32(math.Inf(1))})
	if out != [3]uint16{65535, 65535, 65535} {
		t.Errorf("white and beyond: %v", out)
	}
	DisplayP3.Encode(out[:], []float32{1, 0, 0})
	for i, want := range []float64{.91749, .20029, .13856} {
		if got := float64(out[i]) / 65535; math.Abs(got-want) > 2e-4 {
			t.Errorf("channel %d of sRGB's red: %.5f, want %.5f", i, got, want)
		}
	}
	if got := DisplayP3.Byte([3]uint8{51, 51, 51}); got != [3]uint8{51, 51, 51} {
		t.Error(got)
	}
}
