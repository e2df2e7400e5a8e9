package agreement

import (
	"math"
	"slices"
)

// Range is one judge's range in stops, Lo <= Hi.
type Range struct{ Lo, Hi float64 }

// Ranges is how far ranges differ, in stops.
type Ranges struct {
	Judges   int
	All      *Range // the stops that all accept; nil where there are none
	Some     Range  // the stops that at least one accepts, from end to end
	Middle   Range  // the median of each end
	ApartLo  float64
	ApartHi  float64
	MeanOver float64 // mean over pairs of judges of the share that both accept of what one accepts, 0..1
}

// OfRanges compares ranges; nil for fewer than two.
func OfRanges(list []Range) *Ranges {
	if len(list) < 2 {
		return nil
	}
	var lo, hi []float64
	for _, g := range list {
		lo, hi = append(lo, g.Lo), append(hi, g.Hi)
	}
	slices.Sort(lo)
	slices.Sort(hi)
	last := len(list) - 1
	r := &Ranges{Judges: len(list), Some: Range{lo[0], hi[last]}, Middle: Range{middle(lo), middle(hi)},
		ApartLo: lo[last] - lo[0], ApartHi: hi[last] - hi[0]}
	if lo[last] <= hi[0] {
		r.All = &Range{lo[last], hi[0]}
	}
	n := 0
	for a := range list {
		for b := range a {
			r.MeanOver += overlap(list[a], list[b])
			n++
		}
	}
	r.MeanOver /= float64(n)
	return r
}

func middle(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// overlap is what two ranges share of what they cover together (Jaccard, 1901); equal ones
// share all, also where they are a single stop.
func overlap(a, b Range) float64 {
	if a == b {
		return 1
	}
	both := math.Min(a.Hi, b.Hi) - math.Max(a.Lo, b.Lo)
	if both <= 0 {
		return 0
	}
	return both / (a.Hi - a.Lo + b.Hi - b.Lo - both)
}
