package plate

import (
	"math"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

// Measures of a ladder, points.
const (
	ladderAxis = 74.0  // labels, line and ranges left of the pictures
	ladderRead = 150.0 // the readings right of them
	ladderEdge = 20.0
)

// ladder lays out one column of large pictures, the most exposed on top, and along its
// left edge the axis with the ranges.
func ladder(in *Input, o Options) *Page {
	p := newPage(in, o)
	idx := in.order()
	n := len(idx)
	for i := range n / 2 { // from the top
		idx[i], idx[n-1-i] = idx[n-1-i], idx[i]
	}
	aspects := in.alike(idx)
	// Pictures are as wide as suits their shape: the page of an upright one is narrower.
	mean := 0.0
	for _, a := range aspects {
		mean += a / float64(max(1, n))
	}
	wide := math.Max(290, math.Min(420, 300*mean))
	p.W = 2*ladderEdge + ladderAxis + wide + 14 + ladderRead
	inner := p.W - 2*ladderEdge
	y := ladderEdge
	head := p.header(in, inner)
	head.draw(p, ladderEdge, y)
	y += head.h + 12
	if n == 0 {
		p.text("This roll has no frames yet.", p.style(12), inner).draw(p, ladderEdge, y)
		y += 40
	}
	x := ladderEdge + ladderAxis
	most := wide / 0.72 // an upright picture is no higher than that
	var at, pos []float64
	top := y
	gap := 7.0
	for k, i := range idx {
		h := math.Min(wide/aspects[k], most)
		w := h * aspects[k]
		d := in.Frames[i].Data
		if d == nil {
			d = &row.Data{}
		}
		side := p.beside(d, ladderRead+wide-w)
		tall := math.Max(h, side.h)
		p.picture(in, i, Box{x, y, w, h}, o.Masks)
		side.draw(p, x+w+14, y)
		at, pos = append(at, d.Stop), append(pos, y+h/2)
		y += tall + gap
	}
	y -= gap
	if n > 0 {
		p.upright(in, spread(at, pos, y, top), x, idx, pos)
	}
	y += 16
	t := p.told(in)
	t.axis = false
	band := p.columns(inner, p.rangeKey(in, inner*0.5-14), p.findingBlock(in, inner*0.5), inner*0.5)
	if len(in.Finding.Measured) == 0 && in.Finding.Own == "" {
		band = p.rangeKey(in, inner)
	}
	if band.h > 0 {
		band.draw(p, ladderEdge, y)
		y += band.h + 16
	}
	foot := p.foot(in, p.longNotes(in), inner)
	foot.draw(p, ladderEdge, y)
	p.H = y + foot.h + ladderEdge*0.9
	return p
}

// beside is what stands beside a picture of a ladder: verdict, what happened, readings,
// note.
func (p *Page) beside(d *row.Data, w float64) block {
	head := p.verdict(d, 14)
	parts := []block{head, p.text(Happened(d), p.style(10.5), w)}
	if d.Look != nil {
		parts = append(parts, block{h: 1, draw: func(*Page, float64, float64) {}}, p.readings(d, math.Min(w, 170), 1.2))
	}
	if d.Note != "" && p.short(d.Note) {
		parts = append(parts, p.text(d.Note, p.dim(9.5), w))
	}
	return over(7, parts...)
}

// verdict is a verdict with its sign, in brackets and paler where it is the limits'.
func (p *Page) verdict(d *row.Data, size float64) block {
	word, v, judged := verdictWords(d)
	st := p.bold(size)
	if !judged {
		st = p.dim(0.93 * size)
	}
	return block{h: size * capOver, draw: func(p *Page, x, y float64) {
		if v != roll.Unjudged {
			p.mark(x, y+size*capOver/2, 1.64*size, v, judged)
			x += 2.2 * size
		}
		p.line(x, y+(size-st.Size)*capOver, word, st)
	}}
}

// upright draws the axis of a ladder: a label at every picture, the line, the ranges. x is
// the pictures' left edge.
func (p *Page) upright(in *Input, sc scale, x float64, idx []int, pos []float64) {
	line := x - 27.0
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, y := range pos {
		lo, hi = math.Min(lo, y), math.Max(hi, y)
	}
	// The axis ends half a picture beyond the outermost.
	p.segment(line, sc.to, line, sc.from, 1, p.pal.strong)
	p.ranges(in, sc, func(along, off float64) drawing.Pt { return drawing.Pt{X: line + off, Y: along} })
	for k, i := range idx {
		d := in.Frames[i].Data
		if d == nil {
			continue
		}
		st := p.style(15)
		if d.Stop == 0 {
			st = st.Bold()
		}
		name := d.Name()
		if d.Label == "" {
			name = stops.Label(d.Stop)
		}
		room := ladderAxis - 27 - 9
		for st.Size > LeastType && width(name, st) > room {
			st.Size -= 0.5
		}
		p.line(line-9, pos[k]-st.Size*capOver/2, name, st.Aligned(paint.Right))
		p.Add(drawing.Dot{At: drawing.Pt{X: line, Y: sc.place(d.Stop)}, R: 2.4, Col: p.pal.text})
	}
}
