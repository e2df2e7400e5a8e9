// Package tiffwrite writes one kind of TIFF and writes it well: 16-bit RGB,
// chunky, little endian, stripped, uncompressed or deflated, with an ICC
// profile, a description and a resolution. Rows are streamed, so a picture
// larger than memory can be written. Writing to a temporary file and renaming
// it is the caller's business.
//
// Layout: TIFF 6.0 (Adobe, 1992) baseline RGB; deflate is compression 8 with
// predictor 2 (horizontal differencing of samples); ICC tag 34675. Classic
// offsets are 32 bits, so a file may not pass 4 GiB: larger pictures are
// refused before anything is written.
package tiffwrite

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Compression of the strips.
type Compression int

// The compressions that are written.
const (
	None    Compression = iota // compression 1
	Deflate                    // compression 8, predictor 2
)

// Options are what the header says besides the picture's size.
type Options struct {
	Width, Height int         // pixels, both at least 1
	ICC           []byte      // embedded profile; nil: none is embedded
	Description   string      // ASCII, tag 270; "" leaves the tag out
	Software      string      // ASCII, tag 305; "" leaves the tag out
	PPI           float64     // pixels per inch, both ways; 0 leaves the tags out
	Compression   Compression // None by default
	RowsPerStrip  int         // 0: strips of about 64 KiB (None) or 1 MiB (Deflate)
}

// Writer takes rows from top to bottom. Close ends the file.
type Writer struct {
	w       io.WriteSeeker
	o       Options
	rows    int // rows per strip
	y       int // rows taken
	buf     []byte
	pos     int64
	offsets []uint32
	counts  []uint32
	err     error
}

const maxFile = math.MaxUint32

// NewWriter checks the options and writes the header. w must be empty and at
// its start.
func NewWriter(w io.WriteSeeker, o Options) (*Writer, error) {
	if o.Width < 1 || o.Height < 1 || o.Width > 1<<24 || o.Height > 1<<24 {
		return nil, fmt.Errorf("a TIFF of %d x %d pixels cannot be written: both sides must be from 1 to 16777216", o.Width, o.Height)
	}
	if o.Compression != None && o.Compression != Deflate {
		return nil, fmt.Errorf("TIFF compression %d is not written: use None or Deflate", o.Compression)
	}
	if size := int64(o.Width) * int64(o.Height) * 6; size > maxFile-int64(len(o.ICC))-(16<<20) {
		return nil, fmt.Errorf("a 16-bit TIFF of %d x %d pixels would pass the 4 GiB that a classic TIFF can hold: write it smaller", o.Width, o.Height)
	}
	rows := o.RowsPerStrip
	if rows <= 0 {
		target := 64 << 10
		if o.Compression == Deflate {
			target = 1 << 20
		}
		rows = max(1, target/(o.Width*6))
	}
	rows = min(rows, o.Height)
	t := &Writer{w: w, o: o, rows: rows}
	// The directory goes to the end, when the strips are known; its offset is
	// put into the header by Close.
	t.write([]byte{'I', 'I', 42, 0, 0, 0, 0, 0})
	return t, t.err
}

func (t *Writer) write(b []byte) {
	if t.err != nil {
		return
	}
	n, err := t.w.Write(b)
	t.pos += int64(n)
	if err == nil && t.pos > maxFile {
		err = errors.New("the TIFF has passed 4 GiB")
	}
	t.err = err
}

// WriteRows takes whole rows of interleaved RGB samples: a multiple of 3*Width.
func (t *Writer) WriteRows(pix []uint16) error {
	if t.err != nil {
		return t.err
	}
	row := 3 * t.o.Width
	if len(pix)%row != 0 {
		return fmt.Errorf("%d samples are not whole rows of %d pixels", len(pix), t.o.Width)
	}
	if t.y+len(pix)/row > t.o.Height {
		return fmt.Errorf("more than %d rows were given to the TIFF", t.o.Height)
	}
	for len(pix) > 0 && t.err == nil {
		start := len(t.buf)
		t.buf = append(t.buf, make([]byte, 2*row)...)
		b := t.buf[start:]
		if t.o.Compression == Deflate {
			var p [3]uint16
			for i, v := range pix[:row] {
				binary.LittleEndian.PutUint16(b[2*i:], v-p[i%3])
				p[i%3] = v
			}
		} else {
			for i, v := range pix[:row] {
				binary.LittleEndian.PutUint16(b[2*i:], v)
			}
		}
		pix = pix[row:]
		t.y++
		if t.y%t.rows == 0 || t.y == t.o.Height {
			t.flush()
		}
	}
	return t.err
}

func (t *Writer) flush() {
	strip := t.buf
	if t.o.Compression == Deflate {
		var z bytes.Buffer
		zw, _ := zlib.NewWriterLevel(&z, zlib.BestSpeed)
		if _, err := zw.Write(t.buf); err != nil {
			t.err = err
			return
		}
		if err := zw.Close(); err != nil {
			t.err = err
			return
		}
		strip = z.Bytes()
	}
	t.align()
	t.offsets = append(t.offsets, uint32(t.pos))
	t.counts = append(t.counts, uint32(len(strip)))
	t.write(strip)
	t.buf = t.buf[:0]
}

// align keeps offsets even, as TIFF 6.0 section 2 asks of values.
func (t *Writer) align() {
	if t.pos&1 == 1 {
		t.write([]byte{0})
	}
}

// Close writes the directory. It fails when rows are missing. It does not
// close the underlying file.
func (t *Writer) Close() error {
	if t.err != nil {
		return t.err
	}
	if t.y != t.o.Height {
		return fmt.Errorf("the TIFF lacks %d of its %d rows", t.o.Height-t.y, t.o.Height)
	}
	d := directory{t: t}
	const short, long, rational, ascii, undefined = 3, 4, 5, 2, 7
	compression, predictor := uint32(1), uint32(1)
	if t.o.Compression == Deflate {
		compression, predictor = 8, 2
	}
	d.add(256, long, uint32(t.o.Width))
	d.add(257, long, uint32(t.o.Height))
	d.addBytes(258, short, 3, []byte{16, 0, 16, 0, 16, 0})
	d.add(259, short, compression)
	d.add(262, short, 2)
	if t.o.Description != "" {
		d.addBytes(270, ascii, len(t.o.Description)+1, append([]byte(t.o.Description), 0))
	}
	d.add(273, long, t.offsets...)
	d.add(274, short, 1)
	d.add(277, short, 3)
	d.add(278, long, uint32(t.rows))
	d.add(279, long, t.counts...)
	if t.o.PPI > 0 {
		r := make([]byte, 8)
		binary.LittleEndian.PutUint32(r, uint32(math.Round(t.o.PPI*1000)))
		binary.LittleEndian.PutUint32(r[4:], 1000)
		d.addBytes(282, rational, 1, r)
		d.addBytes(283, rational, 1, r)
	}
	d.add(284, short, 1)
	if t.o.PPI > 0 {
		d.add(296, short, 2)
	}
	if t.o.Software != "" {
		d.addBytes(305, ascii, len(t.o.Software)+1, append([]byte(t.o.Software), 0))
	}
	if predictor != 1 {
		d.add(317, short, predictor)
	}
	if len(t.o.ICC) > 0 {
		d.addBytes(34675, undefined, len(t.o.ICC), t.o.ICC)
	}
	t.align()
	at := uint32(t.pos)
	t.write(d.bytes())
	if t.err != nil {
		return t.err
	}
	if _, err := t.w.Seek(4, io.SeekStart); err != nil {
		return err
	}
	if _, err := t.w.Write(binary.LittleEndian.AppendUint32(nil, at)); err != nil {
		return err
	}
	_, err := t.w.Seek(0, io.SeekEnd)
	return err
}

// directory gathers entries in ascending order of tag; values that do not fit
// into an entry are written at once, before the directory itself.
type directory struct {
	t *Writer
	n int
	b []byte
}

func (d *directory) add(tag uint16, kind uint16, v ...uint32) {
	var b []byte
	for _, x := range v {
		if kind == 3 {
			b = binary.LittleEndian.AppendUint16(b, uint16(x))
		} else {
			b = binary.LittleEndian.AppendUint32(b, x)
		}
	}
	d.addBytes(tag, kind, len(v), b)
}

func (d *directory) addBytes(tag, kind uint16, count int, value []byte) {
	d.n++
	d.b = binary.LittleEndian.AppendUint16(d.b, tag)
	d.b = binary.LittleEndian.AppendUint16(d.b, kind)
	d.b = binary.LittleEndian.AppendUint32(d.b, uint32(count))
	if len(value) <= 4 {
		var inline [4]byte
		copy(inline[:], value)
		d.b = append(d.b, inline[:]...)
		return
	}
	d.t.align()
	d.b = binary.LittleEndian.AppendUint32(d.b, uint32(d.t.pos))
	d.t.write(value)
}

func (d *directory) bytes() []byte {
	out := binary.LittleEndian.AppendUint16(nil, uint16(d.n))
	out = append(out, d.b...)
	return append(out, 0, 0, 0, 0)
}
