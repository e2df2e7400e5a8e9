package model

import (
	"math"
	"slices"

	"stopladder/analysis/numeric/median"
)

// checkBins is into how many tones a frame is divided where it is held against the model.
const checkBins = 12

// endBins is how many of them are its lightest, and its darkest: where a channel is about to
// fall silent a curve is flat, and frames differ from it by less than elsewhere.
const endBins = checkBins / 4

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
		var ends, endCount [2]float64
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
				for end, near := range [2]bool{k < endBins, k >= checkBins-endBins} {
					if near {
						ends[end], endCount[end] = ends[end]+q*q, endCount[end]+1
					}
				}
			}
		}
		f.off = math.NaN()
		if count > 0 {
			f.off = math.Sqrt(sum / count)
		}
		for end := range ends {
			f.ends[end] = f.off
			if endCount[end] > 0 {
				f.ends[end] = math.Sqrt(ends[end] / endCount[end])
			}
		}
		f.lostOff = m.lostOff(&read[j], v)
		f.dyes = m.dyesOff(v)
	}
	// A frame that has no even tones to be held against the model is off like the worst of the
	// others.
	worst := frame{}
	for _, f := range m.frames {
		if f.off == f.off {
			worst.off = math.Max(worst.off, f.off)
			for end := range f.ends {
				worst.ends[end] = math.Max(worst.ends[end], f.ends[end])
			}
		}
	}
	for j := range m.frames {
		if f := &m.frames[j]; f.off != f.off {
			f.off, f.ends = worst.off, worst.ends
		}
	}
}

// lostOff returns by how much the share of places that a frame itself shows as lost differs
// from what the model says of it, both by where a neutral's green, which carries most of the
// luminance, falls silent. At the scan's own end noise is cut off on one side, and a pixel
// that is the mean of several is at the end only if all are, so both are held against each
// other endMargin of the noise inside. The frame has noise, so that where few places lie
// beyond more come over by noise than go: the model's places count by the chance that their
// noise has them.
func (m *Model) lostOff(r *reading, v *View) float64 {
	const c = 1
	light, dark := m.inside(c)
	chance := m.chances(c, light, dark)
	stop := float32(v.Stop * stopLog)
	all, here, model := 0.0, 0.0, 0.0
	for k, st := range r.state {
		if (st|m.Base.State[k])&(beyond|Absent) != 0 {
			continue
		}
		all++
		if m.Base.State[k]&(LostLight|LostDark) != 0 {
			continue
		}
		if y := float64(r.green[k]); y >= light || y <= dark {
			here++
		}
		d := float32(0) // also beyond the scan's ends, by the curves drawn on
		for i, l := range m.layer {
			d += float32(m.Mix[c][i]) * l.at(m.x[3*k+i]+stop)
		}
		model += chance.at(d)
	}
	return math.Abs(here-model) / math.Max(1, all)
}

// chance is how probable it is that noise has a pixel as light or as dark as where its
// channel falls silent, by density from chanceFrom on, a step of chanceStep at a time.
type chance []float64

const (
	chanceStep = 0.005
	chanceFrom = -1
	chanceTo   = 9
)

func (p chance) at(d float32) float64 {
	return p[min(max(int((d-chanceFrom)/chanceStep+0.5), 0), len(p)-1)]
}

// endMargin is how many standard deviations of the noise inside its ends a channel is looked
// at to see whether frames and model agree on what is lost.
const endMargin = 2

// inside returns the light of channel c so far inside its ends.
func (m *Model) inside(c int) (light, dark float64) {
	light, dark = math.Pow(10, -float64(m.light[c])), math.Pow(10, -float64(m.dark[c]))
	if m.noise == nil {
		return light, dark
	}
	l, d := light, dark
	if s := m.noise.Sigma(c, l); s > 0 {
		light = l - endMargin*s
	}
	if s := m.noise.Sigma(c, d); s > 0 {
		dark = d + endMargin*s
	}
	if !(dark < light) { // all is noise
		return l, d
	}
	return light, dark
}

// chances returns those of channel c for these ends.
func (m *Model) chances(c int, light, dark float64) chance {
	p := make(chance, int((chanceTo-chanceFrom)/chanceStep)+1)
	beyond := func(sigmas float64) float64 { return math.Erfc(sigmas/math.Sqrt2) / 2 }
	for i := range p {
		y, sigma := math.Pow(10, -(chanceFrom+float64(i)*chanceStep)), math.NaN()
		if m.noise != nil {
			sigma = m.noise.Sigma(c, y)
		}
		switch {
		case sigma > 0:
			p[i] = beyond((light-y)/sigma) + beyond((y-dark)/sigma)
		case y >= light || y <= dark:
			p[i] = 1
		}
	}
	return p
}

// About an end of a channel: how near in density, and how few places tell nothing.
const (
	nearEnd = 0.15
	fewNear = 50
)

// dyesOff returns by how much, as a standard error in density, green may lie off in places
// near its light and its dark end for what the scene does not tell of how dyes mix: a share
// of another layer counts by how far that layer's density is from green's there, and half
// of it is in the curve, which comes of the same places. In a grey nothing is off. Where
// few places are near an end, they are taken to be half a unit off.
func (m *Model) dyesOff(v *View) (off [2]float64) {
	const c = 1
	for end, at := range [2]float32{m.light[c], m.dark[c]} {
		var n float64
		var squares [2]float64
		for k, st := range v.State {
			d := -log10(max(v.Light[3*k+c], leastLight))
			if st&Absent != 0 || d <= m.full[c] || d >= m.empty[c] || d < at-nearEnd || d > at+nearEnd {
				continue
			}
			n++
			for i := range squares {
				x := float64(-log10(max(v.Light[3*k+other(c, i)], leastLight)) - d)
				squares[i] += x * x
			}
		}
		off[end] = dyeDensity
		if n >= fewNear {
			off[end] = math.Hypot(m.dyeError[c][0]*math.Sqrt(squares[0]/n), m.dyeError[c][1]*math.Sqrt(squares[1]/n)) / 2
		}
	}
	return off
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

// endsAt returns by how much, as standard errors in density, curve and frames may be off near
// the light and near the dark end about a stop: the greater of the frames' on its two sides,
// with what is not known of dyes.
func (m *Model) endsAt(stop float64) (off [2]float64) {
	lo, hi := m.about(stop)
	for _, f := range []*frame{lo, hi} {
		if f != nil {
			for end := range off {
				off[end] = math.Max(off[end], math.Hypot(f.ends[end], f.dyes[end]))
			}
		}
	}
	return off
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
// dyeSpread twice over in a channel's slope, and, where nothing is known of the places, lie
// half a unit of density off, half of which is in the curve.
const (
	dyeSlope   = 2 * dyeSpread
	dyeDensity = dyeSpread * 0.5 / 2
)

// Shift returns by how many stops, as a standard error, the place may be off at which
// green, which carries most of the luminance, falls silent at the light and at the dark
// end of the roll seen at a stop: there the noise meets the film's slope, or the curve the
// scan's end, and curve and frames are off by some density.
//
// Where slope and noise go together for stops, the place is told badly: it is looked for
// where their ratio is two standard errors more and less, to the end of the scan at most;
// and where the scan ends first, whether it is nearly so there.
func (m *Model) Shift(stop float64) (light, dark float64) {
	const c = 1
	l, s := m.layer[c], m.speech[c]
	off := m.endsAt(stop)
	at := func(d, end float32, way int, off float64) float64 {
		last, _ := l.exposure(end)
		curve := 0.0
		if step := l.third(float64(last)); step > 0 {
			curve = off / (3 * step)
		}
		if s == nil {
			return curve
		}
		two := 2 * math.Hypot(noiseError, dyeSlope)
		in, soon := s.falls(float64(last), way, math.Exp(two))
		if !soon {
			return curve
		}
		here, noise := s.falls(float64(last), way, 1)
		if !noise {
			return math.Hypot(curve, math.Abs(here-in)/2/stopLog)
		}
		out, _ := s.falls(float64(last), way, math.Exp(-two))
		return math.Max(math.Abs(here-in), math.Abs(out-here)) / 2 / stopLog
	}
	return at(m.light[c], m.full[c], 1, off[0]), at(m.dark[c], m.empty[c], -1, off[1])
}
