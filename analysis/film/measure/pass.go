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
	grid  grid
	max   int         // largest code value
	light *lightTable // nil: no preview is made
	lim   CodeRange
	clip  clipTest        // of lim
	count image.Rectangle // stored pixels that are counted
	keep  [2]span         // stored columns whose codes are kept, beside the edges of count

	// Results, as stored.
	pix                 []uint16 // of the preview
	tiles               *Tiles
	highShare, lowShare []uint8
	kept                [2][]uint16
	hist                Histogram
	high, low           clipCount
	zero                []int // rows that are zero throughout, where a preview is made

	table   [3]*[65536]uint32 // light, and what is clipped
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
	counts    [3]*[65536]uint32
	pixels    uint64      // since the counts were last moved into more
	more      [3][]uint64 // nil until a count could overflow
	high, low clipSets
	row       cellSums
	zero      []int
}

func newPass(g grid, max int, light *lightTable, lim CodeRange, count image.Rectangle) *pass {
	p := &pass{grid: g, max: max, light: light, lim: lim, clip: newClipTest(lim), count: count, partial: map[int]*cellSums{}}
	if light != nil {
		p.pix, p.tiles = make([]uint16, 3*g.W*g.H), newTiles(g)
	}
	p.highShare, p.lowShare = make([]uint8, g.W*g.H), make([]uint8, g.W*g.H)
	p.setLight()
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

// empty moves the counts of a worker to where they cannot overflow.
func (t *tally) empty() {
	for c := range t.counts {
		if t.more[c] == nil {
			t.more[c] = make([]uint64, len(t.counts[c]))
		}
		for i, n := range t.counts[c] {
			t.more[c][i] += uint64(n)
		}
		clear(t.counts[c][:])
	}
	t.pixels = 0
}

func (p *pass) newTally() *tally {
	t := new(tally)
	for c := range t.counts {
		t.counts[c] = new([65536]uint32)
	}
	t.row = p.newCellSums()
	return t
}

// clippedCode marks a clipped code in a table of light, whose sums over a cell
// stay below it: what a cell's sum has from there on counts clipped samples.
const clippedCode = 1 << 31

// setLight makes the tables that all workers read.
func (p *pass) setLight() {
	for c := range p.table {
		same := func(d int) bool {
			return (p.light == nil || &p.light.light[c][0] == &p.light.light[d][0]) &&
				at(p.lim.Ceiling, c) == at(p.lim.Ceiling, d) && at(p.lim.Floor, c) == at(p.lim.Floor, d)
		}
		if c > 0 && same(c-1) {
			p.table[c] = p.table[c-1] // one table for all stays in the cache
			continue
		}
		t := new([65536]uint32)
		if p.light != nil {
			copy(t[:], p.light.light[c])
		}
		for i := range t {
			if i >= at(p.lim.Ceiling, c) || i <= at(p.lim.Floor, c) {
				t[i] |= clippedCode
			}
		}
		p.table[c] = t
	}
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
	for i, k := range p.keep {
		if k.x1 > k.x0 {
			copy(p.kept[i][3*(k.x1-k.x0)*y:], row[3*k.x0:3*k.x1])
		}
	}
	if p.tiles != nil {
		p.tiles.take(y, row)
	}
	if p.light != nil && allZero(row) {
		t.zero = append(t.zero, y)
	}
	x0, x1 := p.count.Min.X, p.count.Max.X
	if y < p.count.Min.Y || y >= p.count.Max.Y || x0 >= x1 {
		x0, x1 = 0, 0
	}
	t.countRow(row[3*x0 : 3*x1])
	g := p.grid
	for i := 0; i < g.W; {
		start, end := g.columns(i)
		if g.f == 4 && end-start == 4 {
			i = p.cellsOfFour(t, i, row, start, x0, x1)
			continue
		}
		p.cell(t, i, row, start, end, x0, x1)
		i++
	}
}

// countRow counts codes. It is a loop of its own: its tables and those of light
// would drive each other out of the cache, even where both lie side by side.
func (t *tally) countRow(row []uint16) {
	r, g, b := t.counts[0], t.counts[1], t.counts[2]
	for ; len(row) >= 6; row = row[6:] {
		q := (*[6]uint16)(row)
		r[q[0]]++
		g[q[1]]++
		b[q[2]]++
		r[q[3]]++
		g[q[4]]++
		b[q[5]]++
	}
	if len(row) >= 3 {
		r[row[0]]++
		g[row[1]]++
		b[row[2]]++
	}
}

// cell takes the light of one cell's pixels of a row and what of them is
// clipped; those of the columns x0 to x1 are counted.
func (p *pass) cell(t *tally, i int, row []uint16, start, end, x0, x1 int) {
	tr, tg, tb := p.table[0], p.table[1], p.table[2]
	var r, g, b uint64
	for cell := row[3*start : 3*end]; len(cell) >= 3; cell = cell[3:] {
		q := (*[3]uint16)(cell)
		r += uint64(tr[q[0]])
		g += uint64(tg[q[1]])
		b += uint64(tb[q[2]])
	}
	if t.add((*[3]uint32)(t.row.sums[3*i:]), r, g, b) {
		p.clipped(t, i, row, start, end, x0, x1)
	}
}

// cellsOfFour is cell for the cells from i on that are four pixels wide, and
// returns the cell behind them. It is the grid of pictures whose long
// side has 6145 to 8192 pixels, which most scans of roll film have; half of a
// first look is spent here and in countRow.
func (p *pass) cellsOfFour(t *tally, i int, row []uint16, start, x0, x1 int) int {
	tr, tg, tb := p.table[0], p.table[1], p.table[2]
	rest, sums := row[3*start:], t.row.sums[3*i:]
	for ; len(rest) >= 12 && len(sums) >= 3; rest, sums, i, start = rest[12:], sums[3:], i+1, start+4 {
		q := (*[12]uint16)(rest)
		r := uint64(tr[q[0]]) + uint64(tr[q[3]]) + uint64(tr[q[6]]) + uint64(tr[q[9]])
		g := uint64(tg[q[1]]) + uint64(tg[q[4]]) + uint64(tg[q[7]]) + uint64(tg[q[10]])
		b := uint64(tb[q[2]]) + uint64(tb[q[5]]) + uint64(tb[q[8]]) + uint64(tb[q[11]])
		if t.add((*[3]uint32)(sums), r, g, b) {
			p.clipped(t, i, row, start, start+4, x0, x1)
		}
	}
	return i
}

// add adds light to a cell's sums and says whether any of it was marked as clipped.
func (*tally) add(sums *[3]uint32, r, g, b uint64) bool {
	sums[0] += uint32(r) & (clippedCode - 1)
	sums[1] += uint32(g) & (clippedCode - 1)
	sums[2] += uint32(b) & (clippedCode - 1)
	return (r|g|b)>>31 != 0
}

// clipped counts the clipped pixels of a cell's row that has some.
func (p *pass) clipped(t *tally, i int, row []uint16, start, end, x0, x1 int) {
	if end-start == 4 && x0 <= start && end <= x1 {
		// Where a picture is blown or blocked out, the pixels of a cell are alike.
		q := (*[12]uint16)(row[3*start:])
		if r, g, b := q[0], q[1], q[2]; (q[3]^r)|(q[6]^r)|(q[9]^r)|(q[4]^g)|(q[7]^g)|(q[10]^g)|(q[5]^b)|(q[8]^b)|(q[11]^b) == 0 {
			h, l := p.clip.of(r, g, b)
			t.high[h&7] += 4
			t.low[l&7] += 4
			t.row.high[i] += 4 * ((h + 7) >> 3)
			t.row.low[i] += 4 * ((l + 7) >> 3)
			return
		}
	}
	var high, low uint32
	for x, cell := start, row[3*start:3*end]; len(cell) >= 3; x, cell = x+1, cell[3:] {
		h, l := p.clip.of(cell[0], cell[1], cell[2])
		high += (h + 7) >> 3 // 1 for all but 0
		low += (l + 7) >> 3
		if x0 <= x && x < x1 {
			t.high[h&7]++
			t.low[l&7]++
		}
	}
	t.row.high[i] += high
	t.row.low[i] += low
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
	highs, lows := p.highShare[g.W*j:g.W*(j+1)], p.lowShare[g.W*j:g.W*(j+1)]
	for i := range g.W {
		if r.high[i]|r.low[i] == 0 {
			continue // as most are; the shares begin at 0
		}
		x0, x1 := g.columns(i)
		n := uint32(r.rows * (x1 - x0))
		highs[i], lows[i] = share(r.high[i], n), share(r.low[i], n)
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
				p.hist.Counts[c][i] += uint64(t.counts[c][i])
				if t.more[c] != nil {
					p.hist.Counts[c][i] += t.more[c][i]
				}
			}
		}
	}
	for _, t := range p.tallies {
		p.high, p.low = p.high.add(t.high.count()), p.low.add(t.low.count())
		p.zero = append(p.zero, t.zero...)
	}
	p.tallies = nil
}
