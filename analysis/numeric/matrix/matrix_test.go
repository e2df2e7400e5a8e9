package matrix

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The inverse against gonum's.
func TestInverse(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		var m Of
		var flat []float64
		for i := range m {
			for j := range m[i] {
				m[i][j] = r.NormFloat64()
				flat = append(flat, m[i][j])
			}
		}
		var want mat.Dense
		if err := want.Inverse(mat.NewDense(3, 3, flat)); err != nil {
			continue // too near to singular for it
		}
		got, ok := m.Inverse(1e-12)
		if !ok {
			t.Fatalf("%v has no inverse", m)
		}
		for i := range got {
			for j := range got[i] {
				if w := want.At(i, j); math.Abs(got[i][j]-w) > 1e-9*(1+math.Abs(w)) {
					t.Fatalf("%v for %v", got, mat.Formatted(&want))
				}
			}
		}
	}
	for _, m := range []Of{{}, {{1, 2, 3}, {2, 4, 6}, {0, 0, 1}}, {{math.NaN()}}} {
		if inv, ok := m.Inverse(1e-9); ok || inv != Unit {
			t.Errorf("the inverse of %v is %v", m, inv)
		}
	}
}
