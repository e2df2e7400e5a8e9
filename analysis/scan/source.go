package scan

import (
	"context"
	"errors"
	"fmt"
	"image"
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

// place gives the file's pixel of an upright pixel, for the orientations 1 to 8
// of TIFF 6.0, page 36: where row 0 and column 0 of the file stand upright.
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
		return s.raster.rows(ctx, 0, s.h, func(y int, rows []uint16) error {
			if o == 2 { // in place: the band is ours
				for rest, stride := rows, 3*s.w; len(rest) > 0; rest = rest[stride:] {
					mirror(rest[:stride])
				}
			}
			return fn(y, rows)
		})
	}
	held := make([]uint16, 0, 3*s.w*s.h)
	err := s.raster.rows(ctx, 0, s.h, func(_ int, rows []uint16) error {
		held = append(held, rows...)
		return nil
	})
	var short *TruncatedError
	if errors.As(err, &short) {
		// The rows that are missing are not the last ones when upright.
		return &TruncatedError{Path: s.info.Path, RowsRead: 0, Rows: s.info.Height}
	}
	if err != nil {
		return err
	}
	for y := 0; y < s.info.Height; y += bandRows {
		if err := ctx.Err(); err != nil {
			return err
		}
		n := min(bandRows, s.info.Height-y)
		band := s.turn(held, image.Rect(0, 0, s.w, s.h), image.Rect(0, y, s.info.Width, y+n))
		if err := fn(y, band); err != nil {
			return err
		}
	}
	return nil
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
	pix := make([]uint16, 0, 3*part.Dx()*part.Dy())
	err := s.raster.rows(ctx, part.Min.Y, part.Max.Y, func(_ int, rows []uint16) error {
		for stride := 3 * s.w; len(rows) > 0; rows = rows[stride:] {
			pix = append(pix, rows[3*part.Min.X:3*part.Max.X]...)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if s.info.Orientation <= 1 {
		return pix, nil
	}
	return s.turn(pix, part, r), nil
}

// checkSize compares a header with the limits.
func checkSize(path string, w, h int, lim Limits) error {
	if w > lim.MaxSide || h > lim.MaxSide {
		return &LimitError{path, fmt.Sprintf("it is %d x %d pixels and the longest side allowed is %d", w, h, lim.MaxSide)}
	}
	if int64(w)*int64(h) > lim.MaxPixels {
		return &LimitError{path, fmt.Sprintf("it is %d x %d pixels, more than the %d allowed", w, h, lim.MaxPixels)}
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
