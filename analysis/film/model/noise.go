package model

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"stopladder/analysis/judge/correction"
)

// LightnessVariance returns the variance of L* that noise makes after a correction, in a
// preview pixel of a light of the scan's channels; NaN where the noise is not known. The
// noise may be as large as the light, and a curve may lift a dark channel of a light
// colour by stops, so each channel is carried through by points of its distribution
// (Gauss-Hermite). Grain that the channels share counts by what luminance has more of
// noise than channels that are strangers would give it.
func (m *Model) LightnessVariance(light []float32, t *[3]correction.Table) float64 {
	if m.noise == nil {
		return math.NaN()
	}
	rgb := m.RGB(light)
	y, own := 0.0, 0.0
	var sigma [3]float64
	for d := range 3 {
		sigma[d] = m.noise.Sigma(d, math.Max(float64(light[d]), 1e-5))
		w := float64(weights[0])*m.primaries[0][d] + float64(weights[1])*m.primaries[1][d] + float64(weights[2])*m.primaries[2][d]
		y += w * float64(light[d])
		own += w * w * sigma[d] * sigma[d]
	}
	v := 0.0
	for d := range 3 {
		var sum, squares float64
		for q, x := range Nodes {
			by := math.Max(x*sigma[d], -math.Max(float64(light[d]), 0)) // a channel of a scan has no light below none
			lum := 0.0
			for c := range 3 {
				lum += float64(weights[c] * t[c].At(float32(rgb[c]+by*m.primaries[c][d])))
			}
			l := Lightness(lum)
			sum, squares = sum+Shares[q]*l, squares+Shares[q]*l*l
		}
		v += math.Max(0, squares-sum*sum)
	}
	if s := m.noise.SigmaY(y); s == s && own > 0 {
		// Between strangers and twins: three channels that are one have thrice at most.
		v *= math.Min(3, math.Max(1, s*s/own))
	}
	return v
}

// Nodes are points of a normal distribution of standard deviation 1, Shares what each
// stands for (Gauss-Hermite).
var Nodes, Shares = func() (x, w [5]float64) {
	quad.Hermite{}.FixedLocations(x[:], w[:], math.Inf(-1), math.Inf(1))
	for i := range x {
		x[i], w[i] = math.Sqrt2*x[i], w[i]/math.Sqrt(math.Pi)
	}
	return x, w
}()

// Lightness returns L* of a relative luminance (CIE 15).
func Lightness(y float64) float64 {
	const eps, kappa = 216.0 / 24389, 24389.0 / 27
	if y > eps {
		return 116*math.Cbrt(y) - 16
	}
	return kappa * y
}
