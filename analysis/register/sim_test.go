package register

import (
	"context"
	"fmt"
	"math"
	"os"
	"testing"

	"stopladder/analysis/measure"
	"stopladder/analysis/scene"
	"stopladder/analysis/simulate"
)

// A roll that was shot with known movement.
type shotRoll struct {
	name  string
	looks []*measure.Look
	stops []float64
	truth []*simulate.Truth
	base  int
}

func shoot(t testing.TB, name string, r *scene.Radiance, stock simulate.Stock, o simulate.Options) *shotRoll {
	t.Helper()
	if o.Stops == nil {
		o.Stops = simulate.DefaultStops()
	}
	roll := &shotRoll{name: name, stops: o.Stops, base: -1}
	for i, s := range o.Stops {
		f, err := simulate.Shoot(context.Background(), r, stock, o, s)
		if err != nil {
			t.Fatal(err)
		}
		l, err := measure.NewLook(context.Background(), f.Pixels, measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		roll.looks, roll.truth = append(roll.looks, l), append(roll.truth, f.Truth)
		if s == 0 {
			roll.base = i
		}
	}
	return roll
}

func leaves(t testing.TB, w, h int, seed uint64) *scene.Radiance {
	t.Helper()
	c, err := scene.Leaves(w, h, 8, seed)
	if err != nil {
		t.Fatal(err)
	}
	return c.Radiance
}

func TestProbe(t *testing.T) {
	if os.Getenv("PROBE") == "" {
		t.Skip()
	}
	ctx := context.Background()
	for seed := uint64(1); seed < 3; seed++ {
		for _, stock := range []simulate.Stock{simulate.Reversal(), simulate.Negative()} {
			for _, border := range []bool{false, true} {
				roll := shoot(t, fmt.Sprint(seed), leaves(t, 900, 760, seed), stock, simulate.Options{Seed: seed, MaxShift: 0.01, MaxRotation: 0.5, Border: border})
				fmt.Println(stock.Name, seed, border)
				for i, l := range roll.looks {
					if i == roll.base {
						continue
					}
					fa, _ := newFrame(ctx, roll.looks[roll.base])
					fb, _ := newFrame(ctx, l)
					m := seek(ctx, fa, fb, nil, true, &scratch{})
					p, e := m.pose, m.cov.errors(1)
					tr := roll.truth[i]
					fmt.Printf("%+g ok %v err %.3f %.3f px %.4f deg %.5f  se %.3f %.3f %.4f %.5f corr %.3f z %.1f n %.0f share %.2f conf %.3f area %v\n", roll.stops[i], m.ok,
						p.x-tr.Shift[0], p.y-tr.Shift[1], p.turn*180/math.Pi-tr.Rotation, p.grow, e.DX, e.DY, e.Rotation, e.Scale,
						m.fit.corr, m.fit.z, m.fit.count, m.fit.share, m.cov.within(.5, .02), l.AreaFrom)
				}
			}
		}
	}
}
