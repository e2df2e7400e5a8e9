package rung

import (
	"fmt"
	"image"
	"math"

	"stopladder/analysis/ink"
	"stopladder/analysis/measure"
)

func castColumn() Column {
	return Column{ID: "cast", Title: "Cast", Unit: "a* across, b* up", Min: 46, Ideal: 72, Max: 120, Priority: 4,
		Draw: drawCast, DrawHead: castHead, Text: func(d *Data) []string {
			s := ""
			for i, name := range BandNames {
				if b := band(d, i); b != nil {
					s += fmt.Sprintf("%s a* %s b* %s ", name, signed(b.A, 1), signed(b.B, 1))
				}
			}
			return []string{s}
		}}
}

// BandNames are the tonal bands, in the order of measure.Band.
var BandNames = [measure.Bands]string{"Shadows", "Midtones", "Highlights"}

func band(d *Data, i int) *measure.BandReading {
	if d == nil || d.Rel == nil {
		return nil
	}
	return d.Rel.Bands[i]
}

// castHead names the plane's span, and the three dots where there is room.
func castHead(c *ink.Canvas, r image.Rectangle, all []*Data) {
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
func bandDot(c *ink.Canvas, x, y, r float64, i int) {
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

func drawCast(c *ink.Canvas, r image.Rectangle, d *Data) {
	side := min(r.Dx(), r.Dy())
	box := ink.Fit(r, 1, 1)
	box = box.Add(image.Pt(r.Min.X-box.Min.X, 0))
	castPlane(c, box, d, float64(side) >= c.U(56))
}

// castPlane draws the a*b* plane: the cross is neutral; a* runs to the right
// (redder), b* up (yellower). trail draws where each band stands in the base
// frame.
func castPlane(c *ink.Canvas, box image.Rectangle, d *Data, trail bool) {
	p := c.Pal
	c.Fill(box, p.Well)
	cx, cy := (box.Min.X+box.Max.X)/2, (box.Min.Y+box.Max.Y)/2
	c.HLine(box.Min.X, box.Max.X, cy, 1, p.Rule)
	c.VLine(cx, box.Min.Y, box.Max.Y, 1, p.Rule)
	span := d.Scales.Cast
	if !(span > 0) {
		m := 0.0
		for i := range BandNames {
			if b := band(d, i); b != nil {
				m = math.Max(m, math.Max(math.Abs(b.A), math.Abs(b.B)))
			}
		}
		span = castSpan(m)
	}
	rad := math.Max(c.U(2.2), math.Min(c.U(4), float64(box.Dx())/18))
	half := float64(box.Dx())/2 - rad - c.U(1)
	if half <= 0 {
		return
	}
	at := func(a, b float64) ink.Pt {
		k := func(v float64) float64 { return math.Max(-1, math.Min(1, v/span)) }
		return ink.Pt{X: float64(cx) + k(a)*half, Y: float64(cy) - k(b)*half}
	}
	var pts []ink.Pt
	for i := range BandNames {
		b := band(d, i)
		if b == nil || !known(b.A) || !known(b.B) {
			continue
		}
		pts = append(pts, at(b.A, b.B))
		if trail && !d.Base && known(b.Da) && known(b.Db) {
			from, to := at(b.A-b.Da, b.B-b.Db), at(b.A, b.B)
			c.Line(from.X, from.Y, to.X, to.Y, 1, p.Strong)
			c.Ring(from.X, from.Y, rad*0.6, 1, p.Strong)
		}
	}
	c.Polyline(pts, 1.2, p.Text)
	for i := measure.Bands - 1; i >= 0; i-- {
		if b := band(d, i); b != nil && known(b.A) && known(b.B) {
			q := at(b.A, b.B)
			bandDot(c, q.X, q.Y, rad, i)
		}
	}
}

// BandDot draws the dot of a tonal band; the radius is device pixels.
func BandDot(c *ink.Canvas, x, y, r float64, b measure.Band) { bandDot(c, x, y, r, int(b)) }
