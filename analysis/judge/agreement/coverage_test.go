package agreement

import (
	"math"
	"math/rand/v2"
	"testing"
)

// How often the interval holds the kappa that the verdicts were drawn with: judges who say
// the same by a known share beyond chance. The manual has the figures (opinions.md).
func TestIntervalCovers(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	habit := []float64{0.4, 0.25, 0.35}
	const rolls = 300
	sum, n := 0.0, 0
	for _, c := range []struct{ judges, frames int }{{2, 8}, {2, 15}, {2, 30}, {3, 8}, {3, 15}, {5, 8}} {
		for _, kappa := range []float64{0.3, 0.6, 0.8} {
			r := rand.New(rand.NewPCG(uint64(c.frames), uint64(c.judges)))
			held, given := 0, 0
			for range rolls {
				rows := make([][]int, c.frames)
				for i := range rows {
					rows[i] = drawn(r, habit, kappa, c.judges)
				}
				if lo, hi, ok := interval(rows, 3); ok {
					given++
					if lo <= kappa && kappa <= hi {
						held++
					}
				}
			}
			share := float64(held) / float64(given)
			t.Logf("%d judges, %d frames, kappa %.1f: given %3.0f %%, held %3.0f %%", c.judges, c.frames, kappa, 100*float64(given)/rolls, 100*share)
			if share < 0.85 {
				t.Errorf("%d judges, %d frames, kappa %.1f: %.3f", c.judges, c.frames, kappa, share)
			}
			sum, n = sum+share, n+1
		}
	}
	if mean := sum / float64(n); mean < 0.93 {
		t.Errorf("%.3f of all", mean)
	} else {
		t.Logf("%.3f of all", mean)
	}
}

// drawn returns verdicts of judges any two of which say the same beyond chance by kappa:
// each takes the frame's own verdict with the root of kappa, else one by habit.
func drawn(r *rand.Rand, habit []float64, kappa float64, judges int) []int {
	pick := func() int {
		x := r.Float64()
		for c, p := range habit {
			if x -= p; x < 0 {
				return c
			}
		}
		return len(habit) - 1
	}
	own, root := pick(), math.Sqrt(kappa)
	row := make([]int, judges)
	for j := range row {
		if row[j] = own; r.Float64() > root {
			row[j] = pick()
		}
	}
	return row
}
