package scan

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"os"
	"time"

	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

// wholeRaster reads formats whose decoder gives the whole picture at once (JPEG, and
// PNG that is interlaced: up to 15 bytes per pixel while it runs, which openers
// compare with Bounds.MaxMemory). Every reading decodes anew; Ready decodes once.
type wholeRaster struct {
	path   string
	w, h   int // of the header
	decode func(io.Reader) (image.Image, error)
	inks   *colour.Inks                                                              // of CMYK; nil: not CMYK
	limit  time.Duration                                                             // 0: decodeTime
	whole  func(ctx context.Context, f *os.File, size int64) (*decodedRaster, error) // nil: decode from the first byte on
}

// decodeTime is how long decoding may take before it counts as having run away:
// what the slowest machine needs for a sound file, many times over.
func decodeTime(w, h int, size int64) time.Duration {
	return time.Minute + time.Duration(w)*time.Duration(h)*2*time.Microsecond + time.Duration(size)*2*time.Microsecond
}

// decoded returns the decoded picture.
func (t *wholeRaster) decoded(ctx context.Context) (*decodedRaster, error) {
	f, err := os.Open(t.path)
	if err != nil {
		return nil, &fileError{t.path, err}
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return nil, &fileError{t.path, err}
	}
	if t.whole != nil {
		return t.whole(ctx, f, st.Size())
	}
	img, err := t.guarded(ctx, st.Size(), io.NewSectionReader(f, 0, st.Size()))
	if err != nil {
		return nil, err
	}
	if img == nil {
		return nil, &TruncatedError{Path: t.path, Rows: t.h, Coarse: true} // an interlaced PNG
	}
	return t.fits(img, t.h)
}

// fits makes a raster of the first rows rows of a picture.
func (t *wholeRaster) fits(img image.Image, rows int) (*decodedRaster, error) {
	if b := img.Bounds(); b.Dx() != t.w || b.Dy() < rows {
		return nil, &FormatError{Path: t.path, Reason: "it has changed since it was opened"}
	}
	if _, cmyk := img.(*image.CMYK); cmyk != (t.inks != nil) {
		return nil, &FormatError{Path: t.path, Reason: "its colours are not those of its header"}
	}
	return &decodedRaster{path: t.path, w: t.w, h: t.h, have: rows, img: img, inks: t.inks}, nil
}

// guarded decodes r; nil without an error where the decoder cannot. The decoder is
// another's: it runs beside, so that one that panics or never ends costs its own
// scan alone. One that runs away ends at the latest when it reads on.
func (t *wholeRaster) guarded(ctx context.Context, size int64, r io.Reader) (image.Image, error) {
	limit := t.limit
	if limit == 0 {
		limit = decodeTime(t.w, t.h, size)
	}
	inner, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	done := make(chan image.Image, 1)
	parallel.Go(ctx, func() {
		var img image.Image
		defer func() {
			if recover() != nil {
				img = nil
			}
			done <- img
		}()
		if got, err := t.decode(&cancelReader{inner, bufio.NewReaderSize(r, 64<<10)}); err == nil {
			img = got
		}
	})
	select {
	case img := <-done:
		return img, ctx.Err()
	case <-inner.Done():
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, &BoundsError{t.path, fmt.Sprintf("decoding it takes longer than the %v allowed for its size", limit.Round(time.Millisecond))}
	}
}

func (t *wholeRaster) rows(ctx context.Context, y0, y1 int, fn func(y int, rows []uint16) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	d, err := t.decoded(ctx)
	if err != nil {
		return err
	}
	return d.rows(ctx, y0, y1, fn)
}

// decodedRaster is a picture as its decoder left it in memory.
type decodedRaster struct {
	path string
	w, h int
	have int // rows that could be read
	img  image.Image
	inks *colour.Inks // of CMYK; nil: not CMYK
}

func (d *decodedRaster) missing(y1 int) error {
	if d.have < y1 {
		return &TruncatedError{Path: d.path, RowsRead: d.have, Rows: d.h}
	}
	return nil
}

func (d *decodedRaster) rows(ctx context.Context, y0, y1 int, fn func(y int, rows []uint16) error) error {
	err := d.sweep(ctx, SweepOptions{Y0: y0, Y1: y1, Workers: 1}, func() func(Block) error {
		return func(b Block) error { return fn(b.Y, b.Rows) }
	})
	return err
}

// sweep is described at Sweeper; with one worker the blocks come in order.
func (d *decodedRaster) sweep(ctx context.Context, opt SweepOptions, newWorker func() func(Block) error) error {
	if opt.Y1 <= 0 || opt.Y1 > d.h {
		opt.Y1 = d.h
	}
	step := max(1, blockBytes/(6*d.w))
	if a := max(1, opt.Align); step > a {
		step = step / a * a
	}
	pieces := wholeRows(opt, step, min(d.have, opt.Y1))
	workers := make([]func(Block) error, parallel.Workers(opt.Workers, len(pieces)))
	bands := make([][]uint16, len(workers))
	wide := make([]*wideCodes, len(workers))
	for i := range workers {
		workers[i], bands[i] = newWorker(), make([]uint16, 3*d.w*step)
		if d.inks != nil {
			wide[i] = wideOfInks(d.inks, 255)
		}
	}
	err := parallel.Each(ctx, opt.Workers, len(pieces), func(worker, i int) error {
		y, end := pieces[i][0], pieces[i][1]
		band := bands[worker][:3*d.w*(end-y)]
		for r := range end - y {
			if d.inks != nil {
				inkCodes(band[3*d.w*r:3*d.w*(r+1)], d.img.(*image.CMYK), y+r, wide[worker])
				continue
			}
			codesOf(band[3*d.w*r:3*d.w*(r+1)], d.img, y+r)
		}
		return workers[worker](Block{y, band})
	})
	if err != nil {
		return err
	}
	return d.missing(opt.Y1)
}

// wholeRows cuts rows that are all in memory, have of them, into pieces that begin at
// multiples of step, or picks those of a sample.
func wholeRows(opt SweepOptions, step, have int) (pieces [][2]int) {
	if opt.Sample > 0 {
		last := -1
		for i := range opt.Sample {
			if y := opt.Y0 + int(int64(have-opt.Y0)*int64(i)/int64(opt.Sample)); y > last && y < have {
				pieces = append(pieces, [2]int{y, y + 1})
				last = y
			}
		}
		return pieces
	}
	for y := max(0, opt.Y0); y < have; {
		end := min((y/step+1)*step, have)
		pieces = append(pieces, [2]int{y, end})
		y = end
	}
	return pieces
}

// heldMost is the largest picture, in bytes of code values, that Ready takes into
// memory for the sake of speed.
const heldMost = 512 << 20

// Ready returns a Sweeper for several readings of a scan: src itself where each of
// them costs only its rows, else the picture in memory, decoded once, as far as
// memory allows. done, which may be nil, is told the rows that were decoded for it,
// of Info's height. A *TruncatedError comes with the sweeps, not here.
func Ready(ctx context.Context, src Source, done func(rows int)) (Sweeper, error) {
	s, ok := src.(Sweeper)
	if ok && s.SweepsWell() {
		return s, nil
	}
	in := src.Info()
	if own, ok := src.(*source); ok {
		if t, ok := own.raster.(*wholeRaster); ok {
			d, err := t.decoded(ctx)
			if err != nil {
				return nil, err
			}
			return &source{info: own.info, w: own.w, h: own.h, raster: d}, nil
		}
		if 6*int64(in.Width)*int64(in.Height) > heldMost {
			return own, nil
		}
	}
	p, err := hold(ctx, src, done)
	var short *TruncatedError
	if err != nil && !errors.As(err, &short) {
		return nil, err
	}
	return p, nil
}

// cancelReader ends a decoder that knows nothing of contexts.
type cancelReader struct {
	ctx context.Context
	r   io.Reader
}

func (c *cancelReader) Read(b []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(b)
}

// codesOf gives one row of a decoded picture as the file's code values. Pictures
// with alpha come from these decoders as NRGBA, not multiplied by it.
func codesOf(dst []uint16, img image.Image, y int) {
	b := img.Bounds()
	y += b.Min.Y
	switch m := img.(type) {
	case *image.Gray:
		row := m.Pix[m.PixOffset(b.Min.X, y):]
		for i := range b.Dx() {
			v := uint16(row[i])
			dst[3*i], dst[3*i+1], dst[3*i+2] = v, v, v
		}
	case *image.Gray16:
		row := m.Pix[m.PixOffset(b.Min.X, y):]
		for i := range b.Dx() {
			v := uint16(row[2*i])<<8 | uint16(row[2*i+1])
			dst[3*i], dst[3*i+1], dst[3*i+2] = v, v, v
		}
	case *image.RGBA:
		bytesOf(dst, m.Pix[m.PixOffset(b.Min.X, y):], b.Dx())
	case *image.NRGBA:
		bytesOf(dst, m.Pix[m.PixOffset(b.Min.X, y):], b.Dx())
	case *image.RGBA64:
		wordsOf(dst, m.Pix[m.PixOffset(b.Min.X, y):], b.Dx())
	case *image.NRGBA64:
		wordsOf(dst, m.Pix[m.PixOffset(b.Min.X, y):], b.Dx())
	case *image.Paletted:
		row := m.Pix[m.PixOffset(b.Min.X, y):]
		for i := range b.Dx() {
			var c color.NRGBA
			if int(row[i]) < len(m.Palette) {
				c = color.NRGBAModel.Convert(m.Palette[row[i]]).(color.NRGBA)
			}
			dst[3*i], dst[3*i+1], dst[3*i+2] = uint16(c.R), uint16(c.G), uint16(c.B)
		}
	case *image.YCbCr:
		for i := range b.Dx() {
			yi, ci := m.YOffset(b.Min.X+i, y), m.COffset(b.Min.X+i, y)
			r, g, bl := color.YCbCrToRGB(m.Y[yi], m.Cb[ci], m.Cr[ci])
			dst[3*i], dst[3*i+1], dst[3*i+2] = uint16(r), uint16(g), uint16(bl)
		}
	default:
		for i := range b.Dx() {
			c := color.NRGBAModel.Convert(img.At(b.Min.X+i, y)).(color.NRGBA)
			dst[3*i], dst[3*i+1], dst[3*i+2] = uint16(c.R), uint16(c.G), uint16(c.B)
		}
	}
}

// inkCodes gives one row of a picture of inks as code values.
func inkCodes(dst []uint16, m *image.CMYK, y int, wide *wideCodes) {
	row := m.Pix[m.PixOffset(m.Rect.Min.X, m.Rect.Min.Y+y):]
	for i := range m.Rect.Dx() {
		p := row[4*i : 4*i+4]
		c := wide.of([]uint16{uint16(p[0]), uint16(p[1]), uint16(p[2]), uint16(p[3])})
		dst[3*i], dst[3*i+1], dst[3*i+2] = c[0], c[1], c[2]
	}
}

func bytesOf(dst []uint16, pix []uint8, n int) {
	for i := range n {
		p := pix[4*i : 4*i+3]
		dst[3*i], dst[3*i+1], dst[3*i+2] = uint16(p[0]), uint16(p[1]), uint16(p[2])
	}
}

func wordsOf(dst []uint16, pix []uint8, n int) {
	for i := range n {
		p := pix[8*i : 8*i+6]
		dst[3*i] = uint16(p[0])<<8 | uint16(p[1])
		dst[3*i+1] = uint16(p[2])<<8 | uint16(p[3])
		dst[3*i+2] = uint16(p[4])<<8 | uint16(p[5])
	}
}
