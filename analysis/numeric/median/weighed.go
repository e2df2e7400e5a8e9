package median

import "cmp"

// Weighed is a reading that counts as much as its weight, 0 or more.
type Weighed struct{ Value, Weight float64 }

// Reaching returns the least value for which it and those below it weigh as much as
// asked, the largest of all where they never do, and 0 of none: the weighted quantile,
// without interpolation. It puts v into another order, those up to that value first, and
// returns how many they are.
//
// It is Hoare's selection with sums in the place of counts: in time proportional to the
// readings, where sorting them takes a logarithm more.
func Reaching(v []Weighed, weight float64) (value float64, upTo int) {
	if len(v) == 0 {
		return 0, 0
	}
	lo, hi, below := 0, len(v), 0.0 // the value is in v[lo:hi]; what stands before weighs below
	for hi-lo > 1 {
		pivot := middle(v[lo].Value, v[lo+(hi-lo)/2].Value, v[hi-1].Value)
		less, more, sum, same := lo, hi, 0.0, 0.0 // v[lo:less] < pivot, v[more:hi] > pivot
		for i := lo; i < more; {
			switch x := v[i]; {
			case cmp.Less(x.Value, pivot):
				v[i], v[less] = v[less], x
				sum += x.Weight
				less++
				i++
			case cmp.Less(pivot, x.Value):
				more--
				v[i], v[more] = v[more], x
			default:
				same += x.Weight
				i++
			}
		}
		switch {
		case less > lo && below+sum >= weight:
			hi = less
		case below+sum+same >= weight || more == hi:
			return pivot, more
		default:
			lo, below = more, below+sum+same
		}
	}
	return v[lo].Value, hi
}

// middle returns the middle of three.
func middle[T cmp.Ordered](a, b, c T) T {
	if cmp.Less(b, a) {
		a, b = b, a
	}
	if cmp.Less(c, b) {
		b = c
		if cmp.Less(b, a) {
			b = a
		}
	}
	return b
}
