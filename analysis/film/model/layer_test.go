package model

import (
	"math"
	"testing"
)

// The exposure of a density is the one that gives it, between the points of the tables too:
// against a logistic curve, whose inverse is known in closed form.
func TestExposureInvertsTheCurve(t *testing.T) {
	const low, high, steep = 0.1, 3.2, 2.4
	l := &layer{lo: -3}
	for i := range 1200 {
		x := l.lo + float64(i)*curveStep
		l.d = append(l.d, float32(low+(high-low)/(1+math.Exp(steep*x))))
	}
	l.invert()
	l.sigma = make([]float32, len(l.back))
	for d := 0.3; d < 3; d += 0.0137 {
		e, _ := l.exposure(float32(d))
		if want := math.Log((high-low)/(d-low)-1) / steep; math.Abs(float64(e)-want) > 2e-4 {
			t.Errorf("density %.3f is given by %.5f, by the tables by %.5f", d, want, e)
		}
		if back := l.at(e); math.Abs(float64(back)-d) > 2e-4 {
			t.Errorf("density %.4f comes back as %.4f", d, back)
		}
	}
}
