package row

import (
	"image"
	"math"

	"stopladder/analysis/show/paint"
)

// loss is one of the three shares of the image area.
type loss struct {
	kind  paint.Kind
	name  string
	share float64 // NaN when it could not be measured
	flat  float64 // besides, where the film no longer separates tones; NaN not known
}

func losses(d *Data) [3]loss {
	nan := math.NaN()
	l := [3]loss{{paint.Blown, "Blown", nan, nan}, {paint.Blocked, "Blocked", nan, nan}, {paint.Noisy, "Noisy", nan, nan}}
	for i, v := range []*float64{d.FlatLight, d.FlatDark} {
		if v != nil && *v >= 0 && *v <= 1 {
			l[i].flat = *v
		}
	}
	if d.Look != nil {
		l[0].share, l[1].share = d.Look.Blown.Any, d.Look.Blocked.Any
	}
	if d.Rel != nil && d.Rel.Noisy != nil {
		l[2].share = *d.Rel.Noisy
	}
	return l
}

func lossColumn() Column {
	return Column{ID: "losses", Title: "Blown, blocked, noisy", Short: "Lost, noisy", Unit: "% of image area", Min: 70, Ideal: 116, Max: 190, Priority: 3,
		Draw: drawLosses, Text: func(d *Data) []string {
			s := ""
			for _, l := range losses(d) {
				s += l.name + " " + Percent(l.share) + " "
				if !math.IsNaN(l.flat) {
					s += "(flat besides: " + Percent(l.flat) + ") "
				}
			}
			return []string{s}
		}}
}

// drawLosses draws three bars on one scale: the full width is the whole image
// area.
func drawLosses(c *paint.Canvas, r image.Rectangle, d *Data) {
	ls := losses(d)
	pitch := float64(r.Dy()) / 3
	most := c.U(34)
	top := float64(r.Min.Y)
	if pitch > most {
		top += (float64(r.Dy()) - 3*most) / 2
		pitch = most
	}
	for i, l := range ls {
		y0, y1 := int(math.Round(top+pitch*float64(i))), int(math.Round(top+pitch*float64(i+1)))
		drawLoss(c, image.Rect(r.Min.X, y0, r.Max.X, y1), pitch/c.Scale, l)
	}
}

// drawLoss draws one line; h is its height in units before it was rounded to
// pixels, so that all three lines of a rung choose alike.
func drawLoss(c *paint.Canvas, r image.Rectangle, h float64, l loss) {
	st := text(c, sizeSmall)
	value := Percent(l.share)
	switch {
	case h >= 22: // words over the bar
		line := r
		line.Max.Y = r.Min.Y + c.Px(14)
		if l.flat > 0 { // said where there is room
			// A figure without its word would read as part of the share.
			room := float64(line.Dx()-c.Px(8)) - c.Width(l.name, dim(c, sizeSmall))
			if more := " + " + Percent(l.flat) + " flat"; c.Width(value+more, st) <= room {
				value += more
			}
		}
		w := c.TextIn(line, value, st.Aligned(paint.Right))
		line.Max.X -= int(w) + c.Px(6)
		c.TextIn(line, l.name, dim(c, sizeSmall))
		bar := image.Rect(r.Min.X, line.Max.Y+c.Px(1), r.Max.X, line.Max.Y+c.Px(1)+c.Px(math.Min(7, h-17)))
		lossBar(c, bar, l)
	case h >= 9: // value beside the bar
		w := c.Px(40)
		if h < 11 {
			st = st.Sized(sizeTiny)
		}
		c.TextIn(image.Rect(r.Max.X-w, r.Min.Y, r.Max.X, r.Max.Y), value, st.Aligned(paint.Right))
		bar := image.Rect(r.Min.X, r.Min.Y, r.Max.X-w-c.Px(2), r.Max.Y)
		if float64(r.Dx()) >= c.U(150) {
			c.TextIn(image.Rect(r.Min.X, r.Min.Y, r.Min.X+c.Px(46), r.Max.Y), l.name, dim(c, sizeSmall))
			bar.Min.X += c.Px(46)
		}
		t := c.Px(math.Min(7, h-4))
		mid := (r.Min.Y + r.Max.Y) / 2
		bar.Min.Y, bar.Max.Y = mid-t/2, mid-t/2+t
		lossBar(c, bar, l)
	default:
		t := max(1, r.Dy()-c.Px(1))
		lossBar(c, image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+t), l)
	}
}

// lossBar draws the share in the mask's own pattern, and after it what is flat
// in the weaker strength. A share that is not zero is at least a pixel; one that
// is not known has no bar at all.
func lossBar(c *paint.Canvas, r image.Rectangle, l loss) {
	c.Fill(r, c.Pal.Well)
	v := r
	v.Max.X = v.Min.X
	if l.share > 0 {
		v.Max.X += max(1, int(math.Round(math.Min(1, l.share)*float64(r.Dx()))))
		c.FillMask(v, l.kind, true)
		c.Fill(image.Rect(v.Max.X-min(c.Px(1.5), v.Dx()), v.Min.Y, v.Max.X, v.Max.Y), paint.MaskColour(l.kind))
	}
	if l.flat > 0 {
		w := max(1, int(math.Round(l.flat*float64(r.Dx()))))
		f := image.Rect(v.Max.X, r.Min.Y, min(v.Max.X+w, r.Max.X), r.Max.Y)
		c.FillMask(f, l.kind, false)
		c.Fill(image.Rect(f.Max.X-min(c.Px(1), f.Dx()), f.Min.Y, f.Max.X, f.Max.Y), paint.Alpha(paint.MaskColour(l.kind), 0.6))
	}
}

// Loss is a share of the image area that a frame has lost or that is noisy.
type Loss struct {
	Kind  paint.Kind
	Name  string
	Share float64 // 0..1; NaN not measured
	Flat  float64 // besides, where the film no longer separates tones; NaN not known
}

// Losses returns Blown, Blocked and Noisy of a frame.
func Losses(d *Data) (out [3]Loss) {
	for i, l := range losses(d) {
		out[i] = Loss{l.kind, l.name, l.share, l.flat}
	}
	return out
}
