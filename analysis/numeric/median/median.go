// Package median finds the middle of readings.
package median

import (
	"cmp"
	"slices"
)

// Of returns the median, the mean of the middle two of an even number; 0 of none.
func Of(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(v))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// Upper returns the one in the middle, of an even number the larger of the two, so
// that it is one of v; the zero value of none.
func Upper[T cmp.Ordered](v []T) (m T) {
	if len(v) == 0 {
		return m
	}
	return slices.Sorted(slices.Values(v))[len(v)/2]
}
