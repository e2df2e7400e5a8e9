package scan

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// A strict reader of TIFF directories (TIFF 6.0, section 2). It reads only what
// is asked for, never believes a count before it has compared it with the size
// of the file, and visits no directory twice.

const (
	maxEntries     = 4096    // of one directory; TIFF 6.0 has some 80 tags in all
	maxDirectories = 64      // followed in one file, in search of the full picture
	maxValues      = 4 << 20 // of one tag: one strip a row of the tallest picture, many times over
)

// tiffEntry is one tag of a directory: where its values are, not the values.
type tiffEntry struct {
	kind  uint16
	count uint64
	at    int64 // position of the first value in the file
}

// directory is one image file directory.
type directory struct {
	r     io.ReaderAt
	size  int64
	order binary.ByteOrder
	tags  map[uint16]tiffEntry
	next  int64
}

// typeSizes are the bytes of one value by field type (TIFF 6.0, page 15).
var typeSizes = [...]int64{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}

// Reasons that the tag reader gives, to be put into a *FormatError by whoever
// knows the file's name.
var (
	errDirectoryOutside = errors.New("its directory lies beyond the end of the file, which looks like an incomplete copy")
	errNoDirectory      = errors.New("it has no picture directory")
	errBigTIFF          = errors.New("BigTIFF")
)

// readDirectories reads the chain of directories of a TIFF file or of an EXIF
// block of size bytes. The first must be sound; the chain stops quietly at a
// later one that is damaged or was already seen.
func readDirectories(r io.ReaderAt, size int64) ([]*directory, error) {
	var head [8]byte
	if err := readFull(r, head[:], 0); err != nil {
		return nil, errDirectoryOutside
	}
	var order binary.ByteOrder = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	switch order.Uint16(head[2:]) {
	case 42:
	case 43:
		return nil, errBigTIFF
	default:
		return nil, errors.New("its header is not that of a TIFF")
	}
	var all []*directory
	seen := map[int64]bool{}
	for at := int64(order.Uint32(head[4:])); at != 0 && !seen[at] && len(all) < maxDirectories; {
		seen[at] = true
		d, err := readDirectory(r, size, order, at)
		if err != nil {
			if len(all) > 0 {
				break
			}
			return nil, err
		}
		all = append(all, d)
		at = d.next
	}
	if len(all) == 0 {
		return nil, errNoDirectory
	}
	return all, nil
}

func readDirectory(r io.ReaderAt, size int64, order binary.ByteOrder, at int64) (*directory, error) {
	var two [2]byte
	if at < 8 || readFull(r, two[:], at) != nil {
		return nil, errDirectoryOutside
	}
	n := int64(order.Uint16(two[:]))
	if n == 0 {
		return nil, errNoDirectory
	}
	if n > maxEntries {
		return nil, fmt.Errorf("its directory claims %d entries", n)
	}
	raw := make([]byte, 12*n)
	if readFull(r, raw, at+2) != nil {
		return nil, errDirectoryOutside
	}
	d := &directory{r: r, size: size, order: order, tags: make(map[uint16]tiffEntry, n)}
	for i := int64(0); i < n; i++ {
		b := raw[12*i : 12*i+12]
		tag := order.Uint16(b)
		if _, twice := d.tags[tag]; twice {
			continue // libtiff, too, keeps the first
		}
		e := tiffEntry{kind: order.Uint16(b[2:]), count: uint64(order.Uint32(b[4:]))}
		if int(e.kind) >= len(typeSizes) || typeSizes[e.kind] == 0 {
			continue // TIFF 6.0, page 16: readers skip field types they do not know
		}
		e.at = at + 2 + 12*i + 8
		if int64(e.count)*typeSizes[e.kind] > 4 {
			e.at = int64(order.Uint32(b[8:]))
		}
		d.tags[tag] = e
	}
	var four [4]byte
	if readFull(r, four[:], at+2+12*n) == nil { // some writers leave it out at the end of the file
		d.next = int64(order.Uint32(four[:]))
	}
	return d, nil
}

func (d *directory) has(tag uint16) bool { _, ok := d.tags[tag]; return ok }

// raw returns the bytes of a tag's values, at most limit values.
func (d *directory) raw(tag uint16, limit uint64) ([]byte, tiffEntry, error) {
	e, ok := d.tags[tag]
	if !ok {
		return nil, e, fmt.Errorf("tag %d is missing", tag)
	}
	if e.count > limit {
		return nil, e, fmt.Errorf("tag %d claims %d values", tag, e.count)
	}
	n := int64(e.count) * typeSizes[e.kind]
	if e.at < 0 || e.at > d.size || n > d.size-e.at {
		return nil, e, fmt.Errorf("the values of tag %d lie beyond the end of the file", tag)
	}
	b := make([]byte, n)
	if err := readFull(d.r, b, e.at); err != nil {
		return nil, e, fmt.Errorf("the values of tag %d cannot be read", tag)
	}
	return b, e, nil
}

// uints returns a tag's values, which must be unsigned whole numbers.
func (d *directory) uints(tag uint16) ([]uint32, error) {
	b, e, err := d.raw(tag, maxValues)
	if err != nil {
		return nil, err
	}
	v := make([]uint32, e.count)
	for i := range v {
		switch e.kind {
		case 1, 7:
			v[i] = uint32(b[i])
		case 3:
			v[i] = uint32(d.order.Uint16(b[2*i:]))
		case 4, 13:
			v[i] = d.order.Uint32(b[4*i:])
		default:
			return nil, fmt.Errorf("tag %d is of the wrong type", tag)
		}
	}
	return v, nil
}

// one returns a tag's first value, or def when the tag is absent.
func (d *directory) one(tag uint16, def uint32) (uint32, error) {
	if !d.has(tag) {
		return def, nil
	}
	v, err := d.uints(tag)
	if err != nil {
		return 0, err
	}
	if len(v) == 0 {
		return 0, fmt.Errorf("tag %d has no value", tag)
	}
	return v[0], nil
}

// readFull reads exactly len(b) bytes; io.EOF together with all bytes is fine.
func readFull(r io.ReaderAt, b []byte, at int64) error {
	n, err := r.ReadAt(b, at)
	if n == len(b) {
		return nil
	}
	if err == nil {
		err = io.ErrUnexpectedEOF
	}
	return err
}
