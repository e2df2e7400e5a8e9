package measure

import (
	"image"
	"math"
	"testing"

	"golang.org/x/image/math/f64"
)

// A frame that shows the base frame's picture moved by a tenth of its width and a fifth
// of its height has 0.9 x 0.8 of it.
func TestCommon(t *testing.T) {
	l := &Look{Area: image.Rect(50, 40, 1050, 840)}
	for _, x := range []struct {
		dx, dy, want float64
	}{{0, 0, 1}, {100, 0, 0.9}, {-100, 160, 0.72}, {2000, 0, 0}} {
		if got := Common(l, l, f64.Aff3{1, 0, x.dx, 0, 1, x.dy}); math.Abs(got-x.want) > 0.004 {
			t.Errorf("moved by %g, %g: %.4f is shown, true %.4f", x.dx, x.dy, got, x.want)
		}
	}
	m := &Marks{W: 2, H: 1, Mask: []uint8{0, 255}}
	if m.At(0, 0) || !m.At(1, 0) || m.At(2, 0) || (*Marks)(nil).At(0, 0) {
		t.Error("marks are read at the wrong place")
	}
}
