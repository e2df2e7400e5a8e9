package register

import (
	"context"
	"fmt"
	"image"
	"math"
	"os"
	"testing"

	"stopladder/analysis/demo/charts"
	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"
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

// allRolls reports whether every roll is asked for, with STOPLADDER_ALL_ROLLS=1: that belongs
// to a change of the registration and takes minutes. Otherwise each claim is held by one
// roll at least.
func allRolls() bool { return os.Getenv("STOPLADDER_ALL_ROLLS") != "" }

func leaves(t testing.TB, w, h int, seed uint64) *scene.Radiance {
	t.Helper()
	c, err := charts.Leaves(w, h, 8, seed)
	if err != nil {
		t.Fatal(err)
	}
	return c.Radiance
}

// tally counts how truthful the standard errors are, over many frames.
type tally struct{ within, of int }

func (c *tally) add(err, se float64) {
	c.of++
	if math.Abs(err) <= 2*se {
		c.within++
	}
}

func (roll *shotRoll) check(t *testing.T, c *tally) {
	t.Helper()
	got, err := Roll(context.Background(), roll.looks, roll.stops, roll.base, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range got {
		tr, stop := roll.truth[i], roll.stops[i]
		if i == roll.base {
			if r.DX != 0 || r.DY != 0 || r.Rotation != 0 || r.Scale != 1 || r.How != Base {
				t.Errorf("%s: the base frame is at %+v", roll.name, r)
			}
			continue
		}
		dx, dy, turn := r.DX-tr.Shift[0], r.DY-tr.Shift[1], r.Rotation-tr.Rotation
		t.Logf("%s %+g: off by %+.3f %+.3f px, %+.4f deg, %+.5f (errors %.3f %.3f %.4f) %v, confidence %.3f",
			roll.name, stop, dx, dy, turn, r.Scale-1, r.StdErr.DX, r.StdErr.DY, r.StdErr.Rotation, r.How, r.Confidence)
		good := math.Abs(dx) <= 0.5 && math.Abs(dy) <= 0.5 && math.Abs(turn) <= 0.02
		if math.Abs(stop) <= 2 && !(good && r.Reliable()) {
			t.Errorf("%s %+g: off by %.3f %.3f px, %.4f degrees, confidence %.3f", roll.name, stop, dx, dy, turn, r.Confidence)
		}
		if r.Reliable() && !good {
			t.Errorf("%s %+g: said to be reliable (%.3f) and off by %.3f %.3f px, %.4f degrees", roll.name, stop, r.Confidence, dx, dy, turn)
		}
		if r.Refused() {
			if r.Note == "" || r.Confidence != 0 {
				t.Errorf("%s %+g: refused without a word: %+v", roll.name, stop, r)
			}
			continue
		}
		c.add(dx, r.StdErr.DX)
		c.add(dy, r.StdErr.DY)
		c.add(turn, r.StdErr.Rotation)
	}
	// The mapping says the same as the simulator's.
	for i, r := range got {
		size := image.Pt(roll.looks[i].Info.Width, roll.looks[i].Info.Height)
		m := r.Affine(size, size)
		for _, p := range [][2]float64{{0, 0}, {float64(size.X), 0}, {0, float64(size.Y)}} {
			x, y := affine.At(roll.truth[i].FromBase, p[0], p[1])
			gx, gy := m[0]*p[0]+m[1]*p[1]+m[2], m[3]*p[0]+m[4]*p[1]+m[5]
			if d := math.Hypot(gx-x, gy-y); r.Reliable() && d > 0.7 {
				t.Errorf("%s %+g: corner %v is %.2f px off", roll.name, roll.stops[i], p, d)
			}
		}
	}
}

func TestSimulatedRolls(t *testing.T) {
	t.Parallel()
	var c tally
	move := simulate.Options{MaxShift: 0.01, MaxRotation: 0.5}
	seeds := []uint64{1, 2, 3}
	w, h := 900, 760
	if testing.Short() {
		seeds, w, h = seeds[:1], 500, 420
	}
	stocks := []simulate.Stock{simulate.Reversal(), simulate.Negative()}
	for i, seed := range seeds {
		r := leaves(t, w, h, seed)
		for k, stock := range stocks {
			if k != i%2 && !allRolls() {
				continue
			}
			o := move
			o.Seed, o.Border, o.ShutterError = seed, seed%2 == 0, 0.1
			if seed == 3 {
				o.AutoCorrect = true
			}
			shoot(t, fmt.Sprintf("leaves %d on %s", seed, stock.Name), r, stock, o).check(t, &c)
		}
	}
	if !testing.Short() {
		// A finer scan of a larger frame: previews are reduced.
		o := move
		o.Seed, o.Border, o.EightBitInSixteen = 7, true, true
		o.Stops = []float64{-3, -2, 0, 2, 3}
		o.W, o.H = 2052, 1724
		r := leaves(t, 1800, 1512, 7)
		if !allRolls() {
			stocks = stocks[1:]
		}
		for _, stock := range stocks {
			shoot(t, "large on "+stock.Name, r, stock, o).check(t, &c)
		}
	}
	t.Logf("within two standard errors: %d of %d", c.within, c.of)
	if float64(c.within) < 0.9*float64(c.of) {
		t.Errorf("the truth lies within two standard errors in %d of %d, want nine of ten", c.within, c.of)
	}
}

func TestDemoRolls(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	var c tally
	for _, kind := range []string{"reversal", "negative"} {
		d, err := simulate.NewDemo(kind)
		if err != nil {
			t.Fatal(err)
		}
		roll := &shotRoll{name: "courtyard, " + kind, stops: d.Stops()}
		for i, s := range d.Stops() {
			l, err := measure.NewLook(ctx, d.Open(i), measure.Options{})
			if err != nil {
				t.Fatal(err)
			}
			tr, err := d.Truth(i)
			if err != nil {
				t.Fatal(err)
			}
			roll.looks, roll.truth = append(roll.looks, l), append(roll.truth, tr)
			if s == 0 {
				roll.base = i
			}
		}
		roll.check(t, &c)
	}
	if float64(c.within) < 0.9*float64(c.of) {
		t.Errorf("the truth lies within two standard errors in %d of %d, want nine of ten", c.within, c.of)
	}
}

// Two scans of different sizes: 2 % larger is a scale of 1.02, of half the size
// 0.5.
func TestScans(t *testing.T) {
	r := leaves(t, 700, 600, 11)
	for _, k := range []float64{0.98, 1.02, 0.5} {
		o := simulate.Options{Seed: 5, NoGrain: true}
		a := shootOne(t, r, o, 0)
		o.W, o.H = int(math.Round(700*k)), int(math.Round(600*k))
		b := shootOne(t, r, o, 1)
		got, err := registerPair(context.Background(), a, b)
		if err != nil {
			t.Fatal(err)
		}
		// The simulator scales by the longer fit of whole pixels.
		want := math.Max(float64(o.W)/700, float64(o.H)/600)
		if math.Abs(got.DX) > 0.1 || math.Abs(got.DY) > 0.1 || math.Abs(got.Scale-want) > 2e-4 || math.Abs(got.Rotation) > 0.01 || !got.Reliable() {
			t.Errorf("scale %g: %+v", k, got)
		}
	}
}

func shootOne(t testing.TB, r *scene.Radiance, o simulate.Options, stop float64) *measure.Look {
	t.Helper()
	o.Stops = []float64{stop}
	return shoot(t, "", r, simulate.Negative(), o).looks[0]
}

// An idle machine's figure is to be read; the test does not judge it.
func BenchmarkRoll(b *testing.B) {
	r := leaves(b, 1300, 1100, 4)
	roll := shoot(b, "", r, simulate.Reversal(), simulate.Options{Seed: 4, MaxShift: 0.01, MaxRotation: 0.5, W: 2048, H: 1720})
	b.ResetTimer()
	for range b.N {
		if _, err := Roll(context.Background(), roll.looks, roll.stops, roll.base, Options{}, nil); err != nil {
			b.Fatal(err)
		}
	}
}
