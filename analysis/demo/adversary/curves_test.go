package adversary

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/optimize"
)

// Without dyes that mix, curves bring back every pixel in which all channels speak; with
// them no curves of the family nearby leave less: gonum's simplex, which knows no gradient,
// and steps at random find none that do.
func TestCurvesAreTheBest(t *testing.T) {
	for _, name := range []string{"slide-2", "slide-dyes", "negative-dyes"} {
		r := &Roll{Film: Stocks()[name], Scene: "foliage", Size: 300, Grain: 0.02, Stops: []float64{0}, Blur: [2]float64{0.8, 1.4}}
		v := r.Truth().view
		for _, s := range []float64{-1.5, 1} {
			o := v.look(s, [3]float64{1, 1, 1}, nil)
			grey := o.greyTones()
			clean, _ := o.tints(grey)
			left := func(p []float64) float64 {
				sum := 0.0
				for i := range clean {
					var q [3]float64
					for c := range 3 {
						x := bent(clean[i].from[c], &clean[i].cheb[c], false, p[c*perCurve:])
						q[c] = x * x * x
					}
					sum += clean[i].weight * difference(clean[i].want, labOf(q))
				}
				return sum
			}
			none := make([]float64, 3*perCurve)
			if name == "slide-2" {
				near(t, name+": left by the greys' curves", left(none), 0, 0.01)
				continue
			}
			best := least(clean, none, func(k int) bool { return k < bends })
			found := left(best)
			t.Logf("%s %+g: greys' curves leave %.4f, bent ones %.4f", name, s, left(none), found)
			if found > left(none)+0.003 {
				t.Errorf("%s %+g: bent curves leave %.4f, those of the greys %.4f", name, s, found, left(none))
			}
			res, err := optimize.Minimize(optimize.Problem{Func: left}, best, &optimize.Settings{FuncEvaluations: 300}, &optimize.NelderMead{SimplexSize: 0.01})
			if res == nil || err != nil {
				t.Fatal(err)
			}
			rnd := rand.New(rand.NewPCG(1, 2))
			lowest := res.F
			for range 200 {
				p := append([]float64(nil), best...)
				for k := range p {
					p[k] += 0.01 * rnd.NormFloat64()
				}
				lowest = math.Min(lowest, left(p))
			}
			if lowest < found-math.Max(0.003, 0.05*found) {
				t.Errorf("%s %+g: %.4f is left, and %.4f can be had", name, s, found, lowest)
			}
		}
	}
}

// Noise of a sharpened scan against one that is not, rendered, and by the arithmetic.
func TestSharpened(t *testing.T) {
	const blur = 1.2
	of := func(r *Roll) float64 {
		noisy, clean := r.Frame(1).Pixels.Pix, r.frame(1, false).Pixels.Pix
		var sum, n float64
		for k := 1; k < len(clean); k += 3 {
			if clean[k] > 9000 && clean[k] < 50000 {
				d := float64(noisy[k]) - float64(clean[k])
				sum, n = sum+d*d, n+1
			}
		}
		return math.Sqrt(sum / n)
	}
	r := Roll{Film: Stocks()["slide"], Grain: 0.02, Blur: [2]float64{blur, blur}}
	plain := of(small(r))
	r.Sharpen, r.SharpenRadius = 0.8, 1
	near(t, "noise of a sharpened scan over that of a plain one", of(small(r))/plain, sharper(blur, 0.8, 1), 0.03)
}
