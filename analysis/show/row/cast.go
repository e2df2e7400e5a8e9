package row

import (
	"fmt"
	"image"
	"math"

	"stopladder/analysis/film/cast"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/paint"
)

// castColumn shows the casts of neutrals at the levels of the three bands.
func castColumn() Column {
	return Column{ID: "cast", Title: "Cast", Unit: "of greys: a* across, b* up", Min: 46, Ideal: 72, Max: 120, Priority: 4,
		Draw: drawCast, DrawHead: castHead, Text: func(d *Data) []string {
			s := ""
			for i, name := range BandNames {
				if b := castOf(d, i); b != nil {
					s += fmt.Sprintf("%s a* %s b* %s ", name, number.Signed(b.DA, 1), number.Signed(b.DB, 1))
				}
			}
			return []string{s}
		}}
}

// BandNames are the tonal bands, in the order of measure.Band.
var BandNames = [measure.Bands]string{"Shadows", "Midtones", "Highlights"}

// castOf returns the cast of the neutral at a band's level, nil where it is not known.
func castOf(d *Data, i int) *cast.Shift {
	if d == nil || d.Casts[i] == nil || !known(d.Casts[i].DA) || !known(d.Casts[i].DB) {
		return nil
	}
	return d.Casts[i]
}

// castHead names the plane's span, and the three dots where there is room.
func castHead(c *paint.Canvas, r image.Rectangle, all []*Data) {
	span := 0.0
	for _, d := range all {
		if d != nil {
			span = math.Max(span, d.Scales.Cast)
		}
	}
	s := "a* b*"
	if span > 0 {
		s = fmt.Sprintf("a* b* ±%g", span)
	}
	c.TextIn(r, s, dim(c, sizeSmall))
}

// bandDots are the fills of the three dots: black, grey and white, as the bands
// are; each has a rim that shows it on any ground.
func bandDot(c *paint.Canvas, x, y, r float64, i int) {
	p := c.Pal
	switch measure.Band(i) {
	case measure.Shadows:
		c.Disc(x, y, r, p.Text)
		c.Disc(x, y, r-c.U(1), p.ShadowDot)
	case measure.Midtones:
		c.Disc(x, y, r, p.Text)
		c.Disc(x, y, r-c.U(1), p.MidDot)
	default:
		c.Disc(x, y, r+c.U(0.5), p.ShadowDot)
		c.Disc(x, y, r, p.High)
	}
}

func drawCast(c *paint.Canvas, r image.Rectangle, d *Data) {
	box := paint.Fit(r, 1, 1)
	box = box.Add(image.Pt(r.Min.X-box.Min.X, 0))
	castPlane(c, box, d)
}

// castPlane draws the a*b* plane: the cross is neutral, where the base frame's greys
// stand; a* runs to the right (redder), b* up (yellower).
func castPlane(c *paint.Canvas, box image.Rectangle, d *Data) {
	p := c.Pal
	c.Fill(box, p.Well)
	cx, cy := (box.Min.X+box.Max.X)/2, (box.Min.Y+box.Max.Y)/2
	c.HLine(box.Min.X, box.Max.X, cy, 1, p.Rule)
	c.VLine(cx, box.Min.Y, box.Max.Y, 1, p.Rule)
	span := d.Scales.Cast
	if !(span > 0) {
		m := 0.0
		for i := range BandNames {
			if b := castOf(d, i); b != nil {
				m = math.Max(m, math.Max(math.Abs(b.DA), math.Abs(b.DB)))
			}
		}
		span = castSpan(m)
	}
	rad := math.Max(c.U(2.2), math.Min(c.U(4), float64(box.Dx())/18))
	half := float64(box.Dx())/2 - rad - c.U(1)
	if half <= 0 {
		return
	}
	at := func(a, b float64) paint.Pt {
		k := func(v float64) float64 { return math.Max(-1, math.Min(1, v/span)) }
		return paint.Pt{X: float64(cx) + k(a)*half, Y: float64(cy) - k(b)*half}
	}
	castMarks(c, d, at, rad, 1.2)
}

// castMarks draws the frame's casts joined from shadows to highlights.
func castMarks(c *paint.Canvas, d *Data, at func(a, b float64) paint.Pt, rad, width float64) {
	p := c.Pal
	c.Polyline(castLine(d, at), width, p.Text)
	for i := measure.Bands - 1; i >= 0; i-- {
		if b := castOf(d, i); b != nil {
			q := at(b.DA, b.DB)
			bandDot(c, q.X, q.Y, rad, i)
		}
	}
}

// castLine returns the places of the bands that are known, from the shadows up.
func castLine(d *Data, at func(a, b float64) paint.Pt) (pts []paint.Pt) {
	for i := range BandNames {
		if b := castOf(d, i); b != nil {
			pts = append(pts, at(b.DA, b.DB))
		}
	}
	return pts
}

// BandDot draws the dot of a tonal band; the radius is device pixels.
func BandDot(c *paint.Canvas, x, y, r float64, b measure.Band) { bandDot(c, x, y, r, int(b)) }

// CastPlot draws the a*b* plane large: the casts of neutrals at the levels of the
// bands joined from shadows to highlights, so that crossover is seen as the length and
// direction of the line, and the other frames' lines faintly. The base frame's greys
// stand in the middle. A circle is
// drawn for every five units (ten where the span is over 30) up to the span.
func CastPlot(c *paint.Canvas, r image.Rectangle, d *Data, all []*Data) {
	p := c.Pal
	c = c.Clipped(r)
	c.Fill(r, p.Well)
	if d == nil || !(d.Scales.Cast > 0) || len(castLine(d, func(a, b float64) paint.Pt { return paint.Pt{} })) == 0 {
		st := dim(c, 12).Aligned(paint.Centre)
		words := "The casts are read when the whole roll is."
		switch {
		case d != nil && d.State == Failed:
			words = "This frame could not be read."
		case d != nil && d.CastReason != "":
			words = d.CastReason
		}
		c.TextIn(r, words, st)
		return
	}
	span := d.Scales.Cast
	cx, cy := float64(r.Min.X+r.Max.X)/2, float64(r.Min.Y+r.Max.Y)/2
	k := (math.Min(float64(r.Dx()), float64(r.Dy()))/2 - c.U(8)) / span
	at := func(a, b float64) paint.Pt { return paint.Pt{X: cx + a*k, Y: cy - b*k} }
	step := 5.0
	if span > 30 {
		step = 10
	}
	for v := step; v <= span+1e-9; v += step {
		c.Ring(cx, cy, v*k, 1, p.Rule)
		c.Text(cx+c.U(3), cy-v*k+c.U(10), fmt.Sprintf("%g", v), dim(c, sizeTiny))
	}
	c.HLine(r.Min.X, r.Max.X, int(cy), 1, p.Rule)
	c.VLine(int(cx), r.Min.Y, r.Max.Y, 1, p.Rule)
	pad := c.U(5)
	for _, w := range []struct {
		x, y  float64
		words string
		align paint.Align
	}{
		{float64(r.Max.X) - pad, cy - c.U(4), "redder  +a*", paint.Right}, {float64(r.Min.X) + pad, cy - c.U(4), "greener", paint.Left},
		{cx - c.U(5), float64(r.Min.Y) + c.U(12), "+b*  yellower", paint.Right}, {cx - c.U(5), float64(r.Max.Y) - pad, "bluer", paint.Right},
	} {
		c.Text(w.x, w.y, w.words, dim(c, sizeSmall).Aligned(w.align))
	}
	for _, o := range all {
		if o != nil && o != d && o.File != d.File {
			c.Polyline(castLine(o, at), 1, paint.Alpha(p.Strong, 0.35))
		}
	}
	castMarks(c, d, at, c.U(5), 1.6)
	y := float64(r.Max.Y) - c.U(10)
	for i := range BandNames { // names beside the dots would lie on each other
		x := float64(r.Min.X) + c.U(11)
		bandDot(c, x, y-c.U(3.5), c.U(4), i)
		c.Text(x+c.U(9), y, BandNames[i], dim(c, sizeSmall))
		y -= c.U(15)
	}
}
