package cast

import (
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/scan/colour"
)

// layer is a film layer in closed form: density falls by gamma along log exposure,
// between a toe and a shoulder (a logistic; invented).
type layer struct{ gamma, at float64 }

func (l layer) density(logE float64) float64 {
	return 0.05 + 3/(1+math.Exp(4*l.gamma/3*(logE-l.at)))
}

// logE is its inverse.
func (l layer) logE(density float64) float64 {
	return l.at + math.Log(3/(density-0.05)-1)*3/(4*l.gamma)
}

func curveOf(layers [3]layer) *response.Curve {
	k := &response.Curve{}
	for x := -3.0; x <= 2; x += 0.01 {
		k.LogE = append(k.LogE, x)
		for c, l := range layers {
			k.Density[c] = append(k.Density[c], l.density(x))
		}
	}
	return k
}

// Greys of a film with three layers alike stay grey at every level and stop, and of
// one whose layers differ they come out as the closed form says, in go-colorful's
// CIELAB (D50, Bradford from D65).
func TestNeutral(t *testing.T) {
	s := colour.AssumedSRGB(65535)
	alike := [3]layer{{1.2, -0.5}, {1.2, -0.5}, {1.2, -0.5}}
	apart := [3]layer{{1.35, -0.46}, {1.2, -0.5}, {1.1, -0.55}}
	for _, v := range []float64{0.02, 0.09, 0.18, 0.4} {
		for _, stops := range []float64{-2, -1, 1, 2} {
			light, ok := Neutral(curveOf(alike), v, [3]float64{stops, stops, stops})
			if x := ShiftOf(s, light); !ok || x.Size() > 1e-3 {
				t.Errorf("three layers alike, %g at %+g: %+v, %v", v, stops, x, ok)
			}
			light, ok = Neutral(curveOf(apart), v, [3]float64{stops, stops, stops})
			var want [3]float64
			for c, l := range apart {
				want[c] = math.Pow(10, -l.density(l.logE(-math.Log10(v))+math.Log10(2)*stops))
			}
			l, a, b := colorful.LinearRgb(want[0], want[1], want[2]).LabWhiteRef(colorful.D65)
			_ = l
			x := ShiftOf(s, light)
			// go-colorful's white is D65, against which greys are as neutral; the a*b* of
			// small casts differ by the adaptation alone.
			if !ok || math.Hypot(x.DA-100*a, x.DB-100*b) > 0.3+0.06*x.Size() {
				t.Errorf("%g at %+g: %+v, want %.2f %.2f", v, stops, x, 100*a, 100*b)
			}
			for c := range light {
				if math.Abs(light[c]/want[c]-1) > 1e-3 {
					t.Errorf("%g at %+g, channel %d: %g, want %g", v, stops, c, light[c], want[c])
				}
			}
		}
	}
	// Where the curve does not reach, it is not made up.
	short := curveOf(apart)
	for i, x := range short.LogE {
		if x > -0.5 {
			short.Density[2][i] = math.NaN()
		}
	}
	if _, ok := Neutral(short, 0.18, [3]float64{3, 3, 3}); ok {
		t.Error("a grey beyond the response")
	}
	if _, ok := Neutral(nil, 0.18, [3]float64{}); ok {
		t.Error("a grey of no response")
	}
}

// What a filter does one balance mends; what differs from level to level it does not,
// and never more is left than without a balance.
func TestCrossover(t *testing.T) {
	s := colour.AssumedSRGB(65535)
	filtered := [][3]float64{{0.02 * 1.1, 0.02, 0.02 * 0.8}, {0.18 * 1.1, 0.18, 0.18 * 0.8}, {0.5 * 1.1, 0.5, 0.5 * 0.8}}
	if x := Crossover(s, filtered, 1); x > 0.05 {
		t.Errorf("a filter leaves %.3f", x)
	}
	crossed := [][3]float64{{0.02 * 1.2, 0.02, 0.02 * 0.9}, {0.18, 0.18, 0.18}, {0.5 * 0.9, 0.5, 0.5 * 1.1}}
	none := 0.0
	for i := range crossed {
		for j := range i {
			a, b := ShiftOf(s, crossed[i]), ShiftOf(s, crossed[j])
			none = math.Max(none, colour.DeltaE2000(colour.LAB{L: 50, A: a.DA, B: a.DB}, colour.LAB{L: 50, A: b.DA, B: b.DB}))
		}
	}
	x := Crossover(s, crossed, 1)
	if !(x > 1 && x <= none) {
		t.Errorf("%.2f is left of %.2f", x, none)
	}
	// A search of another making: every balance on a fine grid.
	least := math.Inf(1)
	for r := -0.4; r <= 0.4; r += 0.01 {
		for b := -0.4; b <= 0.4; b += 0.01 {
			worst := 0.0
			for i := range crossed {
				for j := range i {
					p, q := crossed[i], crossed[j]
					m := ShiftOf(s, [3]float64{p[0] * math.Exp2(r), p[1], p[2] * math.Exp2(b)})
					n := ShiftOf(s, [3]float64{q[0] * math.Exp2(r), q[1], q[2] * math.Exp2(b)})
					worst = math.Max(worst, colour.DeltaE2000(colour.LAB{L: 50, A: m.DA, B: m.DB}, colour.LAB{L: 50, A: n.DA, B: n.DB}))
				}
			}
			least = math.Min(least, worst)
		}
	}
	if x > least+0.02 {
		t.Errorf("%.3f is left, and a grid finds %.3f", x, least)
	}
	if x := Crossover(s, filtered[:1], 1); !math.IsNaN(x) {
		t.Errorf("of one grey: %g", x)
	}
}

// A band whose cast was sought and is not known is named.
func TestUnknownIsSaid(t *testing.T) {
	got := Sentence([measure.Bands]*Shift{{}, {3, 0}, nil}, [measure.Bands]bool{true, true, true}, nil)
	if want := "Midtones 3 redder than the base, shadows as the base. Of the highlights it is not known."; got != want {
		t.Errorf("%q", got)
	}
}
