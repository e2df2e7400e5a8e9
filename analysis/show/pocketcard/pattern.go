package pocketcard

import (
	"image/color"
	"math"

	"stopladder/analysis/film/pocket"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// tint lays a colour over white.
func tint(c color.NRGBA, share float64) color.NRGBA {
	mix := func(v uint8) uint8 { return uint8(math.Round(255 - (255-float64(v))*share)) }
	return color.NRGBA{mix(c.R), mix(c.G), mix(c.B), 255}
}

// swatch fills a rectangle as the masks show the same thing over pictures: colour and pattern
// of each, fuller where all is lost. Patterns stand on the card, not in the cell, so that
// they run on over cells alike.
func (l *layout) swatch(x0, y0, x1, y1 float64, s pocket.State, light bool) {
	ground := func(c color.NRGBA) { l.list.Add(drawing.Rect(x0, y0, x1, y1, c)) }
	switch {
	case s == pocket.Blown:
		ground(tint(paint.ReddishPurple, 0.75))
		l.diagonals(x0, y0, x1, y1, 1.1, 0.32, 1, paint.Hex(0x7A2F5C))
	case s == pocket.Flat && light:
		ground(tint(paint.ReddishPurple, 0.22))
		l.diagonals(x0, y0, x1, y1, 2.2, 0.22, 1, paint.ReddishPurple)
	case s == pocket.Noisy:
		ground(tint(paint.Yellow, 0.8))
		l.dashes(x0, y0, x1, y1, paint.Hex(0x7A6F00))
	case s == pocket.Flat:
		ground(tint(paint.BluishGreen, 0.16))
		l.dots(x0, y0, x1, y1, 2.0, 0.2, paint.BluishGreen)
	case s == pocket.Blocked:
		ground(tint(paint.BluishGreen, 0.75))
		l.dots(x0, y0, x1, y1, 1.0, 0.24, paint.Hex(0x003F2E))
	case s == pocket.Unknown:
		ground(tint(black, 0.06))
		l.diagonals(x0, y0, x1, y1, 0.9, 0.14, -1, paint.Hex(0x808080))
	}
}

// diagonals draws lines at 45 degrees, dir 1 rising, clipped to a rectangle.
func (l *layout) diagonals(x0, y0, x1, y1, pitch, w, dir float64, col color.NRGBA) {
	// Rising lines have one x + y, falling ones one x - y.
	lo, hi := x0+y0, x1+y1
	if dir < 0 {
		lo, hi = x0-y1, x1-y0
	}
	for n := math.Ceil(lo / pitch); n*pitch < hi; n++ {
		v := n * pitch
		var a, b drawing.Pt
		if dir > 0 {
			a.X = math.Max(x0, v-y1)
			b.X = math.Min(x1, v-y0)
			a.Y, b.Y = v-a.X, v-b.X
		} else {
			a.X = math.Max(x0, v+y0)
			b.X = math.Min(x1, v+y1)
			a.Y, b.Y = a.X-v, b.X-v
		}
		if b.X-a.X > 0.05 {
			l.list.Add(drawing.Line{Pts: []drawing.Pt{a, b}, Width: w, Col: col})
		}
	}
}

// dots draws dots whose middles lie inside a rectangle.
func (l *layout) dots(x0, y0, x1, y1, pitch, r float64, col color.NRGBA) {
	for j := math.Ceil((y0 + r) / (pitch / 2)); j*pitch/2 <= y1-r; j++ {
		shift := 0.0
		if math.Mod(j, 2) != 0 {
			shift = pitch / 2
		}
		for i := math.Ceil((x0 + r - shift) / pitch); i*pitch+shift <= x1-r; i++ {
			l.list.Add(drawing.Dot{At: drawing.Pt{X: i*pitch + shift, Y: j * pitch / 2}, R: r, Col: col})
		}
	}
}

// dashes draws short level dashes inside a rectangle.
func (l *layout) dashes(x0, y0, x1, y1 float64, col color.NRGBA) {
	const pitch, long, row = 1.5, 0.75, 0.62
	for j := math.Ceil((y0 + 0.15) / row); j*row <= y1-0.15; j++ {
		shift := 0.0
		if math.Mod(j, 2) != 0 {
			shift = pitch / 2
		}
		for i := math.Floor((x0 - shift) / pitch); i*pitch+shift < x1; i++ {
			a, b := math.Max(x0, i*pitch+shift), math.Min(x1, i*pitch+shift+long)
			if b-a > 0.1 {
				l.list.Add(drawing.Segment(a, j*row, b, j*row, 0.16, col))
			}
		}
	}
}
