package register

import (
	"context"
	"math"
	"testing"

	"stopladder/analysis/demo/charts"
	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
)

// Scenes that hold little to register by: what is said to be reliable is right,
// and what cannot be known is not said. A ramp has no place along its lines, a
// wedge none along its edges.
func TestPoorScenes(t *testing.T) {
	t.Parallel()
	ramp, err := charts.Ramp(420, 360, 5)
	if err != nil {
		t.Fatal(err)
	}
	wedge, err := charts.Wedge(420, 360, 11, 1)
	if err != nil {
		t.Fatal(err)
	}
	patches, err := charts.Patches(420, 360, 3)
	if err != nil {
		t.Fatal(err)
	}
	for name, s := range map[string]struct {
		r        *scene.Radiance
		hopeless bool
	}{"ramp": {ramp.Radiance, true}, "wedge": {wedge.Radiance, true}, "patches": {patches.Radiance, false}} {
		for _, stock := range []simulate.Stock{simulate.Reversal(), simulate.Negative()} {
			for _, border := range []bool{false, true} {
				// With a border on negative film and without on the other, or both on request.
				if negative := stock.Kind == simulate.NegativeFilm; testing.Short() && negative || border != negative && !allRolls() {
					continue
				}
				o := simulate.Options{Seed: 17, MaxShift: 0.01, MaxRotation: 0.5, Border: border}
				roll := shoot(t, name, s.r, stock, o)
				got, err := Roll(context.Background(), roll.looks, roll.stops, roll.base, Options{}, nil)
				if err != nil {
					t.Fatal(err)
				}
				for i, r := range got {
					if i == roll.base {
						continue
					}
					tr := roll.truth[i]
					dx, dy, turn := r.DX-tr.Shift[0], r.DY-tr.Shift[1], r.Rotation-tr.Rotation
					t.Logf("%s on %s, border %v, %+g: off by %.3f %.3f px, %.4f deg; errors %.3f %.3f %.4f, confidence %.3f, %v", name, stock.Name, border, roll.stops[i], dx, dy, turn, r.StdErr.DX, r.StdErr.DY, r.StdErr.Rotation, r.Confidence, r.How)
					if r.Reliable() && (math.Abs(dx) > 0.5 || math.Abs(dy) > 0.5 || math.Abs(turn) > 0.02) {
						t.Errorf("%s on %s, border %v, %+g: said to be reliable (%.3f) and off by %.3f %.3f px, %.4f degrees", name, stock.Name, border, roll.stops[i], r.Confidence, dx, dy, turn)
					}
					if s.hopeless && !border && r.Reliable() {
						t.Errorf("%s on %s, %+g: there is nothing to know its place by, and it is said to be reliable (%.3f)", name, stock.Name, roll.stops[i], r.Confidence)
					}
				}
			}
		}
	}
}
