package roll

import (
	"math"
	"testing"
)

// The lightness of greys, against figures of CIE 15 worked by hand: sRGB 119 is L* 50.03
// (Y 18.45 %), 0 and 255 are the ends.
func TestSurroundLightness(t *testing.T) {
	for code, want := range map[uint8]float64{0: 0, 119: 50.03, 255: 100, 5: 1.37} {
		if got := SurroundL(code); math.Abs(got-want) > 0.01 {
			t.Errorf("code %d: L* %.3f, want %.2f", code, got, want)
		}
	}
	for i, want := range []float64{8, 16, 24, 36, 48, 60, 73} {
		if got := SurroundL(Surrounds[i]); math.Abs(got-want) > 0.7 {
			t.Errorf("step %d: L* %.2f, want about %g", i, got, want)
		}
		if SurroundIndex(Surrounds[i]) != i {
			t.Errorf("step %d is not found again", i)
		}
	}
}

// The default is not written, and what no grey can be is told and replaced.
func TestSurroundOfAFile(t *testing.T) {
	r := &Roll{}
	r.SetSurround(DefaultSurround)
	if r.Surround != 0 || r.SurroundLevel() != DefaultSurround {
		t.Errorf("the default is kept as %d", r.Surround)
	}
	r.SetSurround(114)
	if r.Surround != 114 || r.SurroundLevel() != 114 {
		t.Errorf("114 is kept as %d", r.Surround)
	}
	for _, bad := range []string{"256", "-1"} {
		got, problems, err := decode([]byte(`{"format":"stopladder roll","version":1,"surround":`+bad+`,"frames":[{"file":"a.tif","stop":0,"stopFrom":"hand"}]}`), t.TempDir())
		if err != nil || got.Surround != 0 || len(problems) != 1 || problems[0].Code != Damaged {
			t.Errorf("%s: %v, %v", bad, problems, err)
		}
		n := map[string]int{"256": 256, "-1": -1}[bad]
		if (&Roll{Surround: n}).Validate() == nil {
			t.Errorf("%d would be saved", n)
		}
	}
}
