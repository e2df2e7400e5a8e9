package pocket

import (
	"math"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/model"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/patch"
	"stopladder/analysis/film/response"
	"stopladder/analysis/scan/colour"
)

// stopLog is one stop in log10 of exposure.
const stopLog = 0.30102999566398119521

const (
	// Two standard errors of the response's slope over it, where the film is steepest and
	// where it is level, and of the noise of a grey, which is read from places of all colours
	// (from rolls of two simulators: pocket_test.go holds them on others).
	steepError, levelError = 0.05, 0.2
	greyError              = 0.12
	endError               = 0.3 // of the noise beyond the lightest level that is known
	drawnOn                = 1.0 // stops beyond what the roll covers to which a curve is drawn on straight, as package response does for headroom
	drawnError             = 0.5 // of the way that a curve is drawn on: two standard errors, since it bends there
	span                   = 1.0 / 3
)

// tones are what the scan makes of a grey, by stops of exposure over mid-grey.
type tones struct {
	channel [3]channel
	weight  [3]float64 // of the channels of the scan in luminance
	noise   *noise.Levels
	origin  float64 // stops from the response's mid-grey to that of the card
	scale   float64 // standard error of a stop, over it
	lo, hi  float64 // stops between which a curve is known or drawn on, of all channels
}

// channel is one channel's curve.
type channel struct {
	k           *response.Curve
	c           int
	covered     [2]float64 // stops
	ends        [2]float64 // densities there
	slopes      [2]float64 // density by stop there, positive
	gamma, at   float64    // steepest slope, density by stop, and where
	full, empty float64    // densities of the scan's ceiling and floor
}

// luminances are the channels' shares of luminance, by which a tone counts as lost.
var luminances = [3]float64{colour.LumR, colour.LumG, colour.LumB}

func tonesOf(r *film.Roll) tones {
	b := r.Frames[r.Base].Look
	t := tones{noise: r.Noise, lo: math.Inf(-1), hi: math.Inf(1)}
	p := model.Primaries(b.ColourSpace())
	for d := range 3 {
		for c, w := range luminances {
			t.weight[d] += w * p[c][d]
		}
	}
	full, empty := limits(r)
	k := r.Response.Curve
	for c := range t.channel {
		ch := &t.channel[c]
		info := &k.Channels[c]
		*ch = channel{k: k, c: c, gamma: info.Gamma * stopLog, at: info.GammaAt / stopLog, full: full[c], empty: empty[c]}
		// A hair inside, where the curve is a number.
		ch.covered = [2]float64{info.Covered[0]/stopLog + 1e-6, info.Covered[1]/stopLog - 1e-6}
		for e, in := range [2]float64{1, -1} {
			x := ch.covered[e]
			ch.ends[e] = k.At(c, x*stopLog)
			ch.slopes[e] = math.Abs(ch.ends[e]-k.At(c, (x+in*span)*stopLog)) / span
		}
		t.lo, t.hi = math.Max(t.lo, ch.covered[0]-drawnOn), math.Min(t.hi, ch.covered[1]+drawnOn)
	}
	for i, f := range r.Response.Frames {
		if f.MeasuredStop == nil || i == r.Base {
			continue
		}
		if s := math.Abs(*f.MeasuredStop); s >= 1 {
			if e := *f.MeasuredStopError / s; t.scale == 0 || e < t.scale {
				t.scale = e
			}
		}
	}
	return t
}

// limits returns the densities of the scan's ceiling and floor, half a code off them: of
// frames that were scanned alike the narrowest, for not every frame has tones that pile up
// there.
func limits(r *film.Roll) (full, empty [3]float64) {
	b := r.Frames[r.Base].Look
	ceiling := [3]int{b.Ceiling.R, b.Ceiling.G, b.Ceiling.B}
	floor := [3]int{b.Floor.R, b.Floor.G, b.Floor.B}
	for _, l := range looks(r) {
		if l.Space.Max() != b.Space.Max() {
			continue
		}
		for c, v := range [3]int{l.Ceiling.R, l.Ceiling.G, l.Ceiling.B} {
			ceiling[c] = min(ceiling[c], v)
		}
		for c, v := range [3]int{l.Floor.R, l.Floor.G, l.Floor.B} {
			floor[c] = max(floor[c], v)
		}
	}
	tone := b.Space.Tone()
	for c := range 3 {
		at := func(code, in int) float64 {
			n := len(tone[c]) - 1
			v := (float64(tone[c][min(max(code, 0), n)]) + float64(tone[c][min(max(code+in, 0), n)])) / 2
			return -math.Log10(math.Max(v, 1e-9))
		}
		full[c], empty[c] = at(ceiling[c], -1), at(floor[c], 1)
	}
	return full, empty
}

// density returns the channel's density at x stops from the response's mid-grey, clipped as
// the scan is; ok is false where the roll does not tell it.
func (h *channel) density(x float64) (d float64, ok bool) {
	switch {
	case x > h.covered[1]:
		d = h.ends[1] - h.slopes[1]*math.Min(x-h.covered[1], drawnOn)
		ok = x <= h.covered[1]+drawnOn || d <= h.full
	case x < h.covered[0]:
		d = h.ends[0] + h.slopes[0]*math.Min(h.covered[0]-x, drawnOn)
		ok = x >= h.covered[0]-drawnOn || d >= h.empty
	default:
		d, ok = h.k.At(h.c, x*stopLog), true
	}
	return math.Min(math.Max(d, h.full), h.empty), ok
}

// slope returns by how much a stop about x moves the density, over a width of stops.
func (h *channel) slope(x, width float64) float64 {
	a, b := x-width/2, x+width/2
	// Beyond its end a curve has no slope of its own.
	a, b = math.Max(a, h.covered[0]-drawnOn), math.Min(b, h.covered[1]+drawnOn)
	if !(b-a > width/4) {
		return 0
	}
	p, _ := h.density(a)
	q, _ := h.density(b)
	return (p - q) / (b - a)
}

// lost returns Blown or Blocked where channels that carry half of the luminance say nothing,
// Unknown where they speak; known is false where the roll does not tell. slope and noise move
// what a third of a stop is held against.
func (t *tones) lost(x, slope, noiseWay float64) (s State, known bool) {
	x += t.origin
	var light, dark, untold float64
	for c := range t.channel {
		h, w := &t.channel[c], luminances[c]
		d, ok := h.density(x)
		bright := x > h.at
		switch {
		case ok && d <= h.full:
			light += w
		case ok && d >= h.empty:
			dark += w
		case !ok && h.silentAt(t, bright, slope, noiseWay):
			// What is silent at the end of what is known is so beyond.
			if bright {
				light += w
			} else {
				dark += w
			}
		case !ok && h.flatEnd(bright, slope):
			// It speaks no more clearly beyond; whether at all is not told.
		case !ok:
			untold += w
		case h.silent(t, x, d, slope, noiseWay):
			if bright {
				light += w
			} else {
				dark += w
			}
		}
	}
	switch {
	case light >= 0.5:
		return Blown, true
	case dark >= 0.5:
		return Blocked, true
	case light+untold >= 0.5 || dark+untold >= 0.5:
		return Unknown, false
	}
	return Unknown, true
}

// silent reports whether a third of a stop moves the channel's light by less than its noise.
func (h *channel) silent(t *tones, x, d, slope, noiseWay float64) bool {
	if t.noise == nil {
		return false
	}
	y := math.Pow(10, -d)
	s := t.noise.Sigma(h.c, y)
	if !(s > 0) {
		return false // nearer to white than noise is known
	}
	if _, e := t.sigma(y); e == e {
		s *= 1 + noiseWay*e
	}
	// Over a stop: the curve's waves, which its fit is off by, even out.
	return math.Ln10*y*h.slope(x, 1)*slope/3 < s
}

// silentAt reports whether the channel is silent at an end of what it covers.
func (h *channel) silentAt(t *tones, bright bool, slope, noiseWay float64) bool {
	x := h.end(bright)
	d, _ := h.density(x)
	return h.silent(t, x, d, slope, noiseWay)
}

// end is a place within the covered part at its light or dark end, with room for a slope.
func (h *channel) end(bright bool) float64 {
	if bright {
		return h.covered[1] - span
	}
	return h.covered[0] + span
}

// flatEnd reports whether the film no longer separates tones at an end of what is covered.
func (h *channel) flatEnd(bright bool, slope float64) bool {
	return h.slope(h.end(bright), 2*span)*slope < response.FlatShare*h.gamma
}

// flat reports whether channels that carry half of the luminance separate tones by less than
// response.FlatShare of their steepest slope. slope moves the slope.
func (t *tones) flat(x, slope float64) bool {
	x += t.origin
	w := 0.0
	for c := range t.channel {
		h := &t.channel[c]
		at := math.Min(math.Max(x, h.end(false)), h.end(true))
		if h.slope(at, 2*span)*slope < response.FlatShare*h.gamma {
			w += luminances[c]
		}
	}
	return w >= 0.5
}

// luminance returns the light that the scan shows of a grey; beyond what is known that of the
// nearest end.
func (t *tones) luminance(x float64) (y float64) {
	return t.light(x + t.origin)
}

func (t *tones) light(x float64) (y float64) {
	for c := range t.channel {
		h := &t.channel[c]
		d, _ := h.density(math.Min(math.Max(x, h.covered[0]-drawnOn), h.covered[1]+drawnOn))
		y += t.weight[c] * math.Pow(10, -d)
	}
	return math.Max(y, 1e-7)
}

// contrast returns the slope of luminance's density by stop at x.
func (t *tones) contrast(x float64) float64 {
	x += t.origin
	return math.Max(0, math.Log10(t.light(x+span)/t.light(x-span))/(2*span))
}

// kept returns the share of the base frame's contrast of a light that it has at x.
func (t *tones) kept(light, x float64) float64 {
	base := t.contrast(light)
	if !(base > 0) {
		return 1
	}
	return t.contrast(x) / base
}

// salvaged returns the noise in L* of a light that stands at x, brought to the look that the
// base frame gives it: its brightness, and its contrast as well where curves do it.
// noise = dL*/dY(Yb) Yb/Yf sigma(Yf) (assets/manual/noise.md#noisy).
func (t *tones) salvaged(light, x float64, curves bool) float64 {
	if t.noise == nil {
		return math.NaN()
	}
	base, y := t.luminance(light), t.luminance(x)
	s, _ := t.sigma(y)
	n := noise.InL(base, base/y*s)
	if curves {
		if c := t.contrast(x); c > 0 {
			n *= t.contrast(light) / c
		}
	}
	return n
}

// sigma returns the noise of a luminance, and two standard errors of it over it; lighter than
// is known that of the lightest that is. NaN where the roll tells none.
func (t *tones) sigma(y float64) (s, off float64) {
	if t.noise == nil {
		return math.NaN(), math.NaN()
	}
	off = greyError
	for range 24 {
		if s = t.noise.SigmaY(y); s > 0 {
			return s, math.Min(0.9, math.Max(off, 2*t.noise.ErrorY(y)))
		}
		y, off = y*0.93, endError // a tenth of a stop
	}
	return math.NaN(), math.NaN()
}

// slopeError is two standard errors of the slope at x over it.
func (t *tones) slopeError(x float64) float64 {
	h := &t.channel[1]
	steep := math.Min(1, h.slope(x+t.origin, 2*span)/h.gamma)
	return steepError*steep + levelError*(1-steep)
}

// place is what the place of a light on the response is off by, in stops, two standard
// errors: by mid-grey, by the scale of the stops, by the density, and by how far the curve is
// drawn on.
func (t *tones) place(x, midGrey float64) float64 {
	x += t.origin
	worst := 0.0
	for c := range t.channel {
		h := &t.channel[c]
		in := math.Min(math.Max(x, h.covered[0]), h.covered[1])
		sigma := h.sigma(in)
		steep := math.Max(h.slope(in, 2*span), response.FlatShare*h.gamma)
		e := math.Hypot(2*sigma/steep, drawnError*math.Abs(x-in))
		worst = math.Max(worst, math.Min(e, 1))
	}
	return math.Hypot(math.Hypot(midGrey, 2*t.scale*x), worst)
}

// sigma is the standard error of the density at a covered place.
func (h *channel) sigma(x float64) float64 {
	k := h.k
	i := int(math.Round((x*stopLog - k.LogE[0]) / (k.LogE[1] - k.LogE[0])))
	for _, at := range [3]int{i, i + 1, i - 1} {
		if at >= 0 && at < len(k.LogE) && k.Sigma[h.c][at] == k.Sigma[h.c][at] {
			return k.Sigma[h.c][at]
		}
	}
	return 0.04 // the most that counts as covered
}

// isGreyCard reports whether a patch is called a grey card.
func isGreyCard(name string) bool {
	n := strings.ToLower(name)
	return strings.Contains(n, "grey card") || strings.Contains(n, "gray card")
}

// greyAt returns where a patch of the base frame lies on the response, in stops, by the
// channels' shares of luminance.
func greyAt(set *patch.Set, i, base int, t *tones) (at float64, ok bool) {
	if base < 0 || base >= len(set.Readings[i]) {
		return 0, false
	}
	p := &set.Readings[i][base]
	if p.Reason != "" || p.Blown > 0.01 || p.Blocked > 0.01 {
		return 0, false
	}
	for c, d := range [3]float64{p.Density.R, p.Density.G, p.Density.B} {
		x, covered := t.channel[c].k.LogEOf(c, d)
		if !covered {
			return 0, false
		}
		at += luminances[c] * x / stopLog
	}
	return at, true
}
