package plot

import (
	"math"

	"stopladder/analysis/film/response"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

// list draws the plot.
func (g *geometry) list() *List {
	l := &List{W: g.w, H: g.h}
	l.Title, l.Desc = g.names()
	l.Add(drawing.Rect(0, 0, g.w, g.h, g.pal.Panel))
	if len(g.chans) == 0 {
		g.refusal(l)
		return l
	}
	p := g.plot
	l.Add(drawing.Rect(p.x0, p.y0, p.x1, p.y1, g.pal.Well))
	g.densityAxis(l)
	g.stopAxis(l)
	g.logAxisTo(l)
	g.limits(l)
	g.curves(l)
	g.brackets(l)
	g.frames(l)
	g.ends(l)
	g.gammas(l)
	g.partWords(l)
	return l
}

// refusal writes why there is no plot.
func (g *geometry) refusal(l *List) {
	st, head := g.dim(12), g.text(13).Bold().Aligned(paint.Centre)
	in := math.Min(g.w-16, 460*g.k)
	if in < 20 {
		return
	}
	lead := st.Size * 1.4
	rows := gauge.Wrap(drawing.Plain(g.d.reason()), st, in*0.97, max(1, int((g.h-12)/lead)-1))
	y := (g.h-lead*float64(len(rows)+1))/2 + lead*0.75
	if g.h >= lead*float64(len(rows)+1)+4 {
		l.Add(Text{At: Pt{X: g.w / 2, Y: y}, S: "No response", Style: head})
		y += lead
	}
	for _, s := range rows {
		l.Add(Text{At: Pt{X: g.w / 2, Y: y}, S: s, Style: st.Aligned(paint.Centre)})
		y += lead
	}
}

// put adds a text and remembers its place.
func (g *geometry) put(l *List, t Text) {
	g.busy = append(g.busy, textBox(t))
	l.Add(t)
}

// free reports whether a text touches nothing and lies inside in.
func (g *geometry) free(t Text, in box, lines bool) bool {
	b := textBox(t)
	if !b.inside(in) {
		return false
	}
	return g.clear(b.grow(2), lines)
}

func (g *geometry) clear(b box, lines bool) bool {
	for _, q := range g.busy {
		if b.overlaps(q) {
			return false
		}
	}
	if lines {
		for _, s := range g.walls {
			if b.crosses(s[0], s[1]) {
				return false
			}
		}
	}
	return true
}

// first adds the text at the first place where it is free.
func (g *geometry) first(l *List, t Text, at []Pt) bool {
	for _, p := range at {
		if t.At = p; g.free(t, g.plot.grow(-2), true) {
			g.put(l, t)
			return true
		}
	}
	return false
}

// points returns a channel's curve between two log exposures, its ends interpolated.
func (g *geometry) points(c int, lo, hi float64) (out []Pt) {
	d := g.d
	a, b := d.covered(c)
	lo, hi = math.Max(lo, d.Curve.LogE[a]), math.Min(hi, d.Curve.LogE[b])
	if !(hi > lo) {
		return nil
	}
	add := func(x float64) {
		v, ok := d.value(d.Curve.Density[c], x)
		if !ok {
			v = math.NaN() // breaks the line
		}
		out = append(out, Pt{X: g.x(x / stopLog), Y: g.y(v)})
	}
	add(lo)
	for _, x := range d.Curve.LogE {
		if x > lo+1e-9 && x < hi-1e-9 {
			add(x)
		}
	}
	add(hi)
	return out
}

// band draws the area of two standard errors to either side, in whole pieces.
func (g *geometry) band(l *List, c int) {
	d := g.d
	a, b := d.covered(c)
	if len(d.Curve.Sigma[c]) != len(d.Curve.LogE) {
		return
	}
	var up, down []Pt
	flush := func() {
		if len(up) > 1 {
			for i := len(down) - 1; i >= 0; i-- {
				up = append(up, down[i])
			}
			l.Add(Area{Pts: up, Col: paint.Alpha(g.col(c), 0.25)})
		}
		up, down = nil, nil
	}
	for i := a; i <= b; i++ {
		v, s := d.Curve.Density[c][i], d.Curve.Sigma[c][i]
		if !finite(v) || !finite(s) {
			flush()
			continue
		}
		x := g.x(d.Curve.LogE[i] / stopLog)
		cut := func(v float64) float64 { return math.Max(g.y0, math.Min(g.y1, v)) }
		up, down = append(up, Pt{X: x, Y: g.y(cut(v + 2*s))}), append(down, Pt{X: x, Y: g.y(cut(v - 2*s))})
	}
	flush()
}

// curves draws every channel: thin, and heavy along its straight line, with a
// tick where toe and shoulder begin.
func (g *geometry) curves(l *List) {
	d := g.d
	thin := math.Max(1.2, 1.4*g.k)
	for _, c := range g.chans {
		g.band(l, c)
	}
	if g.words {
		for _, c := range g.chans {
			g.tangent(l, c)
		}
	}
	for _, c := range g.chans {
		all := g.points(c, math.Inf(-1), math.Inf(1))
		l.Add(Line{Pts: all, Width: thin, Col: g.col(c)})
		for i := 1; i < len(all); i++ {
			if finite(all[i-1].X) && finite(all[i-1].Y) && finite(all[i].X) && finite(all[i].Y) {
				g.walls = append(g.walls, [2]Pt{all[i-1], all[i]})
			}
		}
		ch := d.Curve.Channels[c]
		if !(ch.Gamma > 0) {
			continue
		}
		l.Add(Line{Pts: g.points(c, ch.Straight[0], ch.Straight[1]), Width: 2.4 * thin, Col: g.col(c)})
		lo, hi := d.covered(c)
		for i, x := range ch.Straight {
			// Not where the curve ends: no toe or shoulder begins there.
			if i == 0 && x < d.Curve.LogE[lo]+0.02 || i == 1 && x > d.Curve.LogE[hi]-0.02 {
				continue
			}
			g.tick(l, c, x)
		}
	}
}

// tick crosses the curve at a right angle.
func (g *geometry) tick(l *List, c int, x float64) {
	v, ok := g.d.value(g.d.Curve.Density[c], x)
	if !ok {
		return
	}
	s := g.d.slope(c, x)
	dx, dy := g.plot.w()/(g.x1-g.x0)/stopLog, s*g.plot.h()/(g.y1-g.y0)
	n := math.Hypot(dx, dy)
	if !finite(n) || n == 0 {
		return
	}
	px, py, r := g.x(x/stopLog), g.y(v), 5.5*g.k
	l.Add(drawing.Segment(px+dy/n*r, py-dx/n*r, px-dy/n*r, py+dx/n*r, 1.3, g.col(c)))
}

// tangent draws the line of the steepest slope a little beyond the straight part.
func (g *geometry) tangent(l *List, c int) {
	ch := g.d.Curve.Channels[c]
	v, ok := g.d.value(g.d.Curve.Density[c], ch.GammaAt)
	if !ok || !(ch.Gamma > 0) {
		return
	}
	more := math.Max(0.15, 0.25*(ch.Straight[1]-ch.Straight[0]))
	at := func(x float64) Pt { return Pt{X: g.x(x / stopLog), Y: g.y(v - ch.Gamma*(x-ch.GammaAt))} }
	a, b := g.d.covered(c)
	lo := math.Max(math.Max(ch.Straight[0]-more, g.d.Curve.LogE[a]), ch.GammaAt-(g.y1-v)/ch.Gamma)
	hi := math.Min(math.Min(ch.Straight[1]+more, g.d.Curve.LogE[b]), ch.GammaAt+(v-g.y0)/ch.Gamma)
	if hi > lo {
		p, q := at(lo), at(hi)
		l.Add(Line{Pts: []Pt{p, q}, Width: 1, On: 3, Off: 3, Col: paint.Alpha(g.col(c), 0.8)})
		g.walls = append(g.walls, [2]Pt{p, q})
	}
}

// brackets draws the useful exposure range of each channel under the axis.
func (g *geometry) brackets(l *List) {
	if g.rows == 0 {
		return
	}
	st := g.text(10)
	words := g.rows > 10
	y := g.plot.y1 + 8 + 13*g.k + g.rows/2
	for i, c := range g.chans {
		ch := g.d.Curve.Channels[c]
		yc := y + g.rows*float64(i)
		x0, x1 := g.x(ch.Useful[0]/stopLog), g.x(ch.Useful[1]/stopLog)
		if !(ch.Gamma > 0) || !finite(x0) || !finite(x1) || x1 <= x0 {
			continue
		}
		s := UsefulWords(ch)
		if i == 0 {
			s = "useful range " + s
		}
		if !g.d.Grey {
			s = g.d.name(c) + "  " + s
		}
		w := gauge.Width(s, st)
		gap0, gap1 := 0.0, 0.0
		if words && w*1.12+30 <= x1-x0 {
			mid := (x0 + x1) / 2
			gap0, gap1 = mid-w*0.56-5, mid+w*0.56+5
			g.put(l, Text{At: Pt{X: mid, Y: yc + gauge.Cap(st)/2}, S: s, Style: st.Aligned(paint.Centre)})
		} else if words {
			t := Text{At: Pt{X: x1 + 6, Y: yc + gauge.Cap(st)/2}, S: s, Style: st}
			if t.At.X+w*1.04 > g.w-4 {
				t.At.X, t.Style.Align = x0-6, paint.Right
			}
			if textBox(t).x0 > 2 {
				g.put(l, t)
			}
		}
		if gap1 > gap0 {
			l.Add(drawing.Segment(x0, yc, gap0, yc, 2, g.col(c)))
			l.Add(drawing.Segment(gap1, yc, x1, yc, 2, g.col(c)))
		} else {
			l.Add(drawing.Segment(x0, yc, x1, yc, 2, g.col(c)))
		}
		r := math.Min(4, g.rows*0.42)
		for e, x := range [2]float64{x0, x1} {
			in := 1.0 - 2*float64(e) // towards the inside
			if ch.UsefulOpen[e] {    // goes on: an arrow head
				l.Add(Line{Pts: []Pt{{X: x + in*r, Y: yc - r}, {X: x, Y: yc}, {X: x + in*r, Y: yc + r}}, Width: 1.4, Col: g.col(c)})
			} else {
				l.Add(drawing.Segment(x, yc-r, x, yc+r, 2, g.col(c)))
			}
		}
	}
}

// frames marks every frame's mid-grey: a disc on the axis at its label, a white
// tick at its measured stop, and a dot where the curves pass that.
func (g *geometry) frames(l *List) {
	y := g.plot.y1
	for _, f := range g.d.Frames {
		at := f.places()
		if len(at) == 0 {
			continue
		}
		mid := at[len(at)-1] // the measured stop, where there is one
		for _, c := range g.chans {
			if v, ok := g.d.value(g.d.Curve.Density[c], mid*stopLog); ok && f.Measured != nil {
				l.Add(Dot{At: Pt{X: g.x(mid), Y: g.y(v)}, R: 2.9 * g.k, Col: g.pal.Well},
					Dot{At: Pt{X: g.x(mid), Y: g.y(v)}, R: 1.9 * g.k, Col: g.pal.White})
			}
		}
		if f.Labelled && finite(f.Stop) {
			r := 2.6 * g.k
			if f.Stop == 0 {
				r = 3.4 * g.k
			}
			l.Add(Dot{At: Pt{X: g.x(f.Stop), Y: y}, R: r + 1.2, Col: g.pal.Panel}, Dot{At: Pt{X: g.x(f.Stop), Y: y}, R: r, Col: g.pal.Text})
		}
		if f.Measured == nil || !finite(*f.Measured) || math.Abs(*f.Measured) > 30 {
			continue
		}
		m, top := *f.Measured, y-11*g.k
		if off, ok := f.Off(); ok && math.Abs(off) > row.MeasuredTolerance {
			l.Add(drawing.Segment(g.x(f.Stop), y-7*g.k, g.x(m), y-7*g.k, 1, g.pal.White))
			l.Add(drawing.Segment(g.x(f.Stop), y-7*g.k, g.x(f.Stop), y, 1, g.pal.White))
			if math.Abs(off) > response.LabelLimit && g.words {
				g.flag(l, g.x(m), top-4, number.Signed(off, 2))
			}
		}
		l.Add(drawing.Segment(g.x(m), y-4*g.k, g.x(m), top, 2, g.pal.White))
		if f.Error != nil && finite(*f.Error) && g.x(m+*f.Error)-g.x(m) > 1.5 {
			l.Add(drawing.Segment(g.x(m-*f.Error), top, g.x(m+*f.Error), top, 1, g.pal.White))
		}
	}
}

// flag writes by how much a label is off over its tick, in a frame of its own: it
// may lie on lines, but not on other words.
func (g *geometry) flag(l *List, x, y float64, s string) {
	st := g.text(10).Aligned(paint.Centre)
	for i := range 6 {
		t := Text{At: Pt{X: x, Y: y - 3 - float64(i)*1.7*st.Size}, S: s, Style: st}
		b := textBox(t).grow(3)
		b.y1 -= 1
		if !b.inside(g.plot) || !g.clear(b, false) {
			continue
		}
		l.Add(drawing.Rect(b.x0, b.y0, b.x1, b.y1, g.pal.Well))
		l.Add(Line{Pts: []Pt{{X: b.x0, Y: b.y0}, {X: b.x1, Y: b.y0}, {X: b.x1, Y: b.y1}, {X: b.x0, Y: b.y1}, {X: b.x0, Y: b.y0}}, Width: 1, Col: g.pal.White})
		g.put(l, t)
		return
	}
}
