package model

import (
	"math"
	"sort"

	"stopladder/analysis/film/response"
)

// The tables of a layer's curve.
const (
	stopLog     = 0.30102999566398119521 // log10 2
	curveStep   = 0.005                  // of log10 exposure
	backStep    = 0.002                  // of density
	drawnOn     = 1.5                    // of log10 exposure beyond what the roll covers: more than the span of any bracket from there
	cutSigmas   = 5                      // of noise and texture: what is cut off beyond moves no mean
	mostDensity = 30                     // that a curve may span; film has 4
	leastLight  = 1e-7                   // of a curve drawn on
	runsOn      = 0.75                   // share of the slope a stop before: with more the curve runs into the scan's end
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
	speaks  []float64 // a third of a stop over the noise, by density as back; NaN where that is not known, nil: nowhere
}

// newLayer takes channel c's response. full is the density of the scan's ceiling, and
// sigma the noise of a density, NaN where it is not known: where light runs into the
// ceiling noise and texture are cut off, means are not the light's, and the curve is drawn
// on from before there. (At the dark end the response leaves out what noise drowns.) nil
// is returned where the response covers too little to be drawn on: scans that hardly
// differ, which are no bracket.
func newLayer(k *response.Curve, c int, full float64, sigma func(d float64) float64) *layer {
	a, b := k.Channels[c].Covered[0], k.Channels[c].Covered[1]
	x := b
	for d := k.At(c, x); x-a > 1 && d < full+cutSigmas*sigma(d); d = k.At(c, x) {
		x -= curveStep
	}
	// A curve that bends before it comes there ends by itself, and is taken as it is.
	const h = stopLog / 2
	if last, before := k.At(c, x-h)-k.At(c, x), k.At(c, x-3*h)-k.At(c, x-2*h); last > runsOn*before {
		b = x
	}
	l := &layer{lo: a - drawnOn, covered: [2]float64{a, b}}
	// end returns the slope at an end and the way over which it shrinks to a 1/e.
	end := func(f func(e float64) float64, at, in, h float64) (slope, fade float64) {
		last := math.Abs(f(at)-f(at+in*h)) / h
		before := math.Abs(f(at+in*1.5*h)-f(at+in*2.5*h)) / h
		if !(before > last*1.001) || !(last > 0) {
			return last, math.Inf(1)
		}
		fade = math.Max(0.05, 1.5*h/math.Log(before/last))
		return last * math.Exp(-h/2/fade), fade
	}
	way := func(slope, fade, x float64) float64 {
		if math.IsInf(fade, 1) {
			return slope * x
		}
		return slope * fade * -math.Expm1(-x/fade)
	}
	// At the dark end in light, where a scanner takes its black off and density runs away.
	lightOf := func(e float64) float64 { return math.Pow(10, -k.At(c, e)) }
	dark, darkFade := end(lightOf, a, 1, stopLog) // a toe bends slowly: over a stop the curve's own waves even out
	light, lightFade := end(func(e float64) float64 { return k.At(c, e) }, b, -1, h)
	ya, db := lightOf(a), k.At(c, b)
	n := int((b-a+2*drawnOn)/curveStep) + 2
	l.d = make([]float32, n)
	for i := range l.d {
		switch x := l.lo + float64(i)*curveStep; {
		case x < a:
			l.d[i] = float32(-math.Log10(math.Max(ya-way(dark, darkFade, a-x), leastLight)))
		case x > b:
			l.d[i] = float32(db - way(light, lightFade, x-b))
		default:
			l.d[i] = float32(k.At(c, x))
		}
		if i > 0 {
			l.d[i] = min(l.d[i], l.d[i-1])
		}
	}
	if span := float64(l.d[0]) - float64(l.d[n-1]); !(span >= 0 && span < mostDensity) {
		return nil
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
			t = float64((d - l.d[k]) / (l.d[k-1] - l.d[k]))
		}
		l.back[i] = float32(l.lo + (float64(k)-t)*curveStep)
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

// stop returns by how much a stop about e moves the density: a curve that was measured has
// waves of about as long, which turn even out over it.
func (l *layer) stop(e float64) float64 {
	return float64(l.at(float32(e-stopLog/2)) - l.at(float32(e+stopLog/2)))
}
