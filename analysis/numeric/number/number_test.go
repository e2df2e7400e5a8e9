package number

import (
	"math"
	"testing"
)

func TestWritten(t *testing.T) {
	for _, c := range []struct {
		v             float64
		decimals      int
		fixed, signed string
	}{
		{1.25, 1, "1.2", "+1.2"},
		{-1.5, 2, "\u22121.50", "\u22121.50"},
		{-0.004, 2, "0.00", "0.00"},
		{0.004, 2, "0.00", "0.00"},
		{0, 0, "0", "0"},
		{10, 0, "10", "+10"},
		{math.NaN(), 1, "–", "–"},
	} {
		if f, s := Fixed(c.v, c.decimals), Signed(c.v, c.decimals); f != c.fixed || s != c.signed {
			t.Errorf("%v with %d decimals: %s, %s", c.v, c.decimals, f, s)
		}
	}
}
