package model

import (
	"math"
	"testing"

	"stopladder/analysis/numeric/matrix"
)

// evenNoise has the same standard deviation of density everywhere.
type evenNoise float64

func (n evenNoise) Sigma(_ int, light float64) float64 { return float64(n) * math.Ln10 * light }
func (n evenNoise) SigmaY(y float64) float64           { return float64(n) * math.Ln10 * y }

// A channel falls silent where a third of a stop moves its light by less than its noise,
// whatever colour the place has and however dyes mix the channels: against the definition
// worked out from logistic curves in closed form. Of a yellow lamp the green layer is at
// its end while the blue layer's dye still keeps green light away: a density alone does
// not tell it.
func TestMixedChannelsFallSilentByWhatTheySay(t *testing.T) {
	const low, high, steep, sigma = 0.1, 3.2, 2.4, 0.006
	curve := func(x float64) float64 { return low + (high-low)/(1+math.Exp(steep*x)) }
	mix := matrix.Of{{0.94, 0.04, 0.02}, {0.02, 0.94, 0.04}, {0.02, 0.02, 0.96}}
	m := &Model{noise: evenNoise(sigma), nx: 1, ny: 1, side: 1, per: 1, Mix: mix, empty: [3]float32{4, 4, 4}, absent: make([]bool, 9)}
	for c := range m.layer {
		l := &layer{lo: -3.5, covered: [2]float64{-3, 3}}
		for i := range 1400 {
			l.d = append(l.d, float32(curve(l.lo+float64(i)*curveStep)))
		}
		l.invert()
		m.layer[c] = l
	}
	m.ends()
	m.speaking()
	lost, apart := 0, 0
	for r := -1.5; r < 2.5; r += 0.31 {
		for g := -1.5; g < 2.5; g += 0.13 {
			for b := -1.5; b < 2.5; b += 0.31 {
				e := [3]float64{r, g, b}
				m.x = nil
				for range 9 {
					m.x = append(m.x, float32(r), float32(g), float32(b))
				}
				var dead float64
				near := false
				for c := range 3 {
					var step, noise, shares float64
					for j := range 3 {
						// As the program has it: a third of what a stop moves.
						step += mix[c][j] * (curve(e[j]-stopLog/2) - curve(e[j]+stopLog/2)) / 3
						noise += mix[c][j] * mix[c][j] * sigma * sigma
						shares += mix[c][j] * mix[c][j]
					}
					ratio := step / math.Sqrt(noise/shares)
					near = near || math.Abs(math.Log(ratio)) < 0.05
					if ratio < 1 {
						dead += float64(weights[c])
					}
				}
				if near {
					continue
				}
				state := m.At(0).State[0]
				if got, want := state&(LostLight|LostDark) != 0, dead >= 0.5; got != want {
					t.Errorf("exposures %+.2f: lost %v, by the definition %v", e, got, want)
				}
				if dead >= 0.5 {
					lost++
				}
				if d := mix[1][0]*curve(r) + mix[1][1]*curve(g) + mix[1][2]*curve(b); dead >= 0.5 && d > float64(m.light[1]) {
					apart++
				}
			}
		}
	}
	if lost < 50 || apart < 10 {
		t.Errorf("%d places are lost, %d of them at a density at which a grey is not: the test shows little", lost, apart)
	}
}

// What is not known lies beyond what is: it speaks there until silence was reached.
func TestWhatIsNotKnownFallsSilentBeyondSilence(t *testing.T) {
	nan := math.NaN()
	got := filled([]float64{nan, 0.4, 0.9, nan, 3, 9, 5, nan, nan})
	for i, silent := range []bool{true, true, true, false, false, false, false, false, false} {
		if (got[i] < 1) != silent {
			t.Errorf("place %d: %g", i, got[i])
		}
	}
}
