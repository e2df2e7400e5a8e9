package simulate

import "math"

// Kind of a film.
type Kind int

// The two kinds.
const (
	ReversalFilm Kind = iota // a positive on the film: more light, less density
	NegativeFilm             // more light, more density; inverted by the lab
)

// Layer is the characteristic curve of one layer: density against log10 H,
// where log H = 0 is the exposure of an 18 % grey card as metered. It is a
// straight line that bends softly into Dmin and Dmax:
//
//	s(z, w) = w*ln(1+exp(z/w))               a bend from 0 to z, w wide
//	y       = s(x-Toe, ToeWidth)             the toe (reversal: Toe-x)
//	D       = Dmin + Slope*k*(y - s(y-L, ShoulderWidth) + s(-L, ShoulderWidth))
//
// with L = (Dmax-Dmin)/Slope and k, close to 1, such that Dmax is reached. Toe is
// where the straight line, drawn on, meets Dmin, and L further on it meets Dmax.
// The form is our own; it has the parts that every sensitometry text names. It
// rises (reversal: falls) everywhere. In reversal film the toe is the light end.
type Layer struct {
	Dmin, Dmax              float64 // density
	Slope                   float64 // of the straight line, density per log10 H, positive
	Toe                     float64 // log10 H where the line meets Dmin
	ToeWidth, ShoulderWidth float64 // log10 H over which the curve bends
}

func softplus(z, w float64) float64 {
	if z > 30*w {
		return z
	}
	return w * math.Log1p(math.Exp(z/w))
}

// length returns the straight line's length in log10 H.
func (l *Layer) length() float64 { return (l.Dmax - l.Dmin) / l.Slope }

func (l *Layer) density(kind Kind, logH float64) float64 {
	z := logH - l.Toe
	if kind == ReversalFilm {
		z = -z
	}
	y, n := softplus(z, l.ToeWidth), l.length()
	rest := softplus(-n, l.ShoulderWidth)
	return l.Dmin + l.Slope*n/(n+rest)*(y-softplus(y-n, l.ShoulderWidth)+rest)
}

// Stock is an invented film. Channels are in the order R, G, B: the layers that
// take red, green and blue light.
type Stock struct {
	Name   string
	ISO    float64
	Kind   Kind
	Layers [3]Layer
	// Mix says how much each layer sees of the scene's R, G, B: rows are layers
	// and add up to 1, so that a neutral stays neutral.
	Mix [3][3]float64
	// RMS is the diffuse RMS granularity x 1000 at the 48 um aperture: at
	// density 1.0 for reversal film, at 1.0 over Dmin for negative film.
	RMS float64
	// Flare is veiling light of the camera as a share of the scene's mean.
	Flare float64
}

// Density returns the density of channel c (0 R, 1 G, 2 B) after log10 exposure logH.
func (s *Stock) Density(c int, logH float64) float64 { return s.Layers[c].density(s.Kind, logH) }

// Gamma returns the steepest slope of channel c's curve, density per log10 H,
// positive.
func (s *Stock) Gamma(c int) float64 {
	g := 0.0
	for x := -4.0; x < 4; x += 0.01 {
		g = math.Max(g, math.Abs(s.Density(c, x+0.005)-s.Density(c, x-0.005))/0.01)
	}
	return g
}

// Granularity returns the RMS granularity (not x 1000) of channel c at density d, for
// the 48 um aperture. It grows as the square root of the density over Dmin, as a count
// of independent dye clouds does; in negative film the sensitive, coarse grains come
// first and finer ones fill up, so it grows less at high density. (Common practice, no
// source for the exact form.)
func (s *Stock) Granularity(c int, d float64) float64 {
	net := math.Max(d-s.Layers[c].Dmin, 0)
	if s.Kind == NegativeFilm {
		f := func(n float64) float64 { return math.Sqrt(n+0.03) / (1 + 0.7*n) }
		return s.RMS / 1000 * f(net) / f(1)
	}
	f := func(n float64) float64 { return math.Sqrt(n + 0.03) }
	return s.RMS / 1000 * math.Min(f(net)/f(1-s.Layers[c].Dmin), 1.45)
}

// midDensity is how much denser than Dmin reversal film gets a metered grey.
const midDensity = 0.755

// Reversal returns the invented reversal film: gamma about 1.7, narrow latitude.
// The layers differ a little in contrast: overexposure goes warm, underexposure
// goes cool. A metered grey is put where a scan with white at clear film shows it
// near L* 50; by the rule of ISO 2240, from memory, the
// same curve would rate about 170.
func Reversal() Stock {
	s := Stock{
		Name: "sample reversal 100", ISO: 100, Kind: ReversalFilm,
		Layers: [3]Layer{
			{Dmin: 0.17, Dmax: 3.20, Slope: 1.80, ToeWidth: 0.175, ShoulderWidth: 0.16},
			{Dmin: 0.18, Dmax: 3.25, Slope: 1.72, ToeWidth: 0.180, ShoulderWidth: 0.16},
			{Dmin: 0.20, Dmax: 3.15, Slope: 1.65, ToeWidth: 0.188, ShoulderWidth: 0.16},
		},
		Mix: [3][3]float64{{0.80, 0.17, 0.03}, {0.09, 0.82, 0.09}, {0.03, 0.17, 0.80}},
		RMS: 9, Flare: 0.004,
	}
	for i := range s.Layers {
		l := &s.Layers[i]
		// All three meet at the metered grey.
		l.Toe = bisect(0, 2, func(toe float64) float64 {
			l.Toe = toe
			return l.density(ReversalFilm, 0) - l.Dmin - midDensity
		})
	}
	return s
}

// Negative returns the invented negative film: gamma about 0.6, a long shoulder
// and an orange mask. Its speed follows ISO 5800: a metered grey lies as far over
// the speed point as the rated speed asks.
func Negative() Stock {
	s := Stock{
		Name: "sample negative 400", ISO: 400, Kind: NegativeFilm,
		Layers: [3]Layer{
			{Dmin: 0.22, Dmax: 2.00, Slope: 0.590, ToeWidth: 0.21, ShoulderWidth: 0.42},
			{Dmin: 0.62, Dmax: 2.45, Slope: 0.610, ToeWidth: 0.22, ShoulderWidth: 0.42},
			{Dmin: 0.88, Dmax: 2.80, Slope: 0.635, ToeWidth: 0.23, ShoulderWidth: 0.42},
		},
		Mix: [3][3]float64{{0.84, 0.14, 0.02}, {0.07, 0.86, 0.07}, {0.02, 0.14, 0.84}},
		RMS: 11, Flare: 0.004,
	}
	// ISO 5800: 0.15 over Dmin at Hm, S = sqrt(2)/Hm; a meter gives 8/S lux s.
	// (The rule from memory; 8/S from the derivation of the ANSI meter equation.)
	speedPoint := math.Log10(math.Sqrt2 / 8)
	for i := range s.Layers {
		l := &s.Layers[i]
		l.Toe = bisect(-3, 0, func(toe float64) float64 {
			l.Toe = toe
			return l.Dmin + 0.15 - l.density(NegativeFilm, speedPoint)
		})
	}
	return s
}

// bisect finds the zero of a rising function.
func bisect(lo, hi float64, f func(float64) float64) float64 {
	for range 60 {
		m := (lo + hi) / 2
		if f(m) < 0 {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}
