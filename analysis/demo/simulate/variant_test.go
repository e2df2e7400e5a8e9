package simulate

import (
	"math"
	"testing"
)

// A pushed film has its grey where it was, and is steeper.
func TestPush(t *testing.T) {
	for _, s := range []Stock{Reversal(), Negative()} {
		p := Push(s, 0.15)
		for c := range 3 {
			if d := math.Abs(p.Density(c, 0) - s.Density(c, 0)); d > 1e-6 {
				t.Errorf("%s: the grey moved by %g", s.Name, d)
			}
			if g := p.Gamma(c) / s.Gamma(c); g < 1.1 || g > 1.2 {
				t.Errorf("%s: steeper by %g", s.Name, g)
			}
		}
		if p.RMS <= s.RMS {
			t.Errorf("%s is no grainier", s.Name)
		}
	}
}
