package cast

import (
	"math"

	"stopladder/analysis/film/response"
	"stopladder/analysis/scan/colour"
)

// A cast is the shift of a neutral. Neutral is what looks neutral in the base frame:
// a spot that it shows with the same light v in all channels. Each channel's response
// tells which exposure made v; the frame adds its stops to it, and the response tells
// the light that comes of that. The scene's own colours take no part: a saturated
// thing changes its chroma with contrast, and that is no cast.

// Neutral returns the light of each channel (1 is full scale, after the profile's
// tone) with which a frame shows a spot that the base frame shows with light v in all
// channels. stops are the frame's exposure against the base frame's by channel. ok is
// false where the measured response does not reach.
func Neutral(k *response.Curve, v float64, stops [3]float64) (light [3]float64, ok bool) {
	if k == nil || !(v > 0) {
		return light, false
	}
	for c := range light {
		e, within := k.LogEOf(c, -math.Log10(v))
		if !within {
			return light, false
		}
		d := k.At(c, e+stops[c]*stop)
		if math.IsNaN(d) {
			return light, false
		}
		light[c] = math.Pow(10, -d)
	}
	return light, true
}

// stop is log10 2: one stop of exposure.
const stop = 0.301029995663981

// ShiftOf returns the cast of a neutral's light: its a* and b*.
func ShiftOf(s *colour.Space, light [3]float64) Shift {
	l := colour.LabOf(s.OfTone(light))
	return Shift{l.A, l.B}
}

// Crossover returns what the best single balance leaves between neutrals: the largest
// CIEDE2000 difference of two of them, at one lightness (L* 50), after the gains of
// red and blue against green that make it least. gain brings the frame to the base
// frame's brightness. Without two neutrals it is NaN.
//
// The search is by steps in a pattern from no balance at all: the difference is
// smooth and has one valley, since a gain shifts all neutrals of a channel alike.
func Crossover(s *colour.Space, neutrals [][3]float64, gain float64) float64 {
	if len(neutrals) < 2 {
		return math.NaN()
	}
	left := func(r, b float64) float64 {
		casts := make([]colour.LAB, len(neutrals))
		for i, n := range neutrals {
			x := ShiftOf(s, [3]float64{n[0] * gain * math.Exp2(r), n[1] * gain, n[2] * gain * math.Exp2(b)})
			casts[i] = colour.LAB{L: 50, A: x.DA, B: x.DB}
		}
		worst := 0.0
		for i := range casts {
			for j := range i {
				worst = math.Max(worst, colour.DeltaE2000(casts[i], casts[j]))
			}
		}
		return worst
	}
	r, b := 0.0, 0.0
	least := left(r, b)
	for step := 1.0; step > 0.002; { // stops
		moved := false
		for _, d := range [...][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, -1}, {1, -1}, {-1, 1}} {
			if x := left(r+step*d[0], b+step*d[1]); x < least {
				least, r, b, moved = x, r+step*d[0], b+step*d[1], true
			}
		}
		if !moved {
			step /= 2
		}
	}
	return least
}
