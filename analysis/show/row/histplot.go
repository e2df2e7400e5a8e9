package row

import (
	"fmt"
	"image"
	"math"

	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/paint"
)

// PlotOptions are for the large histogram.
type PlotOptions struct {
	Hover   bool // a pointer is over the plot
	HoverX  int  // its device pixel, in the coordinates of the rectangle
	OwnPeak bool // scale to this frame alone instead of to the roll
}

// plotArea returns the plot inside the rectangle of HistogramPlot.
func plotArea(c *paint.Canvas, r image.Rectangle) image.Rectangle {
	return image.Rect(r.Min.X+c.Px(10), r.Min.Y+c.Px(24), r.Max.X-c.Px(12), r.Max.Y-c.Px(34))
}

// HistogramStop returns the stop that lies at device pixel x of a HistogramPlot in r;
// ok is false beside the plot.
func HistogramStop(c *paint.Canvas, r image.Rectangle, x int) (stop float64, ok bool) {
	p := plotArea(c, r)
	if p.Dx() <= 0 || x < p.Min.X || x >= p.Max.X {
		return 0, false
	}
	return HistLo + (float64(x-p.Min.X)+0.5)/float64(p.Dx())*(HistHi-HistLo), true
}

// HistogramPlot draws one frame's histogram large: the stops axis with its
// words, the scan's ceiling and floor, the shares lost at both ends, and, where
// the pointer is, the reading there.
func HistogramPlot(c *paint.Canvas, r image.Rectangle, d *Data, o PlotOptions) {
	if r.Empty() || d == nil {
		return
	}
	c = c.Clipped(r)
	plot := plotArea(c, r)
	if plot.Dx() < c.Px(60) || plot.Dy() < c.Px(20) {
		c.Fill(r, c.Pal.Panel)
		drawHistogram(c, r.Inset(c.Px(4)), d)
		return
	}
	c.Fill(r, c.Pal.Panel)
	c.Fill(plot, c.Pal.Well)
	small := dim(c, sizeSmall)
	for s := int(HistLo); s <= int(HistHi); s++ {
		x := min(histX(plot, float64(s)), plot.Max.X-1)
		heavy := s%2 == 0
		if heavy {
			c.VLine(x, plot.Min.Y, plot.Max.Y, 1, paint.Alpha(c.Pal.Rule, 0.7))
			c.VLine(x, plot.Max.Y, plot.Max.Y+c.Px(5), 1, c.Pal.Strong)
			c.Text(float64(x), float64(plot.Max.Y)+c.U(15), number.Fixed(float64(s), 0), small.Aligned(paint.Centre))
		} else {
			c.VLine(x, plot.Max.Y, plot.Max.Y+c.Px(3), 1, c.Pal.Strong)
		}
	}
	foot := image.Rect(plot.Min.X, plot.Max.Y+c.Px(17), plot.Max.X, r.Max.Y-c.Px(2))
	words := "stops below white; height is the square root of the share of the image area"
	if c.Width(words, small) > float64(foot.Dx()) {
		words = "stops below white"
	}
	c.TextIn(foot, words, small.Aligned(paint.Centre))

	top := d.Scales.Hist
	if o.OwnPeak || !(top > 0) {
		top = histPeak(d)
	}
	if len(d.Hist[0]) == 0 {
		c.TextIn(plot, "no histogram yet", small.Aligned(paint.Centre))
		return
	}
	histCurves(c.Clipped(plot), plot, d.Hist, top, 1.5)
	histLimits(c, plot, plot, d)

	ends(c, r, plot, d)
	if o.Hover {
		hover(c, r, plot, d, o.HoverX)
	}
}

// ends writes what piled up at the two ends above the plot.
func ends(c *paint.Canvas, r, plot image.Rectangle, d *Data) {
	if d.Look == nil {
		return
	}
	line := image.Rect(plot.Min.X, r.Min.Y+c.Px(4), plot.Max.X, plot.Min.Y-c.Px(3))
	left, right := line, line
	left.Max.X = (line.Min.X + line.Max.X) / 2
	right.Min.X = left.Max.X + c.Px(6)
	st := text(c, sizeSmall)
	sw := c.Px(10)
	key := func(x int, k paint.Kind) {
		mid := (line.Min.Y + line.Max.Y) / 2
		q := image.Rect(x, mid-sw/2, x+sw, mid+sw/2)
		c.Fill(q, c.Pal.Well)
		c.FillMask(q, k, true)
	}
	key(left.Min.X, paint.Blocked)
	left.Min.X += sw + c.Px(5)
	c.TextIn(left, "Blocked "+Percent(d.Look.Blocked.Any), st)
	w := int(math.Ceil(c.Width("Blown "+Percent(d.Look.Blown.Any), st)))
	c.TextIn(right, "Blown "+Percent(d.Look.Blown.Any), st.Aligned(paint.Right))
	if x := right.Max.X - w - sw - c.Px(5); x > right.Min.X {
		key(x, paint.Blown)
	}
}

func hover(c *paint.Canvas, r, plot image.Rectangle, d *Data, x int) {
	stop, ok := HistogramStop(c, r, x)
	if !ok {
		return
	}
	c.VLine(x, plot.Min.Y, plot.Max.Y, 1, c.Pal.Text)
	st := text(c, sizeSmall)
	rows := []string{fmt.Sprintf("%s stops", number.Fixed(stop, 1))}
	for k, name := range []string{"R", "G", "B"} {
		rows = append(rows, fmt.Sprintf("%s  %s at or below", name, Percent(below(d.Hist[k], stop))))
	}
	w := 0.0
	for _, s := range rows {
		w = math.Max(w, c.Width(s, st)+c.U(12))
	}
	lh := c.U(14)
	box := image.Rect(0, 0, int(w+c.U(16)), int(lh*float64(len(rows))+c.U(8))).Add(image.Pt(x+c.Px(8), plot.Min.Y+c.Px(6)))
	if box.Max.X > plot.Max.X {
		box = box.Add(image.Pt(x-c.Px(8)-box.Max.X, 0))
	}
	if box.Min.X < r.Min.X { // a narrow plot: keep it inside
		box = box.Add(image.Pt(r.Min.X-box.Min.X, 0))
	}
	c.RoundRect(box, 3, paint.Alpha(c.Pal.Surround, 0.94))
	for i, s := range rows {
		line := image.Rect(box.Min.X+c.Px(8), box.Min.Y+int(c.U(4)+lh*float64(i)), box.Max.X-c.Px(4), box.Min.Y+int(c.U(4)+lh*float64(i+1)))
		if i > 0 {
			mid := (line.Min.Y + line.Max.Y) / 2
			c.HLine(line.Min.X, line.Min.X+c.Px(8), mid, 2, c.Pal.Channel[i-1])
			line.Min.X += c.Px(12)
		}
		c.TextIn(line, s, st)
	}
}

// below returns the share of the image area at or below a stop.
func below(ch []float64, stop float64) float64 {
	n := int((stop - HistLo) / (HistHi - HistLo) * float64(len(ch)))
	sum := 0.0
	for i := 0; i <= n && i < len(ch); i++ {
		sum += ch[i]
	}
	return math.Min(1, sum)
}
