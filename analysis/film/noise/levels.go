// Package noise measures the noise of a roll as a function of level: the standard
// deviation of linear light after the scene's structure is taken out, per channel
// and for luminance (assets/manual/noise.md).
//
// # How
//
// Two frames of one scene that lie on each other differ by their exposures and by
// their noise. One is moved to the other's exposure along the roll's response;
// what is left of the difference in a small block, less a plane, is the noise of
// both. Texture falls out of it, which a single frame cannot tell from noise.
// Neighbours on the ladder are compared, block by block:
//
//	v = sigma2(L_i) + g^2 k sigma2(L_j)
//
// with L the levels of the block in both frames, g the slope of the move, and k
// the part of the variance that the resampling of frame j leaves. All blocks of
// all pairs together give one function sigma2 of level for each channel, since
// grain and scanner know the level alone. Blocks that structure spoils (edges that
// do not lie on each other, things that moved) read high: each level is read from
// the lower part of its blocks, corrected by what that part of blocks of pure
// noise would read.
//
// # Units
//
// Light is linear, 1 is the profile's white; of a channel by its own tone curve
// (colour.Space.Tone), of luminance on the sRGB primaries. Noise is that of one
// preview pixel (measure.PreviewSide: about a print of 30 cm).
package noise

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// The knots of a level function: light in stops under white.
const (
	lowest   = -15.0
	perStop  = 2
	knots    = 15*perStop + 1
	planes   = 4 // R, G, B, luminance
	lumPlane = 3
)

// Levels is the noise-level function of the roll for one plane.
type level struct {
	variance [knots]float64 // at the knots
	weight   [knots]float64 // blocks that speak for the knot
	lo, hi   float64        // stops, the part that was measured
	curve    [fine]float64  // log of the variance through the knots, from lo to hi
	falls    float64        // the part of the variance at lo that goes with the light
	rho      float64
	ok       bool
}

// at is the standard deviation at light; NaN when it is not known. Below the
// measured part the variance is a part that stays (what a scanner adds does not
// shrink with the light) and a part that goes with the light, as steep as at the
// end; within a stop above it sigma over light stays.
func (l *level) at(light float64) float64 {
	if !l.ok || !(light > 0) {
		return math.NaN()
	}
	s := math.Log2(light)
	switch {
	case s > l.hi+beyond:
		return math.NaN()
	case s < l.lo:
		return l.sigma(l.lo) * math.Sqrt(1-l.falls*(1-math.Exp2(s-l.lo)))
	case s > l.hi:
		return l.sigma(l.hi) * math.Exp2(s-l.hi)
	}
	return l.sigma(s)
}

// beyond is how far the function is drawn on at its light end, in stops.
const beyond = 1.0

// sigma reads the curve; s lies within what was measured.
func (l *level) sigma(s float64) float64 {
	t := (s - l.lo) * finePerStop
	i := min(max(int(math.Floor(t)), 0), fine-2)
	if f := t - float64(i); f > 0 {
		return math.Sqrt(math.Exp(l.curve[i]*(1-f) + l.curve[i+1]*f))
	}
	return math.Sqrt(math.Exp(l.curve[i]))
}

// The curve is kept at points so near each other that straight lines join them.
const finePerStop, fine = 16, 15*16 + 2

// draw makes the curve through the knots from first to last: monotone between them
// (Fritsch & Butland 1984), since the film's noise turns too sharply near white for
// straight lines between knots half a stop apart.
func (l *level) draw(first, last int) {
	l.lo, l.hi = lowest+float64(first)/perStop, lowest+float64(last)/perStop
	var xs, ys []float64
	for k := first; k <= last; k++ {
		xs, ys = append(xs, lowest+float64(k)/perStop), append(ys, math.Log(l.variance[k]))
	}
	predict := func(float64) float64 { return ys[0] } // of one level
	if f := new(interp.FritschButland); len(xs) > 1 && f.Fit(xs, ys) == nil {
		predict = f.Predict
	}
	for i := range l.curve {
		l.curve[i] = predict(math.Min(l.lo+float64(i)/finePerStop, l.hi))
	}
	// d ln variance by ln light over the last stop: the part of the variance that
	// falls with the light.
	if l.hi >= l.lo+1 {
		l.falls = math.Max(0, math.Min(1, (l.curve[finePerStop]-l.curve[0])/math.Ln2))
	}
}

// Levels are the noise-level functions of a roll. They are safe for concurrent
// use.
type Levels struct {
	plane [planes]level
	// Blocks is how many blocks of pairs they rest on.
	Blocks int
}

// Sigma is the standard deviation of channel c's light (0 R, 1 G, 2 B) at a level;
// NaN where the roll does not tell.
func (l *Levels) Sigma(c int, light float64) float64 { return l.plane[c].at(light) }

// SigmaY is the standard deviation of luminance at a luminance; NaN where the roll
// does not tell.
func (l *Levels) SigmaY(y float64) float64 { return l.plane[lumPlane].at(y) }

// Gathered is by how much more than a pixel's variance, over their number, the mean
// of many pixels varies, because the noise of neighbours is alike: 1 for noise whose
// pixels are strangers. Likeness falls as the fourth power from one pixel to two.
func (l *Levels) Gathered(c int) float64 {
	r := l.plane[c].rho
	one := 1 + 2*r + 2*r*r*r*r
	return one * one
}

// Covered is the part of the light that was measured for channel c; ok is false
// where nothing was.
func (l *Levels) Covered(c int) (lo, hi float64, ok bool) {
	p := &l.plane[c]
	return math.Exp2(p.lo), math.Exp2(p.hi), p.ok
}

// SNR is the signal-to-noise ratio as ISO 15739 defines it for a uniform patch:
// mean over standard deviation, both of linear light (from memory). NaN when the
// noise is not known.
func SNR(mean, sigma float64) float64 {
	if !(sigma > 0) || !(mean >= 0) {
		return math.NaN()
	}
	return mean / sigma
}

// Marks of ISO 12232 for the signal-to-noise ratio.
const (
	Excellent  = 40.0
	Acceptable = 10.0
)

// Word is what a signal-to-noise ratio means by the marks of ISO 12232; "" when it
// is not known.
func Word(snr float64) string {
	switch {
	case math.IsNaN(snr):
		return ""
	case snr >= Excellent:
		return "excellent"
	case snr >= Acceptable:
		return "acceptable"
	}
	return "poor"
}

// LightnessSlope is dL*/dY at a relative luminance (CIE 15): what a small change of
// luminance is in L* units.
func LightnessSlope(y float64) float64 {
	const eps, kappa = 216.0 / 24389, 24389.0 / 27
	if y > eps {
		return 116.0 / 3 / math.Cbrt(y*y)
	}
	return kappa
}

// InL is noise of luminance in L* units at luminance y.
func InL(y, sigma float64) float64 { return LightnessSlope(y) * sigma }
