package scan

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"io"

	"stopladder/analysis/scan/unpack"
)

// jpegChunk decodes a strip or tile that is a JPEG (TIFF technical note 2): a stream
// that lacks the tables which it shares with the others. It is decoded whole.
type jpegChunk struct {
	l    *tiffLayout
	src  io.Reader
	rows []byte // as an uncompressed chunk would have them
	at   int
	err  error
	done bool
}

// Reset begins anew.
func (j *jpegChunk) Reset(src io.Reader) { j.src, j.at, j.err, j.done = src, 0, nil, false }

// Next is described at unpack.Decoder.
func (j *jpegChunk) Next(n int) ([]byte, error) {
	if !j.done {
		j.done = true
		j.rows = j.rows[:0]
		j.err = j.decode()
	}
	b := j.rows[j.at:min(j.at+n, len(j.rows))]
	j.at += len(b)
	if len(b) < n {
		if j.err == nil {
			return b, io.ErrUnexpectedEOF
		}
		return b, j.err
	}
	return b, nil
}

func (j *jpegChunk) decode() error {
	data, err := io.ReadAll(j.src) // as long as readChunks allows
	if err != nil {
		return err
	}
	if !bytes.HasPrefix(data, []byte{0xFF, 0xD8}) {
		if len(data) == 0 {
			return io.ErrUnexpectedEOF
		}
		return unpack.ErrCorrupt
	}
	if t := bytes.TrimSuffix(j.l.tables, endOfImage); bytes.HasPrefix(t, []byte{0xFF, 0xD8}) {
		data = append(bytes.Clone(t), data[2:]...)
	}
	conf, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return damageOf(err)
	}
	if conf.Width != j.l.chunkW || conf.Height > j.l.chunkH+7 {
		return unpack.ErrCorrupt
	}
	scans, err := readPasses(context.Background(), bytes.NewReader(data))
	if err != nil || scans.scans > maxScans {
		return unpack.ErrCorrupt
	}
	img, err := decodeGuarded(data)
	if err != nil {
		return damageOf(err)
	}
	return j.pack(img)
}

// damageOf keeps a stream that ends too early apart from one that is damaged.
func damageOf(err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return unpack.ErrCorrupt
}

// decodeGuarded decodes; a panic of the decoder is an error.
func decodeGuarded(data []byte) (img image.Image, err error) {
	defer func() {
		if recover() != nil {
			img, err = nil, unpack.ErrCorrupt
		}
	}()
	return jpeg.Decode(bytes.NewReader(data))
}

// pack lays out the rows. The file says whether components are RGB or YCbCr; the
// decoder takes three components for YCbCr unless they are named R, G and B.
func (j *jpegChunk) pack(img image.Image) error {
	b := img.Bounds()
	n := j.l.chunkSamples()
	for y := range min(b.Dy(), j.l.chunkH) {
		switch m := img.(type) {
		case *image.Gray:
			if n != 1 {
				return unpack.ErrCorrupt
			}
			j.rows = append(j.rows, m.Pix[y*m.Stride:y*m.Stride+b.Dx()]...)
		case *image.YCbCr:
			if n != 3 {
				return unpack.ErrCorrupt
			}
			for x := range b.Dx() {
				yi, ci := m.YOffset(x, y), m.COffset(x, y)
				r, g, bl := m.Y[yi], m.Cb[ci], m.Cr[ci]
				if j.l.ycc {
					r, g, bl = color.YCbCrToRGB(r, g, bl)
				}
				j.rows = append(j.rows, r, g, bl)
			}
		case *image.RGBA:
			if n != 3 {
				return unpack.ErrCorrupt
			}
			for x := range b.Dx() {
				j.rows = append(j.rows, m.Pix[y*m.Stride+4*x:y*m.Stride+4*x+3]...)
			}
		default:
			return unpack.ErrCorrupt
		}
	}
	return nil
}
