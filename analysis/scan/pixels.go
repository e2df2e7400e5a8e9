package scan

import (
	"context"
	"errors"
	"fmt"
	"image"

	"stopladder/analysis/numeric/parallel"
)

// bandRows is how many rows a Pixels hands out at a time.
const bandRows = 64

// Info returns the header.
func (p *Pixels) Info() Info { return p.Header }

// Stream hands out the rows that are in memory. When Pix is shorter than the
// header says (a truncated file that was held), the whole rows that are there
// are handed out and a *TruncatedError follows.
func (p *Pixels) Stream(ctx context.Context, fn func(y int, rows []uint16) error) error {
	stride := 3 * p.Header.Width
	have := p.rows()
	for y := 0; y < have; y += bandRows {
		if err := ctx.Err(); err != nil {
			return err
		}
		end := min(y+bandRows, have)
		if err := fn(y, p.Pix[y*stride:end*stride:end*stride]); err != nil {
			return err
		}
	}
	if have < p.Header.Height {
		return p.missing()
	}
	return ctx.Err()
}

// Region copies the code values of r.
func (p *Pixels) Region(ctx context.Context, r image.Rectangle) ([]uint16, error) {
	if err := checkRegion(p.Header, r); err != nil {
		return nil, err
	}
	if r.Max.Y > p.rows() {
		return nil, p.missing()
	}
	out := make([]uint16, 0, 3*r.Dx()*r.Dy())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		at := 3 * (y*p.Header.Width + r.Min.X)
		out = append(out, p.Pix[at:at+3*r.Dx()]...)
	}
	return out, nil
}

// missing returns the error of a picture that is not whole.
func (p *Pixels) missing() error {
	return &TruncatedError{Path: p.Header.Path, RowsRead: p.rows(), Rows: p.Header.Height, Damaged: p.damaged}
}

// rows returns the number of whole rows in memory.
func (p *Pixels) rows() int {
	if p.Header.Width <= 0 {
		return 0
	}
	return min(p.Header.Height, len(p.Pix)/(3*p.Header.Width))
}

// checkRegion: a region comes from the program, not from the file, so a wrong
// one is a plain error that names both rectangles.
func checkRegion(h Info, r image.Rectangle) error {
	if r.Empty() || !r.In(image.Rect(0, 0, h.Width, h.Height)) {
		return fmt.Errorf("the region %v does not lie inside the picture of %d x %d pixels", r, h.Width, h.Height)
	}
	return nil
}

// Hold decodes a whole source into memory: 6 bytes per pixel. A *Pixels is
// returned as it is. When the file ends early the rows that could be read are
// returned together with the *TruncatedError; Pix is then shorter than the
// header says.
func Hold(ctx context.Context, src Source) (*Pixels, error) { return hold(ctx, src, nil) }

// hold is Hold, and tells the rows that were decoded so far.
func hold(ctx context.Context, src Source, done func(rows int)) (*Pixels, error) {
	if p, ok := src.(*Pixels); ok {
		return p, nil
	}
	h := src.Info()
	if own, ok := src.(*source); ok {
		pix, err := own.hold(ctx, done)
		if err != nil && pix == nil {
			return nil, err
		}
		var short *TruncatedError
		return &Pixels{Header: h, Pix: pix, damaged: errors.As(err, &short) && short.Damaged}, err
	}
	p := &Pixels{Header: h, Pix: make([]uint16, 0, 3*h.Width*h.Height)}
	err := src.Stream(ctx, func(y int, rows []uint16) error {
		p.Pix = append(p.Pix, rows...)
		if done != nil {
			done(y + len(rows)/max(1, 3*h.Width))
		}
		return nil
	})
	var short *TruncatedError
	if errors.As(err, &short) {
		return p, err
	}
	if err != nil {
		return nil, err
	}
	return p, nil
}

// Stored is described at Sweeper: what is in memory is upright.
func (p *Pixels) Stored() (w, h, orientation int) { return p.Header.Width, p.Header.Height, 1 }

// SweepsWell reports whether sweeping again costs nothing but the sweeping.
func (p *Pixels) SweepsWell() bool { return true }

// Sweep is described at Sweeper.
func (p *Pixels) Sweep(ctx context.Context, opt SweepOptions, newWorker func() func(Block) error) error {
	if opt.Y1 <= 0 || opt.Y1 > p.Header.Height {
		opt.Y1 = p.Header.Height
	}
	opt.Y0 = max(0, opt.Y0)
	stride := 3 * p.Header.Width
	step := max(1, blockBytes/max(1, 2*stride))
	if a := max(1, opt.Align); step > a {
		step = step / a * a
	}
	have := min(p.rows(), opt.Y1)
	pieces := wholeRows(opt, step, have)
	workers := make([]func(Block) error, parallel.Workers(opt.Workers, len(pieces)))
	for w := range workers {
		workers[w] = newWorker()
	}
	err := parallel.Each(ctx, opt.Workers, len(pieces), func(worker, i int) error {
		from, end := pieces[i][0], pieces[i][1]
		return workers[worker](Block{from, p.Pix[from*stride : end*stride : end*stride]})
	})
	if err != nil || opt.Sample > 0 {
		return err
	}
	if have < opt.Y1 {
		return p.missing()
	}
	return nil
}
