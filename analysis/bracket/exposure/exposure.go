// Package exposure holds the arithmetic of exposure: the APEX values, the meter
// equations of ISO 2720, the marks on lenses and shutters with their exact
// values, and density.
//
// APEX (additive system of photographic exposure; ASA PH2.5-1960, ANSI
// PH3.49-1971; Kerr, "APEX", 2007) writes an exposure as sums of base-2
// logarithms: EV = Av + Tv = Bv + Sv. A difference of 1 is one stop.
//
// Functions take positive figures; zero, negative and non-numbers give NaN or an
// infinity as math.Log2 does, and callers that read text check first.
package exposure

import "math"

// The ISO 2720:1974 calibration constants that are usual in the trade. The
// standard admits K 10.6 to 13.4, C 240 to 400 for a flat receptor and 320 to 540
// for a hemispherical one.
const (
	K           = 12.5 // reflected light, with luminance in cd/m2
	CFlat       = 250  // incident light, flat receptor, with illuminance in lux
	CHemisphere = 330  // incident light, hemispherical receptor (320 to 340 usual)
)

// Av returns the aperture value of f-number n: log2 n².
func Av(n float64) float64 { return 2 * math.Log2(n) }

// Tv returns the time value of t seconds: log2 1/t.
func Tv(t float64) float64 { return -math.Log2(t) }

// EV returns the exposure value of f-number n and t seconds: log2 n²/t. More EV is
// less light on the film.
func EV(n, t float64) float64 { return Av(n) + Tv(t) }

// Reflected returns the EV to set for a luminance in cd/m2 at ISO speed s with meter
// constant k (ISO 2720: n²/t = L s/k).
func Reflected(luminance, s, k float64) float64 { return math.Log2(luminance * s / k) }

// Incident returns the EV to set for an illuminance in lux at ISO speed s with meter
// constant c (ISO 2720: n²/t = E s/c).
func Incident(lux, s, c float64) float64 { return math.Log2(lux * s / c) }

// Degrees returns the logarithmic ISO speed of arithmetic speed s, in whole degrees:
// 10 log10 s + 1, rounded; ISO 100 is 21°.
func Degrees(s float64) int { return int(math.Round(10*math.Log10(s) + 1)) }
