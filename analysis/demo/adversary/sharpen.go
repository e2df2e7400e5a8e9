package adversary

import "math"

// unsharp sharpens codes (0..1, 3 a pixel) as scanners do: what a Gauss blur of radius
// pixels takes away is added once more, so many times. What leaves the scale is cut off.
func unsharp(codes []float32, w, h int, amount, radius float64) {
	k := gaussKernel(radius)
	plane, once, twice := make([]float32, w*h), make([]float32, w*h), make([]float32, w*h)
	for c := range 3 {
		for i := range plane {
			plane[i] = codes[3*i+c]
		}
		blurRows(once, plane, w, h, k)
		blurColumns(twice, once, w, h, k)
		for i, v := range plane {
			codes[3*i+c] = max(0, min(1, v+float32(amount)*(v-twice[i])))
		}
	}
}

// sharper returns by how much unsharp raises the standard deviation of small noise whose
// grain has a Gauss blur of sd pixels; 0 is noise without autocorrelation.
func sharper(sd, amount, radius float64) float64 {
	if amount == 0 {
		return 1
	}
	g := gaussKernel(radius)
	alike := func(d int) float64 {
		switch {
		case d == 0:
			return 1
		case sd == 0:
			return 0
		}
		return math.Exp(-float64(d*d) / (4 * sd * sd))
	}
	r := len(g) / 2
	var once, twice float64 // along one of two dimensions
	for i := range g {
		once += float64(g[i]) * alike(i-r)
		for j := range g {
			twice += float64(g[i]) * float64(g[j]) * alike(i-j)
		}
	}
	return math.Sqrt((1+amount)*(1+amount) - 2*amount*(1+amount)*once*once + amount*amount*twice*twice)
}
