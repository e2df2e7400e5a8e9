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
	s := slices.Clone(v)
	upper := nth(s, len(s)/2)
	if len(s)%2 == 1 {
		return upper
	}
	lower := s[0] // the largest of those before the middle
	for _, x := range s[1 : len(s)/2] {
		if cmp.Less(lower, x) {
			lower = x
		}
	}
	return (lower + upper) / 2
}

// Upper returns the one in the middle, of an even number the larger of the two, so
// that it is one of v; the zero value of none.
func Upper[T cmp.Ordered](v []T) (m T) {
	if len(v) == 0 {
		return m
	}
	return nth(slices.Clone(v), len(v)/2)
}

// nth returns what would stand at index k if s were sorted, and puts it there with
// nothing larger before it (Hoare's selection, CACM 4(7), 1961: algorithm 65).
func nth[T cmp.Ordered](s []T, k int) T {
	for lo, hi := 0, len(s)-1; lo < hi; {
		// The middle of three as pivot: readings often come in order.
		b := middle(s[lo], s[lo+(hi-lo)/2], s[hi])
		i, j := lo, hi
		for i <= j {
			for cmp.Less(s[i], b) {
				i++
			}
			for cmp.Less(b, s[j]) {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return s[k]
		}
	}
	return s[k]
}
