package scan

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"

	"stopladder/analysis/scan/unpack"
)

// pngRaster decodes a PNG that is not interlaced row by row (W3C PNG Specification,
// third edition, sections 7, 9 and 10): what it takes is a few rows and the window
// of Deflate.
type pngRaster struct {
	path    string
	w, h    int
	depth   int    // bits of a sample
	samples int    // of a pixel
	palette []byte // R, G, B; nil: none
	data    int64  // where the first chunk of pixels begins
}

func (t *pngRaster) rowBytes() int { return (t.w*t.samples*t.depth + 7) / 8 }

// rows is described at raster.
func (t *pngRaster) rows(ctx context.Context, y0, y1 int, fn func(y int, rows []uint16) error) error {
	f, err := os.Open(t.path)
	if err != nil {
		return &fileError{t.path, err}
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return &fileError{t.path, err}
	}
	src := &pngData{f: f, next: t.data, size: withoutZeros(f, st.Size())}
	var d unpack.Deflate
	d.Reset(src)
	row := t.rowBytes()
	step := max(1, t.samples*t.depth/8) // bytes from a sample to that on its left
	now, above := make([]byte, row), make([]byte, row)
	block := max(1, blockBytes/(6*t.w))
	band := make([]uint16, 3*t.w*min(block, y1-y0))
	first, have := y0, 0 // of band, and the rows in it
	for y := range y1 {
		raw, err := d.Next(1 + row)
		if err == nil {
			copy(now, raw[1:])
			err = unfilter(raw[0], now, above, step)
		}
		if err == nil && y == t.h-1 {
			if err = d.Check(64 << 10); err != nil {
				return t.ended(ctx, err, 0) // whose checksum is of all rows
			}
		}
		if err == nil && y >= y0 {
			t.codes(band[3*t.w*have:3*t.w*(have+1)], now)
			have++
		}
		if have > 0 && (have == block || err != nil || y == y1-1) {
			if failed := ctx.Err(); failed != nil {
				return failed
			}
			if failed := fn(first, band[:3*t.w*have]); failed != nil {
				return failed
			}
			first, have = first+have, 0
		}
		if err != nil {
			return t.ended(ctx, err, y)
		}
		if y%block == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		now, above = above, now
	}
	return ctx.Err()
}

// ended returns the error of a reading that ended before row.
func (t *pngRaster) ended(ctx context.Context, err error, row int) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	var pe *os.PathError
	if errors.As(err, &pe) {
		return &fileError{t.path, err}
	}
	return &TruncatedError{Path: t.path, RowsRead: row, Rows: t.h, Damaged: errors.Is(err, unpack.ErrCorrupt)}
}

// unfilter undoes the filter of a row (section 9.2); above is the row before, step
// the bytes of a pixel.
func unfilter(kind byte, row, above []byte, step int) error {
	above = above[:len(row)]
	switch kind {
	case 0:
	case 1:
		for i := step; i < len(row); i++ {
			row[i] += row[i-step]
		}
	case 2:
		for i, v := range above {
			row[i] += v
		}
	case 3:
		for i := range min(step, len(row)) {
			row[i] += above[i] / 2
		}
		for i := step; i < len(row); i++ {
			row[i] += uint8((int(row[i-step]) + int(above[i])) / 2)
		}
	case 4:
		for i := range min(step, len(row)) { // left and left above are 0
			row[i] += above[i]
		}
		for i := step; i < len(row); i++ {
			row[i] += paeth(int(row[i-step]), int(above[i]), int(above[i-step]))
		}
	default:
		return unpack.ErrCorrupt
	}
	return nil
}

// paeth returns the neighbour that is nearest to left + up - corner (section 9.4).
func paeth(left, up, corner int) uint8 {
	a, b := up-corner, left-corner
	c := a + b
	a, b, c = max(a, -a), max(b, -b), max(c, -c)
	switch {
	case a <= b && a <= c:
		return uint8(left)
	case b <= c:
		return uint8(up)
	}
	return uint8(corner)
}

// codes turns a row into code values: samples of less than 8 bits are spread to 8,
// colours that a palette lacks are black, alpha is left out.
func (t *pngRaster) codes(dst []uint16, row []byte) {
	grey := t.samples < 3
	switch {
	case t.depth == 16 && grey:
		for i := range t.w {
			v := binary.BigEndian.Uint16(row[2*t.samples*i:])
			dst[3*i], dst[3*i+1], dst[3*i+2] = v, v, v
		}
	case t.depth == 16:
		for i := range t.w {
			p := row[2*t.samples*i : 2*t.samples*i+6]
			dst[3*i], dst[3*i+1], dst[3*i+2] = binary.BigEndian.Uint16(p), binary.BigEndian.Uint16(p[2:]), binary.BigEndian.Uint16(p[4:])
		}
	case t.depth == 8 && !grey:
		for i := range t.w {
			p := row[t.samples*i : t.samples*i+3]
			dst[3*i], dst[3*i+1], dst[3*i+2] = uint16(p[0]), uint16(p[1]), uint16(p[2])
		}
	case t.depth == 8 && t.palette == nil:
		for i := range t.w {
			v := uint16(row[t.samples*i])
			dst[3*i], dst[3*i+1], dst[3*i+2] = v, v, v
		}
	default:
		top := 1<<t.depth - 1
		for i := range t.w {
			bit := i * t.depth
			v := int(row[bit/8]) >> (8 - t.depth - bit%8) & top
			if t.palette == nil {
				c := uint16(v * 255 / top)
				dst[3*i], dst[3*i+1], dst[3*i+2] = c, c, c
				continue
			}
			c := [3]byte{}
			if 3*v+3 <= len(t.palette) {
				c = [3]byte(t.palette[3*v:])
			}
			dst[3*i], dst[3*i+1], dst[3*i+2] = uint16(c[0]), uint16(c[1]), uint16(c[2])
		}
	}
}

// pngData is the stream of compressed pixels, which is cut into chunks. No byte of a
// chunk is handed out before its checksum was compared; a chunk that the file does
// not hold to its end has none, and is read as far as it goes.
type pngData struct {
	f    io.ReaderAt
	size int64
	next int64 // the next chunk
	at   int64 // in the chunk at hand
	left int64 // of it
}

func (p *pngData) Read(b []byte) (int, error) {
	for p.left == 0 {
		if err := p.chunk(); err != nil {
			return 0, err
		}
	}
	b = b[:min(int64(len(b)), p.left)]
	n, err := p.f.ReadAt(b, p.at)
	p.at += int64(n)
	p.left -= int64(n)
	if n > 0 {
		err = nil
	}
	return n, err
}

// chunk goes to the next chunk of pixels.
func (p *pngData) chunk() error {
	var head [8]byte
	if p.next+8 > p.size {
		return io.EOF
	}
	if err := readFull(p.f, head[:], p.next); err != nil {
		return err
	}
	if string(head[4:]) != "IDAT" {
		return io.EOF // chunks of pixels follow each other (section 5.6)
	}
	n := int64(binary.BigEndian.Uint32(head[:]))
	p.at, p.left = p.next+8, n
	p.next += 12 + n
	if p.next > p.size {
		p.left = min(n, p.size-p.at)
		p.next = p.size
		if p.left == 0 {
			return io.EOF
		}
		return nil
	}
	sum := crc32.NewIEEE()
	sum.Write(head[4:])
	if _, err := io.Copy(sum, io.NewSectionReader(p.f, p.at, n)); err != nil {
		return err
	}
	var want [4]byte
	if err := readFull(p.f, want[:], p.at+n); err != nil {
		return err
	}
	if binary.BigEndian.Uint32(want[:]) != sum.Sum32() {
		return fmt.Errorf("a chunk does not fit its checksum: %w", unpack.ErrCorrupt)
	}
	return nil
}

// withoutZeros returns where a file ends when the zeros of a copy that was not
// finished are left out.
func withoutZeros(f io.ReaderAt, size int64) int64 {
	if from := zerosBefore(f, size); size-from >= tailLeast {
		return from
	}
	return size
}
