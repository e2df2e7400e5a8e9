package scan

import (
	"bufio"
	"context"
	"image"
	"image/color"
	"io"
	"os"
)

// wholeRaster reads formats whose decoder gives the whole picture at once (PNG,
// JPEG: up to 8 bytes per pixel while it runs). Every reading decodes anew, so
// who needs regions calls Hold first.
type wholeRaster struct {
	path   string
	w, h   int // of the header
	decode func(io.Reader) (image.Image, error)
}

func (t *wholeRaster) rows(ctx context.Context, y0, y1 int, fn func(y int, rows []uint16) error) error {
	f, err := os.Open(t.path)
	if err != nil {
		return &fileError{t.path, err}
	}
	defer f.Close()
	if err := ctx.Err(); err != nil {
		return err
	}
	img, err := t.decode(&cancelReader{ctx, bufio.NewReaderSize(f, 64<<10)})
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		// These decoders give no part of a picture.
		return &TruncatedError{Path: t.path, RowsRead: 0, Rows: t.h}
	}
	if b := img.Bounds(); b.Dx() != t.w || b.Dy() != t.h {
		return &FormatError{Path: t.path, Reason: "it has changed since it was opened"}
	}
	w := t.w
	band := make([]uint16, 3*w*min(bandRows, y1-y0))
	for y := y0; y < y1; y += bandRows {
		if err := ctx.Err(); err != nil {
			return err
		}
		n := min(bandRows, y1-y)
		for i := range n {
			codesOf(band[3*w*i:3*w*(i+1)], img, y+i)
		}
		if err := fn(y, band[:3*w*n]); err != nil {
			return err
		}
	}
	return nil
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
