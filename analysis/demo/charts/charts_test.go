package charts

import (
	"math"
	"slices"
	"testing"
)

func TestCharts(t *testing.T) {
	w, err := Wedge(220, 40, 11, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range w.Places {
		want := 0.18 * math.Exp2(0.5*float64(5-i))
		if m := w.Mean(p)[1]; math.Abs(m/want-1) > 1e-5 {
			t.Errorf("step %d: %v, want %v", i+1, m, want)
		}
	}
	r, err := Ramp(400, 16, 4)
	if err != nil {
		t.Fatal(err)
	}
	a, _, _ := r.At(0, 3)
	b, _, _ := r.At(399, 3)
	if s := math.Log2(float64(a / b)); math.Abs(s-8*399/400.0) > 1e-4 {
		t.Errorf("the ramp spans %v stops", s)
	}
	p, err := Patches(360, 200, 5)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Places) != 45 {
		t.Errorf("%d patches", len(p.Places))
	}
	for _, c := range []*Chart{p} {
		for _, v := range c.Pix {
			if !(v > 0) {
				t.Fatal("light is not positive")
			}
		}
	}
	l1, _ := Leaves(200, 200, 8, 1)
	l2, _ := Leaves(200, 200, 8, 1)
	l3, _ := Leaves(200, 200, 8, 2)
	if !slices.Equal(l1.Pix, l2.Pix) || slices.Equal(l1.Pix, l3.Pix) {
		t.Error("dead leaves do not follow their seed")
	}
}
