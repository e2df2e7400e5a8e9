package plate

import (
	"image/color"
	"math"
	"sort"
	"strconv"
	"strings"

	"stopladder/analysis/film/finding"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// scale takes stops to places along an axis.
type scale struct {
	at       []float64 // stops of the frames, rising, each once
	pos      []float64 // their places
	from, to float64   // where the axis begins and ends: places
}

// spread returns the scale on which frames stand at given places, the distance between
// them shared evenly by the stops between; frames at one stop stand at their mean.
func spread(at, pos []float64, from, to float64) scale {
	type sum struct{ p, n float64 }
	sums := map[float64]*sum{}
	for i, s := range at {
		if !finite(s) {
			continue
		}
		q := sums[s]
		if q == nil {
			q = &sum{}
			sums[s] = q
		}
		q.p, q.n = q.p+pos[i], q.n+1
	}
	sc := scale{from: from, to: to}
	for s := range sums {
		sc.at = append(sc.at, s)
	}
	sort.Float64s(sc.at)
	for _, s := range sc.at {
		sc.pos = append(sc.pos, sums[s].p/sums[s].n)
	}
	return sc
}

// even returns the scale on which all stops are equally far apart, the outermost frames
// inset from the ends.
func even(at []float64, from, to float64) scale {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range at {
		if finite(s) {
			lo, hi = math.Min(lo, s), math.Max(hi, s)
		}
	}
	if !(hi > lo) {
		if !finite(lo) {
			lo = 0
		}
		return spread([]float64{lo}, []float64{(from + to) / 2}, from, to)
	}
	inset := math.Min(0.5/(hi-lo+1), 0.08)
	var pos []float64
	for _, s := range at {
		pos = append(pos, from+(to-from)*(inset+(1-2*inset)*(s-lo)/(hi-lo)))
	}
	return spread(at, pos, from, to)
}

// place returns where a stop lies, kept between the axis' ends.
func (s scale) place(stop float64) float64 {
	n := len(s.at)
	var v float64
	switch {
	case n == 0:
		return (s.from + s.to) / 2
	case n == 1:
		v = s.pos[0] + (stop-s.at[0])*(s.to-s.from)/4
	default:
		i := min(max(sort.SearchFloat64s(s.at, stop), 1), n-1)
		a, b := s.at[i-1], s.at[i]
		v = s.pos[i-1] + (s.pos[i]-s.pos[i-1])*(stop-a)/(b-a)
	}
	lo, hi := math.Min(s.from, s.to), math.Max(s.from, s.to)
	return math.Max(lo, math.Min(hi, v))
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (in *Input) stops() (out []float64) {
	for _, f := range in.Frames {
		if f.Data != nil {
			out = append(out, f.Data.Stop)
		}
	}
	return out
}

// lanes are how far, in points, the ranges lie off the axis' line.
const (
	judgeLane    = 8.0
	measuredLane = 17.0
)

// ranges draws the two ranges beside an axis; at turns a place along the axis and a
// distance off it into a point.
func (p *Page) ranges(in *Input, sc scale, at func(along, off float64) drawing.Pt) {
	line := func(a0, o0, a1, o1, w float64, col color.NRGBA) {
		p.Add(drawing.Line{Pts: []drawing.Pt{at(a0, o0), at(a1, o1)}, Width: w, Col: col})
	}
	if g := in.Range; g != nil && finite(g.Lo) && finite(g.Hi) {
		a, b := sc.place(g.Lo), sc.place(g.Hi)
		line(a, judgeLane, b, judgeLane, 3.2, p.pal.judge)
		for _, e := range []float64{a, b} {
			line(e, judgeLane-4.5, e, judgeLane+4.5, 2.4, p.pal.judge)
		}
	}
	if m := in.Measured; m != nil && m.Holds.Reason == "" {
		a, b := sc.place(m.Holds.Lo.Stop), sc.place(m.Holds.Hi.Stop)
		line(a, measuredLane, b, measuredLane, 1.6, p.pal.text)
		for _, e := range []struct {
			x   latitude.End
			way float64
		}{{m.Holds.Lo, -1}, {m.Holds.Hi, 1}} {
			x := sc.place(e.x.Stop)
			if e.x.Open { // an arrow: it reaches at least so far
				tip := math.Copysign(4.5, (sc.to-sc.from)*e.way)
				line(x-tip, measuredLane-3, x, measuredLane, 1.2, p.pal.text)
				line(x-tip, measuredLane+3, x, measuredLane, 1.2, p.pal.text)
				continue
			}
			line(x, measuredLane-3.5, x, measuredLane+3.5, 1.2, p.pal.text)
			if u := e.x.Uncertainty; u > 0 && finite(u) {
				line(sc.place(e.x.Stop-u), measuredLane, sc.place(e.x.Stop+u), measuredLane, 0.8, p.pal.text)
				w := sc.place(e.x.Stop + u*e.way) // the inner end lies in the range's own line
				line(w, measuredLane-1.8, w, measuredLane+1.8, 0.8, p.pal.text)
			}
		}
	}
}

// across makes a block of a level axis from x to x+w of a column, on which the ranges
// stand; sc is in places from the column's left edge.
func (p *Page) across(in *Input, sc scale, w float64) block {
	top := 0.0
	if in.Range != nil || in.Measured != nil && in.Measured.Holds.Reason == "" {
		top = measuredLane + 4.5
	}
	labels := p.axisLabels(sc)
	return block{h: top + 5 + 9*capOver + 4, draw: func(p *Page, x, y float64) {
		y0 := y + top
		p.segment(x+sc.from, y0, x+sc.to, y0, 1, p.pal.strong)
		p.ranges(in, sc, func(along, off float64) drawing.Pt { return drawing.Pt{X: x + along, Y: y0 - off} })
		for _, l := range labels {
			at := x + sc.place(l)
			p.segment(at, y0-2.5, at, y0+2.5, 1, p.pal.strong)
			st := p.dim(9).Aligned(paint.Centre)
			if l == 0 {
				st = p.bold(9).Aligned(paint.Centre)
			}
			p.line(at, y0+6, stops.Label(l), st)
		}
	}}
}

// axisLabels returns the stops that are labelled: 0 first, then whole ones, then the
// other frames, where their words have room.
func (p *Page) axisLabels(sc scale) []float64 {
	order := append([]float64(nil), sc.at...)
	rank := func(s float64) int {
		switch {
		case s == 0:
			return 0
		case s == math.Round(s):
			return 1
		}
		return 2
	}
	sort.SliceStable(order, func(a, b int) bool { return rank(order[a]) < rank(order[b]) })
	var out []float64
	half := func(s float64) float64 { return width(stops.Label(s), p.bold(9))/2 + 3 }
next:
	for _, s := range order {
		for _, t := range out {
			if math.Abs(sc.place(s)-sc.place(t)) < half(s)+half(t) {
				continue next
			}
		}
		out = append(out, s)
	}
	sort.Float64s(out)
	return out
}

// rangeKey says the ranges in words, each beside the line that draws it.
func (p *Page) rangeKey(in *Input, w float64) block {
	const sample = 16.0
	var rows []block
	add := func(words string, col, ink color.NRGBA, thick float64) {
		st := p.style(8.5).Tinted(ink)
		t := p.text(words, st, w-sample-6)
		rows = append(rows, block{h: t.h, draw: func(p *Page, x, y float64) {
			mid := y + 8.5*capOver/2
			p.segment(x, mid, x+sample, mid, thick, col)
			t.draw(p, x+sample+6, y)
		}})
	}
	if m := in.Measured; m != nil {
		if m.Holds.Reason == "" {
			add("measured: holds "+finding.Span(m.Holds)+uncertain(m.Holds), p.pal.text, p.pal.text, 1.6)
		} else if strings.Join(in.Finding.Measured, " ") != m.Holds.Reason { // else the finding says it
			rows = append(rows, p.text("measured: "+m.Holds.Reason, p.style(8.5), w))
		}
	}
	if in.Range != nil {
		name := "the judge"
		if j := strings.TrimSpace(in.Judge); j != "" {
			name = j
		}
		add(name+": "+stops.Label(in.Range.Lo)+" to "+stops.Label(in.Range.Hi)+" stops", p.pal.judge, p.pal.judgeText, 3.2)
	}
	return over(4, rows...)
}

// uncertain writes the uncertainties of a range's ends.
func uncertain(g latitude.Range) string {
	pm := func(e latitude.End) string {
		if e.Open {
			return "open"
		}
		return "\u00b1" + strconv.FormatFloat(math.Max(0.01, e.Uncertainty), 'f', 2, 64)
	}
	a, b := pm(g.Lo), pm(g.Hi)
	if a == b {
		return " (" + a + ")"
	}
	return " (" + a + ", " + b + ")"
}
