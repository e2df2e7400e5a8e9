package median

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestMedian(t *testing.T) {
	v := []float64{9, 1, 4, 2}
	if Of(v) != 3 || Upper(v) != 4 || !slices.Equal(v, []float64{9, 1, 4, 2}) {
		t.Errorf("%v, %v of %v", Of(v), Upper(v), v)
	}
	if odd := v[:3]; Of(odd) != 4 || Upper(odd) != 4 {
		t.Errorf("%v, %v of %v", Of(odd), Upper(odd), odd)
	}
	if Of(nil) != 0 || Upper[int](nil) != 0 {
		t.Error("none has a median")
	}
}

// The middle by sorting, for readings of all sizes, with ties, NaN and in order.
func TestAgainstSorting(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 4000 {
		v := make([]float64, 1+r.IntN(60))
		kinds := r.IntN(4)
		for i := range v {
			switch kinds {
			case 0:
				v[i] = float64(r.IntN(5))
			case 1:
				v[i] = r.NormFloat64()
			case 2:
				v[i] = float64(i)
			case 3:
				v[i] = -float64(i)
			}
			if r.IntN(200) == 0 {
				v[i] = math.NaN()
			}
		}
		was, sorted := slices.Clone(v), slices.Clone(v)
		slices.Sort(sorted)
		n := len(v)
		same := func(a, b float64) bool { return a == b || a != a && b != b }
		if want := (sorted[(n-1)/2] + sorted[n/2]) / 2; !same(Of(v), want) || !same(Upper(v), sorted[n/2]) {
			t.Fatalf("%v: %g and %g, want %g and %g", v, Of(v), Upper(v), want, sorted[n/2])
		}
		if !slices.EqualFunc(v, was, same) {
			t.Fatal("the readings were put into another order")
		}
	}
}

func BenchmarkOf(b *testing.B) {
	r := rand.New(rand.NewPCG(3, 4))
	v := make([]float64, 2000)
	for i := range v {
		v[i] = r.NormFloat64()
	}
	for b.Loop() {
		Of(v)
	}
}
