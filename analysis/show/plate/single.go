package plate

import (
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/row"
)

// single lays out two or three frames large.
func single(in *Input, o Options) *Page {
	p := newPage(in, o)
	idx := in.chosen(o.Frames)
	aspects := in.alike(idx)
	const k = 1.25
	cells := make([]cellOf, len(idx))
	for j, i := range idx {
		cap := func(w float64) block { return p.caption(in, i, w, k, "", true) }
		cells[j] = cellOf{stack: 1, height: func(w float64) float64 { return capGap + 2 + cap(w).h }, draw: func(p *Page, b Box) {
			h := b.W / aspects[j]
			p.picture(in, i, Box{b.X, b.Y, b.W, h}, o.Masks)
			cap(b.W).draw(p, b.X, b.Y+h+capGap+2)
		}}
	}
	p.free(in, aspects, cells)
	return p
}

// chosen returns the frames of a page of few, by stop: those asked for, else the base
// frame and the outermost on either side that still does not break.
func (in *Input) chosen(asked []int) (out []int) {
	order := in.order()
	want := map[int]bool{}
	for _, i := range asked {
		want[i] = true
	}
	if len(want) == 0 {
		base, lo, hi := -1, -1, -1
		for k, i := range order {
			if d := in.Frames[i].Data; d != nil && d.Base {
				base = k
			}
		}
		if base < 0 {
			base = len(order) / 2
		}
		usable := func(k int) bool {
			d := in.Frames[order[k]].Data
			if d == nil || d.State != row.Ready {
				return false
			}
			_, v, _ := verdictWords(d)
			return v == roll.Holds || v == roll.Strains
		}
		for k := range order {
			if k < base && lo < 0 && usable(k) {
				lo = k
			}
			if k > base && usable(k) {
				hi = k
			}
		}
		if lo < 0 && base > 0 {
			lo = base - 1
		}
		if hi < 0 && base+1 < len(order) {
			hi = base + 1
		}
		for _, k := range []int{lo, base, hi} {
			if k >= 0 && k < len(order) {
				want[order[k]] = true
			}
		}
	}
	for _, i := range order {
		if want[i] {
			out = append(out, i)
		}
	}
	return out
}
