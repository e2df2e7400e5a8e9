package plot

import (
	"math"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
)

// stopLog is a stop in log10 exposure.
var stopLog = math.Log10(2)

// Data is what a response plot shows. Everything may be missing.
type Data struct {
	Roll  string // the roll's title, for the names of the exports
	Curve *response.Curve
	// Reason is the sentence that stands in the plot's place when Curve is nil.
	Reason string
	Grey   bool // the scans have one channel: one curve is drawn
	Frames []Frame
	// Ceiling and Floor are the densities of the base scan's ceiling (its lightest)
	// and floor (its darkest), per channel; NaN or infinite where there is none.
	Ceiling, Floor [3]float64
}

// Frame is where a frame's mid-grey lies.
type Frame struct {
	Stop            float64  // as labelled
	Name            string   // "" is the stop
	Labelled        bool     // false: it has no label, Stop says nothing
	Measured, Error *float64 // measured stop and its standard error; nil: not measured
}

// Off returns how far the measured stop lies from the label in stops; ok is false
// where one of them is missing.
func (f Frame) Off() (float64, bool) {
	if !f.Labelled || f.Measured == nil || !finite(*f.Measured) || !finite(f.Stop) {
		return 0, false
	}
	return *f.Measured - f.Stop, true
}

// Of gathers the plot of a measured roll's response.
func Of(r *film.Roll) Data {
	d := fromResult(r.Response, r.Fitted)
	d.Roll = r.Judged.Called()
	return d
}

// fromResult gathers the plot of a response; frames are those that it was fitted to.
func fromResult(res *response.Result, frames []response.Frame) Data {
	nan := math.NaN()
	d := Data{Ceiling: [3]float64{nan, nan, nan}, Floor: [3]float64{nan, nan, nan}}
	if res == nil {
		d.Reason = "The response has not been measured yet."
		return d
	}
	d.Curve, d.Reason = res.Curve, res.Reason
	for i, f := range frames {
		p := Frame{Stop: f.Stop, Labelled: f.StopKnown}
		if i < len(res.Frames) {
			p.Measured, p.Error = res.Frames[i].MeasuredStop, res.Frames[i].MeasuredStopError
		}
		d.Frames = append(d.Frames, p)
	}
	if res.Base >= 0 && res.Base < len(frames) {
		if l := frames[res.Base].Look; l != nil && l.Space != nil {
			d.Grey = l.Info.Channels == 1
			top, low := measure.EndStops(l)
			d.Ceiling = densities(top)
			d.Floor = densities(low)
		}
	}
	return d
}

// densities of light given in stops below white.
func densities(stop measure.RGB[float64]) [3]float64 {
	return [3]float64{-stop.R * stopLog, -stop.G * stopLog, -stop.B * stopLog}
}

// channels returns those that have a curve, 0 R, 1 G, 2 B.
func (d *Data) channels() (out []int) {
	if d.Curve == nil || len(d.Curve.LogE) < 2 {
		return nil
	}
	for c := range 3 {
		if d.Grey && c > 0 {
			break
		}
		if lo, hi := d.covered(c); hi > lo {
			out = append(out, c)
		}
	}
	return out
}

// covered returns the first and last index of channel c's curve; hi < lo where it has
// none.
func (d *Data) covered(c int) (lo, hi int) {
	if d.Curve == nil {
		return 0, -1
	}
	k := d.Curve.Density[c]
	if len(k) != len(d.Curve.LogE) {
		return 0, -1
	}
	lo, hi = 0, len(k)-1
	for lo < len(k) && !finite(k[lo]) {
		lo++
	}
	for hi >= 0 && !finite(k[hi]) {
		hi--
	}
	return lo, hi
}

// Part is a part of the curve.
type Part string

// Parts, from little exposure to much. Flat is where the film no longer
// separates tones, before the toe or after the shoulder.
const (
	Toe      Part = "toe"
	Straight Part = "straight line"
	Shoulder Part = "shoulder"
	Flat     Part = "flat"
)

// Reading is what the plot says at one exposure.
type Reading struct {
	Stop, LogE float64 // stops from mid-grey of the base exposure; log10 H from there
	Channels   [3]ChannelReading
}

// ChannelReading of one channel; OK is false where the roll says nothing.
type ChannelReading struct {
	OK      bool
	Density float64
	Sigma   float64 // standard error of Density; NaN unknown
	Slope   float64 // density per log10 exposure, positive
	Part    Part
}

// At reads all channels at a stop.
func (d *Data) At(stop float64) Reading {
	r := Reading{Stop: stop, LogE: stop * stopLog}
	for _, c := range d.channels() {
		den, ok := d.value(d.Curve.Density[c], r.LogE)
		if !ok {
			continue
		}
		q := ChannelReading{OK: true, Density: den, Sigma: math.NaN(), Slope: d.slope(c, r.LogE), Part: d.part(c, r.LogE)}
		if s, ok := d.value(d.Curve.Sigma[c], r.LogE); ok {
			q.Sigma = s
		}
		r.Channels[c] = q
	}
	return r
}

// value interpolates v, which stands on the curve's grid.
func (d *Data) value(v []float64, logE float64) (float64, bool) {
	x := d.Curve.LogE
	n := len(x)
	if len(v) != n || n < 2 || !(logE >= x[0] && logE <= x[n-1]) {
		return math.NaN(), false
	}
	i := min(int((logE-x[0])/(x[n-1]-x[0])*float64(n-1)), n-2)
	t := (logE - x[i]) / (x[i+1] - x[i])
	a, b := v[i], v[i+1]
	switch { // a grid point stands for itself, whatever its neighbour is
	case t <= 1e-9:
		b = a
	case t >= 1-1e-9:
		a = b
	}
	y := a + t*(b-a)
	return y, finite(y)
}

// slope returns the central difference over two grid steps, one-sided at the ends.
func (d *Data) slope(c int, logE float64) float64 {
	x := d.Curve.LogE
	h := (x[len(x)-1] - x[0]) / float64(len(x)-1)
	lo, hi := logE-h, logE+h
	a, ok := d.value(d.Curve.Density[c], lo)
	if !ok {
		lo = logE
		a, _ = d.value(d.Curve.Density[c], lo)
	}
	b, ok := d.value(d.Curve.Density[c], hi)
	if !ok {
		hi = logE
		b, _ = d.value(d.Curve.Density[c], hi)
	}
	if hi <= lo {
		return math.NaN()
	}
	return (a - b) / (hi - lo)
}

func (d *Data) part(c int, logE float64) Part {
	ch := d.Curve.Channels[c]
	switch {
	case !(ch.Gamma > 0):
		return ""
	case logE < ch.Useful[0] && !ch.UsefulOpen[0], logE > ch.Useful[1] && !ch.UsefulOpen[1]:
		return Flat
	case logE < ch.Straight[0]:
		return Toe
	case logE > ch.Straight[1]:
		return Shoulder
	}
	return Straight
}
