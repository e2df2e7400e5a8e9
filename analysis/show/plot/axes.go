package plot

import (
	"math"
	"sort"

	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// densityAxis draws the upright axis and its quiet grid.
func (g *geometry) densityAxis(l *List) {
	p, st := g.plot, g.dim(10).Aligned(paint.Right)
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
		l.Add(drawing.Segment(p.x0, y, p.x1, y, 1, paint.Alpha(g.pal.Rule, 0.5)))
		l.Add(drawing.Segment(p.x0-4, y, p.x0, y, 1, g.pal.Strong))
		t := Text{At: Pt{X: p.x0 - 7, Y: y + gauge.Cap(st)/2}, S: number.Fixed(v, 1), Style: st}
		if g.clear(textBox(t).grow(1), false) {
			g.put(l, t)
		}
	}
	l.Add(drawing.Segment(p.x0, p.y0, p.x0, p.y1, 1, g.pal.Strong))
	head := g.text(10.5)
	for _, s := range []string{"Density of the scan, darker upwards", "Density, darker upwards", "Density, up = dark"} {
		if gauge.Width(s, head)*1.04 <= g.w-16 {
			g.put(l, Text{At: Pt{X: 8, Y: 6 + gauge.Cap(head)}, S: s, Style: head})
			break
		}
	}
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
			l.Add(drawing.Segment(g.x(s), p.y0, g.x(s), p.y1, 1, paint.Alpha(g.pal.Rule, a)))
		}
		l.Add(drawing.Segment(g.x(s), p.y1, g.x(s), p.y1+4, 1, g.pal.Strong))
	}
	l.Add(drawing.Segment(p.x0, p.y1, p.x1, p.y1, 1.5, g.pal.Strong))
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
		st := g.dim(10.5).Aligned(paint.Centre)
		if q.frame {
			st = g.text(10.5).Bold().Aligned(paint.Centre)
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
		if gauge.Width(s, head)*1.04 <= g.w-p.x0-6 {
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
	head := st.Aligned(paint.Right)
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
		l.Add(drawing.Segment(x, p.y0-4, x, p.y0, 1, g.pal.Strong))
		t := Text{At: Pt{X: x, Y: p.y0 - 7}, S: number.Signed(v, 1), Style: st.Aligned(paint.Centre)}
		if b := textBox(t).grow(2); b.x0 >= 2 && b.x1 <= g.w-2 && g.clear(b, false) {
			g.put(l, t)
		}
	}
	l.Add(drawing.Segment(p.x0, p.y0, p.x1, p.y0, 1, g.pal.Rule))
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
			l.Add(Line{Pts: []Pt{{X: g.plot.x0, Y: y}, {X: g.plot.x1, Y: y}}, Width: 1.25, On: 5, Off: 4, Col: col})
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
			st, x, y = st.Aligned(paint.Right), g.plot.x1-8, g.y(seen[0])+5+gauge.Cap(st)
		}
		g.put(l, Text{At: Pt{X: x, Y: y}, S: q.words, Style: st})
	}
}
