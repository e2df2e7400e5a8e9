package measure

import "math"

// StopHistogram returns the histogram of the image area on the stops axis that all
// frames share: for each channel the share 0..1 of pixels in each of bins equal bins
// from lo to hi stops. 0 stops is the profile's white, -1 half its light, each channel
// through its own tone curve. A code stands for all light between the half-way points
// to its neighbours (neighbours of the effective bits), and its pixels are spread over
// that stretch, so that 8-bit scans draw as a slope and not as a comb. The first and
// last bin also hold what lies beyond them: each channel sums to 1. Nil slices for
// bins < 1 or hi <= lo.
func StopHistogram(l *Look, lo, hi float64, bins int) [3][]float64 {
	var out [3][]float64
	if bins < 1 || !(hi > lo) {
		return out
	}
	quantum := 1 << max(0, l.Info.Bits-l.EffectiveBits)
	if l.EffectiveBits <= 0 {
		quantum = 1
	}
	tone := l.Space.Tone()
	scale := float64(bins) / (hi - lo)
	for c := range out {
		out[c] = make([]float64, bins)
		if l.Hist.Pixels == 0 {
			continue
		}
		for code, n := range l.Hist.Channel(c) {
			if n == 0 {
				continue
			}
			half := float64(quantum) / 2
			a := (toneStop(tone[c], float64(code)-half) - lo) * scale
			b := (toneStop(tone[c], float64(code)+half) - lo) * scale
			spread(out[c], a, b, float64(n)/float64(l.Hist.Pixels))
		}
	}
	return out
}

// toneStop returns log2 of the light of a code with a fraction; -Inf for no light.
func toneStop(tone []float32, code float64) float64 {
	top := float64(len(tone) - 1)
	code = math.Min(math.Max(code, 0), top)
	i := int(code)
	v := float64(tone[i])
	if t := code - float64(i); t > 0 {
		v += t * (float64(tone[i+1]) - v)
	}
	if v <= 0 {
		return math.Inf(-1)
	}
	return math.Log2(v)
}

// spread adds mass evenly over [a, b] in units of bins; what lies outside goes
// to the end bins. An end at minus infinity (code 0) is cut to one bin's
// worth below the first, so that it all lands there.
func spread(bins []float64, a, b, mass float64) {
	n := float64(len(bins))
	if math.IsInf(a, -1) {
		a = math.Min(b, 0) - 1
		if math.IsInf(b, -1) {
			a, b = -1, -1
		}
		if b > 0 {
			// From no light up to b: drawn from the axis' lower end.
			a = 0
		}
	}
	if b < a {
		a, b = b, a
	}
	if b <= 0 {
		bins[0] += mass
		return
	}
	if a >= n {
		bins[len(bins)-1] += mass
		return
	}
	if b-a < 1e-9 {
		bins[int(math.Min(math.Max(a, 0), n-1))] += mass
		return
	}
	per := mass / (b - a)
	if a < 0 {
		bins[0] += -a * per
		a = 0
	}
	if b > n {
		bins[len(bins)-1] += (b - n) * per
		b = n
	}
	for i := int(a); i < len(bins) && float64(i) < b; i++ {
		bins[i] += (math.Min(b, float64(i+1)) - math.Max(a, float64(i))) * per
	}
}

// EndStops returns ceiling and floor of each channel on the stops axis of
// StopHistogram; a floor at no light is -Inf.
func EndStops(l *Look) (ceiling, floor RGB[float64]) {
	tone := l.Space.Tone()
	stop := func(c, code int) float64 { return toneStop(tone[c], float64(code)) }
	return RGB[float64]{stop(0, l.Ceiling.R), stop(1, l.Ceiling.G), stop(2, l.Ceiling.B)},
		RGB[float64]{stop(0, l.Floor.R), stop(1, l.Floor.G), stop(2, l.Floor.B)}
}
