package affine

import (
	"math"
	"testing"

	"golang.org/x/image/math/f64"
)

func near(t *testing.T, what string, x, y, wx, wy float64) {
	t.Helper()
	if math.Hypot(x-wx, y-wy) > 1e-9 {
		t.Errorf("%s: %g, %g, not %g, %g", what, x, y, wx, wy)
	}
}

func TestMaps(t *testing.T) {
	// A quarter turn on the screen, twice as large, moved by 3, 5.
	m := f64.Aff3{0, 2, 3, -2, 0, 5}
	x, y := At(m, 10, 1)
	near(t, "at", x, y, 5, -15)
	inv, ok := Inverse(m)
	if !ok {
		t.Fatal("no way back")
	}
	x, y = At(inv, 5, -15)
	near(t, "back", x, y, 10, 1)
	move := f64.Aff3{1, 0, 7, 0, 1, 0}
	x, y = At(After(m, move), 3, 1)
	near(t, "moved first", x, y, 5, -15)
	x, y = At(After(move, m), 10, 1)
	near(t, "moved last", x, y, 12, -15)
	// The same point in pictures reduced by 4 and by 2.
	x, y = At(Reduced(m, 4, 2), 10.0/4, 1.0/4)
	near(t, "reduced", x, y, 5.0/2, -15.0/2)
}

func TestNoWayBack(t *testing.T) {
	for _, m := range []f64.Aff3{{}, {1, 2, 0, 2, 4, 0}, {math.NaN(), 0, 0, 0, 1, 0}, {math.Inf(1), 0, 0, 0, 1, 0}} {
		if _, ok := Inverse(m); ok {
			t.Errorf("%v has one", m)
		}
	}
}
