package plate

import (
	"math"
	"strings"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/sheet"
)

// Measures of a record, points. It is as wide as DIN A3 stands.
const (
	recordWide   = a3 / math.Sqrt2
	recordTall   = 1180.0 // of all rows together, where they can be read so
	recordLeast  = 84.0   // height of a picture
	recordMost   = 190.0
	recordPic    = 230.0 // width of the widest picture
	recordCast   = 118.0 // side of the plane of casts
	recordWords  = 150.0 // least width of the words, with the bars
	recordGap    = 12.0
	recordColumn = 3 // columns of sentences
)

// record lays out everything that was measured: a row for each frame with its picture, its
// histogram, its casts, its shares and the words, the most exposed on top, along the axis
// with the ranges; under them the response and the stops, the costs, the patches, the
// measured range and the finding, and all that the figures rest on.
func record(in *Input, o Options) *Page {
	p := newPage(in, o)
	p.W = recordWide
	inner := p.W - 2*edge
	y := edge * 0.85
	head := p.header(in, inner)
	head.draw(p, edge, y)
	y += head.h + 14
	if len(in.Frames) == 0 {
		p.text("This roll has no frames yet.", p.style(14), inner).draw(p, edge, y)
		y += 34
	} else {
		y = p.recordRows(in, y, inner)
	}
	t := p.told(in)
	t.axis = false
	band := p.columns(inner, p.rangeKey(in, inner*0.42-gutter), p.findingBlock(in, inner*0.58), inner*0.42)
	y = p.below(band, y, 20)
	if in.Response != nil && in.Response.Curve != nil {
		w := math.Round(inner * 0.62)
		table := p.table(in.Stops(), inner-w-gutter)
		y = p.below(p.columns(inner, p.response(in, w, 0.46*w), table, w+gutter), y, 20)
	}
	half := math.Round(inner * 0.6)
	left, right := block{}, p.rangeTable(in, inner-half-gutter)
	if s := in.Input.Salvage; s != nil && len(in.Frames) > 1 && len(s.Costs.Rows) > 0 {
		left = p.table(s.Costs, half)
	}
	if left.h == 0 {
		left, right = right, block{}
	}
	if len(in.Patches.Rows) > 0 {
		patches := p.table(in.Patches, inner)
		if right.h == 0 || patches.h+right.h < left.h {
			right = over(16, right, p.table(in.Patches, inner-half-gutter))
		} else {
			left = over(16, left, p.table(in.Patches, half))
		}
	}
	y = p.below(p.columns(inner, left, right, half+gutter), y, 20)
	y = p.below(p.sentences(in, inner, recordColumn), y, 16)
	foot := p.foot(in, "", inner)
	foot.draw(p, edge, y)
	p.H = y + foot.h + edge*0.8
	return p
}

// below draws a block at y, where it has a height, and returns where the next begins.
func (p *Page) below(b block, y, gap float64) float64 {
	if b.h <= 0 {
		return y
	}
	b.draw(p, edge, y)
	return y + b.h + gap
}

// recordRows draws the rows, and returns where the next thing begins.
func (p *Page) recordRows(in *Input, y, inner float64) float64 {
	idx := in.order()
	n := len(idx)
	for i := range n / 2 { // from the top
		idx[i], idx[n-1-i] = idx[n-1-i], idx[i]
	}
	aspects := in.alike(idx)
	mean := 0.0
	for _, a := range aspects {
		mean += a / float64(n)
	}
	h := math.Max(recordLeast, math.Min(math.Min(recordMost, recordPic/mean), recordTall/float64(n)-picGap))
	wide := 0.0
	for _, a := range aspects {
		wide = math.Max(wide, h*a)
	}
	wide = math.Min(wide, recordPic)
	x := edge + ladderAxis
	// What is left of the row is shared out: the histogram, the casts, words over bars.
	xHist := x + wide + recordGap
	room := edge + inner - xHist - 2*recordGap
	words := math.Max(recordWords, 0.36*room)
	cast := math.Min(math.Min(recordCast, h), 0.3*room)
	hist := room - words - cast
	xCast := xHist + hist + recordGap
	xWords := xCast + cast + recordGap

	p.recordHeads(in, y, xHist, hist, xCast, xWords)
	y += 27
	top := y
	var at, pos []float64
	for k, i := range idx {
		f := in.Frames[i]
		d := f.Data
		if d == nil {
			d = &row.Data{}
		}
		w := math.Min(wide, h*aspects[k])
		ph := w / aspects[k]
		said := p.recordWords(f, d, words, math.Max(0.95, math.Min(1.15, h/110)))
		tall := math.Max(h, said.h)
		p.picture(in, i, Box{x + wide - w, y, w, ph}, p.Options.Masks)
		if d.Look != nil {
			p.histogram(d, Box{xHist, y, hist, math.Min(h, 0.72*hist)})
			p.casts(d, Box{xCast, y, cast, cast})
		}
		said.draw(p, xWords, y)
		at, pos = append(at, d.Stop), append(pos, y+ph/2)
		y += tall + picGap
	}
	y -= picGap
	p.upright(in, spread(at, pos, y, top), x, idx, pos)
	return y + 18
}

// recordHeads names the columns, and what their lines and dots are.
func (p *Page) recordHeads(in *Input, y, xHist, hist, xCast, xWords float64) {
	st, dim := p.style(8), p.dim(7.2)
	p.line(xHist, y, "Histogram", st)
	p.line(xHist, y+11, "stops below white", dim)
	cx := xHist + hist
	for k := 2; k >= 0; k-- {
		name := []string{"R", "G", "B"}[k]
		cx -= width(name, dim)
		p.line(cx, y+11, name, dim)
		cx -= 11
		p.segment(cx, y+11+capOver*dim.Size/2, cx+9, y+11+capOver*dim.Size/2, 1.6, p.pal.plot.Channel[k])
		cx -= 8
	}
	p.line(xCast, y, "Casts of greys", st)
	span := 0.0
	for _, f := range in.Frames {
		if f.Data != nil {
			span = math.Max(span, f.Data.Scales.Cast)
		}
	}
	if span > 0 {
		p.line(xCast, y+11, "a* b*, ±"+number.Fixed(span, 0), dim)
	}
	p.line(xWords, y, "Verdict, and what decided", st)
	p.line(xWords, y+11, "blown, blocked, noisy in % of the image area", dim)
}

// recordWords are the verdict, what happened, the bars, the note and the file.
func (p *Page) recordWords(f sheet.Frame, d *row.Data, w, k float64) block {
	head := p.verdict(d, 11)
	what := Happened(d)
	if d.State == row.Failed && d.Message != "" {
		what = d.Message
	}
	parts := []block{head, p.text(what, p.style(8.5), w)}
	if d.Look != nil {
		parts = append(parts, p.readings(d, math.Min(w, 190), k))
	}
	if d.Damage != "" {
		parts = append(parts, p.text("the scan is not whole: "+d.Damage, p.style(8), w))
	}
	if d.Note != "" {
		parts = append(parts, p.text(d.Note, p.style(8), w))
	}
	if f.Shown != "" {
		parts = append(parts, p.text("shown: "+f.Shown, p.dim(7.4), w))
	}
	parts = append(parts, p.text(d.File, p.dim(7.4), w))
	return over(5, parts...)
}

// rangeTable is the measured range in figures, and what ended it.
func (p *Page) rangeTable(in *Input, w float64) block {
	s := in.Input.Salvage
	if s == nil || s.Range == nil {
		return block{}
	}
	sections := row.RangeSections(s.Range, s.Limits, row.Finding{})
	if len(sections) == 0 {
		return block{}
	}
	figures := sections[0]
	figures.Rows = nil
	var prose []block
	name := ""
	for _, r := range sections[0].Rows {
		if !r.Prose {
			figures.Rows = append(figures.Rows, r)
			name = r.Name + ": "
			continue
		}
		prose = append(prose, p.text(name+strings.TrimSpace(r.Name), p.dim(7.4), w))
	}
	return over(4, append([]block{p.table(figures, w)}, prose...)...)
}

// sentences sets everything that the figures rest on, whole, in n columns that end as
// alike as whole sentences let them.
func (p *Page) sentences(in *Input, w float64, n int) block {
	head := p.text("What this rests on", p.bold(8.5), w)
	each := (w - gutter*float64(n-1)) / float64(n)
	var all []block
	sum := 0.0
	const between = 4.0
	for _, s := range sheet.Record(in.Input) {
		b := p.text(s, p.dim(7.2), each)
		all = append(all, b)
		sum += b.h + between
	}
	for limit := sum / float64(n); ; limit += 4 {
		cols, ok := dealt(all, n, limit, between)
		if !ok {
			continue
		}
		tall := 0.0
		for _, c := range cols {
			tall = math.Max(tall, c.h)
		}
		top := head.h + 5
		return block{h: top + tall, draw: func(p *Page, x, y float64) {
			head.draw(p, x, y)
			for k, c := range cols {
				c.draw(p, x+float64(k)*(each+gutter), y+top)
			}
		}}
	}
}

// dealt puts blocks into n columns no higher than limit, in reading order; ok is false
// where they have no room.
func dealt(all []block, n int, limit, between float64) (cols []block, ok bool) {
	from, used := 0, 0.0
	for i, b := range all {
		if used > 0 && used+between+b.h > limit {
			cols = append(cols, over(between, all[from:i]...))
			from, used = i, 0
		}
		if b.h > limit {
			return nil, false
		}
		if used > 0 {
			used += between
		}
		used += b.h
	}
	cols = append(cols, over(between, all[from:]...))
	return cols, len(cols) <= n
}

// histogram draws the three channels' histograms over one axis of stops, with the scan's
// ceiling and floor.
func (p *Page) histogram(d *row.Data, b Box) {
	p.rect(b.X, b.Y, b.W, b.H, p.pal.plot.Well)
	at := func(stop float64) float64 {
		return b.X + 1 + (b.W-3)*(stop-row.HistLo)/(row.HistHi-row.HistLo)
	}
	for s := row.HistLo + 2; s < row.HistHi; s += 2 {
		p.segment(at(s), b.Y, at(s), b.Bottom(), 0.4, p.pal.rule)
		if b.H > 52 {
			p.line(at(s), b.Bottom()-8, stops.Label(s), p.dim(LeastType).Aligned(paint.Centre))
		}
	}
	n := int(b.W)
	for k, ys := range row.HistogramHeights(d, n) {
		if ys == nil {
			continue
		}
		pts := make([]drawing.Pt, n)
		for i, v := range ys {
			pts[i] = drawing.Pt{X: at(row.HistLo + (row.HistHi-row.HistLo)*(float64(i)+0.5)/float64(n)), Y: b.Bottom() - (b.H-2)*math.Min(1, v)}
		}
		p.Add(drawing.Line{Pts: pts, Width: 0.9, Col: p.pal.plot.Channel[k]})
	}
	mark := func(v [3]float64, col int, on float64, up float64) {
		seen := map[int]bool{}
		for _, s := range v {
			if !finite(s) {
				continue
			}
			x := at(math.Max(row.HistLo, math.Min(row.HistHi, s)))
			if seen[int(x)] {
				continue
			}
			seen[int(x)] = true
			p.Add(drawing.Line{Pts: []drawing.Pt{{X: x, Y: b.Y}, {X: x, Y: b.Bottom()}}, Width: 0.7, On: on, Off: 2, Col: p.pal.bars[col]})
			tip := b.Y
			if up < 0 {
				tip = b.Bottom()
			}
			p.Add(drawing.Area{Pts: []drawing.Pt{{X: x - 2.2, Y: tip}, {X: x + 2.2, Y: tip}, {X: x, Y: tip + 3*up}}, Col: p.pal.bars[col]})
		}
	}
	mark([3]float64{d.Ceiling.R, d.Ceiling.G, d.Ceiling.B}, 0, 2.4, 1)
	mark([3]float64{d.Floor.R, d.Floor.G, d.Floor.B}, 1, 0.8, -1)
}

// casts draws the plane of a* and b* with the greys of shadows, midtones and highlights,
// joined; neutral, where the base frame's greys stand, is its middle.
func (p *Page) casts(d *row.Data, b Box) {
	p.rect(b.X, b.Y, b.W, b.H, p.pal.plot.Well)
	cx, cy := b.X+b.W/2, b.Y+b.H/2
	p.segment(b.X, cy, b.Right(), cy, 0.4, p.pal.rule)
	p.segment(cx, b.Y, cx, b.Bottom(), 0.4, p.pal.rule)
	if !(d.Scales.Cast > 0) {
		return
	}
	const rad = 2.4
	half := b.W/2 - rad - 1
	var line []drawing.Pt
	dots := [3]*drawing.Pt{}
	for i, c := range d.Casts {
		if c == nil || !finite(c.DA) || !finite(c.DB) {
			continue
		}
		k := func(v float64) float64 { return half * math.Max(-1, math.Min(1, v/d.Scales.Cast)) }
		q := drawing.Pt{X: cx + k(c.DA), Y: cy - k(c.DB)}
		dots[i] = &q
		line = append(line, q)
	}
	if len(line) > 1 {
		p.Add(drawing.Line{Pts: line, Width: 0.9, Col: p.pal.plot.Text})
	}
	for i := len(dots) - 1; i >= 0; i-- {
		if q := dots[i]; q != nil {
			col := p.pal.plot.ShadowDot
			switch i {
			case 1:
				col = p.pal.plot.MidDot
			case 2:
				col = p.pal.plot.High
			}
			p.Add(drawing.Dot{At: *q, R: rad + 0.6, Col: p.pal.plot.Strong}, drawing.Dot{At: *q, R: rad, Col: col})
		}
	}
}
