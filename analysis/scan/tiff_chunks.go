package scan

import (
	"errors"
	"fmt"
	"io"
)

// readChunks reads where the strips or tiles are.
func (l *tiffLayout) readChunks(d *directory, size int64) (err error) {
	tagAt, tagCount := uint16(tagStripOffsets), uint16(tagStripByteCounts)
	if d.has(tagTileOffsets) || d.has(tagTileWidth) {
		tagAt, tagCount = tagTileOffsets, tagTileByteCounts
	}
	if !d.has(tagAt) {
		tagAt, tagCount = tagStripOffsets, tagStripByteCounts // early writers, which libtiff follows, too
	}
	n := l.across * l.down * l.planes()
	if l.offsets, err = d.uints(tagAt); err != nil {
		return err
	}
	if len(l.offsets) < n {
		return fmt.Errorf("it lists %d strips or tiles instead of %d", len(l.offsets), n)
	}
	if d.has(tagCount) {
		if l.counts, err = d.uints(tagCount); err != nil {
			return err
		}
	}
	if len(l.counts) < n {
		if l.pack != packNone && n > 1 {
			return fmt.Errorf("it gives the length of %d strips or tiles instead of %d", len(l.counts), n)
		}
		l.counts = make([]uint64, n) // 0: as long as its rows need
		l.uncounted = true
	}
	if l.offsets[0] >= uint64(size) {
		return errors.New("its pixels lie beyond the end of the file, which looks like an incomplete copy")
	}
	// No compression here makes a chunk twice as long; a chunk that claims much
	// more is not one.
	raw := int64(l.rowBytes()) * int64(min(l.chunkH, l.h))
	for i, c := range l.counts[:n] {
		if c > uint64(4*raw+64<<10) {
			return fmt.Errorf("strip or tile %d claims %s for at most %s of pixels", i, byteSize(int64(min(c, 1<<62))), byteSize(raw))
		}
	}
	return nil
}

// joinStrips takes uncompressed strips that follow each other in the file, as
// nearly all writers leave them, for one: rows are then read by the megabyte
// whatever the strips, one row each or all in one, and every strip costs nothing.
func (l *tiffLayout) joinStrips() {
	if l.pack != packNone || l.across != 1 || l.chunkW != l.w || l.down == 1 {
		return
	}
	full := uint64(l.rowBytes()) * uint64(l.chunkH)
	last := uint64(l.rowBytes()) * uint64(l.h-(l.down-1)*l.chunkH)
	for i := range l.planes() * l.down {
		want := full
		if i%l.down == l.down-1 {
			want = last
		}
		if c := l.counts[i]; c != 0 && c < want { // longer ones end where the next begins
			return
		}
		if i%l.down > 0 && l.offsets[i] != l.offsets[i-1]+full {
			return
		}
	}
	offsets := make([]uint64, l.planes())
	for p := range offsets {
		offsets[p] = l.offsets[p*l.down]
	}
	l.offsets, l.counts = offsets, make([]uint64, l.planes())
	for p := range l.counts {
		l.counts[p] = uint64(l.rowBytes()) * uint64(l.h)
	}
	l.chunkH, l.down = l.h, 1
}

// oldLZW reports whether a file is compressed by the LZW of before 1988, whose bits
// run the other way: its first code, 256 in nine bits, shows (libtiff's test).
func (l *tiffLayout) oldLZW(r io.ReaderAt) bool {
	var b [2]byte
	return l.pack == packLZW && readFull(r, b[:], int64(l.offsets[0])) == nil && b[0] == 0 && b[1]&1 == 1
}

// readShape reads the shape of a chunk and works out how many there are.
func (l *tiffLayout) readShape(d *directory) error {
	if d.has(tagTileOffsets) || d.has(tagTileWidth) {
		w, err := d.one(tagTileWidth, 0)
		if err != nil {
			return err
		}
		h, err := d.one(tagTileLength, 0)
		if err != nil {
			return err
		}
		if w == 0 || h == 0 || w > 1<<24 || h > 1<<24 {
			return fmt.Errorf("its tiles are said to be %d x %d pixels", w, h)
		}
		l.chunkW, l.chunkH = int(w), int(h)
	} else {
		rows, err := d.one(tagRowsPerStrip, uint64(l.h))
		if err != nil {
			return err
		}
		if rows == 0 {
			return errors.New("its strips have no rows")
		}
		l.chunkW, l.chunkH, l.strips = l.w, int(min(rows, uint64(l.h))), true
	}
	l.across = (l.w + l.chunkW - 1) / l.chunkW
	l.down = (l.h + l.chunkH - 1) / l.chunkH
	return nil
}

// section returns the part of the file that a chunk may use.
func (l *tiffLayout) section(size int64, chunk int) (at, n int64) {
	at = int64(min(l.offsets[chunk], uint64(size)))
	n = int64(l.counts[chunk])
	if n == 0 {
		n = size
	}
	return at, min(n, size-at)
}

// chunk returns the number of the strip or tile that holds the row top in column cx
// of a plane.
func (l *tiffLayout) chunk(plane, cx, top int) int {
	return (plane*l.down+top/l.chunkH)*l.across + cx
}

// isCut reports whether a file of that size ends before a chunk does.
func (l *tiffLayout) isCut(size int64, chunk int) bool {
	return l.offsets[chunk] > uint64(size) || l.counts[chunk] > uint64(size)-l.offsets[chunk]
}

// checked reports whether chunks may carry a checksum, or are decoded whole.
func (l *tiffLayout) checked() bool {
	return l.pack == packDeflate || l.pack == packDeflateOld || l.pack == packZstd || l.pack == packJPEG
}
