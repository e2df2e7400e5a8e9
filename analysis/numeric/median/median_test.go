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

// The weighted quantile by sorting, with ties, weights of nothing, and sums that are never
// reached.
func TestReaching(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 4000 {
		v := make([]Weighed, 1+r.IntN(50))
		all := 0.0
		for i := range v {
			v[i] = Weighed{float64(r.IntN(1 + r.IntN(40))), float64(r.IntN(4)) / 4} // sums are exact
			all += v[i].Weight
		}
		sorted := slices.Clone(v)
		slices.SortFunc(sorted, func(a, b Weighed) int { return int(a.Value - b.Value) })
		ask := float64(r.IntN(1+int(4.4*all))) / 4
		sum, want := 0.0, sorted[len(sorted)-1].Value
		for _, x := range sorted {
			if sum += x.Weight; sum >= ask {
				want = x.Value
				break
			}
		}
		got, n := Reaching(v, ask)
		if got != want {
			t.Fatalf("%v, want %v: those that weigh %v of %v", got, want, ask, sorted)
		}
		for i, x := range v {
			if (i < n) != (x.Value <= got) {
				t.Fatalf("the first %d of %v are not those up to %v", n, v, got)
			}
		}
	}
	if x, n := Reaching(nil, 1); x != 0 || n != 0 {
		t.Error("none has a quantile")
	}
}
