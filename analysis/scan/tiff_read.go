package scan

import (
	"context"
	"errors"
	"image"
	"io"
	"os"

	"stopladder/analysis/scan/unpack"
)

// What reading may take at once, apart from the caller's own memory.
const (
	blockBytes  = 384 << 10 // of code values that are handed out together: they stay in a processor's cache
	windowBytes = 320 << 10 // one decoder with its windows
	maxCost     = 256 << 20 // of a file that needs more than this at once is refused
	workerCost  = 48 << 20  // above it a single worker decodes
)

// A row of strips or tiles is decoded in one of two ways. In step: every strip or
// tile of it has a decoder of its own and all advance by the same rows. In turn:
// one decoder goes through them one after the other and the row of tiles is
// assembled as a whole.

// inStepCost and inTurnCost are the bytes that the two ways take.
func (l *tiffLayout) inStepCost() int64 { return int64(l.across*l.usedPlanes()) * l.decoderCost() }

// decoderCost returns the bytes of one decoder: of JPEG, a chunk as it was decoded and
// as it is handed out.
func (l *tiffLayout) decoderCost() int64 {
	chunk := int64(l.rowBytes()) * int64(min(l.chunkH, l.h))
	switch l.pack {
	case packJPEG:
		return 2*chunk + windowBytes
	case packZstd:
		return min(chunk, unpack.ZstdWindow) + 2*windowBytes
	}
	return windowBytes
}

func (l *tiffLayout) inTurnCost() int64 {
	return 6*int64(l.w)*int64(min(l.chunkH, l.h)) + l.decoderCost()
}

// inTurn: many decoders at once drive each other's windows out of the
// processor's caches, so one is better unless the row of tiles is very large.
func (l *tiffLayout) inTurn() bool {
	return l.across*l.usedPlanes() > 4 && (l.inTurnCost() <= workerCost/2 || l.inTurnCost() < l.inStepCost()) || l.inStepCost() > maxCost
}

func (l *tiffLayout) cost() int64 {
	if l.pack == packNone {
		return 6*int64(l.w) + blockBytes
	}
	if l.inTurn() {
		return l.inTurnCost()
	}
	return l.inStepCost()
}

// cutter decodes rows of a TIFF for one goroutine. What it allocates it keeps.
type cutter struct {
	l        *tiffLayout
	f        io.ReaderAt
	size     int64
	cx0, cx1 int // columns of strips or tiles that are wanted
	x0, x1   int // pixels that they cover
	block    int // rows handed out together
	sampler  sampler
	decoders []unpack.Decoder
}

// newCutter is for the columns of pixels x0 <= x < x1, widened to whole strips or
// tiles.
func (l *tiffLayout) newCutter(f io.ReaderAt, size int64, x0, x1 int) *cutter {
	c := &cutter{l: l, f: f, size: size, cx0: x0 / l.chunkW, cx1: (x1-1)/l.chunkW + 1, sampler: sampler{l: l}}
	c.x0, c.x1 = c.cx0*l.chunkW, min(c.cx1*l.chunkW, l.w)
	c.block = max(1, blockBytes/(6*(c.x1-c.x0)))
	return c
}

func (l *tiffLayout) newDecoder() unpack.Decoder {
	switch l.pack {
	case packLZW:
		return new(unpack.LZW)
	case packPackBits:
		return new(unpack.PackBits)
	case packNone:
		return new(rawReader)
	case packZstd:
		return new(unpack.Zstd)
	case packJPEG:
		return &jpegChunk{l: l}
	}
	return new(unpack.Deflate)
}

// rows decodes y0 <= y < y1. It asks buffer for room for n rows and hands the
// rows in it to fn. When a row cannot be read, the whole rows before it have
// been handed out; read is their end. Where a strip or tile turns out to be damaged,
// the error is a damagedFrom, and read its first row, although more was handed out.
func (c *cutter) rows(ctx context.Context, y0, y1 int, buffer func(n int) []uint16, fn func(y, n int, rows []uint16) error) (read int, err error) {
	l := c.l
	for y := y0; y < y1; {
		top := y / l.chunkH * l.chunkH
		end := min(top+l.chunkH, y1)
		if l.pack != packNone && l.inTurn() {
			read, err = c.turn(ctx, top, y, end, buffer, fn)
		} else {
			read, err = c.step(ctx, top, y, end, buffer, fn)
		}
		var damaged damagedFrom
		if errors.As(err, &damaged) {
			read = damaged.row
		}
		if err != nil {
			return read, err
		}
		y = end
	}
	return y1, nil
}

// chunk goes to a strip or tile and past its first skip rows.
func (c *cutter) open(d unpack.Decoder, plane, cx, top, skip int) error {
	l := c.l
	at, n := l.section(c.size, l.chunk(plane, cx, top))
	rowBytes := l.rowBytes()
	if l.pack == packNone {
		past := min(int64(skip)*int64(rowBytes), n)
		d.Reset(io.NewSectionReader(c.f, at+past, n-past))
		return nil
	}
	d.Reset(io.NewSectionReader(c.f, at, n))
	for skip > 0 {
		n := min(skip, max(1, (64<<10)/rowBytes))
		if _, err := d.Next(n * rowBytes); err != nil {
			return err
		}
		skip -= n
	}
	return nil
}

// step decodes the rows y0 <= y < y1 of the row of chunks that begins at top.
func (c *cutter) step(ctx context.Context, top, y0, y1 int, buffer func(n int) []uint16, fn func(y, n int, rows []uint16) error) (int, error) {
	l := c.l
	across := c.cx1 - c.cx0
	n := across * l.usedPlanes()
	for len(c.decoders) < n {
		c.decoders = append(c.decoders, l.newDecoder())
	}
	for i := range n {
		if err := c.open(c.decoders[i], i/across, c.cx0+i%across, top, y0-top); err != nil {
			return y0, c.harm(err, i/across, c.cx0+i%across, top)
		}
	}
	width := 3 * (c.x1 - c.x0)
	rowBytes := l.rowBytes()
	for y := y0; y < y1; {
		if err := ctx.Err(); err != nil {
			return y, err
		}
		rows := min(c.block, y1-y)
		band := buffer(rows)[:rows*width]
		got := rows
		var failure error
		for i := range n {
			if l.straight() {
				k, err := c.decoders[i].(*rawReader).into(bytesView(band[:got*width]))
				if err != nil {
					got, failure = min(got, k/rowBytes), err
				}
				continue
			}
			x := (c.cx0+i%across)*l.chunkW - c.x0
			end := min(x+l.chunkW, c.x1-c.x0)
			raw, err := c.decoders[i].Next(got * rowBytes)
			if err != nil {
				got, failure = min(got, len(raw)/rowBytes), c.harm(err, i/across, c.cx0+i%across, top)
			}
			for r := range got {
				c.sampler.place(band[r*width+3*x:r*width+3*end], raw[r*rowBytes:(r+1)*rowBytes], i/across)
			}
		}
		if got > 0 {
			if err := fn(y, got, band[:got*width]); err != nil {
				return y, err
			}
		}
		if failure != nil {
			return y + got, failure
		}
		y += rows
	}
	for i := range n {
		if err := c.check(c.decoders[i], i/across, c.cx0+i%across, top, y1); err != nil {
			return y1, err
		}
	}
	return y1, nil
}

// damagedFrom says that a strip or tile is damaged somewhere, and that of what was
// decoded of it nothing counts from a row on.
type damagedFrom struct{ row int }

func (damagedFrom) Error() string { return unpack.ErrCorrupt.Error() }
func (damagedFrom) Unwrap() error { return unpack.ErrCorrupt }

// harm returns what an error of a decoder means for the rows that it gave before.
// Damage to a Deflate or Zstandard stream shows some way behind where it is, so that none of the
// strip or tile counts; the same holds where the stream ends too early although the
// file holds all of it. A file that was cut short was sound up to there.
func (c *cutter) harm(err error, plane, cx, top int) error {
	if err == nil || !c.l.checked() || !isDamage(err) {
		return err
	}
	if !errors.Is(err, unpack.ErrCorrupt) && c.l.isCut(c.size, c.l.chunk(plane, cx, top)) {
		return err
	}
	return damagedFrom{top}
}

// check verifies the checksum of a strip or tile whose rows have been decoded, once
// the last of them was.
func (c *cutter) check(d unpack.Decoder, plane, cx, top, y1 int) error {
	l := c.l
	if y1 < min(top+l.chunkH, l.h) {
		return nil
	}
	z, ok := d.(interface{ Check(most int) error })
	if !ok {
		return nil
	}
	// Tiles, and the last strip of some writers, go on below the picture.
	err := z.Check((top+l.chunkH-y1)*l.rowBytes() + 64<<10)
	if err == io.ErrUnexpectedEOF && l.isCut(c.size, l.chunk(plane, cx, top)) {
		return nil // its rows are there
	}
	return c.harm(err, plane, cx, top)
}

// turn is step with one decoder.
func (c *cutter) turn(ctx context.Context, top, y0, y1 int, buffer func(n int) []uint16, fn func(y, n int, rows []uint16) error) (int, error) {
	l := c.l
	if len(c.decoders) == 0 {
		c.decoders = append(c.decoders, l.newDecoder())
	}
	d := c.decoders[0]
	width := 3 * (c.x1 - c.x0)
	rowBytes := l.rowBytes()
	piece := max(1, (64<<10)/rowBytes)
	band := buffer(y1 - y0)[:(y1-y0)*width]
	got := y1 - y0
	var failure error
	for plane := range l.usedPlanes() {
		for cx := c.cx0; cx < c.cx1 && got > 0; cx++ {
			if err := ctx.Err(); err != nil {
				return y0, err
			}
			x := cx*l.chunkW - c.x0
			end := min(x+l.chunkW, c.x1-c.x0)
			if err := c.open(d, plane, cx, top, y0-top); err != nil {
				got, failure = 0, c.harm(err, plane, cx, top)
				break
			}
			for r := 0; r < got; {
				k := min(piece, got-r)
				raw, err := d.Next(k * rowBytes)
				if err != nil {
					k = len(raw) / rowBytes
					got, failure = r+k, c.harm(err, plane, cx, top)
				}
				for j := range k {
					at := (r + j) * width
					c.sampler.place(band[at+3*x:at+3*end], raw[j*rowBytes:(j+1)*rowBytes], plane)
				}
				r += k
			}
			if failure == nil {
				failure = c.check(d, plane, cx, top, y1)
			}
			if errors.As(failure, new(damagedFrom)) {
				got = 0
			}
		}
	}
	if got > 0 {
		if err := fn(y0, got, band[:got*width]); err != nil {
			return y0, err
		}
	}
	if failure != nil {
		return y0 + got, failure
	}
	return y1, nil
}

// straight reports whether rows as stored are rows of code values already.
func (l *tiffLayout) straight() bool {
	return l.pack == packNone && l.bits == 16 && l.kind == kindUint && l.photo == photoRGB && l.samples == 3 && !l.planar && l.chunkW == l.w &&
		(l.order.String() == "LittleEndian") == littleEndian
}

// rawReader is the decoder of what is not compressed.
type rawReader struct {
	src io.Reader
	buf []byte
}

func (r *rawReader) Reset(src io.Reader) { r.src = src }

func (r *rawReader) Next(n int) ([]byte, error) {
	if len(r.buf) < n {
		r.buf = make([]byte, n)
	}
	k, err := r.into(r.buf[:n])
	return r.buf[:k], err
}

func (r *rawReader) into(b []byte) (int, error) {
	k, err := io.ReadFull(r.src, b)
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return k, err
}

// tiffRaster reads a TIFF.
type tiffRaster struct {
	path string
	l    *tiffLayout
}

// opened returns the file for one reading.
func (t *tiffRaster) opened() (*os.File, int64, error) {
	f, err := os.Open(t.path)
	if err != nil {
		return nil, 0, &fileError{t.path, err}
	}
	st, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, 0, &fileError{t.path, err}
	}
	if size := st.Size(); t.l.end == 0 || size < t.l.end {
		return f, size, nil
	}
	return f, t.l.end, nil
}

// region decodes the strips or tiles that r touches.
func (t *tiffRaster) region(ctx context.Context, r image.Rectangle) ([]uint16, error) {
	f, size, err := t.opened()
	if err != nil {
		return nil, err
	}
	defer f.Close()
	c := t.l.newCutter(f, size, r.Min.X, r.Max.X)
	width := 3 * (c.x1 - c.x0)
	var band []uint16
	out := make([]uint16, 0, 3*r.Dx()*r.Dy())
	read, err := c.rows(ctx, r.Min.Y, r.Max.Y, func(n int) []uint16 {
		if len(band) < n*width {
			band = make([]uint16, n*width)
		}
		return band
	}, func(_, n int, rows []uint16) error {
		for i := range n {
			at := i*width + 3*(r.Min.X-c.x0)
			out = append(out, rows[at:at+3*r.Dx()]...)
		}
		return nil
	})
	if err != nil {
		return nil, t.ended(ctx, err, read)
	}
	return out, nil
}
