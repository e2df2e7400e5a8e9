package model

import (
	"math"
	"sort"

	"stopladder/analysis/film/response"
)

// The tables of a layer's curve.
const (
	stopLog   = 0.30102999566398119521 // log10 2
	curveStep = 0.005                  // of log10 exposure
	backStep  = 0.002                  // of density
	drawnOn   = 1.5                    // of log10 exposure beyond what the roll covers: more than the span of any bracket from there
	cutSigmas = 5                      // of noise and texture: what is cut off beyond moves no mean
	bendStep  = 0.3                    // of log10 exposure over which an end's bend is read: about a stop
)

// layer is one layer's curve: density against log10 exposure, falling, drawn on beyond
// what the roll covers. There its slope goes on to shrink as it did over the last stop, as
// that of a shoulder or a toe does, and never grows.
type layer struct {
	lo      float64   // log10 exposure of the first density
	d       []float32 // falling
	covered [2]float64
	least   float64   // density of the first entry of back
	back    []float32 // log10 exposure by density
	sigma   []float32 // standard deviation of a pixel's log10 exposure, by density; +Inf where noise is not known
}

// newLayer takes channel c's response. full and empty are the densities of the scan's
// ceiling and floor, and sigma the noise of a density, NaN where it is not known: so near
// to an end that noise is cut off, means are not the light's, and the curve is drawn on
// from before there.
func newLayer(k *response.Curve, c int, full, empty float64, sigma func(d float64) float64) *layer {
	a, b := k.Channels[c].Covered[0], k.Channels[c].Covered[1]
	cut := func(e float64) bool {
		d := k.At(c, e)
		s := cutSigmas * sigma(d)
		return d < full+s || math.Pow(10, -d)-math.Pow(10, -empty) < math.Pow(10, -d)*math.Ln10*s
	}
	for b-a > 1 && cut(b) {
		b -= curveStep
	}
	for b-a > 1 && cut(a) {
		a += curveStep
	}
	l := &layer{lo: a - drawnOn, covered: [2]float64{a, b}}
	end := func(at, in float64) (slope, fade float64) {
		const e = stopLog / 2 // a spline's own turns even out over it
		slope = math.Abs(k.At(c, at)-k.At(c, at+in*e)) / e
		inner := math.Abs(k.At(c, at+in*bendStep)-k.At(c, at+in*(bendStep+e))) / e
		if !(inner > slope*1.001) || !(slope > 0) {
			return slope, math.Inf(1)
		}
		return slope, math.Max(0.05, bendStep/math.Log(inner/slope))
	}
	way := func(slope, fade, x float64) float64 {
		if math.IsInf(fade, 1) {
			return slope * x
		}
		return slope * fade * -math.Expm1(-x/fade)
	}
	dark, darkFade := end(a, 1)
	light, lightFade := end(b, -1)
	da, db := k.At(c, a), k.At(c, b)
	n := int((b-a+2*drawnOn)/curveStep) + 2
	l.d = make([]float32, n)
	for i := range l.d {
		switch x := l.lo + float64(i)*curveStep; {
		case x < a:
			l.d[i] = float32(da + way(dark, darkFade, a-x))
		case x > b:
			l.d[i] = float32(db - way(light, lightFade, x-b))
		default:
			l.d[i] = float32(k.At(c, x))
		}
		if i > 0 {
			l.d[i] = min(l.d[i], l.d[i-1])
		}
	}
	l.invert()
	return l
}

func (l *layer) invert() {
	l.least = float64(l.d[len(l.d)-1])
	l.back = make([]float32, int((float64(l.d[0])-l.least)/backStep)+2)
	for i := range l.back {
		d := float32(l.least + float64(i)*backStep)
		k := sort.Search(len(l.d), func(j int) bool { return l.d[j] <= d })
		t := 0.0
		switch {
		case k == len(l.d):
			k--
		case k > 0 && l.d[k-1] > l.d[k]:
			t = float64((l.d[k] - d) / (l.d[k-1] - l.d[k]))
		}
		l.back[i] = float32(l.lo + (float64(k)-math.Max(0, t))*curveStep)
	}
}

// at returns the density of a log10 exposure.
func (l *layer) at(e float32) float32 {
	u := (e - float32(l.lo)) * (1 / curveStep)
	if !(u > 0) {
		return l.d[0]
	}
	i := int(u)
	if i >= len(l.d)-1 {
		return l.d[len(l.d)-1]
	}
	return l.d[i] + (u-float32(i))*(l.d[i+1]-l.d[i])
}

// exposure returns the log10 exposure of a density, and the standard deviation of that of
// a pixel.
func (l *layer) exposure(d float32) (e, sigma float32) {
	u := (d - float32(l.least)) * (1 / backStep)
	if !(u > 0) {
		return l.back[0], l.sigma[0]
	}
	i := int(u)
	if i >= len(l.back)-1 {
		i = len(l.back) - 1
		return l.back[i], l.sigma[i]
	}
	return l.back[i] + (u-float32(i))*(l.back[i+1]-l.back[i]), l.sigma[i]
}

// third returns by how much a third of a stop about e moves the density.
func (l *layer) third(e float64) float64 {
	return float64(l.at(float32(e-stopLog/6)) - l.at(float32(e+stopLog/6)))
}
