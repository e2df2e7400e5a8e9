package noise

import (
	"math"
	"math/rand/v2"
	"testing"
)

// laws are variances of density over density: a slide as a count of dye clouds (Nutting
// 1913), an inverted negative whose coarse grains come first, a digital copy's constant noise
// of density, each with a scanner's noise of light.
var laws = map[string]func(d float64) float64{
	"slide": func(d float64) float64 { return 3.7e-4*math.Max(d, 0.02) + dark(d) },
	"negative": func(d float64) float64 {
		n := 0.15 * math.Log1p(math.Exp((1.8-d)/0.6/0.15)) // its own density, from a toe on
		return 2e-4*n*math.Exp(-n/3) + 4e-5 + dark(d)
	},
	"constant": func(d float64) float64 { return 2e-4 + dark(d) },
}

func dark(d float64) float64 { return math.Pow(1.5e-4*math.Pow(10, d)/math.Ln10, 2) }

func levelOf(law func(d float64) float64, first, last int, off func() float64) *level {
	l := &level{}
	for k := first; k <= last; k++ {
		stop := lowest + float64(k)/perStop
		light := math.Exp2(stop)
		l.variance[k] = law(-stop*math.Log10(2)) * math.Pow(light*math.Ln10, 2) * math.Exp(off())
		l.off[k] = 0.01
	}
	return l
}

// What knots are off by at random is less after they are smoothed, at the ends as well; what
// they tell rightly stays as it is, within a tenth of its standard deviation; the lightest,
// where a film's noise turns sharply, are left.
func TestSmooth(t *testing.T) {
	const first, last, light = 5, 30, 28
	for name, law := range laws {
		right := levelOf(law, first, last, func() float64 { return 0 })
		for i, y := range right.smooth(first, last) {
			if first+i >= light && y != math.Log(right.variance[first+i]) {
				t.Errorf("%s: knot %d is light, and was changed", name, first+i)
			}
			if off := (y - math.Log(right.variance[first+i])) / 2; math.Abs(off) > 0.1 {
				t.Errorf("%s: knot %d is %.3f off by being smoothed", name, first+i, off)
			}
		}
		rng := rand.New(rand.NewPCG(3, 3))
		var before, after float64
		for range 40 {
			l := levelOf(law, first, last, func() float64 { return 0.2 * rng.NormFloat64() })
			for i, y := range l.smooth(first, last) {
				if first+i >= light {
					continue
				}
				v := math.Log(right.variance[first+i])
				before += math.Pow(math.Log(l.variance[first+i])-v, 2)
				after += math.Pow(y-v, 2)
			}
		}
		if ratio := math.Sqrt(after / before); ratio > 0.75 {
			t.Errorf("%s: smoothed knots are off by %.2f of what they were", name, ratio)
		}
	}
}

// One knot, two knots, and errors that are not known are no reason for figures that are none.
func TestSmoothOfFew(t *testing.T) {
	for last := 20; last < 24; last++ {
		l := levelOf(laws["slide"], 20, last, func() float64 { return 0 })
		l.off[20] = math.NaN()
		l.draw(20, last)
		l.ok = true
		for _, stop := range []float64{l.lo - 3, l.lo, l.hi, l.hi + 0.5, l.hi + 1} {
			if v := l.at(math.Exp2(stop)); !(v > 0) || math.IsInf(v, 0) {
				t.Errorf("knots 20 to %d: %g at %g", last, v, stop)
			}
		}
		if v := l.at(math.Exp2(l.hi + 1.1)); v == v {
			t.Errorf("knots 20 to %d: %g beyond what is drawn on", last, v)
		}
	}
}
