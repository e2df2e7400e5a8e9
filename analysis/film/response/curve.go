package response

import (
	"math"
	"sort"
)

// At returns channel c's density at a log exposure, interpolated; NaN outside
// what the roll covers.
func (k *Curve) At(c int, logE float64) float64 {
	x, d := k.LogE, k.Density[c]
	if len(x) < 2 || !(logE >= x[0] && logE <= x[len(x)-1]) {
		return math.NaN()
	}
	i := min(int((logE-x[0])/(x[1]-x[0])), len(x)-2)
	t := (logE - x[i]) / (x[i+1] - x[i])
	switch {
	case t <= 0:
		return d[i]
	case t >= 1:
		return d[i+1]
	}
	return d[i] + t*(d[i+1]-d[i])
}

// LogEOf returns the log exposure at which channel c has a density: the inverse
// of At. Densities beyond the covered part give its nearest end and ok false.
func (k *Curve) LogEOf(c int, density float64) (logE float64, ok bool) {
	lo, hi := k.span(c)
	if hi <= lo || math.IsNaN(density) {
		return math.NaN(), false
	}
	d := k.Density[c]
	if density > d[lo] {
		return k.LogE[lo], false
	}
	if density < d[hi] {
		return k.LogE[hi], false
	}
	// The first point whose density is at or below.
	i := lo + sort.Search(hi-lo, func(i int) bool { return d[lo+i] <= density })
	if i == lo || d[i-1] == d[i] {
		return k.LogE[i], true
	}
	t := (d[i-1] - density) / (d[i-1] - d[i])
	return k.LogE[i-1] + t*(k.LogE[i]-k.LogE[i-1]), true
}

// span returns the first and last index of a channel's covered part.
func (k *Curve) span(c int) (lo, hi int) {
	d := k.Density[c]
	lo, hi = 0, len(d)-1
	for lo < len(d) && math.IsNaN(d[lo]) {
		lo++
	}
	for hi >= 0 && math.IsNaN(d[hi]) {
		hi--
	}
	return lo, hi
}
