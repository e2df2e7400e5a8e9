package plate

import (
	"strings"

	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/sheet"
)

// header is the title and what identifies the test: beside it where there is room.
func (p *Page) header(in *Input, w float64) block {
	title, facts := in.title(), in.facts()
	size := 21.0
	for size > 10 && len(wrap(title, p.bold(size), w)) > 2 {
		size -= 3
	}
	ts, fs := p.bold(size), p.dim(9.5)
	if x := width(title, ts) + 14; x+width(facts, fs) <= w {
		return block{h: size * 0.95, draw: func(p *Page, x0, y float64) {
			p.line(x0, y, title, ts)
			p.line(x0+x, y+capOver*(size-9.5), facts, fs)
		}}
	}
	return over(6, p.text(title, ts, w), p.text(facts, fs, w))
}

// foot is the line of conditions, under notes that had no room at their pictures.
func (p *Page) foot(in *Input, notes string, w float64) block {
	return over(6, p.text(notes, p.style(8), w), p.text(in.conditions(), p.dim(7.5), w))
}

// findingBlock is the finding in sentences, the judge's own words first.
func (p *Page) findingBlock(in *Input, w float64) block {
	f := in.Finding
	measured := p.text(strings.Join(f.Measured, " "), p.style(9.5), w)
	if f.Own == "" {
		return measured
	}
	own := over(4, p.text(f.OwnTitle(), p.dim(8), w), p.text(f.Own, p.style(9.5), w))
	if measured.h > 0 {
		measured = over(4, p.text("As measured", p.dim(8), w), p.text(strings.Join(f.Measured, " "), p.dim(8.5), w))
	}
	return over(9, own, measured)
}

// extra is a block that a page has where there is room.
type extra struct {
	name  string
	least float64 // width from which it can be read
	make  func(p *Page, w float64) block
}

// extras returns what a page may have besides, what is wanted first first.
func (p *Page) extras(in *Input) (out []extra) {
	if in.Response != nil && in.Response.Curve != nil {
		out = append(out, extra{"response", 250, func(p *Page, w float64) block { return p.response(in, w, 0.55*w) }})
	}
	if len(in.Patches.Rows) > 0 {
		out = append(out, extra{"patches", 250, func(p *Page, w float64) block { return p.table(in.Patches, w) }})
	}
	if in.Input.Salvage != nil && len(in.Frames) > 1 && len(in.Input.Salvage.Costs.Rows) > 0 {
		out = append(out, extra{"costs", 330, func(p *Page, w float64) block { return p.table(in.Input.Salvage.Costs, w) }})
	}
	return out
}

// response is the measured response.
func (p *Page) response(in *Input, w, h float64) block {
	head := p.text("Response: density against exposure", p.bold(8.5), w)
	const least = 110.0
	if h < least {
		h = least
	}
	return block{h: head.h + 4 + h, draw: func(p *Page, x, y float64) {
		head.draw(p, x, y)
		p.inset(*plot.Response(*in.Response, w, h, p.pal.plot), x, y+head.h+4)
	}, stretch: func(room float64) block {
		room = min(room-head.h-4, 0.75*w)
		if room < least {
			return block{}
		}
		b := p.response(in, w, room)
		b.stretch = nil
		return b
	}}
}

// inset adds a drawing of its own with its corner at x, y.
func (p *Page) inset(l drawing.List, x, y float64) {
	move := func(q drawing.Pt) drawing.Pt { return drawing.Pt{X: q.X + x, Y: q.Y + y} }
	moved := func(pts []drawing.Pt) (out []drawing.Pt) {
		for _, q := range pts {
			out = append(out, move(q))
		}
		return out
	}
	for _, m := range l.Marks {
		switch m := m.(type) {
		case drawing.Line:
			m.Pts = moved(m.Pts)
			p.Add(m)
		case drawing.Area:
			m.Pts = moved(m.Pts)
			p.Add(m)
		case drawing.Frame:
			m.Min, m.Max = move(m.Min), move(m.Max)
			p.Add(m)
		case drawing.Dot:
			m.At = move(m.At)
			p.Add(m)
		case drawing.Text:
			m.At = move(m.At)
			p.Add(m)
		}
	}
}

// table sets a section of readings: names on the left, figures in columns.
func (p *Page) table(s row.Section, w float64) block {
	const size = 7.4
	st, val, head := p.dim(size), p.style(size), p.dim(size)
	name := 0.0
	n := len(s.Heads)
	for _, r := range s.Rows {
		name = max(name, width(r.Name, st)+8)
		n = max(n, len(r.Values))
	}
	if n == 0 || name > w*0.5 {
		return block{}
	}
	// Columns are as wide as their words need.
	wide := make([]float64, n)
	sum := name
	for k := range wide {
		if k < len(s.Heads) {
			wide[k] = width(s.Heads[k], head)
		}
		for _, r := range s.Rows {
			if k < len(r.Values) {
				wide[k] = max(wide[k], width(r.Values[k], val.Bold()))
			}
		}
		sum += wide[k]
	}
	gap := (w - sum) / float64(n)
	if gap < 5 {
		return block{}
	}
	gap = min(gap, 16)
	title := p.text(s.Title, p.bold(8.5), w)
	lead := size * 1.42
	rows := float64(len(s.Rows) + 1)
	return block{h: title.h + 5 + lead*rows + 3, draw: func(p *Page, x, y float64) {
		title.draw(p, x, y)
		y += title.h + 5
		cells := func(y float64, first string, values []string, name, val paint.Style) {
			p.line(x, y, first, name)
			right := x + name0(sum, wide)
			for k, v := range values {
				right += gap + wide[k]
				p.line(right, y, v, val.Aligned(paint.Right))
			}
		}
		cells(y, "", s.Heads, st, head)
		p.segment(x, y+size*1.15, x+sum+gap*float64(n), y+size*1.15, 0.5, p.pal.rule)
		y += 3
		for i, r := range s.Rows {
			a, b := st, val
			if r.Strong {
				a, b = val, val.Bold()
			}
			cells(y+lead*float64(i+1), r.Name, r.Values, a, b)
		}
	}}
}

// name0 returns the width of the column of names.
func name0(sum float64, wide []float64) float64 {
	for _, w := range wide {
		sum -= w
	}
	return sum
}

// assumed are what the figures rest on, in whole sentences.
func (in *Input) assumed() []string {
	all := append(append([]string(nil), in.Conditions...), in.Notes...)
	return append(all, sheet.Rests(in.Frames)...)
}

// rests sets what the figures rest on into a region, in n columns: as many whole
// sentences as there is room for.
func (p *Page) rests(in *Input, r Box, n int) {
	head := p.text("What this rests on", p.bold(8.5), r.W)
	w := (r.W - gutter*float64(n-1)) / float64(n)
	st := p.dim(7.2)
	const between = 3.0
	top := r.Y + head.h + 4
	if top+2*st.Size > r.Bottom() {
		return
	}
	set := 0
	y, c := top, 0
	for _, s := range in.assumed() {
		b := p.text(s, st, w)
		if y+b.h > r.Bottom()+0.5 {
			if c+1 >= n || top+b.h > r.Bottom()+0.5 {
				continue
			}
			y, c = top, c+1
		}
		b.draw(p, r.X+float64(c)*(w+gutter), y)
		y += b.h + between
		set++
	}
	if set > 0 {
		head.draw(p, r.X, r.Y)
	}
}
