package scan

import (
	"context"
	"errors"
	"fmt"
	"image"
	"sync"
	"sync/atomic"

	"stopladder/analysis/numeric/parallel"
)

// raster is the inside of a source: a decoder of one format. Rows are as the
// file has them, before orientation, and always RGB interleaved.
type raster interface {
	// rows calls fn with consecutive bands of the file's rows y0 <= y < y1. A
	// file that ends early gives the whole rows that are there and then a
	// *TruncatedError with RowsRead counted from the file's first row. Errors of
	// fn end the reading and are returned as they are.
	rows(ctx context.Context, y0, y1 int, fn func(y int, rows []uint16) error) error
}

// source is a file on disk. It opens the file for each reading.
type source struct {
	info   Info
	id     identity
	w, h   int // as the file has them
	raster raster
}

// newSource takes info with the file's own width and height, and turns it
// upright.
func newSource(info Info, r raster) *source {
	s := &source{w: info.Width, h: info.Height, raster: r}
	if info.Orientation >= 5 {
		info.Width, info.Height = info.Height, info.Width
	}
	if o := info.Orientation; o > 1 {
		info.Notes = append(info.Notes, fmt.Sprintf("The picture was turned upright (orientation %d).", o))
	}
	s.info = info
	return s
}

func (s *source) Info() Info { return s.info }

// place returns the file's pixel of an upright pixel, for the orientations 1 to 8 of
// TIFF 6.0, page 36: where row 0 and column 0 of the file stand upright.
func place(orientation, w, h, x, y int) (fx, fy int) {
	switch orientation {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return y, h - 1 - x
	case 7:
		return w - 1 - y, h - 1 - x
	case 8:
		return w - 1 - y, x
	}
	return x, y
}

// Stream hands out upright rows. Orientations 1 and 2 need one band of memory;
// the others need the whole picture (6 bytes per pixel) while it is turned.
func (s *source) Stream(ctx context.Context, fn func(y int, rows []uint16) error) error {
	o := s.info.Orientation
	if o <= 2 {
		return s.id.during(func() error {
			return s.raster.rows(ctx, 0, s.h, func(y int, rows []uint16) error {
				if o == 2 { // in place: the band is ours
					for rest, stride := rows, 3*s.w; len(rest) > 0; rest = rest[stride:] {
						mirror(rest[:stride])
					}
				}
				return fn(y, rows)
			})
		})
	}
	pix, err := s.hold(ctx, nil)
	if err != nil {
		return err
	}
	return (&Pixels{Header: s.info, Pix: pix}).Stream(ctx, fn)
}

// hold decodes the whole picture upright, on all processors. When rows are
// missing at its end as stored, it returns the rows before them, none when they
// are not the last ones upright, and the *TruncatedError.
func (s *source) hold(ctx context.Context, done func(rows int)) ([]uint16, error) {
	var told atomic.Int64
	pix := make([]uint16, 3*s.w*s.h)
	stride := 3 * s.info.Width
	o := s.info.Orientation
	err := s.Sweep(ctx, SweepOptions{}, func() func(Block) error {
		return func(b Block) error {
			if done != nil {
				done(int(told.Add(int64(len(b.Rows)/(3*s.w))) * int64(s.info.Height) / int64(s.h)))
			}
			if o <= 2 {
				if o == 2 {
					for rest := b.Rows; len(rest) > 0; rest = rest[stride:] {
						mirror(rest[:stride])
					}
				}
				copy(pix[b.Y*stride:], b.Rows)
				return nil
			}
			for fy := b.Y; fy < b.Y+len(b.Rows)/(3*s.w); fy++ {
				row := b.Rows[3*s.w*(fy-b.Y):]
				x, y := upright(o, s.w, s.h, 0, fy)
				x1, y1 := upright(o, s.w, s.h, 1, fy)
				at, step := y*stride+3*x, (y1-y)*stride+3*(x1-x)
				for i := 0; i < 3*s.w; i += 3 {
					pix[at], pix[at+1], pix[at+2] = row[i], row[i+1], row[i+2]
					at += step
				}
			}
			return nil
		}
	})
	var short *TruncatedError
	if errors.As(err, &short) {
		rows := short.RowsRead
		if o > 2 {
			rows = 0 // the rows that are missing are not the last ones when upright
		}
		return pix[:rows*stride], &TruncatedError{Path: s.info.Path, RowsRead: rows, Rows: s.info.Height, Damaged: short.Damaged, Coarse: short.Coarse}
	}
	if err != nil {
		return nil, err
	}
	return pix, nil
}

// upright returns where the file's pixel fx, fy comes to stand: the inverse of place.
func upright(orientation, w, h, fx, fy int) (x, y int) {
	if orientation >= 5 {
		w, h = h, w
	}
	switch orientation {
	case 6:
		orientation = 8
	case 8:
		orientation = 6
	}
	return place(orientation, w, h, fx, fy)
}

// Stored is described at Sweeper.
func (s *source) Stored() (w, h, orientation int) { return s.w, s.h, s.info.Orientation }

// sweeper is a raster that decodes on several goroutines.
type sweeper interface {
	sweep(ctx context.Context, opt SweepOptions, newWorker func() func(Block) error) error
}

// Sweep is described at Sweeper. Of formats that can only be decoded from top to
// bottom no rows are sampled: none is quick.
func (s *source) Sweep(ctx context.Context, opt SweepOptions, newWorker func() func(Block) error) error {
	return s.id.during(func() error { return s.sweep(ctx, opt, newWorker) })
}

func (s *source) sweep(ctx context.Context, opt SweepOptions, newWorker func() func(Block) error) error {
	if r, ok := s.raster.(sweeper); ok {
		return r.sweep(ctx, opt, newWorker)
	}
	if opt.Y1 <= 0 || opt.Y1 > s.h {
		opt.Y1 = s.h
	}
	if opt.Sample > 0 {
		return ctx.Err()
	}
	return s.spread(ctx, opt, newWorker)
}

// spread decodes on one goroutine and hands what it decodes round to the workers.
func (s *source) spread(ctx context.Context, opt SweepOptions, newWorker func() func(Block) error) error {
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	receivers := parallel.Workers(opt.Workers, s.h)
	work := make(chan Block)
	free := make(chan []uint16, receivers+1)
	for range receivers + 1 {
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
				if errs[i] == nil && inner.Err() == nil {
					if errs[i] = fn(b); errs[i] != nil {
						cancel()
					}
				}
				free <- b.Rows
			}
		})
	}
	err := s.raster.rows(inner, max(0, opt.Y0), opt.Y1, func(y int, rows []uint16) error {
		buf := <-free
		work <- Block{y, append(buf[:0], rows...)}
		return nil
	})
	close(work)
	wg.Wait()
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return err
}

// SweepsWell reports whether Sweep decodes on several goroutines and that a second
// sweep, or one of few rows, costs what its rows cost. Formats that are decoded whole
// each time do not.
func (s *source) SweepsWell() bool {
	_, ok := s.raster.(sweeper)
	return ok
}

// ReadsRegions reports whether Region costs about what the region's share of the
// picture does: no strip or tile that it touches is much larger than a region that is
// looked at.
func (s *source) ReadsRegions() bool {
	t, ok := s.raster.(*tiffRaster)
	return ok && (t.l.pack == packNone || t.l.rowBytes()*min(t.l.chunkH, t.l.h) <= 16<<20)
}

// turn returns the upright pixels of r out of the file's pixels of part.
func (s *source) turn(pix []uint16, part, r image.Rectangle) []uint16 {
	out := make([]uint16, 0, 3*r.Dx()*r.Dy())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			fx, fy := place(s.info.Orientation, s.w, s.h, x, y)
			at := 3 * ((fy-part.Min.Y)*part.Dx() + fx - part.Min.X)
			out = append(out, pix[at], pix[at+1], pix[at+2])
		}
	}
	return out
}

func mirror(row []uint16) {
	for i, j := 0, len(row)-3; i < j; i, j = i+3, j-3 {
		row[i], row[i+1], row[i+2], row[j], row[j+1], row[j+2] = row[j], row[j+1], row[j+2], row[i], row[i+1], row[i+2]
	}
}

// Region reads the file's rows that r needs.
func (s *source) Region(ctx context.Context, r image.Rectangle) ([]uint16, error) {
	if err := checkRegion(s.info, r); err != nil {
		return nil, err
	}
	x0, y0 := place(s.info.Orientation, s.w, s.h, r.Min.X, r.Min.Y)
	x1, y1 := place(s.info.Orientation, s.w, s.h, r.Max.X-1, r.Max.Y-1)
	part := image.Rect(x0, y0, x1, y1) // swaps the ends where they are turned
	part.Max = part.Max.Add(image.Pt(1, 1))
	var pix []uint16
	err := s.id.during(func() (err error) {
		pix, err = s.part(ctx, part)
		return err
	})
	if err != nil {
		return nil, err
	}
	if s.info.Orientation <= 1 {
		return pix, nil
	}
	return s.turn(pix, part, r), nil
}

// part decodes a part of the file's pixels.
func (s *source) part(ctx context.Context, part image.Rectangle) ([]uint16, error) {
	if t, ok := s.raster.(*tiffRaster); ok {
		return t.region(ctx, part)
	}
	pix := make([]uint16, 0, 3*part.Dx()*part.Dy())
	err := s.raster.rows(ctx, part.Min.Y, part.Max.Y, func(_ int, rows []uint16) error {
		for stride := 3 * s.w; len(rows) > 0; rows = rows[stride:] {
			pix = append(pix, rows[3*part.Min.X:3*part.Max.X]...)
		}
		return nil
	})
	return pix, err
}

// checkSize compares a header with the limits.
func checkSize(path string, w, h int, lim Bounds) error {
	if w > lim.MaxSide || h > lim.MaxSide {
		return &BoundsError{path, fmt.Sprintf("it is %d x %d pixels and the longest side allowed is %d", w, h, lim.MaxSide)}
	}
	if int64(w)*int64(h) > lim.MaxPixels {
		return &BoundsError{path, fmt.Sprintf("it is %d x %d pixels, more than the %d allowed", w, h, lim.MaxPixels)}
	}
	return nil
}

// checkMemory compares what a decoder of the whole picture takes with the limits.
func checkMemory(path string, bytes int64, lim Bounds) error {
	if bytes > lim.MaxMemory {
		return &BoundsError{path, fmt.Sprintf("decoding it takes %s of memory at once, more than the %s allowed", byteSize(bytes), byteSize(lim.MaxMemory))}
	}
	return nil
}

// byteSize prints a size with a unit.
func byteSize(n int64) string {
	switch {
	case n >= 1<<30:
		return fmt.Sprintf("%.1f GB", float64(n)/(1<<30))
	case n >= 1<<20:
		return fmt.Sprintf("%.1f MB", float64(n)/(1<<20))
	case n >= 1<<10:
		return fmt.Sprintf("%.1f kB", float64(n)/(1<<10))
	}
	return fmt.Sprintf("%d bytes", n)
}
