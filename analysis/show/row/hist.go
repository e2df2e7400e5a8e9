package row

import (
	"image"
	"image/color"
	"math"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/paint"
)

// histPeak returns the largest share per stop between the scan's floor and ceiling, in
// a quarter-stop around each bin: neither what piles up at the limits nor a spike of
// one code counts as a peak.
func histPeak(d *Data) float64 {
	best := 0.0
	floor, ceiling := [3]float64{d.Floor.R, d.Floor.G, d.Floor.B}, [3]float64{d.Ceiling.R, d.Ceiling.G, d.Ceiling.B}
	for k, ch := range d.Hist {
		n := len(ch)
		if n < 8 {
			continue
		}
		perStop := float64(n) / (HistHi - HistLo)
		first, last := 1, n-1
		const clear = 0.1 // stops beside a limit that belong to its pile
		if v := floor[k]; known(v) && d.Look != nil {
			first = max(first, int((v+clear-HistLo)*perStop)+1)
		}
		if v := ceiling[k]; known(v) && d.Look != nil {
			last = min(last, int((v-clear-HistLo)*perStop))
		}
		win := max(1, int(perStop/4))
		sum := 0.0
		for i := first; i < last; i++ {
			sum += ch[i]
			if i-win >= first {
				sum -= ch[i-win]
			}
			best = math.Max(best, sum/float64(win)*perStop)
		}
	}
	return best
}

// heights reduces a histogram to n columns of height 0..1 against top (share
// per stop). Between bins it averages, never picks. Height is the square root of
// the share, so that a small patch and a wide sky are seen on one scale.
func heights(ch []float64, n int, top float64) []float64 {
	out := make([]float64, n)
	if len(ch) == 0 || n == 0 || !(top > 0) {
		return out
	}
	perStop := float64(len(ch)) / (HistHi - HistLo)
	for i := range out {
		a := float64(i) / float64(n) * float64(len(ch))
		b := float64(i+1) / float64(n) * float64(len(ch))
		sum := 0.0
		for k := int(a); k < len(ch) && float64(k) < b; k++ {
			sum += ch[k] * (math.Min(b, float64(k+1)) - math.Max(a, float64(k)))
		}
		out[i] = math.Sqrt(sum / (b - a) * perStop / top)
	}
	return out
}

// HistogramHeights returns the histogram of each channel as n columns of height 0..1, on the
// scale that the roll's rows share; nil for a channel without one.
func HistogramHeights(d *Data, n int) (out [3][]float64) {
	top := d.Scales.Hist
	if !(top > 0) {
		top = histPeak(d)
	}
	for k := range d.Hist {
		if len(d.Hist[k]) > 0 && top > 0 {
			out[k] = heights(d.Hist[k], n, top)
		}
	}
	return out
}

// histX returns the pixel of a stop on the histogram's axis.
func histX(r image.Rectangle, stop float64) int {
	return r.Min.X + int(math.Round((stop-HistLo)/(HistHi-HistLo)*float64(r.Dx())))
}

func histogramColumn() Column {
	return Column{ID: "histogram", Title: "Histogram, stops", Short: "Histogram", Unit: "stops below white", Min: 70, Ideal: 150, Max: 250, Priority: 2,
		Draw: drawHistogram, DrawHead: histHead}
}

// histHead draws the axis that all histograms below it share.
func histHead(c *paint.Canvas, r image.Rectangle, _ []*Data) {
	plot := histPlot(c, r)
	st := dim(c, sizeTiny)
	step := 2
	if r.Dx() < c.Px(110) {
		step = 5
	}
	y := float64(r.Max.Y) - c.U(7)
	for s := int(HistLo); s <= int(HistHi); s += step {
		x := histX(plot, float64(s))
		st.Align = paint.Centre
		fx := float64(x)
		switch s {
		case int(HistLo):
			st.Align, fx = paint.Left, float64(r.Min.X)
		case 0:
			st.Align, fx = paint.Right, float64(r.Max.X)
		}
		c.Text(fx, y, number.Fixed(float64(s), 0), st)
		c.VLine(min(x, plot.Max.X-c.Px(1)), r.Max.Y-c.Px(4), r.Max.Y, 1, c.Pal.Strong)
	}
}

// histPlot leaves room right of white, so that a pile-up there and its mark
// stand clear of the edge.
func histPlot(c *paint.Canvas, r image.Rectangle) image.Rectangle {
	r.Max.X -= c.Px(3)
	r.Min.X += c.Px(1)
	return r
}

func drawHistogram(c *paint.Canvas, r image.Rectangle, d *Data) {
	if most := c.Px(150); r.Dy() > most {
		r.Min.Y += (r.Dy() - most) / 2
		r.Max.Y = r.Min.Y + most
	}
	c.Fill(r, c.Pal.Well)
	plot := histPlot(c, r)
	if float64(r.Dy()) > c.U(30) {
		for s := -8; s <= -2; s += 2 {
			c.VLine(histX(plot, float64(s)), r.Min.Y, r.Max.Y, 1, paint.Alpha(c.Pal.Rule, 0.55))
		}
	}
	top := d.Scales.Hist
	if !(top > 0) {
		top = histPeak(d)
	}
	histCurves(c, plot, d.Hist, top, 1.2)
	histLimits(c, plot, r, d)
}

// histCurves draws the three channels: a faint fill each and a full line each,
// so that all stay legible where they overlap.
func histCurves(c *paint.Canvas, plot image.Rectangle, h [3][]float64, top, width float64) {
	if !(top > 0) || plot.Dx() < 4 {
		return
	}
	plot.Min.Y += c.Px(1)
	var ys [3][]float64
	for k := range h {
		if len(h[k]) == 0 {
			continue
		}
		ys[k] = heights(h[k], max(2, int(float64(plot.Dx())/math.Max(1, c.Scale))), top)
		c.Curve(plot, ys[k], 0, color.NRGBA{}, paint.Alpha(c.Pal.Channel[k], 0.16))
	}
	for k := range h {
		if ys[k] != nil {
			c.Curve(plot, ys[k], width, c.Pal.Channel[k], color.NRGBA{})
		}
	}
}

// histLimits marks the scan's ceiling (dashed, with a notch at the top) and
// floor (dotted, with a notch at the foot). Channels that agree share a mark.
func histLimits(c *paint.Canvas, plot, r image.Rectangle, d *Data) {
	mark := func(v measure.RGB[float64], up bool) {
		seen := map[int]bool{}
		for _, s := range [3]float64{v.R, v.G, v.B} {
			if math.IsNaN(s) || math.IsInf(s, 1) || d.Look == nil {
				continue
			}
			s = math.Max(HistLo, math.Min(HistHi, s))
			x := min(histX(plot, s), r.Max.X-1)
			if seen[x] {
				continue
			}
			seen[x] = true
			q := c.U(3.2)
			fx := float64(x)
			if up {
				c.VDash(x, r.Min.Y, r.Max.Y, 1, 3, 2, c.Pal.Blown)
				fy := float64(r.Min.Y)
				c.Area([]paint.Pt{{X: fx - q, Y: fy}, {X: fx + q, Y: fy}, {X: fx, Y: fy + q*1.3}}, c.Pal.Blown)
			} else {
				c.VDash(x, r.Min.Y, r.Max.Y, 1, 1, 3, c.Pal.Blocked)
				fy := float64(r.Max.Y)
				c.Area([]paint.Pt{{X: fx - q, Y: fy}, {X: fx + q, Y: fy}, {X: fx, Y: fy - q*1.3}}, c.Pal.Blocked)
			}
		}
	}
	mark(d.Ceiling, true)
	mark(d.Floor, false)
}
