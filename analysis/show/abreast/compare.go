package abreast

import (
	"fmt"
	"math"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/shelf/against"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// headings of the groups.
var headings = map[against.Group]string{against.Ranges: "Range", against.Response: "Response", against.Noise: "Noise", against.Casts: "Casts", against.Costs: "What salvage costs"}

// Compare draws a comparison as one page, w units wide.
func Compare(r *against.Result, w float64, g Ground, title string) *drawing.List {
	p := newPage(w, g, title)
	p.y = 18
	p.text(margin, p.y+18, w-2*margin, title, style(22, p.pal.Text).Bold())
	p.y += 36
	p.key(r)
	for _, s := range r.Held() {
		p.y += p.lines(margin, p.y, w-2*margin, s, style(13.5, p.pal.Text))
	}
	for _, s := range r.Warnings {
		p.Add(drawing.Rect(margin, p.y+4, margin+3, p.y+18, p.pal.Judge))
		p.y += p.lines(margin+12, p.y, w-2*margin-12, s, style(13, p.pal.Text))
	}
	p.y += 12
	p.ranges(r)
	p.chapters(r) // the answer before what it rests on
	p.repeated(r)
	p.plots(r)
	p.y += p.lines(margin, p.y, w-2*margin, Basis(r), style(11.5, p.pal.Dim)) + 16
	l := p.ground()
	l.Desc = strings.Join(r.Held(), " ")
	return l
}

// Basis says what the comparison rests on.
func Basis(r *against.Result) string {
	s := fmt.Sprintf("From the readings that the roll files keep. Bands and whiskers hold a figure in 95 of 100 cases. %d figures of pairs were tried, so errors are stretched %.1f times before two rolls are told apart: of 100 comparisons of rolls that are alike, at least 95 tell no difference.", r.Tried, math.Max(1, r.Stretch))
	return s
}

// key names the rolls.
func (p *page) key(r *against.Result) {
	for i, x := range r.Rolls {
		col, on, off := p.pal.Of(i)
		y := p.y + 12
		p.Add(drawing.Line{Pts: []drawing.Pt{{X: margin, Y: y - 4}, {X: margin + 34, Y: y - 4}}, Width: 3, On: on, Off: off, Col: col})
		p.text(margin+42, y, 0, Letter(i), style(14, p.pal.Text).Bold())
		name := style(14, p.pal.Text).Bold()
		half := (p.W - 2*margin - 64) * 0.4
		p.text(margin+64, y, half, x.Name, name)
		var facts []string
		for _, f := range r.Facts {
			if v := f.Values[i]; v != "" {
				facts = append(facts, v)
			}
		}
		p.text(margin+64+half+16, y, p.W-2*margin-64-half-16, strings.Join(facts, "  ·  "), style(12.5, p.pal.Dim))
		p.y += 22
	}
	p.y += 8
}

func (p *page) heading(s string) {
	p.text(margin, p.y+16, p.W-2*margin, s, style(15, p.pal.Text).Bold())
	p.y += 26
}

// ranges draws them on one axis.
func (p *page) ranges(r *against.Result) {
	p.heading("Range, on one axis of stops")
	lo, hi := -1.0, 1.0
	for _, x := range r.Rolls {
		for _, f := range x.Readings.Frames {
			if f.Stop != nil {
				lo, hi = math.Min(lo, math.Floor(*f.Stop)), math.Max(hi, math.Ceil(*f.Stop))
			}
		}
	}
	a := axis{x0: margin + 190, x1: p.W - margin - 14, lo: lo, hi: hi}
	p.scale(a, p.y+10)
	p.y += 16
	const h = 34.0
	p.Add(drawing.Rect(margin, p.y, p.W-margin, p.y+h*float64(len(r.Rolls)), p.pal.Well))
	p.grid(a, p.y, p.y+h*float64(len(r.Rolls)))
	for i, x := range r.Rolls {
		y := p.y + h/2
		p.text(margin+8, y+5, 24, Letter(i), style(14, p.pal.Text).Bold())
		p.text(margin+30, y+4, 154, x.Name, style(12.5, p.pal.Dim))
		var judged *roll.Range
		if len(x.Roll.Marks) > 0 {
			judged = x.Roll.Marks[0].Range
		}
		p.rangeBar(a, y, x.Readings, judged, x.Stale != "")
		p.y += h
	}
	p.y += 8
	p.y += p.lines(margin, p.y, p.W-2*margin, "Bar: holds, with the errors of its ends under it; line: strains; an arrow: the roll does not reach the end; bracket: the judge's range.", style(11.5, p.pal.Dim)) + 12
}

// sample is a figure over stops.
type sample struct{ x, y, e float64 }

// plot is a small plot over stops.
type plot struct {
	title, foot string
	curves      [][]sample // of the rolls; nil: not known
	zero        bool       // 0 is always shown
	limits      []float64  // dashed, horizontal
	decimals    int
	least       float64 // of the upright axis: what differs by less than that is drawn flat
}

// plots draws responses, noise, casts and costs.
func (p *page) plots(r *against.Result) {
	p.heading("Over the stops")
	all := []plot{responsePlot(r), noisePlot(r), castPlot(r, 0, "Cast of a mid-grey: cyan up, red down, CC"), castPlot(r, 2, "Cast of a mid-grey: yellow up, blue down, CC")}
	for _, c := range criteria.All() {
		all = append(all, costPlot(r, c))
	}
	var some []plot
	for _, q := range all {
		for _, c := range q.curves {
			if len(c) > 0 {
				some = append(some, q)
				break
			}
		}
	}
	columns := 2
	switch {
	case p.W >= 2000:
		columns = 4
	case p.W >= 1300:
		columns = 3
	case p.W < 640:
		columns = 1
	}
	gap := 22.0
	w := (p.W - 2*margin - gap*float64(columns-1)) / float64(columns)
	h := math.Max(200, w*0.58)
	for i, q := range some {
		col := i % columns
		p.plot(q, margin+float64(col)*(w+gap), p.y, w, h)
		if col == columns-1 || i == len(some)-1 {
			p.y += h + 16
		}
	}
	if len(some) == 0 {
		p.y += p.lines(margin, p.y, p.W-2*margin, "The rolls tell no response, noise or costs.", style(13, p.pal.Dim)) + 8
	}
}

// shown is how many stops from mid-grey responses and noise are drawn: a scene has no more.
const shown = 6.0

func responsePlot(r *against.Result) plot {
	q := plot{title: "Response, green: density of the scan, dark up", foot: "stops from mid-grey", decimals: 1, zero: true}
	for _, x := range r.Rolls {
		var c []sample
		for s := -shown; s <= shown; s += 0.125 {
			if d, e, ok := against.DensityAt(x.Readings, 1, s); ok {
				c = append(c, sample{s, d, 2 * e})
			}
		}
		q.curves = append(q.curves, c)
	}
	return q
}

func noisePlot(r *against.Result) plot {
	q := plot{title: "Noise of greys in the base frame, L*", foot: "stops from mid-grey", decimals: 2, zero: true}
	for _, x := range r.Rolls {
		var c []sample
		if n := x.Readings.Noise; n != nil {
			for i, s := range n.Stops {
				if math.Abs(s) > shown {
					continue
				}
				c = append(c, sample{s, n.L[i], 2 * n.Error[i]})
			}
		}
		q.curves = append(q.curves, c)
	}
	return q
}

func castPlot(r *against.Result, channel int, title string) plot {
	q := plot{title: title, foot: "stops that the mid-grey got", zero: true, least: 4}
	for _, x := range r.Rolls {
		var c []sample
		for s := -4.0; s <= 4; s += 0.25 {
			if f := against.CastOf(x.Readings, channel, s); f != nil {
				c = append(c, sample{s, f.Value, f.Error})
			}
		}
		q.curves = append(q.curves, c)
	}
	return q
}

func costPlot(r *against.Result, k criteria.Criterion) plot {
	q := plot{title: k.Title() + ", " + k.Unit(), foot: "stops from the base exposure", zero: !k.Least(), decimals: 1}
	q.least = 1
	scale := 1.0
	if k == criteria.LostArea || k == criteria.ContrastKept {
		scale, q.decimals, q.least = 100, 0, 10
	}
	l := r.Rolls[0].Readings.Limits.Limits[k]
	q.limits = []float64{scale * l.Holds, scale * l.Strains}
	for _, x := range r.Rolls {
		var c []sample
		if n := x.Readings.Costs; n != nil {
			for i, s := range n.Stops {
				if v, e := n.Values[k.Key()], n.Errors[k.Key()]; i < len(v) && v[i] != nil {
					c = append(c, sample{s, scale * *v[i], scale * 2 * *e[i]})
				}
			}
		}
		q.curves = append(q.curves, c)
	}
	return q
}

// extent returns what a plot shows.
func (q plot) extent() (x0, x1, y0, y1 float64) {
	x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	if q.zero {
		y0, y1 = 0, 0
	}
	for _, c := range q.curves {
		for _, s := range c {
			x0, x1 = math.Min(x0, s.x), math.Max(x1, s.x)
			y0, y1 = math.Min(y0, s.y), math.Max(y1, s.y)
		}
	}
	for _, l := range q.limits {
		if l <= y1+(y1-y0) && l >= y0-(y1-y0) {
			y0, y1 = math.Min(y0, l), math.Max(y1, l)
		}
	}
	if d := math.Max(q.least, 1e-3) - (y1 - y0); d > 0 {
		y1 += d / 2
		if y0 -= d / 2; q.zero && y0 < 0 {
			y0, y1 = y0+d/2, y1+d/2
		}
	}
	pad := (y1 - y0) * 0.06
	return math.Floor(x0), math.Ceil(x1), y0 - pad, y1 + pad
}

func (p *page) plot(q plot, x, y, w, h float64) {
	p.text(x, y+14, w, q.title, style(13, p.pal.Text).Bold())
	lo, hi, y0, y1 := q.extent()
	const left, right, top, bottom = 40.0, 22.0, 24.0, 36.0
	box := struct{ x0, y0, x1, y1 float64 }{x + left, y + top, x + w - right, y + h - bottom}
	a := axis{x0: box.x0, x1: box.x1, lo: lo, hi: hi}
	yOf := func(v float64) float64 {
		return box.y1 - (box.y1-box.y0)*(math.Max(y0, math.Min(y1, v))-y0)/(y1-y0)
	}
	p.Add(drawing.Rect(box.x0, box.y0, box.x1, box.y1, p.pal.Well))
	p.grid(a, box.y0, box.y1)
	p.scale(a, box.y1+14)
	p.text((box.x0+box.x1)/2, box.y1+30, 0, q.foot, style(11.5, p.pal.Dim).Aligned(paint.Centre))
	step := 0.01
	for _, s := range []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200} {
		if step = s; s/(y1-y0)*(box.y1-box.y0) >= 30 {
			break
		}
	}
	decimals := q.decimals
	if step < 1 {
		decimals = max(decimals, int(math.Ceil(-math.Log10(step)-1e-9)))
	}
	for v := math.Ceil(y0/step) * step; v <= y1+1e-9; v += step {
		p.Add(drawing.Segment(box.x0, yOf(v), box.x1, yOf(v), 1, p.pal.Rule))
		p.text(box.x0-6, yOf(v)+4, 0, fixed(v, decimals), style(11.5, p.pal.Dim).Aligned(paint.Right))
	}
	for i, l := range q.limits {
		if l > y0 && l < y1 {
			p.Add(drawing.Line{Pts: []drawing.Pt{{X: box.x0, Y: yOf(l)}, {X: box.x1, Y: yOf(l)}}, Width: 1.25, On: 4, Off: 3, Col: p.pal.Judge})
			p.text(box.x0+4, yOf(l)-3, 0, []string{"holds", "strains"}[i], style(11, p.pal.Judge))
		}
	}
	p.curves(q, a, yOf, box.y0, box.y1)
}

// curves draws them with bands of their errors, where there are few, and a letter at their
// ends.
func (p *page) curves(q plot, a axis, yOf func(float64) float64, top, bottom float64) {
	const most = 5 // bands over each other that can still be read
	for i, c := range q.curves {
		if col, _, _ := p.pal.Of(i); len(q.curves) <= most && len(c) > 1 {
			var up, down []drawing.Pt
			for _, s := range c {
				up = append(up, drawing.Pt{X: a.x(s.x), Y: yOf(s.y + s.e)})
				down = append(down, drawing.Pt{X: a.x(s.x), Y: yOf(s.y - s.e)})
			}
			for k := len(down) - 1; k >= 0; k-- {
				up = append(up, down[k])
			}
			p.Add(drawing.Area{Pts: up, Col: paint.Alpha(col, 0.16)})
		}
	}
	var taken []float64
	for i, c := range q.curves {
		col, on, off := p.pal.Of(i)
		var pts []drawing.Pt
		for _, s := range c {
			pts = append(pts, drawing.Pt{X: a.x(s.x), Y: yOf(s.y)})
		}
		switch len(pts) {
		case 0:
			continue
		case 1:
			p.Add(drawing.Dot{At: pts[0], R: 3, Col: col})
		default:
			p.Add(drawing.Line{Pts: pts, Width: 2, On: on, Off: off, Col: col})
		}
		last := pts[len(pts)-1]
		y := math.Max(top+6, math.Min(bottom-2, last.Y+4))
		for k := 0; k < 24 && near(taken, y); k++ { // letters stand apart, up and down in turn
			d := 11 * float64(k/2+1)
			if k%2 == 1 {
				d = -d
			}
			if v := last.Y + 4 + d; v > top && v < bottom+4 {
				y = v
			}
		}
		taken = append(taken, y)
		p.text(last.X+5, y, 0, Letter(i), style(12, col).Bold())
	}
}

func near(taken []float64, y float64) bool {
	for _, t := range taken {
		if math.Abs(t-y) < 10.5 {
			return true
		}
	}
	return false
}

func fixed(v float64, decimals int) string {
	s := fmt.Sprintf("%.*f", decimals, v)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// chapters tell what differs and what does not.
func (p *page) chapters(r *against.Result) {
	p.heading("What differs by more than its errors, and what does not")
	for _, g := range against.Groups() {
		says := r.Sentences(g)
		if len(says) == 0 {
			continue
		}
		p.text(margin, p.y+14, 150, headings[g], style(13, p.pal.Dim).Bold())
		for _, s := range says {
			p.y += p.lines(margin+160, p.y, p.W-2*margin-160, s, style(13, p.pal.Text)) + 2
		}
		p.y += 8
	}
}

// repeated tells how far a test strays that was made again.
func (p *page) repeated(r *against.Result) {
	says := against.RepeatedWords(r)
	if len(says) == 0 {
		return
	}
	p.heading("Made again")
	for _, s := range says {
		p.y += p.lines(margin, p.y, p.W-2*margin, s, style(13, p.pal.Text)) + 2
	}
	p.y += 8
}
