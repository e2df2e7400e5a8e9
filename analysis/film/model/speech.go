package model

import "math"

// speech is what a layer has to say by log10 exposure, on the steps of its curve: by how much
// a third of a stop moves its density, and the variance of that.
//
// A channel that shows one layer alone falls silent at a density. Where dyes mix the
// channels it does not: of a yellow lamp the green layer may be at its end while the blue
// one's dye still keeps green light from the scanner. What counts is by how much a third of
// a stop moves all layers that the channel shows, against the noise of all.
type speech struct {
	lo             float64
	step, variance []float32
}

// speaking keeps what the layers have to say, by the channels' own response: what a fit of
// dyes bends a curve by has slopes of its own.
func (m *Model) speaking() {
	for c, l := range m.layer {
		m.speech[c] = nil
		if l.speaks == nil {
			continue
		}
		speaks := filled(l.speaks)
		s := &speech{lo: l.lo, step: make([]float32, len(l.d)), variance: make([]float32, len(l.d))}
		sigma := 1.0 // the nearest that is known
		for i, d := range l.d {
			k := min(max(int((float64(d)-l.least)/backStep+0.5), 0), len(l.speaks)-1)
			if v := m.densitySigma(c, l.least+float64(k)*backStep); v == v {
				sigma = v
			}
			s.step[i], s.variance[i] = float32(speaks[k]*sigma), float32(sigma*sigma)
		}
		m.speech[c] = s
	}
}

// filled fills in what is not known of ratios, as the ends have it: outward from the greatest
// nothing falls silent where nothing is known, but what is beyond silence is silent.
func filled(speaks []float64) []float64 {
	const most = 1e3
	out := make([]float64, len(speaks))
	best := 0
	for i, v := range speaks {
		if v == v && !(v <= speaks[best]) {
			best = i
		}
	}
	for _, way := range []int{-1, 1} {
		last := most
		for i := best; i >= 0 && i < len(speaks); i += way {
			switch v := speaks[i]; {
			case v == v:
				last = math.Min(v, most)
			case last >= 1:
				last = most
			}
			out[i] = last
		}
	}
	return out
}

// at returns both at an exposure.
func (s *speech) at(e float32) (step, variance float32) {
	i := min(max(int((e-float32(s.lo))*(1/curveStep)+0.5), 0), len(s.step)-1)
	return s.step[i], s.variance[i]
}

// falls returns the log10 exposure from which on, outward to an end, way 1 for the light and -1
// for the dark one, a third of a stop moves the layer by less than so many times its noise; ok
// is false where it moves it by more at the end itself.
func (s *speech) falls(end float64, way int, times float64) (e float64, ok bool) {
	e = end
	for i := min(max(int((end-s.lo)*(1/curveStep)+0.5), 0), len(s.step)-1); i >= 0 && i < len(s.step); i -= way {
		if float64(s.step[i]) >= times*math.Sqrt(float64(s.variance[i])) {
			break
		}
		e, ok = s.lo+float64(i)*curveStep, true
	}
	return e, ok
}

// mixedSilent is silent where dyes mix the channels: of layers at exposures e, which give
// densities d. Noise is that of a neutral for the layers one by one, of which a channel has
// its shares. At the dark end, where a scanner's own noise counts and not that of layers, a
// density tells.
func (m *Model) mixedSilent(mix *[3][3]float32, e, d [3]float32) (state uint8) {
	var step, variance [3]float32
	for j, s := range m.speech {
		if s == nil {
			return m.silent(d)
		}
		step[j], variance[j] = s.at(e[j])
	}
	var light, dark float32
	for c := range 3 {
		var moves, noise, shares float32
		for j := range 3 {
			w := mix[c][j]
			moves += w * step[j]
			noise += w * w * variance[j]
			shares += w * w
		}
		switch {
		case d[c] <= m.full[c] || 2*d[c] < m.light[c]+m.dark[c] && moves*moves*shares < noise:
			light += weights[c]
		case d[c] >= m.dark[c]:
			dark += weights[c]
		}
	}
	return stateOf(light, dark)
}
