package scan

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
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

// known reports whether the type of the values is one of TIFF's.
func (e tiffEntry) known() bool { return int(e.kind) < len(typeSizes) && typeSizes[e.kind] > 0 }

// directory is one image file directory.
type directory struct {
	r     io.ReaderAt
	size  int64
	order binary.ByteOrder
	big   bool // BigTIFF: 64-bit counts and offsets
	tags  map[uint16]tiffEntry
	next  uint64
}

// typeSizes are the bytes of one value by field type (TIFF 6.0, page 15).
// and the supplement on BigTIFF.
var typeSizes = [...]int64{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}

// Reasons that the tag reader gives, to be put into a *FormatError by whoever
// knows the file's name.
var (
	errDirectoryOutside = errors.New("its directory lies beyond the end of the file, which looks like an incomplete copy")
	errNoDirectory      = errors.New("it has no picture directory")
)

// readDirectories reads the chain of directories of a TIFF file or of an EXIF
// block of size bytes. The first must be sound; the chain stops quietly at a
// later one that is damaged or was already seen.
func readDirectories(r io.ReaderAt, size int64) ([]*directory, error) {
	var head [16]byte
	if err := readFull(r, head[:8], 0); err != nil {
		return nil, errDirectoryOutside
	}
	var order binary.ByteOrder = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	first, big := uint64(order.Uint32(head[4:])), false
	switch order.Uint16(head[2:]) {
	case 42:
	case 43:
		if order.Uint16(head[4:]) != 8 || order.Uint16(head[6:]) != 0 {
			return nil, errors.New("its header is not that of a BigTIFF")
		}
		if err := readFull(r, head[8:], 8); err != nil {
			return nil, errDirectoryOutside
		}
		first, big = order.Uint64(head[8:]), true
	default:
		return nil, errors.New("its header is not that of a TIFF")
	}
	c := &chain{r: r, size: size, order: order, big: big, seen: map[uint64]bool{}}
	all, err := c.follow(first)
	if err != nil && len(all) == 0 {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errNoDirectory
	}
	return all, nil
}

// chain follows directories and visits none twice.
type chain struct {
	r     io.ReaderAt
	size  int64
	order binary.ByteOrder
	big   bool
	seen  map[uint64]bool
}

// follow reads the directories from at on, each with those below it, up to the
// first that is damaged.
func (c *chain) follow(at uint64) (all []*directory, err error) {
	for at != 0 && !c.seen[at] && len(c.seen) < maxDirectories {
		c.seen[at] = true
		var d *directory
		if d, err = c.read(at); err != nil {
			break
		}
		all = append(all, d)
		at = d.next
	}
	return all, err
}

// below reads the directories that a tag of d points to (SubIFDs of TIFF
// technical note 1, the EXIF directory); damaged ones are left out.
func (d *directory) below(tag uint16) (all []*directory) {
	at, err := d.uints(tag)
	if err != nil {
		return nil
	}
	c := &chain{r: d.r, size: d.size, order: d.order, big: d.big, seen: map[uint64]bool{}}
	for _, a := range at[:min(len(at), maxDirectories)] {
		if a == 0 || c.seen[a] {
			continue
		}
		c.seen[a] = true
		if sub, err := c.read(a); err == nil {
			all = append(all, sub)
		}
	}
	return all
}

func (c *chain) read(offset uint64) (*directory, error) {
	counts, entry, value := int64(2), int64(12), int64(4) // bytes of each, in classic TIFF
	if c.big {
		counts, entry, value = 8, 20, 8
	}
	order := c.order
	var head [8]byte
	if offset < 8 || offset > uint64(c.size) || readFull(c.r, head[:counts], int64(offset)) != nil {
		return nil, errDirectoryOutside
	}
	at := int64(offset)
	n := uint64(order.Uint16(head[:]))
	if c.big {
		n = order.Uint64(head[:])
	}
	if n == 0 {
		return nil, errNoDirectory
	}
	if n > maxEntries {
		return nil, fmt.Errorf("its directory claims %d entries", n)
	}
	raw := make([]byte, entry*int64(n))
	if readFull(c.r, raw, at+counts) != nil {
		return nil, errDirectoryOutside
	}
	d := &directory{r: c.r, size: c.size, order: order, big: c.big, tags: make(map[uint16]tiffEntry, n)}
	for i := range int64(n) {
		b := raw[entry*i : entry*(i+1)]
		tag := order.Uint16(b)
		if _, twice := d.tags[tag]; twice {
			continue // libtiff, too, keeps the first
		}
		e := tiffEntry{kind: order.Uint16(b[2:]), at: at + counts + entry*(i+1) - value}
		if !e.known() { // TIFF 6.0, page 16: readers skip field types they do not know, unless they need the field
			d.tags[tag] = e
			continue
		}
		var elsewhere uint64
		if c.big {
			e.count, elsewhere = order.Uint64(b[4:]), order.Uint64(b[12:])
		} else {
			e.count, elsewhere = uint64(order.Uint32(b[4:])), uint64(order.Uint32(b[8:]))
		}
		if e.count > uint64(value/typeSizes[e.kind]) {
			e.at = int64(min(elsewhere, 1<<62))
		}
		d.tags[tag] = e
	}
	if readFull(c.r, head[:value], at+counts+entry*int64(n)) == nil { // some writers leave it out at the end of the file
		d.next = uint64(order.Uint32(head[:]))
		if c.big {
			d.next = order.Uint64(head[:])
		}
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
	if !e.known() {
		return nil, e, fmt.Errorf("tag %d is of a type that does not exist", tag)
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
func (d *directory) uints(tag uint16) ([]uint64, error) {
	b, e, err := d.raw(tag, maxValues)
	if err != nil {
		return nil, err
	}
	v := make([]uint64, e.count)
	for i := range v {
		switch e.kind {
		case 1, 7:
			v[i] = uint64(b[i])
		case 3:
			v[i] = uint64(d.order.Uint16(b[2*i:]))
		case 4, 13:
			v[i] = uint64(d.order.Uint32(b[4*i:]))
		case 16, 18:
			v[i] = d.order.Uint64(b[8*i:])
		default:
			return nil, fmt.Errorf("tag %d is of the wrong type", tag)
		}
	}
	return v, nil
}

// one returns a tag's first value, or def when the tag is absent.
func (d *directory) one(tag uint16, def uint64) (uint64, error) {
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

// text returns what an ASCII tag says, at most 2000 bytes of it, without control
// characters; "" when the tag is absent or damaged.
func (d *directory) text(tag uint16) string {
	e, ok := d.tags[tag]
	if !ok || e.kind != 2 || e.count > 1<<20 {
		return ""
	}
	b, _, err := d.raw(tag, 1<<20)
	if err != nil {
		return ""
	}
	b, _, _ = bytes.Cut(b, []byte{0})
	s := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(string(b[:min(len(b), 2000)]), " "))
	return strings.Join(strings.Fields(s), " ")
}

// rational returns a tag's first value as a number, 0 when there is none.
func (d *directory) rational(tag uint16) float64 {
	b, e, err := d.raw(tag, 16)
	if err != nil || e.kind != 5 || e.count < 1 {
		return 0
	}
	over := d.order.Uint32(b[4:])
	if over == 0 {
		return 0
	}
	return float64(d.order.Uint32(b)) / float64(over)
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
