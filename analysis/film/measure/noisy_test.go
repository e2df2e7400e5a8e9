package measure

import (
	"math"
	"math/rand/v2"
	"testing"
)

// grainy is a relation over n shadow pixels of random light and noise, some unknown.
func grainy(n int) *Relation {
	rng := rand.New(rand.NewPCG(3, 9))
	r := &Relation{NoiseLimit: NoisyLimit, NoiseL: make([]float32, n), NoiseBase: make([]uint8, n), pixels: 2 * n}
	c := 0
	for i := range r.NoiseL {
		y := float32(math.Exp2(-10 + 7*rng.Float64()))
		r.NoiseBase[i] = baseLevel(y)
		r.NoiseL[i] = float32(math.Exp2(-2 + 5*rng.Float64()))
		if i%10 == 0 {
			r.NoiseL[i] = float32(math.NaN())
		} else if r.NoiseL[i] > NoisyLimit {
			c++
		}
	}
	f := float64(c) / float64(r.pixels)
	r.Noisy = &f
	r.countNoise()
	return r
}

// Without a tone correction and at its own limit it is the reading itself; a higher
// limit marks less; the quick figure follows the exact one.
func TestNoisyAtLimits(t *testing.T) {
	r := grainy(100_000)
	pix, f := r.NoisyAt(NoisyLimit, nil)
	if *f != *r.Noisy {
		t.Errorf("%g, the reading is %g", *f, *r.Noisy)
	}
	marked := 0
	for i, v := range pix {
		if v == 255 {
			marked++
		}
		if (v == 255) != (r.NoiseL[i] > NoisyLimit) {
			t.Fatalf("pixel %d of noise %g: %d", i, r.NoiseL[i], v)
		}
	}
	if float64(marked)/float64(r.pixels) != *f {
		t.Errorf("%d marked, fraction %g", marked, *f)
	}
	last := 1.0
	for _, limit := range []float64{0.3, 0.5, 1, 2, 2.9, 3, 4.44, 7, 9} {
		exact, near := *r.NoisyFraction(limit, nil), *r.NoisyNear(limit, nil)
		if exact > last {
			t.Errorf("at %g more is noisy than below", limit)
		}
		if last = exact; math.Abs(near-exact) > 0.001 && math.Abs(near-exact) > 0.01*exact {
			t.Errorf("at %g: near %g, exact %g", limit, near, exact)
		}
	}
}

// Through a tone correction the noise of a pixel is what the correction makes of it:
// against noise that is sent through the correction and CIE L* value by value.
func TestNoisyThroughATone(t *testing.T) {
	labL := func(y float64) float64 {
		if y > 216.0/24389 {
			return 116*math.Cbrt(y) - 16
		}
		return y * 24389 / 27
	}
	for name, tone := range map[string]func(float64) float64{
		"a stop brighter": func(y float64) float64 { return 2 * y },
		"a power":         func(y float64) float64 { return math.Pow(y, 0.6) },
		"a black point":   func(y float64) float64 { return math.Max(0, (y-0.01)/0.99) },
		"to white":        func(y float64) float64 { return 200 * y },
	} {
		limits := noisyLimits(3, tone)
		for _, y := range []float64{0.0011, 0.004, 0.013, 0.05, 0.17} {
			k := baseLevel(float32(y))
			// A pixel whose noise is v L* at y has a relative noise of v / (Y dL*/dY).
			const dy = 1e-4
			sigma := float64(limits[k]) / ((labL(y*(1+dy)) - labL(y*(1-dy))) / (2 * dy))
			a, b := labL(math.Min(1, tone(y*(1-dy)))), labL(math.Min(1, tone(y*(1+dy))))
			got := (b - a) / (2 * dy) * sigma
			if math.IsInf(float64(limits[k]), 1) {
				if b-a > 1e-9 && y > 0.012 {
					t.Errorf("%s at %g: never noisy, though it shows", name, y)
				}
				continue
			}
			// The level is an eighth of a power of two wide, its middle stands for it.
			if name != "a black point" && math.Abs(got-3) > 0.15 || name == "a black point" && y > 0.03 && math.Abs(got-3) > 0.25 {
				t.Errorf("%s at %g: noise that just passes is %.2f L*, limit 3", name, y, got)
			}
		}
	}
}

// A lift makes more of the shadows noisy, a black point over all of them none.
func TestLiftMakesNoise(t *testing.T) {
	r := grainy(50_000)
	bare := *r.NoisyFraction(3, nil)
	if v := *r.NoisyFraction(3, func(y float64) float64 { return 4 * y }); v <= bare {
		t.Errorf("two stops brighter %g, bare %g", v, bare)
	}
	if v := *r.NoisyFraction(3, func(y float64) float64 { return 0 }); v != 0 {
		t.Errorf("all black: %g", v)
	}
	near, exact := *r.NoisyNear(3, math.Cbrt), *r.NoisyFraction(3, math.Cbrt)
	if math.Abs(near-exact) > 0.01*exact {
		t.Errorf("near %g, exact %g", near, exact)
	}
	if px, f := (&Relation{}).NoisyAt(3, nil); px != nil || f != nil {
		t.Error("noise out of nothing")
	}
}

// One step of a drag of the limit or of a shadow lift over a frame of 2048 x 1700
// preview pixels: the mask, and the figure beside it.
func BenchmarkNoisyMask(b *testing.B) {
	r := grainy(2048 * 1700)
	for b.Loop() {
		r.NoisyAt(2.5, math.Cbrt)
	}
}

func BenchmarkNoisyFigure(b *testing.B) {
	r := grainy(2048 * 1700)
	for b.Loop() {
		r.NoisyNear(2.5, math.Cbrt)
	}
}
