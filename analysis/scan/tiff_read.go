package scan

import (
	"bufio"
	"compress/zlib"
	"context"
	"errors"
	"io"
	"os"

	"golang.org/x/image/tiff/lzw"
)

// maxOpenChunks bounds the decoders that are open at once: one for each tile
// beside another, in each plane. A decoder takes some 50 kB.
const maxOpenChunks = 4096

// tiffRaster streams a TIFF. It holds one band of rows and, of each chunk beside
// another, a decoder and one row, whatever the size of the file, its strips or
// its tiles.
type tiffRaster struct {
	path string
	l    *tiffLayout
}

func (t *tiffRaster) rows(ctx context.Context, y0, y1 int, fn func(y int, rows []uint16) error) error {
	f, err := os.Open(t.path)
	if err != nil {
		return &fileError{t.path, err}
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return &fileError{t.path, err}
	}
	l := t.l
	chunks := make([]chunkReader, l.across*l.usedPlanes())
	raw := make([]byte, l.rowBytes())
	band := make([]uint16, 3*l.w*min(bandRows, l.chunkH, y1-y0))
	for cy := y0 / l.chunkH; cy < l.down; cy++ {
		top := cy * l.chunkH
		if top >= y1 {
			break
		}
		for i := range chunks {
			plane, cx := i/l.across, i%l.across
			n := (plane*l.down+cy)*l.across + cx
			skip := max(0, y0-top)
			if err := chunks[i].open(l, f, st.Size(), n, skip, raw); err != nil {
				return t.ended(err, max(y0, top), f)
			}
		}
		end := min(top+l.chunkH, y1, l.h)
		for y := max(y0, top); y < end; {
			if err := ctx.Err(); err != nil {
				return err
			}
			n := min(len(band)/(3*l.w), end-y)
			got, failure := t.band(chunks, band, raw, n)
			if got > 0 {
				if err := fn(y, band[:3*l.w*got]); err != nil {
					return err
				}
			}
			if failure != nil {
				return t.ended(failure, y+got, f)
			}
			y += n
		}
	}
	return ctx.Err()
}

// ended tells an error of the disk from a file that ends or is damaged.
func (t *tiffRaster) ended(err error, rows int, f *os.File) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return &fileError{t.path, err}
	}
	return &TruncatedError{Path: t.path, RowsRead: rows, Rows: t.l.h}
}

// band fills n rows from all chunks beside each other and returns how many of
// them are whole.
func (t *tiffRaster) band(chunks []chunkReader, band []uint16, raw []byte, n int) (got int, err error) {
	l := t.l
	got = n
	for i := range chunks {
		plane, x := i/l.across, i%l.across*l.chunkW
		for y := range got {
			if e := chunks[i].row(raw); e != nil {
				got, err = y, e
				break
			}
			l.place(band[3*(y*l.w+x):3*(y*l.w+min(x+l.chunkW, l.w))], raw, plane)
		}
	}
	return got, err
}

// place converts one row of a chunk to RGB codes.
func (l *tiffLayout) place(dst []uint16, raw []byte, plane int) {
	n := len(dst) / 3
	step := l.chunkSamples()
	if l.bits == 16 {
		little := l.order.String() == "LittleEndian"
		switch {
		case l.photo == photoRGB && l.planar:
			for i := range n {
				dst[3*i+plane] = l.order.Uint16(raw[2*i:])
			}
		case l.photo == photoRGB && step == 3:
			raw = raw[:6*n]
			dst = dst[:3*n]
			if little {
				for i := range dst {
					dst[i] = uint16(raw[2*i]) | uint16(raw[2*i+1])<<8
				}
			} else {
				for i := range dst {
					dst[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
				}
			}
		case l.photo == photoRGB:
			for i := range n {
				p := raw[2*i*step : 2*i*step+6]
				dst[3*i], dst[3*i+1], dst[3*i+2] = l.order.Uint16(p), l.order.Uint16(p[2:]), l.order.Uint16(p[4:])
			}
		default:
			flip := uint16(0)
			if l.photo == photoWhiteIsZero {
				flip = 0xFFFF
			}
			for i := range n {
				v := l.order.Uint16(raw[2*i*step:]) ^ flip
				dst[3*i], dst[3*i+1], dst[3*i+2] = v, v, v
			}
		}
		return
	}
	switch {
	case l.photo == photoRGB && l.planar:
		for i := range n {
			dst[3*i+plane] = uint16(raw[i])
		}
	case l.photo == photoRGB:
		for i := range n {
			p := raw[i*step : i*step+3]
			dst[3*i], dst[3*i+1], dst[3*i+2] = uint16(p[0]), uint16(p[1]), uint16(p[2])
		}
	case l.photo == photoPalette:
		for i := range n {
			copy(dst[3*i:3*i+3], l.palette[3*int(raw[i*step]):])
		}
	default:
		flip := byte(0)
		if l.photo == photoWhiteIsZero {
			flip = 0xFF
		}
		for i := range n {
			v := uint16(raw[i*step] ^ flip)
			dst[3*i], dst[3*i+1], dst[3*i+2] = v, v, v
		}
	}
}

// chunkReader gives the rows of one strip or tile, one after the other.
type chunkReader struct {
	l    *tiffLayout
	file *bufio.Reader
	zip  io.ReadCloser
	r    io.Reader
}

// open goes to a chunk and past its first skip rows. The buffers of the chunk
// before are used again.
func (c *chunkReader) open(l *tiffLayout, f *os.File, size int64, chunk, skip int, raw []byte) error {
	c.l = l
	part := l.section(f, size, chunk)
	if l.pack == packNone {
		if _, err := part.Seek(int64(skip)*int64(len(raw)), io.SeekStart); err != nil {
			return err
		}
		skip = 0
	}
	if c.file == nil {
		c.file = bufio.NewReaderSize(part, 32<<10)
	} else {
		c.file.Reset(part)
	}
	switch l.pack {
	case packNone:
		c.r = c.file
	case packPackBits:
		c.r = &packBits{r: c.file}
	case packLZW:
		c.r = lzw.NewReader(c.file, lzw.MSB, 8)
	default:
		if c.zip == nil {
			z, err := zlib.NewReader(c.file)
			if err != nil {
				return err
			}
			c.zip = z
		} else if err := c.zip.(zlib.Resetter).Reset(c.file, nil); err != nil {
			return err
		}
		c.r = c.zip
	}
	for range skip {
		if _, err := io.ReadFull(c.r, raw); err != nil {
			return err
		}
	}
	return nil
}

// row reads the next row and adds up its differences.
func (c *chunkReader) row(raw []byte) error {
	if _, err := io.ReadFull(c.r, raw); err != nil {
		return err
	}
	if !c.l.predict {
		return nil
	}
	step := c.l.chunkSamples()
	if c.l.bits == 8 {
		for i := step; i < len(raw); i++ {
			raw[i] += raw[i-step]
		}
		return nil
	}
	step *= 2
	low, high := 0, 1 // which byte of a sample is which
	if c.l.order.String() == "BigEndian" {
		low, high = 1, 0
	}
	for i := step; i+1 < len(raw); i += 2 {
		sum := uint(raw[i+low]) + uint(raw[i-step+low])
		raw[i+low] = byte(sum)
		raw[i+high] += raw[i-step+high] + byte(sum>>8)
	}
	return nil
}

// packBits undoes PackBits (TIFF 6.0, section 9).
type packBits struct {
	r      *bufio.Reader
	left   int  // bytes left of the run
	repeat bool // the run repeats value
	value  byte
}

func (p *packBits) Read(b []byte) (n int, err error) {
	for n < len(b) {
		if p.left == 0 {
			head, err := p.r.ReadByte()
			if err != nil {
				return n, err
			}
			switch k := int8(head); {
			case k >= 0:
				p.left, p.repeat = int(k)+1, false
			case k == -128:
				continue
			default:
				if p.value, err = p.r.ReadByte(); err != nil {
					return n, err
				}
				p.left, p.repeat = 1-int(k), true
			}
		}
		k := min(p.left, len(b)-n)
		if p.repeat {
			for i := range k {
				b[n+i] = p.value
			}
		} else if k, err = io.ReadFull(p.r, b[n:n+k]); err != nil {
			return n + k, err
		}
		n, p.left = n+k, p.left-k
	}
	return n, nil
}
