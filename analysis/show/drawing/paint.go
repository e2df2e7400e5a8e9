package drawing

import (
	"image"
	"math"

	"stopladder/analysis/show/paint"
)

// Paint draws the list into c with its origin at the top left corner of r, clipped
// to r. A unit is c.Scale device pixels.
func (l *List) Paint(c *paint.Canvas, r image.Rectangle) {
	c = c.Clipped(r)
	at := func(p Pt) Pt { return Pt{X: float64(r.Min.X) + c.U(p.X), Y: float64(r.Min.Y) + c.U(p.Y)} }
	var pts []Pt
	for _, m := range l.Marks {
		switch m := m.(type) {
		case Line:
			paintLine(c, at, m)
		case Area:
			pts = pts[:0]
			for _, p := range m.Pts {
				pts = append(pts, at(p))
			}
			if q, ok := upright(pts); ok {
				c.Fill(q, m.Col)
			} else {
				c.Area(pts, m.Col)
			}
		case Frame:
			a, b := at(m.Min), at(m.Max)
			if q, ok := upright([]Pt{a, {X: b.X, Y: a.Y}, b, {X: a.X, Y: b.Y}}); ok {
				c.Frame(q, m.Width, m.Col)
			}
		case Text:
			p := at(m.At)
			c.Text(p.X, p.Y, m.S, m.Style)
		case Dot:
			p := at(m.At)
			if m.Width > 0 {
				c.Ring(p.X, p.Y, c.U(m.R), m.Width, m.Col)
			} else {
				c.Disc(p.X, p.Y, c.U(m.R), m.Col)
			}
		}
	}
}

// upright reports whether four points are an upright rectangle, and gives its whole
// pixels.
func upright(p []Pt) (image.Rectangle, bool) {
	if len(p) != 4 || p[0].Y != p[1].Y || p[1].X != p[2].X || p[2].Y != p[3].Y || p[3].X != p[0].X {
		return image.Rectangle{}, false
	}
	for _, q := range p {
		if !finite(q) || math.Abs(q.X) > 1e6 || math.Abs(q.Y) > 1e6 {
			return image.Rectangle{}, false
		}
	}
	px := func(v float64) int { return int(math.Round(v)) }
	return image.Rect(px(p[0].X), px(p[0].Y), px(p[2].X), px(p[2].Y)), true
}

func paintLine(c *paint.Canvas, at func(Pt) Pt, m Line) {
	if len(m.Pts) == 2 && finite(m.Pts[0]) && finite(m.Pts[1]) {
		a, b := at(m.Pts[0]), at(m.Pts[1])
		px := func(v float64) int { return int(math.Round(math.Max(-1e6, math.Min(1e6, v)))) }
		switch {
		case a.Y == b.Y && m.On > 0:
			c.HDash(px(math.Min(a.X, b.X)), px(math.Max(a.X, b.X)), px(a.Y), m.Width, m.On, m.Off, m.Col)
			return
		case a.Y == b.Y:
			c.HLine(px(math.Min(a.X, b.X)), px(math.Max(a.X, b.X)), px(a.Y), m.Width, m.Col)
			return
		case a.X == b.X && m.On > 0:
			c.VDash(px(a.X), px(math.Min(a.Y, b.Y)), px(math.Max(a.Y, b.Y)), m.Width, m.On, m.Off, m.Col)
			return
		case a.X == b.X:
			c.VLine(px(a.X), px(math.Min(a.Y, b.Y)), px(math.Max(a.Y, b.Y)), m.Width, m.Col)
			return
		}
	}
	pts := make([]Pt, len(m.Pts))
	for i, p := range m.Pts {
		pts[i] = at(p)
	}
	if m.On > 0 {
		for _, d := range dashes(pts, c.U(m.On), c.U(m.Off)) {
			c.Polyline(d, m.Width, m.Col)
		}
		return
	}
	c.Polyline(pts, m.Width, m.Col)
}

// dashes cuts a line into pieces of the length on with gaps of the length off.
func dashes(pts []Pt, on, off float64) (out [][]Pt) {
	if !(on > 0) || !(off > 0) {
		return [][]Pt{pts}
	}
	var run []Pt
	draw, left := true, on
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		d := math.Hypot(b.X-a.X, b.Y-a.Y)
		if !(d <= 1e5) {
			return out
		}
		for s := 0.0; s < d; {
			step := math.Min(left, d-s)
			p := Pt{X: a.X + (b.X-a.X)*s/d, Y: a.Y + (b.Y-a.Y)*s/d}
			q := Pt{X: a.X + (b.X-a.X)*(s+step)/d, Y: a.Y + (b.Y-a.Y)*(s+step)/d}
			if draw {
				if len(run) == 0 {
					run = append(run, p)
				}
				run = append(run, q)
			}
			s += step
			if left -= step; left <= 1e-9 {
				if draw {
					out = append(out, run)
					run = nil
				}
				draw = !draw
				left = off
				if draw {
					left = on
				}
			}
		}
	}
	if len(run) > 1 {
		out = append(out, run)
	}
	return out
}
