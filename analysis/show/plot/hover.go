package plot

import (
	"fmt"
	"math"

	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// Lines returns a reading in words: the exposure, then one line per channel that has a
// reading.
func (d *Data) Lines(r Reading) []string {
	out := []string{fmt.Sprintf("%s stops, log10 H %s", number.Signed(r.Stop, 2), number.Signed(r.LogE, 2))}
	for c, q := range r.Channels {
		if q.OK {
			s := d.name(c) + "  " + fmt.Sprintf("%.2f", q.Density)
			if finite(q.Sigma) {
				s += fmt.Sprintf(" ± %.2f", q.Sigma)
			}
			if finite(q.Slope) {
				s += fmt.Sprintf(", slope %.2f", q.Slope)
			}
			if q.Part != "" {
				s += ", " + string(q.Part)
			}
			out = append(out, s)
		}
	}
	return out
}

// hover draws the crosshair at a stop and the reading beside it.
func (g *geometry) hover(l *List, stop float64) {
	r := g.d.At(stop)
	p, x := g.plot, g.x(stop)
	l.Add(drawing.Segment(x, p.y0, x, p.y1, 1, g.pal.Text))
	for c, q := range r.Channels {
		if q.OK {
			y := g.y(q.Density)
			l.Add(drawing.Segment(p.x0, y, x, y, 1, paint.Alpha(g.col(c), 0.55)))
			l.Add(Dot{At: Pt{X: x, Y: y}, R: 4.2 * g.k, Col: g.pal.Well}, Dot{At: Pt{X: x, Y: y}, R: 3 * g.k, Col: g.col(c)})
		}
	}
	if !g.words { // no room for a box: the heading gives way
		s := number.Signed(r.Stop, 1) + " stops"
		for c, q := range r.Channels {
			if q.OK {
				s += fmt.Sprintf("  %s %.2f", g.d.name(c), q.Density)
			}
		}
		st := g.text(10.5)
		if w := gauge.Width(s, st) * 1.03; w > g.w-12 {
			st.Size *= math.Max(0.5, (g.w-12)/w)
		}
		l.Add(drawing.Rect(0, 0, g.w, p.y0-2, g.pal.Panel))
		l.Add(Text{At: Pt{X: 8, Y: 6 + gauge.Cap(g.text(10.5))}, S: s, Style: st})
		return
	}
	rows := g.d.Lines(r)
	if len(rows) == 1 {
		rows = append(rows, "no reading here")
	}
	st := g.text(10.5)
	lead, pad := st.Size*1.4, 6*g.k
	w, key := 0.0, 12*g.k
	for i, s := range rows {
		n := gauge.Width(s, st) * 1.03
		if i > 0 {
			n += key
		}
		w = math.Max(w, n)
	}
	if w += 2 * pad; w > g.w-4 {
		st = st.Sized(st.Size * (g.w - 4 - 2*pad) / (w - 2*pad) * 0.98)
		w = g.w - 4
	}
	h := lead*float64(len(rows)) + 2*pad - 0.3*lead
	b := g.hoverBox(x, w, h)
	l.Add(drawing.Rect(b.x0, b.y0, b.x1, b.y1, paint.Alpha(g.pal.Surround, 0.95)))
	y := b.y0 + pad + 0.62*lead
	k := 0
	for i, s := range rows {
		x := b.x0 + pad
		if i > 0 {
			for k < 3 && !r.Channels[k].OK {
				k++
			}
			if k < 3 {
				l.Add(drawing.Segment(x, y-gauge.Cap(st)/2, x+key-4, y-gauge.Cap(st)/2, 2.4, g.col(k)))
				k++
				x += key
			}
		}
		l.Add(Text{At: Pt{X: x, Y: y}, S: s, Style: st})
		y += lead
	}
}

// hoverBox finds a place for the reading beside the crosshair at x: where it
// covers nothing, else where it leaves the gammas whole, else anywhere.
func (g *geometry) hoverBox(x, w, h float64) box {
	p, all := g.plot, box{2, 2, g.w - 2, g.h - 2}
	var fits []box
	for _, left := range [2]float64{x + 9, x - 9 - w} {
		for _, top := range [5]float64{p.y0 + 5, g.table.y1 + 5, p.y0 + 0.3*(p.h()-h), p.y0 + 0.65*(p.h()-h), p.y1 - 20*g.k - h} {
			if b := (box{left, top, left + w, top + h}); b.inside(all) {
				fits = append(fits, b)
			}
		}
	}
	for _, b := range fits {
		if g.clear(b, true) {
			return b
		}
	}
	for _, b := range fits {
		if !b.overlaps(g.table) {
			return b
		}
	}
	if len(fits) > 0 {
		return fits[0]
	}
	left := math.Max(2, math.Min(x+9, g.w-2-w))
	return box{left, p.y0 + 4, left + w, p.y0 + 4 + h}
}
