package colour

import (
	"math"
	"testing"
)

// The table by borders is the table by encoding each entry.
func TestFillBytes(t *testing.T) {
	for _, n := range []int{2, 256, 4 * (1<<14 - 1), displaySteps} {
		table := make([]uint8, n+1)
		FillBytes(table)
		for i, got := range table {
			if want := uint8(math.Round(255 * encode(float64(i)/float64(n)))); got != want {
				t.Fatalf("%d of %d: got %d, want %d", i, n, got, want)
			}
		}
	}
}
