package response

import (
	"math"
	"sort"

	"stopladder/analysis/film/measure"
)

// flatDensities returns the densities beyond which channel c separates no tones; NaN
// where the roll does not reach such a part.
func (k *Curve) flatDensities(c int) (light, dark float64) {
	light, dark = math.NaN(), math.NaN()
	ch := &k.Channels[c]
	if !ch.UsefulOpen[1] {
		light = k.At(c, ch.Useful[1])
	}
	if !ch.UsefulOpen[0] {
		dark = k.At(c, ch.Useful[0])
	}
	return light, dark
}

// FlatCodes returns the code values of a frame beyond which the film no longer
// separates tones: at or above light[c], at or below dark[c]. A bound that the roll
// does not reach is beyond the scale (Max+1, -1). ok is false without a response.
func (r *Result) FlatCodes(frame int) (light, dark [3]int, ok bool) {
	if r.Curve == nil || frame < 0 || frame >= len(r.in) || r.in[frame].Look == nil || r.in[frame].Look.Space == nil {
		return light, dark, false
	}
	space := r.in[frame].Look.Space
	tone := space.Tone()
	for c := range 3 {
		light[c], dark[c] = space.Max()+1, -1
		dl, dd := r.Curve.flatDensities(c)
		if !math.IsNaN(dl) {
			l := float32(math.Pow(10, -dl))
			light[c] = sort.Search(len(tone[c]), func(i int) bool { return tone[c][i] >= l })
		}
		if !math.IsNaN(dd) {
			l := float32(math.Pow(10, -dd))
			dark[c] = sort.Search(len(tone[c]), func(i int) bool { return tone[c][i] > l }) - 1
		}
	}
	return light, dark, true
}

// countFlat counts the pixels of every frame that lie in the flat parts and are
// not clipped, from the exact histogram.
func (r *Result) countFlat() {
	for j := range r.Frames {
		light, dark, ok := r.FlatCodes(j)
		if !ok {
			continue
		}
		l := r.in[j].Look
		if l.Hist.Pixels == 0 {
			continue
		}
		f := &Flat{}
		for c := range 3 {
			n := l.Hist.Channel(c)
			floor, ceiling := limit(l.Floor, c), limit(l.Ceiling, c)
			sum := func(lo, hi int) float64 {
				s := uint64(0)
				for i := max(lo, 0); i <= min(hi, len(n)-1); i++ {
					s += n[i]
				}
				return float64(s) / float64(l.Hist.Pixels)
			}
			f.Light = math.Max(f.Light, sum(light[c], ceiling-1))
			f.Dark = math.Max(f.Dark, sum(floor+1, dark[c]))
		}
		r.Frames[j].Flat = f
	}
}

func limit(v measure.RGB[int], c int) int { return [3]int{v.R, v.G, v.B}[c] }

// reach is how far beyond the covered part a curve may be drawn on to a scan's
// ceiling or floor, in log10 exposure: one stop.
const reach = stopLog

// HeadroomOf returns how many stops a level of the base frame (code values per
// channel, e.g. a band's or a patch's mean) is from Blown and from Blocked: the scan's
// ceiling or floor, or the film's flat part, whichever comes first, in the channel
// where it comes first. ok is false without a response, or when a code lies beyond
// what the roll covers.
func (r *Result) HeadroomOf(codes [3]float64) (h Headroom, ok bool) {
	k := r.Curve
	if k == nil {
		return h, false
	}
	l := r.in[r.Base].Look
	tone := l.Space.Tone()
	h.BlownAtLeast, h.BlockedAtLeast = math.Inf(1), math.Inf(1)
	for c := range 3 {
		at, covered := k.LogEOf(c, -math.Log10(math.Max(lightOf(tone[c], codes[c]), 1e-9)))
		if !covered {
			return Headroom{}, false
		}
		ch := &k.Channels[c]
		blown, byScan := k.loss(c, tone[c], limit(l.Ceiling, c), 1)
		if !ch.UsefulOpen[1] && !(blown < ch.Useful[1]) {
			blown, byScan = ch.Useful[1], false
		}
		h.BlownAtLeast = math.Min(h.BlownAtLeast, (ch.Covered[1]-at)/stopLog)
		if s := (blown - at) / stopLog; !math.IsNaN(s) && (h.Blown == nil || s < *h.Blown) {
			h.Blown, h.BlownChannel, h.BlownByScan = &s, c, byScan
		}
		blocked, byScan := k.loss(c, tone[c], limit(l.Floor, c), -1)
		if !ch.UsefulOpen[0] && !(blocked > ch.Useful[0]) {
			blocked, byScan = ch.Useful[0], false
		}
		h.BlockedAtLeast = math.Min(h.BlockedAtLeast, (at-ch.Covered[0])/stopLog)
		if s := (at - blocked) / stopLog; !math.IsNaN(s) && (h.Blocked == nil || s < *h.Blocked) {
			h.Blocked, h.BlockedChannel, h.BlockedByScan = &s, c, byScan
		}
	}
	return h, true
}

// loss returns the log exposure at which the scan clips at a code (dir 1: a ceiling,
// -1: a floor); the curve is drawn on straight by at most reach. NaN, false: it does
// not get there.
func (k *Curve) loss(c int, tone []float32, code, dir int) (float64, bool) {
	d := -math.Log10(math.Max(lightOf(tone, float64(code)), 1e-9))
	if x, ok := k.LogEOf(c, d); ok {
		return x, true
	}
	lo, hi := k.span(c)
	if hi-lo < 3 {
		return math.NaN(), false
	}
	end, step := hi, 3
	if dir < 0 {
		end, step = lo, -3
	}
	slope := (k.Density[c][end-step] - k.Density[c][end]) / (k.LogE[end] - k.LogE[end-step])
	x := k.LogE[end] + (k.Density[c][end]-d)/slope
	if !(slope > 0) || math.Abs(x-k.LogE[end]) > reach || float64(dir)*(x-k.LogE[end]) < 0 {
		return math.NaN(), false
	}
	return x, true
}

// lightOf interpolates a tone curve at a code that need not be whole.
func lightOf(tone []float32, code float64) float64 {
	code = math.Min(math.Max(code, 0), float64(len(tone)-1))
	if math.IsNaN(code) {
		return math.NaN()
	}
	i := min(int(code), len(tone)-2)
	t := code - float64(i)
	return float64(tone[i]) + t*float64(tone[i+1]-tone[i])
}
