package exposure

import "math"

// speeds are the arithmetic film speeds that boxes and meters carry: the series
// of ISO 5800 and ISO 6 in thirds of a stop, rounded as those tables do.
var speeds = []float64{
	3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800,
	1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000, 10000, 12800,
}

// SpeedOf returns the arithmetic ISO speed of a logarithmic one: 21° is ISO 100. ok is
// false where the series has none.
func SpeedOf(degrees int) (s float64, ok bool) {
	for _, s := range speeds {
		if Degrees(s) == degrees {
			return s, true
		}
	}
	return math.NaN(), false
}
