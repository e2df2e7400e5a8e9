package model

import (
	"math"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/matrix"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

// State of a place in a view.
const (
	LostLight uint8 = 1 << iota // channels that carry half of the luminance say nothing, most of them too light
	LostDark                    // or too dark
	Partial                     // some channel says nothing
	Absent                      // no frame shows the place
)

// View is the roll seen at a stop, without noise.
type View struct {
	Stop  float64   // against the base frame, as measured
	Light []float32 // 3 a place: of the scan's channels, clipped as the scan is
	State []uint8   // a place
}

// weights are the channels' shares of luminance.
var weights = [3]float32{colour.LumR, colour.LumG, colour.LumB}

// At returns the roll at a stop.
func (m *Model) At(stop float64) *View {
	n := m.places()
	v := &View{Stop: stop, Light: make([]float32, len(m.x)), State: make([]uint8, len(m.x)/3)}
	s := float32(stop * stopLog)
	mix := narrow(m.Mix)
	plain := m.Mix == matrix.Unit
	parallel.Bands(m.ny, func(y0, y1 int) {
		for k := y0 * m.nx * n; k < y1*m.nx*n; k++ {
			x := m.x[3*k : 3*k+3 : 3*k+3]
			q := [3]float32{m.layer[0].at(x[0] + s), m.layer[1].at(x[1] + s), m.layer[2].at(x[2] + s)}
			d := q
			if !plain {
				for c := range 3 {
					d[c] = mix[c][0]*q[0] + mix[c][1]*q[1] + mix[c][2]*q[2]
				}
			}
			if plain {
				v.State[k] = m.silent(d)
			} else {
				v.State[k] = m.mixedSilent(&mix, [3]float32{x[0] + s, x[1] + s, x[2] + s}, d)
			}
			if m.absent[k] {
				v.State[k] |= Absent
			}
			for c := range 3 {
				v.Light[3*k+c] = tenTo(min(max(d[c], m.full[c]), m.empty[c]))
			}
		}
	})
	return v
}

// silent returns the state of a place of these densities.
func (m *Model) silent(d [3]float32) (state uint8) {
	var light, dark float32
	for c := range 3 {
		switch {
		case d[c] <= m.light[c]:
			light += weights[c]
		case d[c] >= m.dark[c]:
			dark += weights[c]
		}
	}
	return stateOf(light, dark)
}

// stateOf returns the state of a place whose channels that say nothing, being too light or
// too dark, carry so much of the luminance.
func stateOf(light, dark float32) uint8 {
	switch {
	case light+dark == 0:
		return 0
	case light+dark < 0.5:
		return Partial
	case light >= dark:
		return LostLight | Partial
	}
	return LostDark | Partial
}

// Neutral returns the light, on the sRGB primaries, that a grey has at a stop which the
// base frame shows as v in all channels, and its state. ok is false where the response
// reaches no such grey.
func (m *Model) Neutral(v, stop float64) (rgb [3]float64, state uint8, ok bool) {
	d := float32(-math.Log10(v)) // rows of unmix add up to 1
	var q, p [3]float32
	ok = true
	for c, l := range m.layer {
		e, _ := l.exposure(d)
		if float64(d) < l.least || d > l.d[0] {
			ok = false
		}
		q[c] = l.at(e + float32(stop*stopLog))
	}
	for c := range 3 {
		p[c] = float32(m.Mix[c][0])*q[0] + float32(m.Mix[c][1])*q[1] + float32(m.Mix[c][2])*q[2]
	}
	state = m.silent(p)
	var light [3]float32
	for c := range 3 {
		light[c] = tenTo(min(max(p[c], m.full[c]), m.empty[c]))
	}
	return m.RGB(light[:]), state, ok
}

// RGB returns light of the scan's channels on the sRGB primaries.
func (m *Model) RGB(light []float32) (rgb [3]float64) {
	for c := range 3 {
		for d := range 3 {
			rgb[c] += m.primaries[c][d] * float64(light[d])
		}
	}
	return rgb
}

// Blocks returns how many blocks the base frame's image area has, and how many cells and
// how many places of a cell each has; places of a cell follow on each other, cells of a
// block too.
func (m *Model) Blocks() (blocks, cells, perCell int) {
	return m.nx * m.ny, cellsAlong * cellsAlong, m.per * m.per
}

// Band returns the tonal band of a place.
func (m *Model) Band(place int) measure.Band { return measure.Band(m.bands[place]) }

// Luminance returns that of a place in the base frame, without noise.
func (m *Model) Luminance(place int) float64 { return m.luminance[place] }

// weigh keeps luminance and band of the base's places, which every stop is asked for.
func (m *Model) weigh() {
	m.luminance, m.bands = make([]float64, m.places()*m.nx*m.ny), make([]uint8, m.places()*m.nx*m.ny)
	parallel.Bands(len(m.bands), func(lo, hi int) {
		for k := lo; k < hi; k++ {
			rgb := m.RGB(m.Base.Light[3*k : 3*k+3])
			m.luminance[k] = colour.LumR*rgb[0] + colour.LumG*rgb[1] + colour.LumB*rgb[2]
			m.bands[k] = uint8(measure.BandOf(m.luminance[k]))
		}
	})
}

// Mixed reports whether dyes mix the channels.
func (m *Model) Mixed() bool { return m.Mix != matrix.Unit }

// DyesTold reports whether the roll tells how its dyes mix the channels: every share within
// half of what is believed of it beforehand.
func (m *Model) DyesTold() bool {
	for _, shares := range m.dyeError {
		if !(max(shares[0], shares[1]) < dyeSpread/2) {
			return false
		}
	}
	return true
}

// Colourless reports whether the picture is black and white: nine of ten places have
// channels that agree within a fiftieth of a stop and their noise.
func (m *Model) Colourless() bool {
	coloured, all := 0, 0
	for k := 0; k < len(m.x); k += 3 * 7 {
		if m.absent[k/3] {
			continue
		}
		all++
		lo, hi := min(m.x[k], m.x[k+1], m.x[k+2]), max(m.x[k], m.x[k+1], m.x[k+2])
		if hi-lo > stopLog/50+sure {
			coloured++
		}
	}
	return 10*coloured < all
}

// Silent returns the light of each channel of the scan from which on, and down to which,
// it says nothing.
func (m *Model) Silent() (ends [3][2]float64) {
	for c := range ends {
		ends[c] = [2]float64{math.Pow(10, -float64(m.light[c])), math.Pow(10, -float64(m.dark[c]))}
	}
	return ends
}
