package salvage

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/scan/colour"
)

// pairs are colours of the base frame beside what a frame shows in their place: light on
// the sRGB primaries.
type pairs struct {
	base, frame []float32 // 3 a pair
	lab         []colour.LAB
	clean       []int32 // those in which every channel speaks in both
}

func (p *pairs) add(base, frame [3]float64) {
	for c := range 3 {
		p.base, p.frame = append(p.base, float32(base[c])), append(p.frame, float32(frame[c]))
	}
	p.lab = append(p.lab, colour.LabOf(base[0], base[1], base[2]))
}

// gains returns the gain that brings the frames' colours nearest to the base frame's and,
// where it is asked for, the gain of each channel.
func (p *pairs) gains(each bool) (exposure, balance correction.Settings) {
	step := max(1, len(p.clean)/sample)
	var cells []int32
	for k := 0; k < len(p.clean); k += step {
		cells = append(cells, p.clean[k])
	}
	logs := make([]float64, len(cells))
	for i, k := range cells {
		logs[i] = math.Log2(float64(luminance(p.base[3*k:])) / float64(luminance(p.frame[3*k:])))
	}
	slices.Sort(logs)
	e := math.Max(-10, math.Min(10, logs[len(logs)/2]))
	// The loss is the colour difference, flattened, so that what moved or bloomed
	// does not pull: d/(1+d/8).
	loss := func(e, rg, bg float64) float64 {
		g := [3]float64{math.Exp2(e) * math.Pow(10, rg), math.Exp2(e), math.Exp2(e) * math.Pow(10, bg)}
		s := 0.0
		for _, k := range cells {
			f := p.frame[3*k : 3*k+3]
			d := colour.DeltaE2000(p.lab[k], colour.LabOf(float64(f[0])*g[0], float64(f[1])*g[1], float64(f[2])*g[2]))
			s += d / (1 + d/8)
		}
		return s / float64(len(cells))
	}
	e = golden(func(x float64) float64 { return loss(x, 0, 0) }, e-1, e+1)
	exposure.Exposure, balance.Exposure = e, e
	if !each {
		return exposure, balance
	}
	problem := optimize.Problem{Func: func(x []float64) float64 { return loss(x[0], x[1], x[2]) }}
	rg, bg := p.channelStart(cells, e)
	start := []float64{e, rg, bg}
	if loss(e, 0, 0) < loss(e, rg, bg) {
		start = []float64{e, 0, 0}
	}
	res, err := optimize.Minimize(problem, start, &optimize.Settings{FuncEvaluations: 160,
		Converger: &optimize.FunctionConverge{Absolute: 1e-4, Iterations: 25}}, &optimize.NelderMead{SimplexSize: 0.08})
	if err == nil && res.F <= loss(e, 0, 0) && bounded(res.X) {
		balance = correction.Settings{Exposure: res.X[0], RG: res.X[1], BG: res.X[2]}
	}
	return exposure, balance
}

func bounded(x []float64) bool {
	return math.Abs(x[0]) <= correction.MaxExposure && math.Abs(x[1]) <= correction.MaxBalance && math.Abs(x[2]) <= correction.MaxBalance
}

// channelStart is the balance by the median ratios of the channels.
func (p *pairs) channelStart(cells []int32, e float64) (rg, bg float64) {
	med := func(c int) float64 {
		var r []float64
		for _, k := range cells {
			b, f := float64(p.base[3*int(k)+c]), float64(p.frame[3*int(k)+c])
			if b > 1e-5 && f > 1e-5 {
				r = append(r, math.Log10(b/f))
			}
		}
		if len(r) == 0 {
			return e * math.Log10(2)
		}
		slices.Sort(r)
		return r[len(r)/2]
	}
	g := med(1)
	return med(0) - g, med(2) - g
}
