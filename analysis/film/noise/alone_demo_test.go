package noise

import (
	"context"
	"errors"
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
)

// Frames of the courtyard, which is textured nearly everywhere, by themselves: their
// noise is told within a half of the truth, or it is said that it cannot be. (Its walls
// passed for noise fifteen times the film's.)
func TestAloneInTheCourtyard(t *testing.T) {
	for _, kind := range []string{"reversal", "negative"} {
		d, err := simulate.NewDemo(kind)
		if err != nil {
			t.Fatal(err)
		}
		for i, stop := range d.Stops() {
			if stop < -2 || stop > 2 {
				continue
			}
			l, err := measure.NewLook(context.Background(), d.Open(i), measure.Options{})
			if err != nil {
				t.Fatal(err)
			}
			n, err := Alone(context.Background(), l, Options{})
			if errors.Is(err, ErrAlone) {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, y := range []float64{0.02, 0.05, 0.18, 0.4} {
				// The film's grain and the scanner's noise stay under 3 % of the light at these
				// levels, by the roll's own reading (0.3 L* at 18 % is 0.8 %).
				if s := n.SigmaY(y); s > 0.045*y {
					t.Errorf("%s %+g: at %g the noise is told as %.3f of the light", kind, stop, y, s/y)
				}
			}
		}
	}
}
