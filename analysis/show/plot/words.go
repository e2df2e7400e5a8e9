package plot

import (
	"fmt"
	"math"
	"sort"

	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

// ends writes each channel's letter at the end of its line where the lines lie
// further apart.
func (g *geometry) ends(l *List) {
	if g.d.Grey {
		return
	}
	n := len(g.chans)
	var at [2][]Pt // lower, upper end of exposure
	for _, c := range g.chans {
		a, b := g.d.covered(c)
		for e, i := range [2]int{a, b} {
			at[e] = append(at[e], Pt{X: g.x(g.d.Curve.LogE[i] / stopLog), Y: g.y(g.d.Curve.Density[c][i])})
		}
	}
	apart := func(pts []Pt) float64 {
		least := math.Inf(1)
		for i := range pts {
			for j := range i {
				least = math.Min(least, math.Abs(pts[i].Y-pts[j].Y))
			}
		}
		return least
	}
	e := 0
	if apart(at[1]) > apart(at[0]) {
		e = 1
	}
	if e == 0 && g.endsAbove(l, at[0]) {
		return
	}
	st := g.text(11).Bold()
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return at[e][order[i]].Y < at[e][order[j]].Y })
	want, size := make([]float64, n), make([]float64, n)
	edge := at[e][0].X
	for i, o := range order {
		want[i], size[i] = at[e][o].Y, st.Size*1.05
		if e == 0 {
			edge = math.Min(edge, at[e][o].X)
		} else {
			edge = math.Max(edge, at[e][o].X)
		}
	}
	ys := row.Spread(want, size, g.plot.y0+1, g.plot.y1-1)
	dir := 2*float64(e) - 1
	for i, o := range order {
		c, from := g.chans[o], at[e][o]
		to := Pt{X: edge + dir*7*g.k, Y: ys[i]}
		if math.Abs(to.Y-from.Y) > 1 || math.Abs(from.X-edge) > 2 {
			l.Add(drawing.Segment(from.X, from.Y, to.X, to.Y, 1, g.col(c)))
		} else {
			to.X = edge + dir*3
		}
		q := st.Aligned(paint.Left)
		if e == 0 {
			q = st.Aligned(paint.Right)
		}
		g.put(l, Text{At: Pt{X: to.X + dir*2, Y: to.Y + gauge.Cap(st)/2}, S: g.d.name(c), Style: q})
	}
}

// endsAbove writes the letters in a row over the left ends of the lines where
// those lie more beside than above each other, so that no leader crosses a line;
// false where there is no room.
func (g *geometry) endsAbove(l *List, at []Pt) bool {
	st := g.text(11).Bold().Aligned(paint.Centre)
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return at[order[i]].X < at[order[j]].X })
	want, size := make([]float64, len(at)), make([]float64, len(at))
	top, low := math.Inf(1), math.Inf(-1)
	for i, o := range order {
		want[i], size[i] = at[o].X, gauge.Width("G", st)+5
		top, low = math.Min(top, at[o].Y), math.Max(low, at[o].Y)
	}
	base := top - 7*g.k
	if want[len(want)-1]-want[0] < 2*(low-top) || len(at) < 2 || base-gauge.Cap(st) < g.plot.y0+2 {
		return false
	}
	xs := row.Spread(want, size, g.plot.x0+1, g.plot.x1-1)
	for i, x := range xs {
		if g.cuts(at[order[i]], Pt{X: x, Y: base}) {
			return false
		}
	}
	for i, x := range xs {
		o := order[i]
		c := g.chans[o]
		l.Add(drawing.Segment(at[o].X, at[o].Y, x, base+2, 1, g.col(c)))
		g.put(l, Text{At: Pt{X: x, Y: base}, S: g.d.name(c), Style: st})
	}
	return true
}

// cuts reports whether a leader from a line's end p to q crosses another line.
func (g *geometry) cuts(p, q Pt) bool {
	side := func(a, b, c Pt) float64 { return (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X) }
	for _, w := range g.walls {
		if w[0] == p || w[1] == p {
			continue
		}
		if side(p, q, w[0])*side(p, q, w[1]) < 0 && side(w[0], w[1], p)*side(w[0], w[1], q) < 0 {
			return true
		}
	}
	return false
}

// gammas lists the steepest slopes where the plot is empty.
func (g *geometry) gammas(l *List) {
	if !g.words {
		return
	}
	head, st := g.dim(10), g.text(11)
	lead, key := st.Size*1.4, 14*g.k
	title := "gamma"
	w := gauge.Width(title, head)
	for _, c := range g.chans {
		w = math.Max(w, key+6+gauge.Width(g.gammaWords(c), st))
	}
	h := lead * float64(len(g.chans)+1)
	p := g.plot.grow(-8)
	for _, at := range []Pt{{X: p.x1 - w, Y: p.y0}, {X: p.x1 - w, Y: p.y0 + 0.15*p.h()}, {X: p.x0, Y: p.y1 - h - 24}, {X: p.x0, Y: p.y0 + p.h()/2}} {
		b := box{at.X, at.Y, at.X + w*1.03, at.Y + h}
		if !b.inside(g.plot) || !g.clear(b.grow(4), true) {
			continue
		}
		y := at.Y + lead*0.75
		g.table = b
		g.put(l, Text{At: Pt{X: at.X, Y: y}, S: title, Style: head})
		for _, c := range g.chans {
			y += lead
			l.Add(drawing.Segment(at.X, y-gauge.Cap(st)/2, at.X+key, y-gauge.Cap(st)/2, 2.4, g.col(c)))
			g.put(l, Text{At: Pt{X: at.X + key + 6, Y: y}, S: g.gammaWords(c), Style: st})
		}
		return
	}
}

func (g *geometry) gammaWords(c int) string {
	s := fmt.Sprintf("%.2f", g.d.Curve.Channels[c].Gamma)
	if g.d.Grey {
		return s
	}
	return g.d.name(c) + "  " + s
}

// among reports whether a box lies between the curves or on their bands.
func (g *geometry) among(b box) bool {
	for i := range 5 {
		x := b.x0 + b.w()*float64(i)/4
		stop, ok := g.stopAt(x)
		if !ok {
			continue
		}
		top, low := math.Inf(1), math.Inf(-1)
		for _, q := range g.d.At(stop).Channels {
			if q.OK {
				s := 0.0
				if finite(q.Sigma) {
					s = 2 * q.Sigma
				}
				top, low = math.Min(top, g.y(q.Density+s)), math.Max(low, g.y(q.Density-s))
			}
		}
		if b.y0 < low+2 && b.y1 > top-2 {
			return true
		}
	}
	return false
}

// partWords names toe, straight line and shoulder once for all channels.
func (g *geometry) partWords(l *List) {
	if !g.words {
		return
	}
	// Of the channels together: where each part lies on the middle one.
	c := g.chans[len(g.chans)/2]
	ch := g.d.Curve.Channels[c]
	if !(ch.Gamma > 0) {
		return
	}
	lo, hi := g.d.covered(c)
	from, to := math.Max(ch.Useful[0], g.d.Curve.LogE[lo]), math.Min(ch.Useful[1], g.d.Curve.LogE[hi])
	for _, q := range []struct {
		part   Part
		lo, hi float64
	}{{Straight, ch.Straight[0], ch.Straight[1]}, {Toe, from, ch.Straight[0]}, {Shoulder, ch.Straight[1], to}} {
		if q.hi-q.lo < 0.1 {
			continue
		}
		v, ok := g.d.value(g.d.Curve.Density[c], (q.lo+q.hi)/2)
		if !ok {
			continue
		}
		o := Pt{X: g.x((q.lo + q.hi) / 2 / stopLog), Y: g.y(v)}
		st := g.text(10.5).Aligned(paint.Centre)
		w := gauge.Width(string(q.part), st)/2 + 6
		var at, beside []Pt
		// Outwards from the curve, to the upper right and to the lower left by turns.
		for r := 4.0; r < 90*g.k; r += 4 {
			h := 0.5 * gauge.Cap(st)
			at = append(at, Pt{X: o.X + w + 0.5*r, Y: o.Y + h - r}, Pt{X: o.X - w - 0.5*r, Y: o.Y + h + r},
				Pt{X: o.X + 0.3*r, Y: o.Y + h - 1.2*r}, Pt{X: o.X - 0.3*r, Y: o.Y + h + 1.2*r})
		}
		t := Text{S: string(q.part), Style: st}
		for _, p := range at {
			if t.At = p; !g.among(textBox(t)) {
				beside = append(beside, p)
			}
		}
		if !g.first(l, t, beside) {
			g.first(l, t, at)
		}
	}
}
