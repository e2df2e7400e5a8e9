package correction

import "math"

// Neutral returns the balance that makes linear light rgb (all over 0) neutral: equal
// in the three channels, green as it is.
func Neutral(rgb [3]float64) (rg, bg float64) {
	return math.Log10(rgb[1] / rgb[0]), math.Log10(rgb[1] / rgb[2])
}

// NeutralAt returns s with the balance that makes linear light rgb (all over 0)
// neutral after all that s does: where channels have curves of their own, the balance
// before them is not that of the light alone. Where nothing neutral can be had it is
// the balance of the light.
func (s Settings) NeutralAt(rgb [3]float64) Settings {
	s.RG, s.BG = Neutral(rgb)
	want := s.At(1, rgb[1])
	if !(want > 0) {
		return s
	}
	// solve finds the density by which a channel's light must change; a channel never
	// falls as its light rises.
	solve := func(c int) (float64, bool) {
		const most = MaxBalance // of density
		at := func(d float64) float64 {
			t := s
			if c == 0 {
				t.RG = d
			} else {
				t.BG = d
			}
			return t.At(c, rgb[c])
		}
		lo, hi := -most, most
		if at(lo) > want || at(hi) < want {
			return 0, false
		}
		for range 50 {
			if mid := (lo + hi) / 2; at(mid) < want {
				lo = mid
			} else {
				hi = mid
			}
		}
		return hi, true
	}
	if d, ok := solve(0); ok {
		s.RG = d
	}
	if d, ok := solve(2); ok {
		s.BG = d
	}
	return s
}

// Direction is one of the six ways of colour filters.
type Direction struct {
	Letter, Name string
	RG, BG       float64 // the way in the plane of the balance
}

// Directions returns the six colours of CC filters. A filter's figure is a hundred
// times its density to the complement of its colour: CC10 red takes 0.10 from green
// and blue alike, so red gains 0.10 on green, and blue nothing. Only ratios are moved;
// green stays where it is.
func Directions() []Direction {
	return []Direction{
		{"R", "red", 1, 0}, {"C", "cyan", -1, 0},
		{"M", "magenta", 1, 1}, {"G", "green", -1, -1},
		{"B", "blue", 0, 1}, {"Y", "yellow", 0, -1},
	}
}

// perMired are the densities by which a shift of one mired to the warm side
// lightens red, and blue, against green: the slope of CIE daylight (CIE 15, its
// formula for 4000 to 7000 K and above) at 6504 K, in linear light on the sRGB
// primaries (IEC 61966-2-1). By Wien's approximation the logarithm of the ratio of
// two wavelengths is linear in 1/T, which is why mireds add and why a filter has
// one figure whatever the light; so the slope is used as it is, however far.
var perMired = func() (p struct{ rg, bg float64 }) {
	const at, step = 1e6 / 6504.0, 5.0
	r0, b0 := daylightBalance(1e6 / (at - step))
	r1, b1 := daylightBalance(1e6 / (at + step))
	p.rg, p.bg = (r1-r0)/(2*step), (b1-b0)/(2*step)
	return
}()

// daylightBalance returns the density by which daylight of t kelvin is lighter in red,
// and in blue, than in green.
func daylightBalance(t float64) (rg, bg float64) {
	x := -4.6070e9/(t*t*t) + 2.9678e6/(t*t) + 0.09911e3/t + 0.244063
	if t > 7000 {
		x = -2.0064e9/(t*t*t) + 1.9018e6/(t*t) + 0.24748e3/t + 0.23704
	}
	y := -3*x*x + 2.87*x - 0.275
	X, Z := x/y, (1-x-y)/y
	r := 3.2409699*X - 1.5373832 - 0.4986108*Z
	g := -0.9692436*X + 1.8759675 + 0.0415551*Z
	b := 0.0556301*X - 0.2039770 + 1.0569715*Z
	return math.Log10(r / g), math.Log10(b / g)
}

// Join returns the balance of a shift in mired (positive is warmer) together with a
// tint, density of magenta (positive) or green.
func Join(mired, tint float64) (rg, bg float64) {
	return mired*perMired.rg + tint, mired*perMired.bg + tint
}

// Split undoes Join.
func Split(rg, bg float64) (mired, tint float64) {
	mired = (rg - bg) / (perMired.rg - perMired.bg)
	return mired, rg - mired*perMired.rg
}
