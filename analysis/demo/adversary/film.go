package adversary

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Film is an invented stock together with the one way in which its frames are scanned.
// The scan is balanced on mid-grey: an 18 % grey of the base frame reads 0.18 of full
// scale in every channel.
type Film struct {
	Name     string
	Layers   [3]Curve
	Negative bool
	// Contrast of the inversion, for negatives: density of the positive for density of
	// the film.
	Contrast float64
	// Mix are the scan's densities from the layers': what the dyes absorb besides their
	// own part of the spectrum. Rows add up to 1. The zero value is none.
	Mix [3][3]float64
	// Panchromatic film sees all light alike in one layer: black and white, scanned in
	// colour. All three layers are to be that one, and Alike 1.
	Panchromatic bool
	// Alike is how much of the grain the three layers share, 0..1 of its variance.
	Alike float64
}

// model is a film made ready: everything as tables over stops of exposure.
type model struct {
	film       *Film
	mix, unmix [3][3]float64
	off        [3]float64 // density of the positive is off + mix * part
	part       [3]*table  // layer's part in the positive's density, over stops
	grain      [3]*table  // grain's standard deviation in that part for amount 1, over stops
	dense      [3]*table  // 0..1: how dense the layer is, for the grain's blur
	light      *table     // 10^-x
}

const mid = 0.18

func newModel(f *Film) *model {
	m := &model{film: f, mix: f.Mix}
	if m.mix == [3][3]float64{} {
		m.mix = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	}
	d := mat.NewDense(3, 3, slices.Concat(m.mix[0][:], m.mix[1][:], m.mix[2][:]))
	var inv mat.Dense
	if err := inv.Inverse(d); err != nil {
		panic(err) // a stock of this package or of a test that cannot be
	}
	for i := range 3 {
		for j := range 3 {
			m.unmix[i][j] = inv.At(i, j)
		}
	}
	b := 1.0
	if f.Negative {
		b = -f.Contrast
	}
	var grey [3]float64
	for c, k := range f.Layers {
		thin, thick := k(dimmest*stop), k(brightest*stop)
		thin, thick = min(thin, thick), max(thin, thick)
		share := func(s float64) float64 { return (k(s*stop) - thin) / (thick - thin) }
		m.part[c] = tabulate(dimmest, brightest, 256, func(s float64) float64 { return b * k(s*stop) })
		m.dense[c] = tabulate(dimmest, brightest, 64, share)
		m.grain[c] = tabulate(dimmest, brightest, 256, func(s float64) float64 {
			// Reversal: as the root of the density, as a count of dye clouds is (Selwyn's
			// law, from memory). Negative: coarse grains come first and fine ones fill up
			// (invented form).
			over := k(s*stop) - thin
			if f.Negative {
				return math.Abs(b) * (0.35 + 0.65*math.Sqrt(over)*math.Exp(-over/3)/math.Exp(-1.0/3))
			}
			return math.Sqrt(0.05 + 0.95*over)
		})
		grey[c] = float64(m.part[c].at(0))
	}
	for c := range 3 {
		m.off[c] = -math.Log10(mid)
		for j := range 3 {
			m.off[c] -= m.mix[c][j] * grey[j]
		}
	}
	m.light = tabulate(-3, 8, 4096, func(d float64) float64 { return math.Pow(10, -d) })
	return m
}

// expose returns the scan's linear light, not clipped, for three layers' exposures in
// stops from mid-grey.
func (m *model) expose(e [3]float64) (p [3]float64) {
	var q [3]float64
	for c := range 3 {
		q[c] = float64(m.part[c].at(float32(e[c])))
	}
	for c := range 3 {
		d := m.off[c]
		for j := range 3 {
			d += m.mix[c][j] * q[j]
		}
		p[c] = math.Pow(10, -d)
	}
	return p
}

// exposure returns the layers' exposures, in stops from mid-grey, that give a light of
// the scan; ok is false where no exposure does. It is the inverse of expose, by
// bisection of the curves themselves.
func (m *model) exposure(p [3]float64) (e [3]float64, ok bool) {
	b := 1.0
	if m.film.Negative {
		b = -m.film.Contrast
	}
	for c := range 3 {
		q := 0.0
		for j := range 3 {
			q += m.unmix[c][j] * (-math.Log10(p[j]) - m.off[j])
		}
		f := func(s float64) float64 { return b*m.film.Layers[c](s*stop) - q } // falls
		lo, hi := dimmest, brightest
		if f(lo) < 0 || f(hi) > 0 {
			return e, false
		}
		for range 60 {
			if x := (lo + hi) / 2; f(x) > 0 {
				lo = x
			} else {
				hi = x
			}
		}
		e[c] = (lo + hi) / 2
	}
	return e, true
}

// neutral returns the light of the scan that a grey has, which the base frame shows as v
// in all channels, in a frame of so many stops more; ok is false where the base frame
// cannot show v.
func (m *model) neutral(v, stops float64) (p [3]float64, ok bool) {
	e, ok := m.exposure([3]float64{v, v, v})
	if !ok {
		return p, false
	}
	for c := range e {
		e[c] += stops
	}
	p = m.expose(e)
	for c := range p {
		p[c] = math.Min(p[c], 1)
	}
	return p, true
}

// cast returns the a* and b* of that grey.
func (m *model) cast(v, stops float64) (x lab, ok bool) {
	p, ok := m.neutral(v, stops)
	return labOf(p), ok
}

// The curves of the stocks: steep is reversal, flat is negative. All are invented;
// "points" are laid out as a densitometer's readings are.
var (
	reversalLogistic = Logistic(0.12, 3.3, -1.9, -0.42)
	reversalNormal   = Normal(0.14, 3.1, -1.75, -0.36)
	reversalPoints   = Points(
		[]float64{-3, -2.6, -2.2, -1.8, -1.4, -1.0, -0.6, -0.3, 0, 0.25, 0.5, 0.8, 1.1, 1.5},
		[]float64{3.42, 3.38, 3.24, 2.95, 2.50, 1.97, 1.45, 1.11, 0.83, 0.61, 0.42, 0.26, 0.185, 0.16})
	negativeLogistic = Logistic(0.2, 2.9, 0.64, 0.75)
	negativePoints   = Points(
		[]float64{-3, -2.4, -2, -1.6, -1.2, -0.8, -0.4, 0, 0.5, 1, 1.5, 2, 2.5, 3, 3.6},
		[]float64{0.205, 0.22, 0.26, 0.38, 0.59, 0.83, 1.08, 1.33, 1.63, 1.92, 2.18, 2.40, 2.55, 2.64, 2.69})
)

// dyes are the unwanted absorptions of the stocks that have them (invented sizes).
var dyes = [3][3]float64{{0.94, 0.04, 0.02}, {0.07, 0.88, 0.05}, {0.03, 0.09, 0.88}}

// Stocks returns the adversary's films by name:
//
//	grey-slide, grey-slide-2, grey-negative   three identical layers: greys stay grey
//	slide, slide-2, negative                  layers that differ in contrast and speed
//	slide-dyes, negative-dyes                 the same, with dyes that absorb besides
//	mono                                      black and white negative
func Stocks() map[string]*Film {
	same := func(c Curve) [3]Curve { return [3]Curve{c, c, c} }
	out := map[string]*Film{
		"grey-slide":    {Layers: same(reversalLogistic)},
		"grey-slide-2":  {Layers: same(reversalPoints)},
		"grey-negative": {Layers: same(negativeLogistic), Negative: true, Contrast: 1.2},
		"slide":         {Layers: [3]Curve{reversalPoints.Stretched(0.97, 0.01), reversalPoints, reversalPoints.Stretched(1.04, -0.02)}},
		"slide-2":       {Layers: [3]Curve{reversalNormal.Stretched(1.03, 0), reversalNormal, reversalNormal.Stretched(0.96, 0.02)}},
		"negative":      {Layers: [3]Curve{negativePoints.Stretched(0.96, 0.05), negativePoints, negativePoints.Stretched(1.05, -0.05)}, Negative: true, Contrast: 1.2},
	}
	for _, n := range []string{"slide", "negative"} {
		f := *out[n]
		f.Mix = dyes
		out[n+"-dyes"] = &f
	}
	for n, f := range out {
		f.Name, f.Alike = n, 0.3
	}
	out["mono"] = &Film{Name: "mono", Layers: same(negativePoints), Negative: true, Contrast: 1.2, Panchromatic: true, Alike: 1}
	return out
}

// WithCast returns a film of the same kind whose layers differ so much in contrast that
// the largest cast of a grey, over levels 0.03, 0.18 and 0.5 of the base frame and from
// one stop under to one over, is size CIELAB units.
func (f *Film) WithCast(size float64) *Film {
	green := f.Layers[1]
	make := func(k float64) *Film {
		g := *f
		g.Layers = [3]Curve{green.Stretched(1+k, 0.2*k), green, green.Stretched(1-k, -0.4*k)}
		return &g
	}
	lo, hi := 0.0, 0.8
	for range 40 {
		if k := (lo + hi) / 2; make(k).largestCast() < size {
			lo = k
		} else {
			hi = k
		}
	}
	return make(lo)
}

func (f *Film) largestCast() float64 {
	m, most := newModel(f), 0.0
	for _, v := range []float64{0.03, 0.18, 0.5} {
		for _, s := range []float64{-1, 1} {
			if x, ok := m.cast(v, s); ok {
				most = max(most, math.Hypot(x.a, x.b))
			}
		}
	}
	return most
}
