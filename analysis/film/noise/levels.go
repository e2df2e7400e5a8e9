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
//	v = e(L_i) sigma2(L_i) + g^2 e'(L_j) sigma2(L_j)
//
// with L the levels of the block in both frames, g the slope of the move, e the part of
// the variance that taking out the plane leaves, and e' that after reading frame j
// between its pixels. All blocks of all pairs together give one function sigma2 of
// level for each channel, since grain and scanner know the level alone. Blocks that
// structure spoils (edges that do not lie on each other, things that moved) read high:
// each level is read from the blocks with the least picture in them, and of these from
// the lower part, corrected by what that part of blocks of pure noise would read.
//
// Grain is larger than a pixel: its autocorrelation, by level, is fitted to the mean
// products of the blocks at several lags (shape.go). It gives e, how much a block is
// worth, and the noise of every average: of a pixel of the viewing scale, of a cell, of
// a pixel of the scan (which tiles of the scan itself tell where previews are reduced).
//
// # Units
//
// Light is linear, 1 is the profile's white; of a channel by its own tone curve
// (colour.Space.Tone), of luminance on the sRGB primaries. Noise is given at the viewing
// scale, ViewingSide.
package noise

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/stat/distuv"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan/colour"
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
	uneven   [knots]float64 // by how much more its calmest blocks differ than those of noise do
	off      [knots]float64 // standard error of the standard deviation, over itself
	calm     float64        // the part of the blocks that it is read from
	lo, hi   float64        // stops, the part that was measured
	curve    [fine]float64  // log of the variance through the knots, from lo to hi
	falls    float64        // the part of the variance at lo that falls with the light
	rises    float64        // stops of sigma by stop of light at hi
	shapes   [zones]shape   // of the noise's autocorrelation, by level
	lobes    float64        // how far below those of any such shape the products of neighbours lie
	ok       bool
}

// The autocorrelation is told at levels zoneStops apart, the lightest at white.
const (
	zones     = 8
	zoneStops = 2.0
)

// zone places a level between two zones.
func zone(stop float64) (z int, f float64) {
	t := stop/zoneStops + zones - 1
	z = min(max(int(math.Floor(t)), 0), zones-2)
	return z, math.Max(0, math.Min(1, t-float64(z)))
}

// shapeAt returns the autocorrelation at a level.
func (l *level) shapeAt(stop float64) shape {
	z, f := zone(stop)
	out := make(shape, len(l.shapes[z]))
	for k := range out {
		out[k] = (1-f)*l.shapes[z][k] + f*l.shapes[z+1][k]
	}
	return out
}

// at is the standard deviation at light; NaN when it is not known. Below the
// measured part the variance is a part that stays (what a scanner adds does not
// shrink with the light) and a part that falls, as steeply as at the end: half of it with
// the light, as what is counted does, and half with its square, as grain of one density
// does, for want of knowing. Within a stop above it goes on as it went between the last
// two knots (grain falls ever faster as the film comes to its least density), but not
// faster than the light.
func (l *level) at(light float64) float64 {
	if !l.ok || !(light > 0) {
		return math.NaN()
	}
	s := math.Log2(light)
	switch {
	case s > l.hi+beyond:
		return math.NaN()
	case s < l.lo:
		down := math.Exp2(s - l.lo)
		return l.sigma(l.lo) * math.Sqrt(1-l.falls*(1-(down+down*down)/2))
	case s > l.hi:
		return l.sigma(l.hi) * math.Exp2(l.rises*(s-l.hi))
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
	var xs []float64
	ys := l.smooth(first, last)
	for k := first; k <= last; k++ {
		xs = append(xs, lowest+float64(k)/perStop)
	}
	predict := func(float64) float64 { return ys[0] } // of one level
	if f := new(interp.FritschButland); len(xs) > 1 && f.Fit(xs, ys) == nil {
		predict = f.Predict
	}
	for i := range l.curve {
		l.curve[i] = predict(math.Min(l.lo+float64(i)/finePerStop, l.hi))
	}
	l.rises = 1
	// d ln variance by ln light over the last stop: the part of the variance that
	// falls with the light.
	if l.hi >= l.lo+1 {
		l.rises = math.Min(1, perStop*math.Log2(l.sigma(l.hi)/l.sigma(l.hi-1.0/perStop)))
		l.falls = math.Max(0, math.Min(1, (l.curve[finePerStop]-l.curve[0])/math.Ln2/1.5))
	}
}

// Levels are the noise-level functions of a roll. They are safe for concurrent
// use.
type Levels struct {
	plane  [planes]level
	factor int // pixels of the scan along a preview pixel
	kinds  []kind
	// Viewing is the viewing scale.
	Viewing Scale
	// Blocks is how many blocks of pairs they rest on.
	Blocks          int
	ratios, spreads sync.Map // see ratio and spread
}

// Scale is a size at which noise is seen.
type Scale struct {
	Side int     // pixels along the longest side of the image area
	Step float64 // pixels of the scan along one of them, 1 or more
	Own  bool    // the scan is smaller than ViewingSide: its own pixels are seen
}

// ViewingSide is the longest side, in pixels, of the image area at which readings of the
// film are given, so that scans of any size compare (assets/manual/noise.md).
const ViewingSide = 2048

// ViewingOf returns the viewing scale of a scan whose image area is so many pixels long.
func ViewingOf(longest int) Scale {
	if longest <= ViewingSide {
		return Scale{Side: longest, Step: 1, Own: longest < ViewingSide}
	}
	return Scale{Side: ViewingSide, Step: float64(longest) / ViewingSide}
}

func newLevels(l *measure.Look) *Levels {
	f := max(1, l.Preview.Factor)
	return &Levels{factor: f, kinds: kindsOf(f), Viewing: ViewingOf(max(l.Area.Dx(), l.Area.Dy()))}
}

// finish is called once the planes are there.
func (l *Levels) finish() { l.ratio(l.Viewing.Step) }

// ratio returns, by plane and zone, the variance of means over squares of side pixels of
// the scan over that of a preview pixel.
func (l *Levels) ratio(side float64) *[planes][zones]float64 {
	if v, ok := l.ratios.Load(side); ok {
		return v.(*[planes][zones]float64)
	}
	out := new([planes][zones]float64)
	per := make([]float64, len(l.kinds))
	for k := range per {
		per[k] = l.kinds[k].averaged(side)
	}
	for p := range out {
		for z, s := range l.plane[p].shapes {
			for k, w := range s {
				out[p][z] += w * per[k]
			}
		}
	}
	l.ratios.Store(side, out)
	return out
}

// over returns the standard deviation, at a light, of means over squares of side pixels
// of the scan.
func (l *Levels) over(p int, light, side float64) float64 {
	s := l.plane[p].at(light)
	if !(s > 0) {
		return s
	}
	z, f := zone(math.Log2(light))
	r := &l.ratio(side)[p]
	return s * math.Sqrt((1-f)*r[z]+f*r[z+1])
}

// Sigma returns the standard deviation of channel c's light (0 R, 1 G, 2 B) at a level,
// at the viewing scale; NaN where the roll does not tell.
func (l *Levels) Sigma(c int, light float64) float64 { return l.over(c, light, l.Viewing.Step) }

// SigmaY returns the standard deviation of luminance at a luminance, at the viewing
// scale; NaN where the roll does not tell.
func (l *Levels) SigmaY(y float64) float64 { return l.over(lumPlane, y, l.Viewing.Step) }

// ErrorY returns the standard error of SigmaY over it, NaN where that is not known:
// what the number of blocks leaves open, and by which rolls of two simulators are off
// though blocks are many: surely, and deepOff below deep.
func (l *Levels) ErrorY(y float64) float64 {
	p := &l.plane[lumPlane]
	if !(p.at(y) > 0) {
		return math.NaN()
	}
	k := int(math.Round((math.Log2(y) - lowest) * perStop))
	off := math.Hypot(surely, p.off[min(max(k, 0), knots-1)])
	if y < deep {
		off = math.Hypot(off, deepOff)
	}
	return off
}

// Below deep, a share of full light, noise strays from roll to roll by more than the number
// of its blocks says: it changes steeply with the light there, and few blocks are without
// picture. deepOff is the standard deviation over itself that simulated rolls showed which
// differ by chance alone (analysis/shelf/against), at worst.
const (
	surely  = 0.03
	deep    = 0.01
	deepOff = 0.12
)

// Pixel returns the standard deviation of channel c's light in a pixel of the scan.
func (l *Levels) Pixel(c int, light float64) float64 { return l.over(c, light, 1) }

// PixelY returns that of luminance.
func (l *Levels) PixelY(y float64) float64 { return l.over(lumPlane, y, 1) }

// Mean returns the standard deviation of the mean of channel c's light over a square of
// side preview pixels, 1 or more: what the noise's autocorrelation leaves.
func (l *Levels) Mean(c int, light, side float64) float64 {
	return l.over(c, light, side*float64(l.factor))
}

// Within returns the expected variance of luminance y among the preview pixels of a
// square of side of them, where they were read between their pixels by straight lines;
// kept is what that leaves of noise without autocorrelation, 1 where nothing was read
// between.
func (l *Levels) Within(y float64, side int, kept float64) float64 {
	s := l.plane[lumPlane].at(y)
	if !(s > 0) {
		return s
	}
	at := (1 - math.Sqrt(kept)) / 2 // the mean of t(1-t), alike along rows and columns
	r := l.spread(side)
	z, f := zone(math.Log2(y))
	of := func(z int) float64 { return r[z][0] + at*(r[z][1]+at*r[z][2]) }
	return s * s * ((1-f)*of(z) + f*of(z+1))
}

// spread returns, by zone, what Within is at the places that are told by a number at:
// a + b at + c at^2, where a preview pixel varies by 1.
func (l *Levels) spread(side int) *[zones][3]float64 {
	if v, ok := l.spreads.Load(side); ok {
		return v.(*[zones][3]float64)
	}
	out := new([zones][3]float64)
	for k, of := range l.kinds {
		var v [3]float64
		for i, at := range [3]float64{0, 0.125, 0.25} {
			for _, t := range of {
				one, mean := 1.0, 1.0
				for _, s := range t {
					s = s.reduced(l.factor, side+1).shifted(at)
					one *= s[0]
					mean *= s.averaged(float64(side))
				}
				v[i] += (one - mean) / float64(len(of))
			}
		}
		a, b, c := v[0], 8*(-1.5*v[0]+2*v[1]-0.5*v[2]), 64*(0.5*v[0]-v[1]+0.5*v[2])
		n := float64(side * side)
		for z, s := range l.plane[lumPlane].shapes {
			for i, x := range [3]float64{a, b, c} {
				out[z][i] += s[k] * x * n / (n - 1)
			}
		}
	}
	l.spreads.Store(side, out)
	return out
}

// Alike returns the correlation of luminance's noise in pixels of the scan that lie so
// many apart along a row or column, at luminance y.
func (l *Levels) Alike(y float64, apart int) float64 {
	s := l.plane[lumPlane].shapeAt(math.Log2(y))
	all, c := 0.0, 0.0
	for k, w := range s {
		all += w
		for _, t := range l.kinds[k] {
			c += w * (t[0].at(apart)*t[1].at(0) + t[0].at(0)*t[1].at(apart)) / 2 / float64(len(l.kinds[k]))
		}
	}
	return c / all
}

// Sharpened reports whether the scans were sharpened: in two channels at least grain whose
// pixels are two and three apart is less alike than grain can be.
func (l *Levels) Sharpened() bool {
	n := 0
	for c := range lumPlane {
		if p := &l.plane[c]; p.ok && p.lobes > sharpLobes {
			n++
		}
	}
	return n >= 2
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

// Shown returns the standard deviation of luminance at the viewing scale that a scan shows
// of a mean light which is near its ceiling, both on the sRGB primaries: each channel's
// noise is cut off at its own. The channels are as alike as a stop under the lightest
// level that is known of luminance, or here if that is darker: the blocks above it are
// few, and those of one colour are the last without a clipped pixel. NaN where the roll
// does not tell.
func (l *Levels) Shown(light, ceiling [3]float64) float64 {
	y := colour.Luminance(light[0], light[1], light[2])
	whole := l.SigmaY(y)
	sure := math.Exp2(l.plane[lumPlane].hi - 1)
	grey := math.Min(y, sure)
	apart, together := l.channels([3]float64{grey, grey, grey}, nil)
	if g := l.SigmaY(grey); together > apart && g > 0 {
		alike := math.Max(0, math.Min(1, (g*g-apart)/(together-apart)))
		if a, t := l.channels(light, &ceiling); t > 0 {
			clipped := math.Sqrt(a + alike*(t-a))
			if y > sure {
				return clipped
			}
			a, t = l.channels(light, nil)
			return whole * clipped / math.Sqrt(a+alike*(t-a))
		}
	}
	return whole
}

// channels returns the variance of luminance when the noise of the channels is apart, and
// when it is one; cut off at a ceiling where there is one.
func (l *Levels) channels(light [3]float64, ceiling *[3]float64) (apart, together float64) {
	for c, w := range [3]float64{colour.LumR, colour.LumG, colour.LumB} {
		s := l.Sigma(c, light[c])
		if ceiling != nil {
			s = Clipped(light[c], s, ceiling[c])
		}
		apart += w * w * s * s
		together += w * s
	}
	return apart, together * together
}

// Clipped returns the standard deviation of light with a mean and a standard deviation,
// Gaussian, when what is above a ceiling is cut off: what a scan shows of it. (Moments of
// a censored normal distribution, as Tobin has them, 1958; derived, and checked by draws.)
func Clipped(mean, sigma, ceiling float64) float64 {
	if !(sigma > 0) {
		return sigma
	}
	a := (ceiling - mean) / sigma
	p, d := distuv.UnitNormal.CDF(a), distuv.UnitNormal.Prob(a)
	first, second := a*(1-p)-d, p-a*d+a*a*(1-p)
	return sigma * math.Sqrt(math.Max(0, second-first*first))
}
