package scan

import (
	"context"
	"errors"
	"io"
	"math"
	"os"
	"sync"
	"sync/atomic"

	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/unpack"
)

// ended tells an error of the disk from a file that ends or is damaged; rows are
// those before the first that could not be read.
func (t *tiffRaster) ended(ctx context.Context, err error, rows int) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if isDamage(err) {
		return &TruncatedError{Path: t.path, RowsRead: rows, Rows: t.l.h, Damaged: errors.As(err, new(damagedFrom))}
	}
	var pe *os.PathError
	if errors.As(err, &pe) {
		return &fileError{t.path, err}
	}
	return err // the receiver's own
}

func isDamage(err error) bool {
	return errors.Is(err, unpack.ErrCorrupt) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrNoProgress)
}

// errOfReceiver keeps what a receiver says apart from what happens to the file:
// a receiver may well return io.EOF.
type errOfReceiver struct{ error }

// plan cuts y0 <= y < y1 into pieces that can be decoded apart from each other.
// Compressed strips and tiles can only be decoded from their beginning.
func (t *tiffRaster) plan(y0, y1, align int) (pieces [][2]int) {
	l := t.l
	rows := max(1, 2*blockBytes/(6*l.w))
	if l.pack == packNone {
		rows = (rows + align - 1) / align * align
	} else {
		rows = (rows + l.chunkH - 1) / l.chunkH * l.chunkH
	}
	for y := y0; y < y1; {
		end := min((y/rows+1)*rows, y1)
		pieces = append(pieces, [2]int{y, end})
		y = end
	}
	return pieces
}

// sample picks about n rows of y0 <= y < y1; of compressed strips and tiles the
// first ones.
func (t *tiffRaster) sample(y0, y1, n int) (pieces [][2]int) {
	last := -1
	for i := range n {
		y := y0 + int(int64(y1-y0)*int64(i)/int64(n))
		if t.l.pack != packNone {
			y = max(y0, y/t.l.chunkH*t.l.chunkH)
		}
		if y > last {
			pieces = append(pieces, [2]int{y, y + 1})
			last = y
		}
	}
	return pieces
}

func (t *tiffRaster) workers(want, pieces int) int {
	if want <= 0 {
		want = parallel.Workers(0, math.MaxInt)
	}
	most := max(1, workerCost/t.l.cost())
	return int(min(int64(want), int64(pieces), most))
}

// sweep decodes on several goroutines, in any order.
func (t *tiffRaster) sweep(ctx context.Context, opt SweepOptions, newWorker func() func(Block) error) error {
	l := t.l
	if opt.Y1 <= 0 || opt.Y1 > l.h {
		opt.Y1 = l.h
	}
	opt.Y0 = max(0, opt.Y0)
	if opt.Y0 >= opt.Y1 {
		return ctx.Err()
	}
	align := max(1, opt.Align)
	f, size, err := t.opened()
	if err != nil {
		return err
	}
	defer f.Close()
	pieces := t.plan(opt.Y0, opt.Y1, align)
	if opt.Sample > 0 {
		pieces = t.sample(opt.Y0, opt.Y1, opt.Sample)
	}
	receivers := opt.Workers
	if receivers <= 0 {
		receivers = parallel.Workers(0, math.MaxInt)
	}
	decoders := t.workers(opt.Workers, len(pieces))
	if decoders < receivers && opt.Sample <= 0 {
		return t.spread(ctx, f, size, opt, receivers, newWorker)
	}
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	var (
		next    atomic.Int64
		mu      sync.Mutex
		missing = opt.Y1 // the first row that could not be read
		why     error    // and why
		failed  error
	)
	first := func() int {
		mu.Lock()
		defer mu.Unlock()
		return missing
	}
	var wg sync.WaitGroup
	for range receivers {
		fn := newWorker()
		wg.Add(1)
		parallel.Go(ctx, func() {
			defer wg.Done()
			c := l.newCutter(f, size, 0, l.w)
			c.block = max(1, c.block/align) * align
			var band []uint16
			buffer := func(n int) []uint16 {
				if len(band) < 3*l.w*n {
					band = make([]uint16, 3*l.w*n)
				}
				return band
			}
			for {
				i := int(next.Add(1)) - 1
				if i >= len(pieces) || pieces[i][0] >= first() {
					return
				}
				read, err := c.rows(inner, pieces[i][0], pieces[i][1], buffer, func(y, _ int, rows []uint16) error {
					if err := fn(Block{y, rows}); err != nil {
						return errOfReceiver{err}
					}
					return nil
				})
				if err == nil {
					continue
				}
				mu.Lock()
				if isDamage(err) {
					if read < missing {
						missing, why = read, err
					}
				} else if failed == nil {
					failed = err
					cancel()
				}
				mu.Unlock()
				if inner.Err() != nil {
					return
				}
			}
		})
	}
	wg.Wait()
	return t.verdict(ctx, failed, why, missing)
}

// verdict returns the error of a whole reading; why is that of the row missing.
func (t *tiffRaster) verdict(ctx context.Context, failed, why error, missing int) error {
	var own errOfReceiver
	switch {
	case errors.As(failed, &own):
		return own.error
	case failed != nil:
		return t.ended(ctx, failed, 0)
	case ctx.Err() != nil:
		return ctx.Err()
	case why != nil:
		return t.ended(ctx, why, missing)
	}
	return nil
}

// spread is for files whose strips are too few or too large for several decoders:
// one decodes, and what it decodes is handed round.
func (t *tiffRaster) spread(ctx context.Context, f *os.File, size int64, opt SweepOptions, receivers int, newWorker func() func(Block) error) error {
	l := t.l
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	type filled struct {
		Block
		buf []uint16
	}
	work := make(chan filled)
	buffers := receivers + 1
	if l.cost() > workerCost {
		buffers = 1 // a row of tiles is large enough to be one only
	}
	free := make(chan []uint16, buffers)
	for range buffers {
		free <- nil
	}
	var wg sync.WaitGroup
	errs := make([]error, receivers)
	for i := range receivers {
		fn := newWorker()
		wg.Add(1)
		parallel.Go(ctx, func() {
			defer wg.Done()
			for b := range work {
				if errs[i] == nil && ctx.Err() == nil {
					if errs[i] = fn(b.Block); errs[i] != nil {
						cancel()
					}
				}
				free <- b.buf
			}
		})
	}
	c := l.newCutter(f, size, 0, l.w)
	c.block = max(1, c.block/max(1, opt.Align)) * max(1, opt.Align)
	var buf []uint16
	read, err := c.rows(ctx, opt.Y0, opt.Y1, func(n int) []uint16 {
		if buf = <-free; len(buf) < 3*l.w*n {
			buf = make([]uint16, 3*l.w*n)
		}
		return buf
	}, func(y, _ int, rows []uint16) error {
		work <- filled{Block{y, rows}, buf}
		return nil
	})
	close(work)
	wg.Wait()
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	if err != nil {
		return t.ended(ctx, err, read)
	}
	return ctx.Err()
}

// rows decodes on several goroutines and hands out in order.
func (t *tiffRaster) rows(ctx context.Context, y0, y1 int, fn func(y int, rows []uint16) error) error {
	l := t.l
	f, size, err := t.opened()
	if err != nil {
		return err
	}
	defer f.Close()
	pieces := t.plan(y0, y1, 1)
	workers := t.workers(0, len(pieces))
	if workers <= 1 {
		return t.rowsAlone(ctx, f, size, y0, y1, fn)
	}
	ctx, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	type filled struct {
		y    int
		rows []uint16
		back func()
	}
	type result struct {
		blocks chan filled
		read   int
		err    error
	}
	results := make([]*result, len(pieces))
	for i := range results {
		results[i] = &result{blocks: make(chan filled)}
	}
	var next atomic.Int64
	for range workers {
		wg.Add(1)
		parallel.Go(ctx, func() {
			defer wg.Done()
			c := l.newCutter(f, size, 0, l.w)
			// Two bands a worker: one is filled while the other is handed out.
			free := make(chan []uint16, 2)
			free <- nil
			free <- nil
			var band []uint16
			buffer := func(n int) []uint16 {
				select {
				case band = <-free:
				case <-ctx.Done():
					band = nil // its rows will go nowhere
				}
				if len(band) < 3*l.w*n {
					band = make([]uint16, 3*l.w*n)
				}
				return band
			}
			for {
				i := int(next.Add(1)) - 1
				if i >= len(pieces) {
					return
				}
				r := results[i]
				r.read, r.err = c.rows(ctx, pieces[i][0], pieces[i][1], buffer, func(y, _ int, rows []uint16) error {
					mine := band
					select {
					case r.blocks <- filled{y, rows, func() { free <- mine }}:
						return nil
					case <-ctx.Done():
						return ctx.Err()
					}
				})
				close(r.blocks)
				if r.err != nil {
					return
				}
			}
		})
	}
	for _, r := range results {
		for b := range r.blocks {
			err := ctx.Err()
			if err == nil {
				err = fn(b.y, b.rows)
			}
			b.back()
			if err != nil {
				return err
			}
		}
		if r.err != nil {
			return t.ended(ctx, r.err, r.read)
		}
	}
	return ctx.Err()
}

// rowsAlone is rows on the caller's goroutine.
func (t *tiffRaster) rowsAlone(ctx context.Context, f *os.File, size int64, y0, y1 int, fn func(y int, rows []uint16) error) error {
	c := t.l.newCutter(f, size, 0, t.l.w)
	var band []uint16
	read, err := c.rows(ctx, y0, y1, func(n int) []uint16 {
		if len(band) < 3*t.l.w*n {
			band = make([]uint16, 3*t.l.w*n)
		}
		return band
	}, func(y, _ int, rows []uint16) error {
		if err := fn(y, rows); err != nil {
			return errOfReceiver{err}
		}
		return ctx.Err()
	})
	var own errOfReceiver
	if errors.As(err, &own) {
		return own.error
	}
	if err != nil {
		return t.ended(ctx, err, read)
	}
	return ctx.Err()
}
