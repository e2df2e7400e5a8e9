package plot

import (
	"fmt"
	"math"

	"stopladder/analysis/ink"
)

// Lines is a reading in words: the exposure, then one line per channel that has
// a reading.
func (d *Data) Lines(r Reading) []string {
	out := []string{fmt.Sprintf("%s stops, log10 H %s", signed(r.Stop, 2), signed(r.LogE, 2))}
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
	l.line(x, p.y0, x, p.y1, 1, g.pal.Text)
	for c, q := range r.Channels {
		if q.OK {
			y := g.y(q.Density)
			l.line(p.x0, y, x, y, 1, ink.Alpha(g.col(c), 0.55))
			l.add(Dot{At: Pt{X: x, Y: y}, R: 4.2 * g.k, Col: g.pal.Well}, Dot{At: Pt{X: x, Y: y}, R: 3 * g.k, Col: g.col(c)})
		}
	}
	rows := g.d.Lines(r)
	if len(rows) == 1 {
		rows = append(rows, "no reading here")
	}
	st := g.text(10.5)
	lead, pad := st.Size*1.4, 6*g.k
	w, key := 0.0, 12*g.k
	for i, s := range rows {
		n := textWidth(s, st) * 1.03
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
	// The curves run from the upper left to the lower right: the box goes to the
	// upper right, or, near that end, to the lower left.
	b := box{x + 9, p.y0 + 4, x + 9 + w, p.y0 + 4 + h}
	if b.x1 > g.w-2 {
		b = box{x - 9 - w, p.y1 - 16*g.k - h, x - 9, p.y1 - 16*g.k}
	}
	if d := 2 - b.x0; d > 0 {
		b.x0, b.x1 = b.x0+d, b.x1+d
	}
	if d := b.x1 - (g.w - 2); d > 0 {
		b.x0, b.x1 = b.x0-d, b.x1-d
	}
	if d := 2 - b.y0; d > 0 {
		b.y0, b.y1 = b.y0+d, b.y1+d
	}
	l.rect(b.x0, b.y0, b.x1, b.y1, ink.Alpha(g.pal.Surround, 0.95))
	y := b.y0 + pad + 0.62*lead
	k := 0
	for i, s := range rows {
		x := b.x0 + pad
		if i > 0 {
			for k < 3 && !r.Channels[k].OK {
				k++
			}
			if k < 3 {
				l.line(x, y-gauge.Cap(st)/2, x+key-4, y-gauge.Cap(st)/2, 2.4, g.col(k))
				k++
				x += key
			}
		}
		l.add(Text{At: Pt{X: x, Y: y}, S: s, Style: st})
		y += lead
	}
}
