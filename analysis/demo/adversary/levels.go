package adversary

import "math"

// CastsAt returns the casts of the greys that the base frame shows at three levels of
// luminance, as frame i shows them, and the crossover that the best single balance leaves
// between them; NaN where the frame has lost a grey, or a level is not above 0. The levels
// are the program's own: how it averages a band is its affair, what happens to a grey at
// that level is not.
func (t *Truth) CastsAt(i int, levels [3]float64) (casts [3][2]float64, crossover float64) {
	gain := nth(t.r.Gains, i)
	if gain == [3]float64{} {
		gain = [3]float64{1, 1, 1}
	}
	o := &seen{v: t.view, s: t.r.Exposure(i), gain: gain}
	n := o.neutralsAt(levels)
	for b, p := range n {
		casts[b] = [2]float64{math.NaN(), math.NaN()}
		if p[0] == p[0] {
			x := labOf(p)
			casts[b] = [2]float64{x.a, x.b}
		}
	}
	return casts, o.leastCrossover(t.Frame(i).one, n)
}
