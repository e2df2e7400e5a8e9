package plate

import "math"

// cellOf is what stands at a frame on a page whose height is free: how high it is under a
// given width, and how it is drawn.
type cellOf struct {
	height func(w float64) float64 // besides the pictures
	draw   func(p *Page, b Box)    // b is the whole cell
	stack  float64                 // pictures of a cell, one above the other
}

// free lays out cells in rows by stop on a page as high as they need, with as many rows as
// make it stand the way that the shape says; what is free beside the last rows has words
// and figures.
func (p *Page) free(in *Input, aspects []float64, cells []cellOf) {
	rowGap := rowGap
	if len(cells) > 0 && cells[0].stack > 1 {
		rowGap = 26 // pairs stand together
	}
	p.W = a3
	if p.Options.Shape.Upright() {
		p.W = a3 / math.Sqrt2
	}
	inner := p.W - 2*edge
	head := p.header(in, inner)
	n := len(cells)
	top := edge*0.85 + head.h + 13
	foot := p.foot(in, p.longNotes(in), inner)
	goal := p.Options.Shape.ratio()
	head.draw(p, edge, edge*0.85)
	if n == 0 {
		p.text("This roll has no frames yet.", p.style(14), inner).draw(p, edge, top)
		foot.draw(p, edge, top+40)
		p.H = top + 40 + foot.h + edge*0.8
		return
	}
	t := p.told(in)
	band := p.firstBand(t, inner).h + 18
	stack := cells[0].stack
	under := func(k int, w float64) float64 { return cells[k].height(w) }
	var rows [][2]int
	var best []gridRow
	var h float64
	score := math.Inf(1)
	for k := 1; k <= n; k++ {
		rows = part(n, k)
		// A cell of several pictures is as wide as one of them.
		hi := highest(aspects, rows, picGap, rowGap, inner, math.Inf(1), 1, under)
		hi = math.Min(hi, 720/stack)
		g, w, _ := grid(aspects, rows, hi, picGap, rowGap, under)
		total := 0.0
		least := math.Inf(1)
		for _, r := range g {
			total += stack*hi + r.cap + rowGap
			for _, v := range r.w {
				least = math.Min(least, v)
			}
		}
		height := top + total + band + foot.h + 14 + edge*0.8
		s := math.Abs(math.Log(p.W / height / goal))
		if least < 84 {
			s += 3 * (84 - least) / 84
		}
		s += 0.8 * math.Max(0, 200-least) / 200 // photographs are the matter
		if w < inner*0.9 {
			s += 0.3
		}
		if s < score {
			score, best, h = s, g, hi
		}
	}
	y := top
	x0 := edge
	var gx float64
	wide := 0.0
	for _, g := range best {
		wide = math.Max(wide, g.x[len(g.x)-1]+g.w[len(g.w)-1])
	}
	gx = x0 + math.Max(0, inner-wide)/2
	if len(best) > 1 || inner-wide > sideCol {
		gx = x0
	}
	var beside *Box
	for _, g := range best {
		rowH := stack*h + g.cap
		for k := g.from; k < g.to; k++ {
			b := Box{gx + g.x[k-g.from], y, g.w[k-g.from], rowH}
			cells[k].draw(p, b)
		}
		if x := gx + g.x[len(g.x)-1] + g.w[len(g.w)-1] + gutter; x0+inner-x > 200 {
			if beside == nil {
				beside = &Box{x, y, x0 + inner - x, rowH}
			} else if x >= beside.X-1 {
				beside.H = y + rowH - beside.Y
			}
		}
		y += rowH + rowGap
	}
	y += 18 - rowGap
	if beside != nil && beside.H > p.firstBand(t, beside.W).h {
		p.fill(t, *beside, true)
	}
	if t.axis || !t.said {
		b := p.firstBand(t, inner)
		if b.h > 0 {
			b.draw(p, edge, y)
			y += b.h + 18
		}
	}
	foot.draw(p, edge, y-4)
	p.H = y - 4 + foot.h + edge*0.8
}
