package model

import (
	"math"
	"slices"

	"stopladder/analysis/numeric/median"
)

// checkBins is into how many tones a frame is divided where it is held against the model.
const checkBins = 12

// check finds by how much each frame differs from the model, in density: the root mean
// square over tones and channels of the median difference of blocks, so that noise, which
// is as often too dark as too light, has no part in it.
func (m *Model) check(read []reading) {
	n := m.places()
	type diff struct{ d, r float64 }
	for j := range m.frames {
		f := &m.frames[j]
		v := m.At(f.stop)
		var sum, count float64
		for c := range 3 {
			var all []diff
			for b := range m.nx * m.ny {
				var x, y float64
				whole := true
				for k := b * n; k < (b+1)*n; k++ {
					if read[j].state[k]&(beyond|1<<c) != 0 || v.State[k]&Partial != 0 {
						whole = false
						break
					}
					x, y = x+float64(v.Light[3*k+c]), y+float64(read[j].light[3*k+c])
				}
				if whole && x > 0 && y > 0 {
					all = append(all, diff{-math.Log10(x), math.Log10(x / y)})
				}
			}
			slices.SortFunc(all, func(a, b diff) int {
				switch {
				case a.d < b.d:
					return -1
				case a.d > b.d:
					return 1
				}
				return 0
			})
			for k := range checkBins {
				part := all[k*len(all)/checkBins : (k+1)*len(all)/checkBins]
				if len(part) < 20 { // of fewer the median has noise
					continue
				}
				r := make([]float64, len(part))
				for i, p := range part {
					r[i] = p.r
				}
				q := median.Of(r)
				sum, count = sum+q*q, count+1
			}
		}
		if count > 0 {
			f.off = math.Sqrt(sum / count)
		}
		f.lostOff = m.lostOff(&read[j], v)
	}
}

// lostOff returns by how much the share of places that a frame itself shows as lost differs
// from what the model says of it, both by the densities at which neutrals fall silent.
func (m *Model) lostOff(r *reading, v *View) float64 {
	var light, dark [3]float32
	for c := range 3 {
		light[c], dark[c] = tenTo(m.light[c]), tenTo(m.dark[c])
	}
	all, here, model := 0.0, 0.0, 0.0
	for k, st := range r.state {
		if (st|m.Base.State[k])&(beyond|Absent) != 0 {
			continue
		}
		all++
		if m.Base.State[k]&(LostLight|LostDark) != 0 {
			continue
		}
		var gone, told float32
		for c := range 3 {
			if y := r.light[3*k+c]; y >= light[c] || y <= dark[c] {
				gone += weights[c]
			}
			if y := v.Light[3*k+c]; y >= light[c] || y <= dark[c] {
				told += weights[c]
			}
		}
		if gone >= 0.5 {
			here++
		}
		if told >= 0.5 {
			model++
		}
	}
	return math.Abs(here-model) / math.Max(1, all)
}

// LostOff returns by how much the lost area of the frames about a stop differs from the
// model's, a share of the image area.
func (m *Model) LostOff(stop float64) float64 {
	lo, hi := m.about(stop)
	switch {
	case lo == nil && hi == nil:
		return 0
	case lo == nil:
		return hi.lostOff
	case hi == nil || hi.stop-lo.stop < 1e-9:
		return lo.lostOff
	}
	f := (stop - lo.stop) / (hi.stop - lo.stop)
	return lo.lostOff*(1-f) + hi.lostOff*f
}

// about returns the frames next to a stop on both sides; nil: there is none.
func (m *Model) about(stop float64) (lo, hi *frame) {
	for j := range m.frames {
		f := &m.frames[j]
		if f.stop <= stop && (lo == nil || f.stop > lo.stop) {
			lo = f
		}
		if f.stop >= stop && (hi == nil || f.stop < hi.stop) {
			hi = f
		}
	}
	return lo, hi
}

// Off returns by how much the frames about a stop differ from the model, in density.
func (m *Model) Off(stop float64) float64 {
	lo, hi := m.about(stop)
	switch {
	case lo == nil && hi == nil:
		return 0
	case lo == nil:
		return hi.off
	case hi == nil:
		return lo.off
	}
	return math.Max(lo.off, hi.off)
}

// noiseError is the relative standard error of the noise by level: half of the tenth that
// it is held to against simulated film.
const noiseError = 0.05

// What a scene of few colours does not tell of the dyes: other layers may have a share of
// dyeSpread twice over in a channel's slope, and lie half a unit of density off, half of
// which is in the curve.
const (
	dyeSlope   = 2 * dyeSpread
	dyeDensity = dyeSpread * 0.5 / 2
)

// Shift returns by how many stops, as a standard error, the place may be off at which
// green, which carries most of the luminance, falls silent at the light and at the dark
// end, where curve and frames are off by so much density: there the noise meets the film's
// slope, or the curve the scan's end.
func (m *Model) Shift(off float64) (light, dark float64) {
	const c = 1
	l := m.layer[c]
	at := func(d, end float32) float64 {
		e, _ := l.exposure(d)
		step := l.third(float64(e))
		if !(step > 0) {
			return 0
		}
		curve := math.Hypot(off, dyeDensity) / (3 * step)
		if d == end {
			return curve
		}
		const by = stopLog / 2
		lower, higher := l.third(float64(e)-by), l.third(float64(e)+by)
		sl, sh := m.densitySigma(c, float64(l.at(e-by))), m.densitySigma(c, float64(l.at(e+by)))
		if turn := math.Abs(math.Log(lower / sl * sh / higher)); turn > 0.05 { // of slope over noise, in a stop
			return math.Hypot(curve, math.Hypot(noiseError, dyeSlope)/turn)
		}
		return curve
	}
	return at(m.light[c], m.full[c]), at(m.dark[c], m.empty[c])
}
