package plot

import (
	"fmt"
	"math"
	"sort"

	"stopladder/analysis/ink"
	"stopladder/analysis/response"
	"stopladder/analysis/rung"
	"stopladder/analysis/stops"
)

// list draws the plot.
func (g *geometry) list() *List {
	l := &List{W: g.w, H: g.h}
	l.Title, l.Desc = g.names()
	l.rect(0, 0, g.w, g.h, g.pal.Panel)
	if len(g.chans) == 0 {
		g.refusal(l)
		return l
	}
	p := g.plot
	l.rect(p.x0, p.y0, p.x1, p.y1, g.pal.Well)
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

// refusal says why there is no plot.
func (g *geometry) refusal(l *List) {
	st, head := g.dim(12), g.text(13).Bold().Aligned(ink.Centre)
	in := math.Min(g.w-16, 460*g.k)
	if in < 20 {
		return
	}
	lead := st.Size * 1.4
	rows := gauge.Wrap(plain(g.d.reason()), st, in*0.97, max(1, int((g.h-12)/lead)-1))
	y := (g.h-lead*float64(len(rows)+1))/2 + lead*0.75
	if g.h >= lead*float64(len(rows)+1)+4 {
		l.add(Text{At: Pt{X: g.w / 2, Y: y}, S: "No response", Style: head})
		y += lead
	}
	for _, s := range rows {
		l.add(Text{At: Pt{X: g.w / 2, Y: y}, S: s, Style: st.Aligned(ink.Centre)})
		y += lead
	}
}

// put adds a text and remembers its place.
func (g *geometry) put(l *List, t Text) {
	g.busy = append(g.busy, textBox(t))
	l.add(t)
}

// free says that a text touches nothing and lies inside in.
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

func (g *geometry) densityAxis(l *List) {
	p, st := g.plot, g.dim(10).Aligned(ink.Right)
	if p.x0 < 10 {
		return
	}
	step := 0.1
	for _, s := range []float64{0.1, 0.2, 0.5, 1, 2, 5} {
		step = s
		if s/(g.y1-g.y0)*p.h() >= math.Max(22*g.k, p.h()/11) {
			break
		}
	}
	for v := math.Ceil(g.y0/step) * step; v <= g.y1+1e-9; v += step {
		y := g.y(v)
		l.line(p.x0, y, p.x1, y, 1, ink.Alpha(g.pal.Rule, 0.5))
		l.line(p.x0-4, y, p.x0, y, 1, g.pal.Strong)
		t := Text{At: Pt{X: p.x0 - 7, Y: y + gauge.Cap(st)/2}, S: signless(v), Style: st}
		if g.clear(textBox(t).grow(1), false) {
			g.put(l, t)
		}
	}
	l.line(p.x0, p.y0, p.x0, p.y1, 1, g.pal.Strong)
	head := g.text(10.5)
	for _, s := range []string{"Density of the scan, darker upwards", "Density, darker upwards", "Density, up = dark"} {
		if textWidth(s, head)*1.04 <= g.w-16 {
			g.put(l, Text{At: Pt{X: 8, Y: 6 + gauge.Cap(head)}, S: s, Style: head})
			break
		}
	}
}

func signless(v float64) string {
	if math.Abs(v) < 1e-9 {
		v = 0
	}
	s := fmt.Sprintf("%.1f", v)
	if v < 0 {
		return "\u2212" + s[1:]
	}
	return s
}

func (g *geometry) stopAxis(l *List) {
	p := g.plot
	perStop := p.w() / (g.x1 - g.x0)
	for s := math.Ceil(g.x0); s <= g.x1; s++ {
		if perStop >= 10 || math.Mod(s, 2) == 0 {
			a := 0.3
			if s == 0 {
				a = 1
			}
			l.line(g.x(s), p.y0, g.x(s), p.y1, 1, ink.Alpha(g.pal.Rule, a))
		}
		l.line(g.x(s), p.y1, g.x(s), p.y1+4, 1, g.pal.Strong)
	}
	l.line(p.x0, p.y1, p.x1, p.y1, 1.5, g.pal.Strong)
	if p.x0 < 10 {
		return
	}
	// Frames have their labels first, 0 before all; then whole stops.
	type label struct {
		stop  float64
		frame bool
	}
	var want []label
	for _, f := range g.d.Frames {
		if f.Labelled && finite(f.Stop) && f.Stop >= g.x0 && f.Stop <= g.x1 {
			want = append(want, label{f.Stop, true})
		}
	}
	rank := func(s float64) int {
		switch {
		case s == 0:
			return 0
		case s == math.Round(s):
			return 1
		}
		return 2
	}
	sort.SliceStable(want, func(a, b int) bool { return rank(want[a].stop) < rank(want[b].stop) })
	step := 1.0
	for step < 16 && perStop*step < 26*g.k {
		step *= 2
	}
	for s := math.Ceil(g.x0/step) * step; s <= g.x1; s += step {
		want = append(want, label{s, false})
	}
	for _, q := range want {
		st := g.dim(10.5).Aligned(ink.Centre)
		if q.frame {
			st = g.text(10.5).Bold().Aligned(ink.Centre)
		}
		t := Text{At: Pt{X: g.x(q.stop), Y: p.y1 + 7 + gauge.Cap(st)}, S: stops.Label(q.stop), Style: st}
		if b := textBox(t).grow(3); b.x0 >= 2 && b.x1 <= g.w-2 && g.clear(b, false) {
			g.put(l, t)
		}
	}
	if !g.title {
		return
	}
	from := "taken as metered"
	if g.d.Curve.MidGrey == response.MidGreyPatch {
		from = "by the grey card"
	}
	head := g.text(10.5)
	for _, s := range []string{
		"Exposure: stops from mid-grey of the base exposure (" + from + ")",
		"Stops from mid-grey of the base exposure", "Stops from the base's mid-grey", "Stops",
	} {
		if textWidth(s, head)*1.04 <= g.w-p.x0-6 {
			g.put(l, Text{At: Pt{X: p.x0, Y: g.h - 6}, S: s, Style: head})
			break
		}
	}
}

// logAxisTo draws the secondary axis over the plot.
func (g *geometry) logAxisTo(l *List) {
	if !g.logAxis {
		return
	}
	p, st := g.plot, g.dim(10)
	head := st.Aligned(ink.Right)
	for _, s := range []string{"log10 H from mid-grey of the base exposure", "log10 H"} {
		t := Text{At: Pt{X: p.x1, Y: 6 + gauge.Cap(head)}, S: s, Style: head}
		if g.clear(textBox(t).grow(10), false) {
			g.put(l, t)
			break
		}
	}
	step := 0.5
	if p.w()/(g.x1-g.x0)/stopLog*step < 34*g.k {
		step = 1
	}
	for v := math.Ceil(g.x0*stopLog/step) * step; v <= g.x1*stopLog; v += step {
		x := g.x(v / stopLog)
		l.line(x, p.y0-4, x, p.y0, 1, g.pal.Strong)
		t := Text{At: Pt{X: x, Y: p.y0 - 7}, S: signed(v, 1), Style: st.Aligned(ink.Centre)}
		if b := textBox(t).grow(2); b.x0 >= 2 && b.x1 <= g.w-2 && g.clear(b, false) {
			g.put(l, t)
		}
	}
	l.line(p.x0, p.y0, p.x1, p.y0, 1, g.pal.Rule)
}

// limits draws the densities at which the scan ends.
func (g *geometry) limits(l *List) {
	for _, q := range []struct {
		at    [3]float64
		words string
		up    bool
	}{{g.d.Ceiling, "scan ceiling", true}, {g.d.Floor, "scan floor", false}} {
		var seen []float64
		for _, c := range g.chans {
			v := q.at[c]
			if !finite(v) || v < g.y0 || v > g.y1 {
				continue
			}
			col, one := g.pal.Strong, true
			for _, k := range g.chans {
				one = one && math.Abs(q.at[k]-v) < 0.02
			}
			if !one {
				col = g.col(c)
			} else if len(seen) > 0 {
				continue
			}
			seen = append(seen, v)
			y := g.y(v)
			l.add(Line{Pts: []Pt{{X: g.plot.x0, Y: y}, {X: g.plot.x1, Y: y}}, Width: 1.25, On: 5, Off: 4, Col: col})
			g.walls = append(g.walls, [2]Pt{{X: g.plot.x0, Y: y}, {X: g.plot.x1, Y: y}})
		}
		if len(seen) == 0 || !g.words {
			continue
		}
		sort.Float64s(seen)
		// The curve is dark at little exposure: the ceiling has room at the left, the
		// floor at the right.
		st := g.dim(10)
		x, y := g.plot.x0+8, g.y(seen[len(seen)-1])-5
		if !q.up {
			st, x, y = st.Aligned(ink.Right), g.plot.x1-8, g.y(seen[0])+5+gauge.Cap(st)
		}
		g.put(l, Text{At: Pt{X: x, Y: y}, S: q.words, Style: st})
	}
}

// points are a channel's curve between two log exposures, its ends interpolated.
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

// band is the area of two standard errors to either side, in whole pieces.
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
			l.add(Area{Pts: up, Col: ink.Alpha(g.col(c), 0.25)})
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
		l.add(Line{Pts: all, Width: thin, Col: g.col(c)})
		for i := 1; i < len(all); i++ {
			if finitePt(all[i-1]) && finitePt(all[i]) {
				g.walls = append(g.walls, [2]Pt{all[i-1], all[i]})
			}
		}
		ch := d.Curve.Channels[c]
		if !(ch.Gamma > 0) {
			continue
		}
		l.add(Line{Pts: g.points(c, ch.Straight[0], ch.Straight[1]), Width: 2.4 * thin, Col: g.col(c)})
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
	l.line(px+dy/n*r, py-dx/n*r, px-dy/n*r, py+dx/n*r, 1.3, g.col(c))
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
		l.add(Line{Pts: []Pt{p, q}, Width: 1, On: 3, Off: 3, Col: ink.Alpha(g.col(c), 0.8)})
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
		w := textWidth(s, st)
		gap0, gap1 := 0.0, 0.0
		if words && w*1.12+30 <= x1-x0 {
			mid := (x0 + x1) / 2
			gap0, gap1 = mid-w*0.56-5, mid+w*0.56+5
			g.put(l, Text{At: Pt{X: mid, Y: yc + gauge.Cap(st)/2}, S: s, Style: st.Aligned(ink.Centre)})
		} else if words {
			t := Text{At: Pt{X: x1 + 6, Y: yc + gauge.Cap(st)/2}, S: s, Style: st}
			if t.At.X+w*1.04 > g.w-4 {
				t.At.X, t.Style.Align = x0-6, ink.Right
			}
			if textBox(t).x0 > 2 {
				g.put(l, t)
			}
		}
		if gap1 > gap0 {
			l.line(x0, yc, gap0, yc, 2, g.col(c))
			l.line(gap1, yc, x1, yc, 2, g.col(c))
		} else {
			l.line(x0, yc, x1, yc, 2, g.col(c))
		}
		r := math.Min(4, g.rows*0.42)
		for e, x := range [2]float64{x0, x1} {
			in := 1.0 - 2*float64(e) // towards the inside
			if ch.UsefulOpen[e] {    // goes on: an arrow head
				l.add(Line{Pts: []Pt{{X: x + in*r, Y: yc - r}, {X: x, Y: yc}, {X: x + in*r, Y: yc + r}}, Width: 1.4, Col: g.col(c)})
			} else {
				l.line(x, yc-r, x, yc+r, 2, g.col(c))
			}
		}
	}
}

// frames marks every frame's mid-grey: a disc on the axis at its label, a white
// tick at its measured stop, and a dot where the curves pass it.
func (g *geometry) frames(l *List) {
	y := g.plot.y1
	for _, f := range g.d.Frames {
		at := f.places()
		if len(at) == 0 {
			continue
		}
		mid := at[len(at)-1] // measured, else labelled
		for _, c := range g.chans {
			if v, ok := g.d.value(g.d.Curve.Density[c], mid*stopLog); ok {
				l.add(Dot{At: Pt{X: g.x(mid), Y: g.y(v)}, R: 2.9 * g.k, Col: g.pal.Well},
					Dot{At: Pt{X: g.x(mid), Y: g.y(v)}, R: 1.9 * g.k, Col: g.pal.White})
			}
		}
		if f.Labelled && finite(f.Stop) {
			r := 2.6 * g.k
			if f.Stop == 0 {
				r = 3.4 * g.k
			}
			l.add(Dot{At: Pt{X: g.x(f.Stop), Y: y}, R: r + 1.2, Col: g.pal.Panel}, Dot{At: Pt{X: g.x(f.Stop), Y: y}, R: r, Col: g.pal.Text})
		}
		if f.Measured == nil || !finite(*f.Measured) || math.Abs(*f.Measured) > 30 {
			continue
		}
		m, top := *f.Measured, y-11*g.k
		if off, ok := f.Off(); ok && math.Abs(off) > rung.MeasuredTolerance {
			l.line(g.x(f.Stop), y-7*g.k, g.x(m), y-7*g.k, 1, g.pal.White)
			l.line(g.x(f.Stop), y-7*g.k, g.x(f.Stop), y, 1, g.pal.White)
			if math.Abs(off) > response.LabelLimit && g.words {
				g.flag(l, g.x(m), top-4, signed(off, 2))
			}
		}
		l.line(g.x(m), y-4*g.k, g.x(m), top, 2, g.pal.White)
		if f.Error != nil && finite(*f.Error) && g.x(m+*f.Error)-g.x(m) > 1.5 {
			l.line(g.x(m-*f.Error), top, g.x(m+*f.Error), top, 1, g.pal.White)
		}
	}
}

// flag writes by how much a label is off over its tick, in a frame of its own: it
// may lie on lines, but not on other words.
func (g *geometry) flag(l *List, x, y float64, s string) {
	st := g.text(10).Aligned(ink.Centre)
	for i := range 6 {
		t := Text{At: Pt{X: x, Y: y - 3 - float64(i)*1.7*st.Size}, S: s, Style: st}
		b := textBox(t).grow(3)
		b.y1 -= 1
		if !b.inside(g.plot) || !g.clear(b, false) {
			continue
		}
		l.rect(b.x0, b.y0, b.x1, b.y1, g.pal.Well)
		l.add(Line{Pts: []Pt{{X: b.x0, Y: b.y0}, {X: b.x1, Y: b.y0}, {X: b.x1, Y: b.y1}, {X: b.x0, Y: b.y1}, {X: b.x0, Y: b.y0}}, Width: 1, Col: g.pal.White})
		g.put(l, t)
		return
	}
}

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
	ys := rung.Spread(want, size, g.plot.y0+1, g.plot.y1-1)
	dir := 2*float64(e) - 1
	for i, o := range order {
		c, from := g.chans[o], at[e][o]
		to := Pt{X: edge + dir*7*g.k, Y: ys[i]}
		if math.Abs(to.Y-from.Y) > 1 || math.Abs(from.X-edge) > 2 {
			l.line(from.X, from.Y, to.X, to.Y, 1, g.col(c))
		} else {
			to.X = edge + dir*3
		}
		q := st.Aligned(ink.Left)
		if e == 0 {
			q = st.Aligned(ink.Right)
		}
		g.put(l, Text{At: Pt{X: to.X + dir*2, Y: to.Y + gauge.Cap(st)/2}, S: g.d.name(c), Style: q})
	}
}

// gammas lists the steepest slopes where the plot is empty.
func (g *geometry) gammas(l *List) {
	if !g.words {
		return
	}
	head, st := g.dim(10), g.text(11)
	lead, key := st.Size*1.4, 14*g.k
	title := "gamma"
	w := textWidth(title, head)
	for _, c := range g.chans {
		w = math.Max(w, key+6+textWidth(g.gammaWords(c), st))
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
			l.line(at.X, y-gauge.Cap(st)/2, at.X+key, y-gauge.Cap(st)/2, 2.4, g.col(c))
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

// among says that a box lies between the curves or on their bands.
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
		st := g.text(10.5).Aligned(ink.Centre)
		w := textWidth(string(q.part), st)/2 + 6
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
