package publish

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"

	"stopladder/analysis/scan/colour"
)

// JPEGSide is the longest side of a JPEG, pixels (ITU-T T.81).
const JPEGSide = 65535

// Qualities of JPEGs: of pages for the web, and of the pictures inside a PDF.
const (
	webQuality = 90
	pdfQuality = 94
)

// JPEG writes a page for the web, with its profile and its size on paper.
func JPEG(ctx context.Context, w io.Writer, j Job, software string) error {
	size := j.Page.Pixels()
	if size.X > JPEGSide || size.Y > JPEGSide {
		return fmt.Errorf("the page would be %d x %d pixels, and a JPEG is at most %d high: make it narrower, or write a PNG", size.X, size.Y, JPEGSide)
	}
	img, err := whole(ctx, j)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: webQuality}); err != nil {
		return err
	}
	_, err = w.Write(tagged(b.Bytes(), j.Space, j.Page.PPI(), software))
	return err
}

// tagged sets JFIF's density (ITU-T T.871) the profile (ICC.1:2010, B.4) and what wrote it
// behind the first marker of a JPEG.
func tagged(data []byte, space colour.Display, ppi float64, software string) []byte {
	var b bytes.Buffer
	b.Write(data[:2]) // SOI
	density := uint16(math.Max(1, math.Min(65535, math.Round(ppi))))
	app0 := append([]byte("JFIF\x00\x01\x02\x01"), binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(nil, density), density)...)
	segment(&b, 0xE0, append(app0, 0, 0))
	segment(&b, 0xE2, append([]byte("ICC_PROFILE\x00\x01\x01"), space.Profile()...))
	segment(&b, 0xFE, []byte(software))
	b.Write(data[2:])
	return b.Bytes()
}

func segment(b *bytes.Buffer, marker byte, body []byte) {
	b.Write([]byte{0xFF, marker})
	b.Write(binary.BigEndian.AppendUint16(nil, uint16(len(body)+2)))
	b.Write(body)
}

// whole paints a page in its space.
func whole(ctx context.Context, j Job) (*image.RGBA, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	size := j.Page.Pixels()
	img := image.NewRGBA(image.Rectangle{Max: size})
	b, marks, ground := newBands(j), inSpace(j.Page.List, j.Space), groundOf(j.Page, j.Space)
	const step = 256
	rows := make([]byte, 3*size.X*step)
	for y := 0; y < size.Y; y += step {
		to := min(y+step, size.Y)
		if err := b.paint(ctx, &marks, ground, size, rows, y, to, 8); err != nil {
			return nil, err
		}
		for i := range size.X * (to - y) {
			q := img.Pix[4*(size.X*y+i):]
			q[0], q[1], q[2], q[3] = rows[3*i], rows[3*i+1], rows[3*i+2], 255
		}
	}
	return img, nil
}
