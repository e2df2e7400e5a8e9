package measure

import (
	"context"
	"errors"
	"fmt"
	"image"
	"sync"

	"stopladder/analysis/scan"
)

// A look needs one pass over the pixels, and which pixels to count and what
// counts as clipped is only known once it is over. So both are guessed from a few
// rows read beforehand, and after the pass the counts are put right: what the
// area gained or lost at its edges is counted by itself, from columns that were
// kept and from rows that are read again. When the guess was far off, or the
// code range turns out to be another, there is a second pass. The counts are exact
// either way.
const (
	sampleRows  = 128      // read beforehand
	sampleLeast = 24       // of fewer, the first ones of high strips or tiles, no area is guessed
	keptCells   = 12       // of columns kept on each side of a guessed edge, in cells of the preview
	keptBytes   = 24 << 20 // at most, for all columns kept
	rereadShare = 12       // at most so small a part of the rows is read again; else all are
)

// reader is one look at one scan.
type reader struct {
	src      scan.Sweeper
	info     scan.Info
	grid     grid
	present  int                  // stored rows
	short    *scan.TruncatedError // why they are not all; nil where they are
	opt      Options
	progress func(rows int)
}

// newReader makes the source ready for sweeping: formats that are decoded whole
// each time are held in memory.
func newReader(ctx context.Context, src scan.Source, opt Options) (*reader, error) {
	in := src.Info()
	var held func(rows int)
	if s, ok := src.(scan.Sweeper); opt.Progress != nil && (!ok || !s.SweepsWell()) {
		var mu sync.Mutex
		report, h, most := opt.Progress, in.Height, 0
		held = func(rows int) {
			mu.Lock()
			defer mu.Unlock()
			if rows > most {
				most = rows
				report(rows/2, h)
			}
		}
		opt.Progress = func(done, total int) { report((total+done)/2, total) }
	}
	s, err := scan.Ready(ctx, src, held)
	if err != nil {
		return nil, err
	}
	w, h, o := s.Stored()
	if w <= 0 || h <= 0 {
		return nil, fmt.Errorf("%s holds no pixels; scan the frame again", base(in.Path))
	}
	r := &reader{src: s, info: in, grid: gridOf(w, h, o, previewFactor(w, h, opt.PreviewSide)), present: h, opt: opt}
	r.setProgress()
	return r, nil
}

// setProgress reports rows of all passes, never backwards and the whole only once.
func (r *reader) setProgress() {
	if r.opt.Progress == nil {
		return
	}
	var mu sync.Mutex
	done, h := 0, r.info.Height
	r.progress = func(rows int) {
		mu.Lock()
		defer mu.Unlock()
		if next := min(done+rows*h/max(1, r.grid.h), h-1); next > done {
			done = next
			r.opt.Progress(done, h)
		}
	}
}

func (r *reader) finished() {
	if r.opt.Progress != nil {
		r.opt.Progress(r.info.Height, r.info.Height)
	}
}

// whole returns the part of the upright picture that is there.
func (r *reader) whole() image.Rectangle {
	return r.grid.uprightRect(image.Rect(0, 0, r.grid.w, r.present))
}

// pass makes one pass. When rows turn out to be missing it is made again over
// those that are there.
func (r *reader) pass(ctx context.Context, light *lightTable, lim CodeRange, count image.Rectangle, keep [2]span) (*pass, error) {
	for {
		if r.present < r.grid.h {
			count = count.Intersect(image.Rect(0, 0, r.grid.w, r.present))
		}
		p := newPass(r.grid, r.info.Max(), light, lim, count)
		p.keep = keep
		err := p.run(ctx, r.src, 0, r.present, r.opt.workers(), r.progress)
		var short *scan.TruncatedError
		if err == nil || !errors.As(err, &short) || short.RowsRead >= r.present {
			return p, err
		}
		if short.RowsRead <= 0 {
			return nil, &scan.TruncatedError{Path: r.info.Path, Rows: r.info.Height, Damaged: short.Damaged, Coarse: short.Coarse}
		}
		r.present, r.short = short.RowsRead, short
	}
}

// guess returns what a few rows say about area and code range, in stored pixels.
func (r *reader) guess(ctx context.Context, levels *levelTable, light *lightTable) (area image.Rectangle, lim CodeRange, err error) {
	g := r.grid
	all := image.Rect(0, 0, g.w, g.h)
	var mu sync.Mutex
	rows, sketched := map[int][]uint16{}, map[int][]uint16{}
	half := gridOf(g.w, g.h, g.orientation, 2*g.f)
	err = r.src.Sweep(ctx, scan.SweepOptions{Workers: r.opt.workers(), Sample: sampleRows}, func() func(scan.Block) error {
		return func(b scan.Block) error {
			row := append([]uint16(nil), b.Rows[:3*g.w]...)
			var cells []uint16
			if r.opt.Area == nil {
				cells = half.sketchRow(row, light)
			}
			mu.Lock()
			defer mu.Unlock()
			rows[b.Y], sketched[b.Y] = row, cells
			return nil
		}
	})
	var short *scan.TruncatedError
	if err != nil && !errors.As(err, &short) {
		return all, lim, err
	}
	if err != nil || len(rows) == 0 {
		return all, fullRange(r.info.Max()), nil
	}
	area = all
	if r.opt.Area == nil && len(rows) >= sampleLeast {
		area = g.stored(findPlaces(half.sketch(sketched), levels, r.whole()).area)
	} else if r.opt.Area != nil {
		area = g.stored(r.opt.Area.Intersect(r.whole()))
	}
	if r.opt.CodeRange != nil {
		return area, *r.opt.CodeRange, nil
	}
	h := Histogram{Max: r.info.Max()}
	for c := range h.Counts {
		h.Counts[c] = make([]uint64, h.Max+1)
	}
	for y, row := range rows {
		if y < area.Min.Y || y >= area.Max.Y {
			continue
		}
		for i := 3 * area.Min.X; i+2 < 3*area.Max.X; i += 3 {
			h.Counts[0][row[i]]++
			h.Counts[1][row[i+1]]++
			h.Counts[2][row[i+2]]++
		}
		h.Pixels += uint64(area.Dx())
	}
	return area, findCodeRange(&h, effectiveDepth(&h, r.info.Bits)), nil
}

func fullRange(top int) CodeRange { return CodeRange{Ceiling: RGB[int]{top, top, top}} }

// sketchRow averages one row of pixels to a row of cells.
func (g grid) sketchRow(row []uint16, light *lightTable) []uint16 {
	out := make([]uint16, 3*g.W)
	sums := make([]uint32, 3*g.W)
	lr, lg, lb := light.light[0], light.light[1], light.light[2]
	for i := range g.W {
		x0, x1 := g.columns(i)
		var r, gr, b uint64
		for cell := row[3*x0 : 3*x1]; len(cell) >= 3; cell = cell[3:] {
			r, gr, b = r+uint64(lr[cell[0]]), gr+uint64(lg[cell[1]]), b+uint64(lb[cell[2]])
		}
		n := uint64(x1 - x0)
		sums[3*i], sums[3*i+1], sums[3*i+2] = uint32(r/n), uint32(gr/n), uint32(b/n)
	}
	for c := range 3 {
		light.code[c].fill(out[c:], sums[c:], 1)
	}
	return out
}

// sketch returns a preview whose rows of cells are averages of single rows of pixels,
// each taking the sampled one that is nearest.
func (g grid) sketch(rows map[int][]uint16) *Preview {
	near := make([]int, g.h) // the sampled row nearest to each row
	last := -1
	for y := range near {
		if _, ok := rows[y]; ok {
			last = y
		}
		near[y] = last
	}
	next := -1
	for y := g.h - 1; y >= 0; y-- {
		if _, ok := rows[y]; ok {
			next = y
		}
		if near[y] < 0 || next >= 0 && next-y < y-near[y] {
			near[y] = next
		}
	}
	pix := make([]uint16, 0, 3*g.W*g.H)
	for j := range g.H {
		y0, y1 := g.rows(j)
		pix = append(pix, rows[near[(y0+y1)/2]]...)
	}
	return g.preview(pix)
}

// preview turns cells upright.
func (g grid) preview(pix []uint16) *Preview {
	p := &Preview{Factor: g.f, W: g.W, H: g.H, Pix: upright(g, 3, pix)}
	if g.orientation >= 5 {
		p.W, p.H = p.H, p.W
	}
	return p
}

// margins returns the columns worth keeping around the edges of a guessed area: none
// where it reaches the picture's own.
func (r *reader) margins(area image.Rectangle) (keep [2]span) {
	g := r.grid
	m := min(keptCells*g.f, keptBytes/(6*4*max(1, g.h)))
	for i, x := range []int{area.Min.X, area.Max.X} {
		if x > 0 && x < g.w && m > 0 {
			keep[i] = span{max(0, x-m), min(g.w, x+m)}
		}
	}
	return keep
}

// correct turns counts over p.count into counts over area, both stored. It says
// whether it could.
func (r *reader) correct(ctx context.Context, p *pass, area image.Rectangle) (bool, error) {
	have := p.count
	if area == have {
		return true, nil
	}
	for i, x := range [][2]int{{have.Min.X, area.Min.X}, {have.Max.X, area.Max.X}} {
		lo, hi := min(x[0], x[1]), max(x[0], x[1])
		if lo != hi && (lo < p.keep[i].x0 || hi > p.keep[i].x1) {
			return false, nil
		}
	}
	strips := [][2]int{{have.Min.Y, area.Min.Y}, {have.Max.Y, area.Max.Y}}
	again := 0
	for _, s := range strips {
		again += max(s[0], s[1]) - min(s[0], s[1])
	}
	if again > r.grid.h/rereadShare || area.Min.Y >= have.Max.Y || area.Max.Y <= have.Min.Y {
		return false, nil
	}
	// Columns, over the rows that were counted.
	for i, x := range [][2]int{{have.Min.X, area.Min.X}, {have.Max.X, area.Max.X}} {
		lo, hi := min(x[0], x[1]), max(x[0], x[1])
		gained := (x[1] < x[0]) == (i == 0)
		k := p.keep[i]
		for y := have.Min.Y; lo < hi && y < have.Max.Y; y++ {
			row := p.kept[i][3*(k.x1-k.x0)*y:]
			p.adjust(row[3*(lo-k.x0):3*(hi-k.x0)], gained)
		}
	}
	// Rows, over the columns of the area.
	for i, s := range strips {
		if s[0] == s[1] {
			continue
		}
		gained := (s[1] < s[0]) == (i == 0)
		var mu sync.Mutex
		err := r.src.Sweep(ctx, scan.SweepOptions{Workers: r.opt.workers(), Y0: min(s[0], s[1]), Y1: max(s[0], s[1])}, func() func(scan.Block) error {
			return func(b scan.Block) error {
				mu.Lock()
				defer mu.Unlock()
				for rows, w := b.Rows, 3*r.grid.w; len(rows) >= w; rows = rows[w:] {
					p.adjust(rows[3*area.Min.X:3*area.Max.X], gained)
				}
				return nil
			}
		})
		if err != nil {
			return false, err
		}
	}
	p.count = area
	p.hist.Pixels = uint64(area.Dx()) * uint64(area.Dy())
	return true, nil
}

// adjust adds pixels to the counts or takes them away.
func (p *pass) adjust(row []uint16, gained bool) {
	one := uint64(1)
	if !gained {
		one = ^uint64(0) // minus one
	}
	for i := 0; i+2 < len(row); i += 3 {
		p.hist.Counts[0][row[i]] += one
		p.hist.Counts[1][row[i+1]] += one
		p.hist.Counts[2][row[i+2]] += one
	}
	h, l := clipRow(row, p.lim)
	p.high, p.low = p.high.plus(h, gained), p.low.plus(l, gained)
}

// plus adds d, or takes it away.
func (c clipCount) plus(d clipCount, gained bool) clipCount {
	if !gained {
		d = clipCount{-d.r, -d.g, -d.b, -d.any, -d.all} // whole numbers wrap round
	}
	return c.add(d)
}
