package plate

import (
	"image/color"
	"math"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

// mark draws a verdict's sign, w wide, its middle at cy: a bar between posts that stands,
// sags or is broken.
func (p *Page) mark(x, cy, w float64, v roll.Verdict, judged bool) {
	col, post := p.pal.text, p.pal.strong
	if !judged {
		col = p.pal.dim
	}
	dy := w * 0.22
	line := func(t float64, pts ...drawing.Pt) { p.Add(drawing.Line{Pts: pts, Width: t, Col: col}) }
	posts := func() {
		for _, at := range []float64{x, x + w} {
			p.segment(at, cy-dy, at, cy+dy, 1, post)
		}
	}
	t := w * 0.09
	switch v {
	case roll.Holds:
		posts()
		line(t, drawing.Pt{X: x, Y: cy}, drawing.Pt{X: x + w, Y: cy})
	case roll.Strains:
		posts()
		var pts []drawing.Pt
		for i := 0; i <= 12; i++ {
			u := float64(i)/6 - 1
			pts = append(pts, drawing.Pt{X: x + w/2 + u*w/2, Y: cy - 0.1*w + 0.24*w*(1-u*u)})
		}
		line(t, pts...)
	case roll.Breaks:
		posts()
		line(t, drawing.Pt{X: x, Y: cy - 0.12*w}, drawing.Pt{X: x + 0.4*w, Y: cy + 0.16*w})
		line(t, drawing.Pt{X: x + w, Y: cy - 0.12*w}, drawing.Pt{X: x + 0.6*w, Y: cy + 0.16*w})
	default:
		p.segment(x+0.3*w, cy, x+0.7*w, cy, 1, post)
	}
}

// noteRoom and noteLines bound the notes that stand at their pictures; longer ones stand
// in the page's foot.
const (
	noteRoom  = 110.0
	noteLines = 3
)

// short reports whether a note has room at its picture.
func (p *Page) short(note string) bool {
	return !p.away && len(wrap(note, p.style(8), noteRoom)) <= noteLines
}

// caption is what stands under a picture w wide: stop, verdict, what happened, the
// readings, the note. happened stands in the place of what the readings say; "" for that.
func (p *Page) caption(in *Input, i int, w, k float64, happened string, readings bool) block {
	d := in.Frames[i].Data
	if d == nil {
		d = &row.Data{}
	}
	if happened == "" {
		happened = Happened(d)
	}
	name := d.Name()
	big := p.bold(15 * k)
	word, v, judged := verdictWords(d)
	ws := p.bold(9.5 * k)
	if !judged {
		ws = p.dim(9 * k)
	}
	hs := p.dim(9 * k)
	const sign = 17.0
	nameW := width(name, big)
	x1 := nameW + 8*k
	x2 := x1
	if v != roll.Unjudged {
		x2 += sign*k + 6*k
	}
	x3 := x2 + width(word, ws) + 8*k
	head := block{h: 15 * k * capOver}
	drawHead := func(p *Page, x, y float64) {
		p.line(x, y, name, big)
		mid := y + 15*k*capOver/2
		if v != roll.Unjudged {
			p.mark(x+x1, mid, sign*k, v, judged)
		}
		p.line(x+x2, mid-ws.Size*capOver/2, word, ws)
	}
	var under []block
	switch {
	case x3+width(happened, hs) <= w:
		head.draw = func(p *Page, x, y float64) {
			drawHead(p, x, y)
			p.line(x+x3, y+15*k*capOver/2-hs.Size*capOver/2, happened, hs)
		}
	case x3-8*k <= w:
		head.draw = drawHead
		under = append(under, p.text(happened, hs, w))
	default: // narrow: the verdict on a line of its own
		head.draw = func(p *Page, x, y float64) {
			p.line(x, y, name, big)
			if v != roll.Unjudged && x1+sign*k <= w {
				p.mark(x+x1, y+15*k*capOver/2, sign*k, v, judged)
			}
		}
		under = append(under, p.text(word, ws, w), p.text(happened, hs, w))
	}
	if readings && d.Look != nil {
		under = append(under, p.readings(d, math.Min(w-8, 270*k), k))
	}
	if d.Note != "" && p.short(d.Note) {
		under = append(under, p.text(d.Note, p.style(8*k), w))
	}
	return over(5*k, append([]block{head}, under...)...)
}

// leastFlat is the flat share from which it is told: a tenth of a per cent, rounded.
const leastFlat = 0.0005

// mixed lays a colour over another in a strength of 0..1. Opaque, so that the page is the
// same as PNG and as PDF.
func mixed(c, over color.NRGBA, strength float64) color.NRGBA {
	of := func(a, b uint8) uint8 { return uint8(math.Round(strength*float64(a) + (1-strength)*float64(b))) }
	return color.NRGBA{of(c.R, over.R), of(c.G, over.G), of(c.B, over.B), 255}
}

// readings are the three shares of the image area as bars on one scale: beside each other
// where there is room, else under each other.
func (p *Page) readings(d *row.Data, w, k float64) block {
	all := row.Losses(d)
	st, val := p.dim(7.4*k), p.style(7.4*k)
	const thick = 2.4
	widest := 0.0
	for _, l := range all {
		widest = math.Max(widest, width(l.Name, st)+4*k+math.Max(width(row.Percent(l.Share), val), width(p.share, val)))
	}
	gap := 10 * k
	// A share, and after it in a weaker colour what the film no longer separates.
	bar := func(p *Page, l row.Loss, x, y, w float64, i int) {
		p.rect(x, y, w, thick, p.pal.track)
		end := 0.0
		if l.Share > 0 {
			end = math.Max(0.8, w*math.Min(1, l.Share))
			p.rect(x, y, end, thick, p.pal.bars[i])
		}
		if l.Flat >= leastFlat {
			p.rect(x+end, y, math.Min(w-end, w*l.Flat), thick, mixed(p.pal.bars[i], p.pal.track, 0.45))
		}
	}
	// figure has the flat share as well, where there is room beside the name.
	figure := func(l row.Loss, room float64) string {
		s := row.Percent(l.Share)
		if l.Flat >= leastFlat {
			if more := s + " + " + row.Percent(l.Flat) + " flat"; width(more, val) <= room {
				return more
			}
		}
		return s
	}
	line := st.Size * capOver
	each := (w - 2*gap) / 3
	if each >= widest {
		return block{h: line + 3*k + thick, draw: func(p *Page, x, y float64) {
			for i, l := range all {
				at := x + float64(i)*(each+gap)
				p.line(at, y, l.Name, st)
				right := val
				right.Align = paint.Right
				p.line(at+each, y, figure(l, each-width(l.Name, st)-4*k), right)
				bar(p, l, at, y+line+3*k, each, i)
			}
		}}
	}
	pitch := line + 3*k + thick + 5*k
	if widest > w { // names over their figures would be cut
		pitch += line + 3*k
	}
	return block{h: 3*pitch - 5*k, draw: func(p *Page, x, y float64) {
		for i, l := range all {
			at := y + pitch*float64(i)
			p.line(x, at, l.Name, st)
			right := val
			right.Align = paint.Right
			vy, room := at, w-width(l.Name, st)-4*k
			if widest > w {
				vy, room = vy+line+3*k, w
			}
			p.line(x+w, vy, figure(l, room), right)
			bar(p, l, x, at+pitch-5*k-thick, w, i)
		}
	}}
}

// longNotes returns what has no room at the pictures, as one text: notes, and why a scan
// was not read.
func (p *Page) longNotes(in *Input) string {
	s := ""
	for _, i := range in.order() {
		d := in.Frames[i].Data
		if d == nil {
			continue
		}
		for _, t := range []string{d.Note, d.Message} {
			if t == "" || t == d.Note && p.short(t) || t == d.Message && d.State != row.Failed {
				continue
			}
			if s != "" {
				s += "   "
			}
			s += d.Name() + ": " + t
		}
	}
	return s
}
