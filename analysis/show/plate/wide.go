package plate

import (
	"math"
	"strings"

	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

// a3 is the longer side of DIN A3, in points: the stated print of pages on which many
// pictures stand beside each other.
const a3 = 420 / 25.4 * 72

// Measures, points.
const (
	edge    = 28.0 // of the page around everything
	picGap  = 7.0
	rowGap  = 13.0
	capGap  = 6.0 // between a picture and its caption
	least   = 44.0
	sideCol = 236.0
)

// layoutOf is one way to make up a page of rows.
type layoutOf struct {
	rows  [][2]int
	h     float64
	edge  float64 // left and right
	side  bool
	away  bool // notes stand in the foot
	grid  []gridRow
	w     float64 // of the grid
	tall  float64 // of the grid
	score float64
}

// wide lays out all frames in rows by stop on a page of a fixed shape.
func wide(in *Input, o Options) *Page {
	p := newPage(in, o)
	idx := in.order()
	ratio := o.Shape.ratio()
	p.W, p.H = a3, a3/ratio
	if ratio < 1 {
		p.W, p.H = a3*ratio, a3
	}
	for range 40 {
		if p.rowsOf(in, idx, o) {
			return p
		}
		p.H *= 1.15 // more words than the shape has room for: no word is cut
	}
	return p
}

// rowsOf fills the page; false where the words leave no room for pictures.
func (p *Page) rowsOf(in *Input, idx []int, o Options) bool {
	aspects := in.alike(idx)
	n := len(idx)
	if n == 0 {
		return p.empty(in, p.header(in, p.W-2*edge), p.W-2*edge)
	}
	area := 0.0
	for _, a := range aspects {
		area += a
	}
	var best layoutOf
	for k := 1; k <= min(n, 6); k++ {
		rows := part(n, k)
		for way := range 4 {
			p.away = way >= 2
			if p.away && !in.noted() {
				break
			}
			l := p.tried(in, idx, aspects, rows, way%2 == 1)
			l.away, l.score = p.away, area*l.h*l.h
			if k > 2 {
				l.score *= 0.94
			}
			if p.away {
				l.score *= 0.85 // a note belongs to its picture
			}
			if l.score > best.score*1.001 {
				best = l
			}
		}
	}
	p.away = best.away
	if best.score == 0 {
		return false
	}
	p.put(in, idx, best, o)
	return true
}

// underOf returns the height of what stands under the k-th of the pictures.
func (p *Page) underOf(in *Input, idx []int) func(k int, w float64) float64 {
	return func(k int, w float64) float64 {
		return capGap + p.caption(in, idx[k], w, 1, "", true).h
	}
}

// frame is what stands above and under pictures and words, inner wide, and where these
// begin and end.
func (p *Page) frame(in *Input, inner float64) (head, foot block, top, bottom float64) {
	head, foot = p.header(in, inner), p.foot(in, p.longNotes(in), inner)
	return head, foot, edge*0.85 + head.h + 12, p.H - edge*0.8 - foot.h - 12
}

// bandGap is the distance of the band of words from what stands above it.
const bandGap = 15.0

// widestGap is how far pictures may stand apart to fill a width.
const widestGap = 20.0

// tried makes up a page with given rows, words under the pictures or at their side. Where
// the height leaves the pictures narrower than the page everything is set in their width.
func (p *Page) tried(in *Input, idx []int, aspects []float64, rows [][2]int, side bool) layoutOf {
	under := p.underOf(in, idx)
	best := layoutOf{}
	for m := edge; m < p.W/5; m += 9 {
		inner := p.W - 2*m
		_, _, top, bottom := p.frame(in, inner)
		w, room := inner, bottom-top
		if side {
			w -= sideCol + gutter
		} else {
			room -= p.least(p.told(in), inner) + bandGap
		}
		h := highest(aspects, rows, picGap, rowGap, w, room, least, under)
		if h <= 0 {
			return best
		}
		l := layoutOf{rows: rows, h: h, side: side, edge: m}
		l.grid, l.w, l.tall = grid(aspects, rows, h, picGap, rowGap, under)
		if h > best.h {
			best = l
		}
		if side || inner-l.w <= (widestGap-picGap)*float64(max(1, longest(rows)-1)) {
			return l
		}
	}
	return best
}

// put draws what rowsOf has chosen.
func (p *Page) put(in *Input, idx []int, l layoutOf, o Options) {
	edge := l.edge
	inner := p.W - 2*edge
	head, foot, top, floor := p.frame(in, inner)
	head.draw(p, edge, top-12-head.h)
	foot.draw(p, edge, floor+12)
	t := p.told(in)
	left := inner - l.w // room beside the pictures
	gap, x0 := picGap, edge
	side := l.side && left > sideCol
	if !side && left > 0 { // a little is shared by the gaps
		if m := longest(l.rows); m > 1 {
			more := math.Min(left/float64(m-1), widestGap-picGap)
			gap += more
			left -= more * float64(m-1)
		}
		x0 += left / 2
	}
	// What is left over in height is given to the rows' distance, a little of it.
	bottom := 0.0
	if !side {
		bottom = p.least(t, inner) + bandGap
	}
	spare := floor - bottom - top - l.tall
	between := rowGap
	if k := len(l.rows); k > 1 && spare > 0 {
		more := math.Min(spare/float64(k), 10)
		between += more
		l.tall += more * float64(k-1)
	}
	y := top
	var at, pos []float64
	for _, g := range l.grid {
		for k := g.from; k < g.to; k++ {
			i := k - g.from
			box := Box{x0 + g.x[i] + float64(i)*(gap-picGap), y, g.w[i], l.h}
			p.picture(in, idx[k], box, o.Masks)
			p.caption(in, idx[k], box.W, 1, "", true).draw(p, box.X, box.Bottom()+capGap)
			if d := in.Frames[idx[k]].Data; d != nil {
				at, pos = append(at, d.Stop), append(pos, box.X-edge+box.W/2)
			}
		}
		y += l.h + g.cap + between
	}
	y -= between
	if len(l.rows) == 1 && !side && len(at) > 1 { // the axis stands under its pictures
		t.scale, t.fixed = spread(at, pos, 0, inner), true
	}
	if side {
		p.fill(t, Box{edge + l.w + gutter, top, inner - l.w - gutter, floor - top}, true)
		if room := floor - y - bandGap; room > 60 {
			p.fill(t, Box{edge, y + bandGap, l.w, room}, false)
		}
		return
	}
	// The free place beside a shorter last row has the finding.
	if g := l.grid[len(l.grid)-1]; len(l.rows) > 1 {
		last := g.x[len(g.x)-1] + g.w[len(g.w)-1] + float64(len(g.x)-1)*(gap-picGap)
		free := Box{x0 + last + gap, y - l.h - g.cap, inner - (x0 - edge) - last - gap, l.h + g.cap}
		if free.W > 120 {
			if b := p.findingBlock(in, free.W); b.h > 0 && b.h <= free.H {
				b.draw(p, free.X, free.Y)
				t.said = true
			}
		}
	}
	p.fill(t, Box{edge, y + bandGap, inner, floor - y - bandGap}, true)
}

func longest(rows [][2]int) (n int) {
	for _, r := range rows {
		n = max(n, r[1]-r[0])
	}
	return n
}

// crowded is how many frames leave no room for more than each one's bars need.
const crowded = 15

func newPage(in *Input, o Options) *Page {
	p := &Page{Options: o, pal: paletteOf(o.Ground)}
	for _, f := range in.Frames {
		if f.Data == nil || len(in.Frames) > crowded {
			continue
		}
		for _, l := range row.Losses(f.Data) {
			if s := row.Percent(l.Share); width(s, p.style(10)) > width(p.share, p.style(10)) {
				p.share = s
			}
		}
	}
	p.Ground = [3]uint8{p.pal.ground.R, p.pal.ground.G, p.pal.ground.B}
	return p
}

// empty is the page of a roll without frames.
func (p *Page) empty(in *Input, head block, inner float64) bool {
	head.draw(p, edge, edge*0.85)
	p.text("This roll has no frames yet.", p.style(14), inner).draw(p, edge, p.H/2)
	foot := p.foot(in, "", inner)
	foot.draw(p, edge, p.H-edge*0.8-foot.h)
	return true
}

// picture places a frame's picture; where there is none its place says so.
func (p *Page) picture(in *Input, i int, b Box, masks bool) {
	if d := in.Frames[i].Data; d == nil || d.State != row.Ready || d.Look == nil {
		p.rect(b.X, b.Y, b.W, b.H, p.pal.track)
		st := p.style(9)
		for _, s := range []string{"Not read", "–"} {
			if width(s, st) <= b.W-4 && b.H > 12 {
				p.line(b.X+b.W/2, b.Y+b.H/2-4, s, st.Aligned(paint.Centre))
				break
			}
		}
		return
	}
	if p.Options.Ground == White { // a white sky must not run into the paper
		p.Add(drawing.Frame{Min: drawing.Pt{X: b.X - 0.9, Y: b.Y - 0.9}, Max: drawing.Pt{X: b.Right() + 0.9, Y: b.Bottom() + 0.9}, Width: 0.7, Col: p.pal.rule})
	}
	p.Pictures = append(p.Pictures, Picture{Box: b, Frame: i, Salvaged: in.Salvaged, Masks: masks})
}

// Lay lays out a page.
func Lay(in Input, o Options) (*Page, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	if o.Masks && o.Arrangement != Details {
		in.Shown = strings.TrimPrefix(in.Shown+", masked: Blown by lines, Blocked by dots, Noisy by dashes", ", ")
	}
	var p *Page
	switch o.Arrangement {
	case Ladder:
		p = ladder(&in, o)
	case Pair:
		p = pair(&in, o)
	case Single:
		p = single(&in, o)
	case Details:
		p = details(&in, o)
	case Record:
		p = record(&in, o)
	default:
		p = wide(&in, o)
	}
	p.Title = in.title()
	p.Desc = string(o.Arrangement) + ": " + o.Arrangement.Words()
	return p, nil
}

// noted reports whether a frame has a note.
func (in *Input) noted() bool {
	for _, f := range in.Frames {
		if f.Data != nil && f.Data.Note != "" {
			return true
		}
	}
	return false
}
