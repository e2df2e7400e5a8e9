package adversary

import (
	"math"
	"slices"
)

// tone is a correction of one channel: over the cube root of light, and in it.
type tone struct {
	x, y []float64
	fast *table // over the root of light; nil: not made
}

// quick is at by a table, for single pixels.
func (t *tone) quick(p float64) float64 {
	if t == nil {
		return p
	}
	return float64(t.fast.at(sqrt(float32(p))))
}

// ready makes the tables.
func ready(t *[3]*tone) {
	for c := range t {
		t[c].fast = tabulate(0, 1, 4096, func(u float64) float64 { return t[c].at(u * u) })
	}
}

func (t *tone) at(p float64) float64 {
	if t == nil {
		return p
	}
	x := math.Cbrt(p)
	n := len(t.x) - 1
	var y float64
	switch i, _ := slices.BinarySearch(t.x, x); {
	case i == 0:
		y = t.y[0] * x / t.x[0]
	case i > n:
		y = t.y[n] * x / t.x[n]
	default:
		y = t.y[i-1] + (x-t.x[i-1])/(t.x[i]-t.x[i-1])*(t.y[i]-t.y[i-1])
	}
	return y * y * y
}

func gainTone(g float64) *tone { k := math.Cbrt(g); return &tone{x: []float64{1}, y: []float64{k}} }
