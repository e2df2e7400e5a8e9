package response

import (
	"context"
	"fmt"
	"image"
	"iter"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"stopladder/analysis/demo/charts"
	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/scan"
)

// roll is a simulated roll with its truth.
type roll struct {
	scene  *scene.Radiance
	frames []Frame
	truth  []*simulate.Truth
	base   int
}

// card is where a scene of the tests has neutral light that stands for its grey
// card, in the base frame's pixels, and the log exposure that it truly gave.
func (r *roll) card(i int) (area image.Rectangle, logE [3]float64) {
	p := scene.Place{X0: 0.02, Y0: 0.02, X1: 0.12, Y1: 0.12} // of randomScene
	switch i % 5 {
	case 0:
		p = scene.Places[0]
	case 1: // the column at 0.18 of charts.Patches, in its row without texture
		p = scene.Place{X0: 3.1 / 9, Y0: 0.1 / 5, X1: 3.9 / 9, Y1: 0.9 / 5}
	}
	t := r.truth[r.base]
	x0, y0 := affine.At(t.FromScene, p.X0*float64(r.scene.W), p.Y0*float64(r.scene.H))
	x1, y1 := affine.At(t.FromScene, p.X1*float64(r.scene.W), p.Y1*float64(r.scene.H))
	return image.Rect(int(x0)+2, int(y0)+2, int(x1)-2, int(y1)-2), t.LogExposure(r.scene.Mean(p))
}

// shoot makes a roll with true registration. change, where not nil, may alter a
// frame's pixels after the scan.
func shoot(t testing.TB, r *scene.Radiance, stock simulate.Stock, o simulate.Options, change func(j int, p *scan.Pixels)) *roll {
	t.Helper()
	if o.Stops == nil {
		o.Stops = simulate.DefaultStops()
	}
	out := &roll{scene: r}
	for j, s := range o.Stops {
		f, err := simulate.Shoot(context.Background(), r, stock, o, s)
		if err != nil {
			t.Fatal(err)
		}
		if change != nil {
			change(j, f.Pixels)
		}
		f.Pixels.Header.Path = fmt.Sprintf("frame %d.tif", j+1)
		area := f.Truth.Area
		l, err := measure.NewLook(context.Background(), f.Pixels, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		a := f.Truth.FromBase
		out.frames = append(out.frames, Frame{Look: l, Stop: s, StopKnown: true, Map: a})
		out.truth = append(out.truth, f.Truth)
		if math.Abs(s) < math.Abs(o.Stops[out.base]) {
			out.base = j
		}
	}
	return out
}

func (r *roll) fit(t testing.TB, o Options) *Result {
	t.Helper()
	res, err := Fit(context.Background(), r.frames, r.base, o)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// randomScene lays patches of random light over each other, with gradients, tints
// and some texture; its range is 5 to 10 stops.
func randomScene(w, h int, seed uint64) *scene.Radiance {
	rng := rand.New(rand.NewPCG(seed, 77))
	r := scene.New(w, h)
	span, mid := 5+5*rng.Float64(), 0.5*rng.Float64()-0.5
	for k := range 60 + rng.IntN(120) {
		level := mid + span*(rng.Float64()-0.5)
		x0, y0, bw, bh := rng.IntN(w), rng.IntN(h), 20+rng.IntN(w/3), 20+rng.IntN(h/3)
		if k == 0 {
			x0, y0, bw, bh = 0, 0, w, h
		}
		tint := [3]float64{math.Exp2(0.3 * rng.NormFloat64()), 1, math.Exp2(0.3 * rng.NormFloat64())}
		gx, gy, tex := 0.6*rng.NormFloat64(), 0.6*rng.NormFloat64(), 0.15*rng.Float64()*rng.Float64()
		for y := y0; y < min(h, y0+bh); y++ {
			for x := x0; x < min(w, x0+bw); x++ {
				e := level + gx*float64(x-x0)/float64(bw) + gy*float64(y-y0)/float64(bh) + tex*math.Sin(0.9*float64(x))*math.Sin(0.7*float64(y))
				light := 0.18 * math.Exp2(e)
				for c := range tint {
					r.Pix[3*(y*w+x)+c] = float32(light * tint[c])
				}
			}
		}
	}
	// A grey card.
	for y := h / 50; y < h*7/50; y++ {
		for x := w / 50; x < w*7/50; x++ {
			for c := range 3 {
				r.Pix[3*(y*w+x)+c] = 0.18
			}
		}
	}
	return r
}

// sceneFor alternates between the embedded scene, patches, and random scenes.
func sceneFor(t testing.TB, i int) *scene.Radiance {
	t.Helper()
	switch i % 5 {
	case 0:
		r, err := scene.Embedded()
		if err != nil {
			t.Fatal(err)
		}
		return r
	case 1:
		c, err := charts.Patches(700, 600, uint64(i))
		if err != nil {
			t.Fatal(err)
		}
		return c.Radiance
	}
	return randomScene(700, 600, uint64(i))
}

func stockFor(i int) simulate.Stock {
	if i%2 == 0 {
		return simulate.Reversal()
	}
	return simulate.Negative()
}

// brackets are the sets of stops that the tests take turns with.
var brackets = [][]float64{
	nil, // -3..+4
	{-2, -1, 0, 1, 2},
	{-1, -2. / 3, -1. / 3, 0, 1. / 3, 2. / 3, 1},
	{-2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2},
	{-1, 0, 1},
	{-3, -2, 0, 1, 2, 4},
	{-3.5, -3, -2.5, -2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4},
}

// goodOptions vary size, movement, border and shutter error.
func goodOptions(i int) simulate.Options {
	return simulate.Options{
		Seed: uint64(1000 + i), W: 460 + 40*(i%4), H: 400 + 30*(i%3), Stops: brackets[i%len(brackets)],
		MaxShift: 0.002 * float64(i%5), MaxRotation: 0.1 * float64(i%4), ShutterError: 0.03 * float64(i%4),
		Border: i%3 == 0,
	}
}

// all reports whether every roll is asked for, with STOPLADDER_ALL_ROLLS=1: that belongs to a
// change of the fit and takes minutes on two processors. Otherwise each claim is held by one
// roll at least.
func all() bool { return os.Getenv("STOPLADDER_ALL_ROLLS") != "" }

// some yields four of n rolls, which are of four kinds in turn; or all.
func some(n int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for i := range n {
			if (i < 4 || all()) && !yield(i) {
				return
			}
		}
	}
}
