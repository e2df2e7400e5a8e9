package pngwrite

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"sync"

	"github.com/klauspost/compress/flate"

	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/unpack"
)

// Rows gives a picture by rows, so that no more than a few bands of a large one are in
// memory: RGB, three samples a pixel, of one byte at depth 8 and of two, the high one
// first, at depth 16.
type Rows struct {
	W, H  int
	Depth int // 8 or 16
	// Band fills dst with the rows y0 <= y < y1, one after another. It is called once for
	// each band, from the top.
	Band func(ctx context.Context, dst []byte, y0, y1 int) error
}

// bandBytes is about how much is compressed at a time: enough that a band's first row,
// which knows nothing of the one above, costs nothing, and little enough to stay in
// memory many times.
const bandBytes = 4 << 20

// Stream writes rows as a PNG. Bands are compressed on all processors, each by itself,
// and joined to one stream (RFC 1950, 1951): the file does not depend on how many there
// are.
func Stream(ctx context.Context, w io.Writer, p Rows, m Meta) error {
	if p.W < 1 || p.H < 1 || p.W > 1<<30 || p.H > 1<<30 || p.Depth != 8 && p.Depth != 16 {
		return fmt.Errorf("a PNG of %d x %d pixels at %d bits cannot be written", p.W, p.H, p.Depth)
	}
	var head bytes.Buffer
	head.WriteString("\x89PNG\r\n\x1a\n")
	ihdr := binary.BigEndian.AppendUint32(nil, uint32(p.W))
	ihdr = binary.BigEndian.AppendUint32(ihdr, uint32(p.H))
	chunk(&head, "IHDR", append(ihdr, byte(p.Depth), 2, 0, 0, 0)) // truecolour, deflate, adaptive filters, not interlaced
	head.Write(extraChunks(m))
	if _, err := w.Write(head.Bytes()); err != nil {
		return err
	}
	if err := p.data(ctx, w); err != nil {
		return err
	}
	var end bytes.Buffer
	chunk(&end, "IEND", nil)
	_, err := w.Write(end.Bytes())
	return err
}

// packed is a compressed band.
type packed struct {
	body []byte
	sum  uint32 // Adler-32 of what was compressed
	size int    // of that
	err  error
}

// data writes the IDAT chunks. Bands are drawn one after another; those that are drawn
// are compressed beside it.
func (p Rows) data(ctx context.Context, w io.Writer) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	pixel := 3 * p.Depth / 8
	stride := p.W * pixel
	rows := max(1, bandBytes/stride)
	sum := uint32(1)
	waiting := make(chan chan packed, parallel.Workers(0, (p.H+rows-1)/rows))
	failed := make(chan error, 1)
	go func() {
		defer close(waiting)
		for y := 0; y < p.H; y += rows {
			to := min(y+rows, p.H)
			raw := buffer(&raws, stride*(to-y)) // every byte is drawn
			if err := p.Band(ctx, raw, y, to); err != nil {
				failed <- err
				return
			}
			done := make(chan packed, 1)
			last := to == p.H
			select {
			case waiting <- done:
				go func() {
					f := filter(raw, stride, pixel)
					body, err := deflate(f, last)
					done <- packed{body, unpack.Adler32(f), len(f), err}
					raws.Put(&raw)
					filtered.Put(&f)
				}()
			case <-ctx.Done():
				failed <- ctx.Err()
				return
			}
		}
	}()
	first := true
	for done := range waiting {
		b := <-done
		if b.err != nil {
			return b.err
		}
		if first { // a window of 32 K, the fastest level (RFC 1950, 2.2)
			b.body = append([]byte{0x78, 0x01}, b.body...)
			first = false
		}
		sum = joined(sum, b.sum, b.size)
		if err := writeChunk(w, b.body); err != nil {
			return err
		}
	}
	select {
	case err := <-failed:
		return err
	default:
	}
	return writeChunk(w, binary.BigEndian.AppendUint32(nil, sum))
}

// raws and filtered keep the bands that were written, whose memory the next ones take: to
// clear it anew for each costs a twentieth of the time.
var raws, filtered sync.Pool

// buffer returns n bytes that may hold anything.
func buffer(from *sync.Pool, n int) []byte {
	if b, ok := from.Get().(*[]byte); ok && cap(*b) >= n {
		return (*b)[:n]
	}
	return make([]byte, n)
}

// joined returns the Adler-32 (RFC 1950, 8) of two runs of bytes out of theirs; n is the
// length of the second.
func joined(a, b uint32, n int) uint32 {
	const base = 65521
	a1, b1, a2, b2 := uint64(a&0xffff), uint64(a>>16), uint64(b&0xffff), uint64(b>>16)
	lo := (a1 + a2 + base - 1) % base
	hi := (b1 + b2 + uint64(n)%base*(a1+base-1)) % base
	return uint32(hi<<16 | lo)
}

func writeChunk(w io.Writer, body []byte) error {
	var b bytes.Buffer
	b.Grow(len(body) + 12)
	chunk(&b, "IDAT", body)
	_, err := w.Write(b.Bytes())
	return err
}

// deflate compresses a band so that another may follow it, or none.
func deflate(raw []byte, last bool) ([]byte, error) {
	var b bytes.Buffer
	b.Grow(len(raw) / 3) // about what a photograph takes
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(raw); err != nil {
		return nil, err
	}
	if last {
		err = z.Close()
	} else {
		err = z.Flush()
	}
	return b.Bytes(), err
}

// filter puts before each row the filter that leaves least, by the sum of absolute
// differences (W3C PNG, section 12.7), out of Sub, Up and Average: Paeth takes ten times as
// long, and leaves no less of a photograph with grain. It is chosen anew every sixteen rows;
// a band's first row has Sub, so that bands are made beside each other.
func filter(raw []byte, stride, pixel int) []byte {
	n := len(raw) / stride
	out := buffer(&filtered, n*(stride+1))
	filters := [3]func(dst, row, above []byte, pixel int){sub, up, average}
	kind := 0
	for y := range n {
		row, to := raw[y*stride:(y+1)*stride], out[y*(stride+1):(y+1)*(stride+1)]
		if y == 0 {
			to[0] = kinds[0]
			sub(to[1:], row, nil, pixel)
			continue
		}
		above := raw[(y-1)*stride : y*stride]
		if y%16 == 1 {
			best := -1
			for k, f := range filters {
				f(to[1:], row, above, pixel)
				if s := weight(to[1:]); best < 0 || s < best {
					best, kind = s, k
				}
			}
		}
		to[0] = kinds[kind]
		filters[kind](to[1:], row, above, pixel)
	}
	return out
}

// kinds are the filters' numbers in the file.
var kinds = [3]byte{1, 2, 3}

// weight is how far filtered bytes are from 0 in all, taken as signed.
func weight(row []byte) (sum int) {
	for _, b := range row {
		v := int(int8(b))
		sum += max(v, -v)
	}
	return sum
}

// Eight bytes at a time: their highest bits, and all others.
const (
	highs = 0x8080808080808080
	lows  = 0x7f7f7f7f7f7f7f7f
)

// less takes eight bytes from eight others, each by itself.
func less(x, y uint64) uint64 { return ((x | highs) - (y & lows)) ^ ((x ^ ^y) & highs) }

// halves returns the means of eight pairs of bytes, rounded down.
func halves(a, b uint64) uint64 { return (a & b) + ((a^b)>>1)&lows }

func sub(dst, row, _ []byte, pixel int) {
	dst = dst[:len(row)]
	copy(dst, row[:min(pixel, len(row))])
	i := pixel
	for ; i+8 <= len(row); i += 8 {
		le.PutUint64(dst[i:], less(le.Uint64(row[i:]), le.Uint64(row[i-pixel:])))
	}
	for ; i < len(row); i++ {
		dst[i] = row[i] - row[i-pixel]
	}
}

func up(dst, row, above []byte, _ int) {
	above, dst = above[:len(row)], dst[:len(row)]
	i := 0
	for ; i+8 <= len(row); i += 8 {
		le.PutUint64(dst[i:], less(le.Uint64(row[i:]), le.Uint64(above[i:])))
	}
	for ; i < len(row); i++ {
		dst[i] = row[i] - above[i]
	}
}

func average(dst, row, above []byte, pixel int) {
	above, dst = above[:len(row)], dst[:len(row)]
	for i := range min(pixel, len(row)) {
		dst[i] = row[i] - above[i]/2
	}
	i := pixel
	for ; i+8 <= len(row); i += 8 {
		le.PutUint64(dst[i:], less(le.Uint64(row[i:]), halves(le.Uint64(row[i-pixel:]), le.Uint64(above[i:]))))
	}
	for ; i < len(row); i++ {
		dst[i] = row[i] - byte((int(row[i-pixel])+int(above[i]))/2)
	}
}

var le = binary.LittleEndian

// chunk writes a chunk of a PNG.
func chunk(b *bytes.Buffer, kind string, data []byte) {
	var n [4]byte
	binary.BigEndian.PutUint32(n[:], uint32(len(data)))
	b.Write(n[:])
	b.WriteString(kind)
	b.Write(data)
	sum := crc32.Update(crc32.ChecksumIEEE([]byte(kind)), crc32.IEEETable, data)
	binary.BigEndian.PutUint32(n[:], sum)
	b.Write(n[:])
}
