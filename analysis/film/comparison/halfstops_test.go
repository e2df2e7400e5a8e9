package comparison

import (
	"context"
	"math"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/criteria"
)

// compared takes frames through response, noise and salvage.
func compared(t *testing.T, frames []response.Frame) *Roll {
	t.Helper()
	ctx := context.Background()
	base := -1
	for i, f := range frames {
		if f.Stop == 0 {
			base = i
		}
	}
	res, err := response.Fit(ctx, frames, base, response.Options{})
	if err != nil {
		t.Fatal(err)
	}
	levels, err := noise.Estimate(ctx, res, frames, noise.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := Measure(ctx, Input{Frames: frames, Base: base, Response: res, Noise: levels}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.Grid == nil {
		t.Fatal(r.Reason)
	}
	return r
}

// The measured range of a roll in whole stops is that of the same roll in half stops,
// within a quarter stop: every end, both levels, the three sets and both stocks,
// over simulated film that is scanned with noise and does not lie still.
func TestWholeStopsTellWhatHalfStopsTell(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: simulated rolls take seconds")
	}
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	for name, stock := range map[string]simulate.Stock{"negative": simulate.Negative(), "reversal": simulate.Reversal()} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ctx := context.Background()
			var all, whole []response.Frame
			for k := -6; k <= 8; k++ {
				s := float64(k) / 2
				f, err := simulate.Shoot(ctx, r, stock, simulate.Options{W: 760, H: 658, Seed: 11, MaxShift: 0.004, MaxRotation: 0.2}, s)
				if err != nil {
					t.Fatal(err)
				}
				area, a := f.Truth.Area, f.Truth.FromBase
				l, err := measure.NewLook(ctx, f.Pixels, measure.Options{Area: &area})
				if err != nil {
					t.Fatal(err)
				}
				g := response.Frame{Look: l, Stop: s, StopKnown: true, Map: a}
				if all = append(all, g); k%2 == 0 {
					whole = append(whole, g)
				}
			}
			fine, coarse := compared(t, all), compared(t, whole)
			worst, closed := 0.0, 0
			for _, set := range criteria.Named() {
				a, b := fine.Extent(set), coarse.Extent(set)
				for level, p := range map[latitude.Level][2]latitude.Range{latitude.Holds: {a.Holds, b.Holds}, latitude.Strains: {a.Strains, b.Strains}} {
					if p[0].Reason != p[1].Reason {
						t.Errorf("%s, %v: %q and %q", set.Name, level, p[0].Reason, p[1].Reason)
						continue
					}
					for side, e := range map[string][2]latitude.End{"under": {p[0].Lo, p[1].Lo}, "over": {p[0].Hi, p[1].Hi}} {
						d := math.Abs(e[0].Stop - e[1].Stop)
						if worst = math.Max(worst, d); !e[0].Open {
							closed++
						}
						t.Logf("%s %v %s: half stops %+.2f, whole stops %+.2f ± %.2f", set.Name, level, side, e[0].Stop, e[1].Stop, e[1].Uncertainty)
						if d > 0.25 {
							t.Errorf("%s, %v, %s: half stops tell %+.2f (by %v), whole stops %+.2f (by %v)", set.Name, level, side, e[0].Stop, e[0].By, e[1].Stop, e[1].By)
						}
					}
				}
			}
			if closed < 8 {
				t.Errorf("only %d ends lie within the roll, which shows little", closed)
			}
			t.Logf("worst %.2f stop of 12 ends, %d of them within the roll", worst, closed)
		})
	}
}
