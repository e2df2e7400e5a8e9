package colour

import (
	"math"
	"testing"
)

// At whole codes OfTone is Linear, and half way between two it is half way.
func TestOfTone(t *testing.T) {
	srgb := AssumedSRGB(255)
	adobe, err := FromICC(MatrixProfile("made up", [3][2]float64{{.64, .33}, {.21, .71}, {.15, .06}}, [2]float64{.3127, .3290}, 563.0/256), 3, 65535)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []*Space{srgb, adobe} {
		tone := s.Tone()
		top := uint16(s.Max())
		for _, codes := range [][3]uint16{{0, 0, 0}, {top, top, top}, {top / 2, top / 3, top / 5}, {7, top - 3, top / 9}} {
			var want [3]float32
			s.Linear(want[:], codes[:])
			r, g, b := s.OfTone([3]float64{float64(tone[0][codes[0]]), float64(tone[1][codes[1]]), float64(tone[2][codes[2]])})
			for c, got := range [3]float64{r, g, b} {
				if math.Abs(got-float64(want[c])) > 1e-6 {
					t.Errorf("%v: channel %d %g, want %g", codes, c, got, want[c])
				}
			}
		}
		mid := func(c int) float64 { return (float64(tone[c][100]) + float64(tone[c][101])) / 2 }
		var two [6]float32
		s.Linear(two[:], []uint16{100, 100, 100, 101, 101, 101})
		r, _, _ := s.OfTone([3]float64{mid(0), mid(1), mid(2)})
		if want := (float64(two[0]) + float64(two[3])) / 2; math.Abs(r-want) > 1e-6 {
			t.Errorf("half way: %g, want %g", r, want)
		}
	}
}
