package response

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"stopladder/analysis/demo/adversary"
)

// What seen says of its slopes is what differences of it show, for every model: steps by
// others go astray.
func TestSeenSlopes(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 8))
	for _, m := range []model{plainModel, flareModel, gainModel} {
		for range 300 {
			f := &fit{m: &samples{frames: 1, mean: []float64{0.3, 0.2, 0.1}}, model: m, flare: 0.1 * rnd.Float64(), gain: make([]float64, 3), factor: make([]float64, 3)}
			c, u := rnd.IntN(3), -2+2.5*rnd.Float64()
			log := 0.4 * (rnd.Float64() - 0.5)
			f.setGain(c, log)
			v, slope, by := f.seen(u, c, 0)
			const h = 1e-5
			near := func(what string, got, lo, hi float64) {
				if want := (hi - lo) / (2 * h); math.Abs(got-want) > 1e-4*(1+math.Abs(want)) {
					t.Errorf("model %d at %.3f: %s %.6f, by differences %.6f", m, u, what, got, want)
				}
			}
			lo, _, _ := f.seen(u-h, c, 0)
			hi, _, _ := f.seen(u+h, c, 0)
			near("slope", slope, lo, hi)
			at := func(d float64) float64 {
				g := *f
				g.gain, g.factor = slices.Clone(f.gain), slices.Clone(f.factor)
				g.setGain(c, log+d)
				g.flare += d
				w, _, _ := g.seen(u, c, 0)
				return w
			}
			if m != plainModel {
				near("slope by the model's unknown", by, at(-h), at(h))
			}
			if back := f.unseen(v, c, 0); math.Abs(back-u) > 1e-9 {
				t.Errorf("model %d: %.9f comes back as %.9f", m, u, back)
			}
		}
	}
}

// Gains that rise along the bracket are found as the adversary set them, in light, where the
// labels tell the exposures.
func TestGainsFound(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	r := adversary.Roll{Film: adversary.Stocks()["slide-dyes"], Scene: "brick", Seed: 81, Stops: bracket8}
	var want []float64
	for _, s := range bracket8 {
		k := 1 - 0.065*s
		r.Gains, want = append(r.Gains, [3]float64{k, k, k}), append(want, math.Log10(k))
	}
	res, err := Fit(context.Background(), foreign(t, r), 3, Options{})
	if err != nil {
		t.Fatal(err)
	}
	_, gained, err := res.fit.explain(context.Background(), 0)
	if err != nil || gained == nil {
		t.Fatalf("no gains: %v", err)
	}
	worst := 0.0
	for i, g := range gained.gain {
		worst = math.Max(worst, math.Abs(g-want[i/3]))
	}
	t.Logf("gains within %.4f of log10 of light", worst)
	if worst > 0.012 { // a twenty-fifth of a stop
		t.Errorf("gains %.4f, set %.4f", gained.gain, want)
	}
}

// A gain of one channel of one frame is found as the adversary set it, and none in the
// other frames, where gains are held at none by their size.
func TestGainOfOneFrame(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	for _, stock := range []string{"slide-dyes", "negative-dyes"} {
		const frame, channel, k = 5, 2, 0.8
		r := adversary.Roll{Film: adversary.Stocks()[stock], Scene: "brick", Seed: 82, Stops: bracket8}
		for range bracket8 {
			r.Gains = append(r.Gains, [3]float64{1, 1, 1})
		}
		r.Gains[frame][channel] = k
		res, err := Fit(context.Background(), foreign(t, r), 3, Options{})
		if err != nil {
			t.Fatal(err)
		}
		_, gained, err := res.fit.explain(context.Background(), 0)
		if err != nil || gained == nil {
			t.Fatalf("%s: no gains: %v", stock, err)
		}
		worst, want := 0.0, math.Log10(k)
		for i, g := range gained.gain {
			if i != 3*frame+channel {
				worst = math.Max(worst, math.Abs(g))
			}
		}
		off := math.Abs(gained.gain[3*frame+channel] - want)
		t.Logf("%s: off by %.4f of log10 of light, others %.4f at most, sparse %v", stock, off, worst, gained.sparse)
		if off > 0.012 || worst > 0.012 { // a twenty-fifth of a stop
			t.Errorf("%s: gains %.4f, of one frame %.4f set", stock, gained.gain, want)
		}
	}
}
