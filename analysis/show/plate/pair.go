package plate

import (
	"math"
	"strings"

	"stopladder/analysis/show/row"
)

// pair lays out each frame as scanned above the same frame brought to the base frame,
// with what that costs between them.
func pair(in *Input, o Options) *Page {
	p := newPage(in, o)
	masked := ""
	if _, m, ok := strings.Cut(in.Shown, ", masked: "); ok {
		masked = ", masked: " + m
	}
	in.Shown = "above as scanned, below brought to the base frame, " + in.Grade.InWords() + masked
	idx := in.order()
	aspects := in.alike(idx)
	cells := make([]cellOf, len(idx))
	for k, i := range idx {
		between := func(w float64) block { return p.cost(in, i, w) }
		note := func(w float64) block {
			if d := in.Frames[i].Data; d != nil && d.Note != "" && p.short(d.Note) {
				return p.text(d.Note, p.style(8), w)
			}
			return block{}
		}
		cells[k] = cellOf{stack: 2, height: func(w float64) float64 {
			h := between(w).h + 2*capGap
			if n := note(w).h; n > 0 {
				h += n + capGap
			}
			return h
		}, draw: func(p *Page, b Box) {
			h := b.W / aspects[k]
			p.picture(in, i, Box{b.X, b.Y, b.W, h}, o.Masks)
			c := between(b.W)
			c.draw(p, b.X, b.Y+h+capGap)
			n := note(b.W)
			room := b.H - 2*h
			if n.h > 0 {
				room -= n.h + capGap
			}
			y := b.Y + h + math.Max(room, c.h+2*capGap)
			q := Box{b.X, y, b.W, h}
			was := len(p.Pictures)
			p.picture(in, i, q, o.Masks)
			if len(p.Pictures) > was {
				p.Pictures[was-1].Salvaged = false
				p.Pictures[was].Salvaged = true
			}
			if n.h > 0 {
				n.draw(p, b.X, q.Bottom()+capGap)
			}
		}}
	}
	p.free(in, aspects, cells)
	return p
}

// cost is what stands between the two pictures of a frame.
func (p *Page) cost(in *Input, i int, w float64) block {
	d := in.Frames[i].Data
	if d == nil {
		d = &row.Data{}
	}
	words := ""
	if i < len(in.Salvage) {
		s := in.Salvage[i]
		switch {
		case d.Base:
			words = "the base frame: nothing to bring"
		case !s.Done:
			words = "no salvage measured"
		default:
			words = strings.Join(s.Costs, ", ")
		}
	}
	return p.caption(in, i, w, 1, words, false)
}
