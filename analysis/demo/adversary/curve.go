package adversary

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// Curve is a characteristic curve: density against log10 of exposure, 0 being the
// exposure of an 18 % grey as metered. It rises (negative film) or falls (reversal)
// everywhere.
type Curve func(logH float64) float64

// Logistic returns the logistic curve between two densities with its steepest slope
// gamma at log exposure mid; gamma is negative for reversal film. The logistic is an
// old model of the D-log H curve (from memory, no source at hand).
func Logistic(low, high, gamma, mid float64) Curve {
	k := 4 * gamma / (high - low)
	return func(x float64) float64 { return low + (high-low)/(1+math.Exp(-k*(x-mid))) }
}

// Normal returns a cumulative normal distribution between two densities: the curve of
// an emulsion whose grains' sensitivities lie normally in log exposure (from memory).
func Normal(low, high, gamma, mid float64) Curve {
	s := (high - low) / (gamma * math.Sqrt(2*math.Pi))
	return func(x float64) float64 {
		return low + (high-low)*0.5*math.Erfc(-(x-mid)/(s*math.Sqrt2))
	}
}

// Points returns a curve through points of a densitometer's kind, joined monotonically
// (Fritsch & Butland 1984, by gonum) and level beyond its ends but for a last thousandth
// a stop, so that it has an inverse.
func Points(x, y []float64) Curve {
	var f interp.FritschButland
	if err := f.Fit(x, y); err != nil {
		panic(err) // a curve of this package or of a test that is none
	}
	n := len(x) - 1
	sign := 1.0
	if y[n] < y[0] {
		sign = -1
	}
	return func(v float64) float64 {
		switch {
		case v < x[0]:
			return y[0] + sign*0.001*(v-x[0])/stop
		case v > x[n]:
			return y[n] + sign*0.001*(v-x[n])/stop
		}
		return f.Predict(v)
	}
}

// Stretched returns the curve of a layer whose contrast is k times this one's and whose
// speed is shift in log exposure higher.
func (c Curve) Stretched(k, shift float64) Curve {
	return func(x float64) float64 { return c(x*k + shift) }
}

// stop is one stop in log10 of exposure.
const stop = 0.30102999566398119521

// The span of exposures that a film is asked about, in stops from mid-grey.
const (
	dimmest   = -18.0
	brightest = 14.0
)

// table is a function on an even grid, read by straight lines: quick, and continuous.
type table struct {
	lo, per float64 // first argument; entries a unit
	v       []float32
}

func tabulate(lo, hi float64, per int, f func(float64) float64) *table {
	t := &table{lo: lo, per: float64(per), v: make([]float32, int((hi-lo)*float64(per))+2)}
	for i := range t.v {
		t.v[i] = float32(f(lo + float64(i)/t.per))
	}
	return t
}

func (t *table) at(x float32) float32 {
	u := (x - float32(t.lo)) * float32(t.per)
	if !(u > 0) {
		return t.v[0]
	}
	i := int(u)
	if i >= len(t.v)-1 {
		return t.v[len(t.v)-1]
	}
	d := u - float32(i)
	return t.v[i] + d*(t.v[i+1]-t.v[i])
}
