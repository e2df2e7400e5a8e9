package plate

import "math"

// gutter is the distance of columns of words.
const gutter = 26.0

// column is the widest that lines of words are set: about ninety letters.
const column = 400.0

// told is what words and figures a page has besides those at its pictures, in the order
// in which they are placed.
type told struct {
	in     *Input
	axis   bool  // the ranges' axis is wanted
	scale  scale // of the axis, where it stands over the whole width; else it is even
	fixed  bool  // scale is set
	extras []extra
	said   bool // the finding stands already
	rested bool // so do the assumptions
}

func (p *Page) told(in *Input) *told { return &told{in: in, axis: true, extras: p.extras(in)} }

// ranges makes axis and key for a column.
func (p *Page) rangesBlock(t *told, w float64) block {
	if !t.axis {
		return block{}
	}
	sc := even(t.in.stops(), 0, w)
	if t.fixed {
		sc = t.scale
	}
	return over(8, p.across(t.in, sc, w), p.rangeKey(t.in, w))
}

// least returns the height that ranges and finding need over a width: what every page
// with a foot has.
func (p *Page) least(t *told, w float64) float64 {
	return p.firstBand(t, w).h
}

// firstBand sets the ranges, and beside them, or under them where it is narrow, the
// finding.
func (p *Page) firstBand(t *told, w float64) block {
	if t.said {
		return p.rangesBlock(t, w)
	}
	if w < 560 || !t.axis {
		return over(10, p.rangesBlock(t, w), p.findingBlock(t.in, w))
	}
	left := math.Round(w * 0.58)
	if t.fixed { // the axis stands under the pictures, all of them
		right := p.columns(w, p.rangeKey(t.in, left-gutter), p.findingBlock(t.in, w-left), left)
		return over(10, p.across(t.in, t.scale, w), right)
	}
	return p.columns(w, p.rangesBlock(t, left-gutter), p.findingBlock(t.in, w-left), left)
}

// columns sets two blocks beside each other, the second at x.
func (p *Page) columns(_ float64, a, b block, x float64) block {
	return block{h: math.Max(a.h, b.h), draw: func(p *Page, x0, y float64) {
		if a.h > 0 {
			a.draw(p, x0, y)
		}
		if b.h > 0 {
			b.draw(p, x0+x, y)
		}
	}}
}

// fill sets words and figures into a region, from the top left: the ranges and the
// finding, then as many of the extras as have room.
func (p *Page) fill(t *told, r Box, first bool) {
	y := r.Y
	if first {
		if b := p.firstBand(t, r.W); b.h > 0 && b.h <= r.H+0.5 {
			b.draw(p, r.X, y)
			y += b.h + 18
			t.axis, t.said = false, true
		}
	}
	n := max(1, min(3, int(math.Round(r.W/column))))
	w := (r.W - gutter*float64(n-1)) / float64(n)
	next := y
	for c := range n {
		from := p.stack(t, Box{r.X + float64(c)*(w+gutter), y, w, r.Bottom() - y})
		if from == y { // nothing has room here: what is left is for sentences
			if !t.rested && r.Bottom()-y > 30 {
				p.rests(t.in, Box{r.X + float64(c)*(w+gutter), y, r.W - float64(c)*(w+gutter), r.Bottom() - y}, n-c)
				t.rested = true
			}
			return
		}
		next = from
	}
	if !t.rested && r.Bottom()-next > 40 {
		p.rests(t.in, Box{r.X + float64(n-1)*(w+gutter), next, w, r.Bottom() - next}, 1)
		t.rested = true
	}
}

// stack sets extras under each other while there is room, and returns where the room
// begins that is left.
func (p *Page) stack(t *told, r Box) float64 {
	y := r.Y
	for y < r.Bottom() {
		placed := false
		for i, e := range t.extras {
			if r.W < e.least {
				continue
			}
			room := r.Bottom() - y
			b := e.make(p, r.W)
			if b.stretch != nil {
				b = b.stretch(room)
			}
			if b.h <= 0 || b.h > room+0.5 {
				continue
			}
			b.draw(p, r.X, y)
			y += b.h + 16
			t.extras = append(t.extras[:i:i], t.extras[i+1:]...)
			placed = true
			break
		}
		if !placed {
			return y
		}
	}
	return y
}
