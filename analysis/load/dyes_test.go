package load

import (
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/judge/criteria"
)

// A slide without dyes that mix, before a scene of texture: what the mean light of an uneven
// block is off by a bent curve passed for dyes (14 % of red's), and frames differed from the
// model by 0.02 of density. Of a slide with them some must be told. What is stated beside the
// ends of their ranges holds the true ones, and says something: half a stop, not two.
func TestDyesBeforeTexture(t *testing.T) {
	if testing.Short() {
		t.Skip("two rolls of eight frames, 20 s")
	}
	for _, x := range []struct {
		film, scene string
		mixed       bool
	}{{"slide-2", "foliage", false}, {"slide-dyes", "even", true}} {
		r := adversary.Roll{Film: adversary.Stocks()[x.film], Scene: x.scene, Seed: 7, Size: 800, Stops: []float64{-3, -2, -1, 0, 1, 2, 3, 4}}
		p := foreign(r)
		res := p.measured(t)
		m := res.Comparison.Grid.Model()
		if m == nil {
			t.Fatalf("%s %s: no model", x.film, x.scene)
		}
		if m.Mixed() != x.mixed {
			t.Errorf("%s before %s: dyes that mix are told %v: %.3f", x.film, x.scene, m.Mixed(), m.Mix)
		}
		for _, f := range r.Stops {
			if off := m.Off(f); off > 0.006 {
				t.Errorf("%s before %s: frames about %+g differ from the model by %.4f of density", x.film, x.scene, f, off)
			}
		}
		r.Grain, r.Blur, r.ReadSD = 0.02, [2]float64{0.8, 1.4}, 1.5e-4
		got := res.RangeUnder(criteria.Default())
		lo, hi := r.Truth().Ends(criteria.Default(), true)
		for _, e := range []struct{ told, err, want float64 }{{got.Holds.Lo.Stop, got.Holds.Lo.Uncertainty, lo.Stop}, {got.Holds.Hi.Stop, got.Holds.Hi.Uncertainty, hi.Stop}} {
			t.Logf("%s before %s: %.2f +- %.2f, truly %.2f", x.film, x.scene, e.told, e.err, e.want)
			if e.told-e.want > e.err+0.01 || e.want-e.told > e.err+0.01 {
				t.Errorf("%s before %s: an end at %.2f +- %.2f is truly at %.2f", x.film, x.scene, e.told, e.err, e.want)
			}
			if e.err > 0.6 {
				t.Errorf("%s before %s: an end is said to be within %.2f stop, which says nothing", x.film, x.scene, e.err)
			}
		}
	}
}
