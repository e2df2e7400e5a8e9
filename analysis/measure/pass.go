package measure

import (
	"context"
	"errors"
	"image"
	"sync"

	"stopladder/analysis/scan"
)

// One pass over a scan takes everything that a look needs of its pixels: light
// for the preview, the histogram and the counts of clipped pixels over an area.
// Blocks of rows come in any order to any worker. All sums are of whole numbers,
// so neither the order nor the number of workers changes a result.

// pass says what is taken in one go.
type pass struct {
	grid   grid
	max    int         // largest code value
	light  *lightTable // nil: no preview is made
	lim    Limits
	count  image.Rectangle // stored pixels that are counted
	keep   [2]span         // stored columns whose codes are kept, beside the edges of count
	shares bool            // the shares of clipped pixels are taken for the whole picture

	// Results, as stored.
	pix                 []uint16 // of the preview
	highShare, lowShare []uint8
	kept                [2][]uint16
	hist                Histogram
	high, low           clipCount

	mu      sync.Mutex
	partial map[int]*cellSums
	tallies []*tally
}

// span is a run of columns.
type span struct{ x0, x1 int }

// cellSums is a row of cells that no single block held whole.
type cellSums struct {
	sums      []uint32
	high, low []uint32
	rows      int // of pixels so far
}

// tally is what one worker adds up.
type tally struct {
	// codes has for every code of a channel its light in bits 0 to 31, how often it
	// was met in bits 32 to 62, and in bit 63 that it is clipped: one load and one
	// store serve all three.
	codes     [3]*[65536]uint64
	pixels    uint64      // since the counts were last moved into more
	more      [3][]uint64 // nil until a count could overflow
	high, low clipCount
	row       cellSums
}

func newPass(g grid, max int, light *lightTable, lim Limits, count image.Rectangle, shares bool) *pass {
	p := &pass{grid: g, max: max, light: light, lim: lim, count: count, shares: shares, partial: map[int]*cellSums{}}
	if light != nil {
		p.pix = make([]uint16, 3*g.W*g.H)
	}
	if shares {
		p.highShare, p.lowShare = make([]uint8, g.W*g.H), make([]uint8, g.W*g.H)
	}
	return p
}

// run sweeps stored rows y0 <= y < y1. On a *scan.TruncatedError the results are
// of no use.
func (p *pass) run(ctx context.Context, src scan.Sweeper, y0, y1, workers int, done func(rows int)) error {
	for i, k := range p.keep {
		p.kept[i] = make([]uint16, 3*(k.x1-k.x0)*p.grid.h)
	}
	err := src.Sweep(ctx, scan.SweepOptions{Workers: workers, Y0: y0, Y1: y1, Align: p.grid.f}, func() func(scan.Block) error {
		t := p.newTally()
		p.tallies = append(p.tallies, t)
		return func(b scan.Block) error {
			if 3*p.grid.w == 0 || len(b.Rows)%(3*p.grid.w) != 0 {
				return errors.New("the reader handed out a part of a row; this is a fault of the program")
			}
			if t.pixels += uint64(len(b.Rows)); t.pixels > 1<<31-1 {
				t.empty()
				t.pixels = uint64(len(b.Rows))
			}
			p.block(t, b)
			if done != nil {
				done(len(b.Rows) / (3 * p.grid.w))
			}
			return nil
		}
	})
	if err != nil {
		return err
	}
	for j, r := range p.partial { // rows of cells that the sweep's ends cut
		p.finish(j, r)
	}
	p.partial = nil
	p.gather()
	return nil
}

const (
	oneCode     = 1 << 32
	countedCode = 1<<63 - 1<<32
	clippedCode = 1 << 63
)

// empty moves the counts of a worker to where they cannot overflow.
func (t *tally) empty() {
	for c := range t.codes {
		if t.more[c] == nil {
			t.more[c] = make([]uint64, len(t.codes[c]))
		}
		for i, e := range t.codes[c] {
			t.more[c][i] += e & countedCode >> 32
			t.codes[c][i] = e &^ countedCode
		}
	}
	t.pixels = 0
}

func (p *pass) newTally() *tally {
	t := new(tally)
	for c := range t.codes {
		t.codes[c] = new([65536]uint64)
		if p.light != nil {
			for i, v := range p.light.light[c] {
				t.codes[c][i] = uint64(v)
			}
		}
		for i := range t.codes[c] {
			if i >= at(p.lim.Ceiling, c) || i <= at(p.lim.Floor, c) {
				t.codes[c][i] |= clippedCode
			}
		}
	}
	t.row = p.newCellSums()
	return t
}

func (p *pass) newCellSums() cellSums {
	w := p.grid.W
	return cellSums{sums: make([]uint32, 3*w), high: make([]uint32, w), low: make([]uint32, w)}
}

// block takes a run of rows.
func (p *pass) block(t *tally, b scan.Block) {
	g := p.grid
	stride := 3 * g.w
	for y, end := b.Y, b.Y+len(b.Rows)/stride; y < end; {
		j := (y + g.py) / g.f
		first, last := g.rows(j)
		stop := min(last, end)
		r := &t.row
		clear(r.sums)
		clear(r.high)
		clear(r.low)
		r.rows = stop - y
		whole := y == first && stop == last
		for ; y < stop; y++ {
			row := b.Rows[(y-b.Y)*stride : (y-b.Y+1)*stride]
			p.takeRow(t, y, row)
			if g.f == 1 && p.light != nil {
				copy(p.pix[y*stride:], row)
			}
		}
		if whole {
			p.finish(j, r)
		} else {
			p.merge(j, r, last-first)
		}
	}
}

// takeRow adds one row of pixels to the worker's row of cells and counts it.
func (p *pass) takeRow(t *tally, y int, row []uint16) {
	g := p.grid
	for i, k := range p.keep {
		if k.x1 > k.x0 {
			copy(p.kept[i][3*(k.x1-k.x0)*y:], row[3*k.x0:3*k.x1])
		}
	}
	x0, x1 := p.count.Min.X, p.count.Max.X
	if y < p.count.Min.Y || y >= p.count.Max.Y || x0 >= x1 {
		x0, x1 = g.w, g.w
	}
	// Cells that lie whole in the counted columns, from i0 to before i1; those at
	// their edges are taken pixel by pixel.
	i0, i1 := (x0+g.px+g.f-1)/g.f, (x1+g.px)/g.f
	if x1 == g.w {
		i1 = g.W
	}
	if x0 == 0 {
		i0 = 0
	}
	if x0 >= x1 {
		i0, i1 = g.W, g.W
	}
	if i1 < i0 { // both edges in one cell
		i0 = (x0 + g.px) / g.f
		i1 = i0
	}
	p.cells(t, row, 0, i0, false)
	p.cells(t, row, i0, i1, true)
	p.cells(t, row, i1, g.W, false)
	// What the counted columns have in cells at their edges.
	inside0, inside1 := x1, x1
	if i1 > i0 {
		inside0, _ = g.columns(i0)
		_, inside1 = g.columns(i1 - 1)
	}
	if x0 < inside0 {
		t.countOnly(row[3*x0:3*inside0], p.lim)
	}
	if inside1 < x1 {
		t.countOnly(row[3*inside1:3*x1], p.lim)
	}
}

// countOnly counts pixels whose light was taken already.
func (t *tally) countOnly(row []uint16, lim Limits) {
	for i := 0; i+2 < len(row); i += 3 {
		t.codes[0][row[i]] += oneCode
		t.codes[1][row[i+1]] += oneCode
		t.codes[2][row[i+2]] += oneCode
	}
	h, l := clipRow(row, lim)
	t.high, t.low = t.high.add(h), t.low.add(l)
}

// cells takes the row's pixels of cells i0 <= i < i1: their light, what of them
// is clipped, and, when they are counted, the histogram.
func (p *pass) cells(t *tally, row []uint16, i0, i1 int, counted bool) {
	if i0 >= i1 {
		return
	}
	g := p.grid
	tr, tg, tb := t.codes[0], t.codes[1], t.codes[2]
	sums := t.row.sums
	from, _ := g.columns(i0)
	for i := i0; i < i1; i++ {
		end := from + g.f
		if i == 0 || i == g.W-1 {
			_, end = g.columns(i)
		}
		cell := row[3*from : 3*end]
		start := from
		from = end
		// The upper halves overflow into nothing: only the sums' lower 32 bits are
		// used, and the light of a cell fits them.
		var r, gr, b, clip uint64
		if counted {
			for ; len(cell) >= 6; cell = cell[6:] { // two at a time
				q := (*[6]uint16)(cell)
				vr, vg, vb := q[0], q[1], q[2]
				er, eg, eb := tr[vr], tg[vg], tb[vb]
				tr[vr], tg[vg], tb[vb] = er+oneCode, eg+oneCode, eb+oneCode
				wr, wg, wb := q[3], q[4], q[5]
				hr, hg, hb := tr[wr], tg[wg], tb[wb]
				tr[wr], tg[wg], tb[wb] = hr+oneCode, hg+oneCode, hb+oneCode
				r, gr, b = r+er+hr, gr+eg+hg, b+eb+hb
				clip |= er | eg | eb | hr | hg | hb
			}
			for ; len(cell) >= 3; cell = cell[3:] {
				vr, vg, vb := cell[0], cell[1], cell[2]
				er, eg, eb := tr[vr], tg[vg], tb[vb]
				tr[vr], tg[vg], tb[vb] = er+oneCode, eg+oneCode, eb+oneCode
				r, gr, b = r+er, gr+eg, b+eb
				clip |= er | eg | eb
			}
		} else {
			for ; len(cell) >= 3; cell = cell[3:] {
				er, eg, eb := tr[cell[0]], tg[cell[1]], tb[cell[2]]
				r, gr, b = r+er, gr+eg, b+eb
				clip |= er | eg | eb
			}
		}
		s := sums[3*i : 3*i+3 : 3*i+3]
		s[0] += uint32(r)
		s[1] += uint32(gr)
		s[2] += uint32(b)
		if int64(clip) < 0 {
			p.clipped(t, i, row[3*start:3*end], counted)
		}
	}
}

// clipped counts the clipped pixels of a cell that has some.
func (p *pass) clipped(t *tally, i int, cell []uint16, counted bool) {
	h, l := clipRow(cell, p.lim)
	t.row.high[i] += uint32(h.any)
	t.row.low[i] += uint32(l.any)
	if counted {
		t.high, t.low = t.high.add(h), t.low.add(l)
	}
}

// merge adds a part of a row of cells to what other blocks had of it.
func (p *pass) merge(j int, r *cellSums, all int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	m := p.partial[j]
	if m == nil {
		n := p.newCellSums()
		m = &n
		p.partial[j] = m
	}
	for i, v := range r.sums {
		m.sums[i] += v
	}
	for i := range r.high {
		m.high[i] += r.high[i]
		m.low[i] += r.low[i]
	}
	if m.rows += r.rows; m.rows == all {
		delete(p.partial, j)
		p.finish(j, m)
	}
}

// finish turns a row of cells into preview pixels and shares. Rows are written by
// one worker each.
func (p *pass) finish(j int, r *cellSums) {
	g := p.grid
	if p.shares {
		for i := range g.W {
			x0, x1 := g.columns(i)
			n := uint32(r.rows * (x1 - x0))
			p.highShare[j*g.W+i] = share(r.high[i], n)
			p.lowShare[j*g.W+i] = share(r.low[i], n)
		}
	}
	if p.light == nil || g.f == 1 {
		return
	}
	out := p.pix[3*g.W*j : 3*g.W*(j+1)]
	for i := 0; i < g.W; {
		// Cells at the ends may be narrower than those between.
		x0, x1 := g.columns(i)
		end := i + 1
		if i > 0 && i < g.W-1 {
			end = g.W - 1
		}
		for c := range 3 {
			p.light.code[c].fill(out[3*i+c:3*end], r.sums[3*i+c:3*end], 1/float64(r.rows*(x1-x0)))
		}
		i = end
	}
}

// gather adds the workers' counts together.
func (p *pass) gather() {
	p.hist.Max = p.max
	p.hist.Pixels = uint64(p.count.Dx()) * uint64(p.count.Dy())
	for c := range p.hist.Counts {
		if p.hist.Counts[c] == nil {
			p.hist.Counts[c] = make([]uint64, p.max+1)
		}
		for _, t := range p.tallies {
			for i := range p.hist.Counts[c] {
				p.hist.Counts[c][i] += t.codes[c][i] & countedCode >> 32
				if t.more[c] != nil {
					p.hist.Counts[c][i] += t.more[c][i]
				}
			}
		}
	}
	for _, t := range p.tallies {
		p.high, p.low = p.high.add(t.high), p.low.add(t.low)
	}
	p.tallies = nil
}
