package colour

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// The profile library takes memory by counts that it finds in the profile. What
// is here compares those counts with the bytes that are there, before the
// library sees the profile, and so bounds its memory by the profile's own size.

const maxTags = 1024 // of one profile; real ones have some twenty

var errProfileShort = errors.New("it is cut short or damaged")

// checkProfile looks at the structure of a profile (ICC.1:2022, section 7) and
// at every count that the library trusts in the tags that are used here. broken says
// what is wrong with tags of curves and tables that must not be read.
func checkProfile(p []byte) (broken map[string]error, err error) {
	if len(p) < 132 || string(p[36:40]) != "acsp" {
		return nil, errors.New("it is not an ICC profile")
	}
	if len(p) > MaxProfileBytes {
		return nil, fmt.Errorf("it has more than %d bytes", MaxProfileBytes)
	}
	n := binary.BigEndian.Uint32(p[128:])
	if n == 0 || n > maxTags || int(132+12*n) > len(p) {
		return nil, errProfileShort
	}
	broken = map[string]error{}
	for i := range int(n) {
		e := p[132+12*i:]
		at, size := uint64(binary.BigEndian.Uint32(e[4:])), uint64(binary.BigEndian.Uint32(e[8:]))
		if at < uint64(132+12*n) || at+size > uint64(len(p)) {
			return nil, errProfileShort
		}
		tag, sig := p[at:at+size], string(e[:4])
		var err error
		switch sig {
		case "rTRC", "gTRC", "bTRC", "kTRC":
			_, err = checkCurve(tag)
		case "A2B0", "A2B1", "A2B2":
			err = checkTable(tag)
		}
		if err != nil {
			broken[sig] = err
		}
	}
	return broken, nil
}

// checkCurve returns the length of a curve with its padding.
func checkCurve(b []byte) (int, error) {
	if len(b) < 12 {
		return 0, errProfileShort
	}
	switch string(b[:4]) {
	case "curv":
		n := uint64(binary.BigEndian.Uint32(b[8:]))
		if 12+2*n > uint64(len(b)) {
			return 0, errProfileShort
		}
		return int(12+2*n+3) &^ 3, nil
	case "para":
		params := []int{1, 3, 4, 5, 7}
		kind := int(binary.BigEndian.Uint16(b[8:]))
		if kind >= len(params) || 12+4*params[kind] > len(b) {
			return 0, errProfileShort
		}
		return 12 + 4*params[kind], nil
	}
	return 0, errors.New("it has a curve of an unknown kind")
}

// checkTable looks at a device-to-connection table: lut8Type, lut16Type or
// lutAToBType.
func checkTable(b []byte) error {
	if len(b) < 32 {
		return errProfileShort
	}
	in, out := int(b[8]), int(b[9])
	if in != 1 && in != 3 && in != 4 || out != 3 {
		return fmt.Errorf("its table goes from %d to %d channels", in, out)
	}
	switch string(b[:4]) {
	case "mft1", "mft2":
		if len(b) < 52 {
			return errProfileShort
		}
		width := int(b[3] - '0')
		if width*nodes([]byte{b[10], b[10], b[10], b[10]}, in, out) > len(b) {
			return errProfileShort
		}
		return nil
	case "mAB ":
		return checkAToB(b, in, out)
	}
	return errors.New("it has a table of an unknown kind")
}

// nodes is how many values a table has whose sides have so many places.
func nodes(grid []byte, in, out int) int {
	n := out
	for _, g := range grid[:in] {
		n *= int(g) // at most 255^4 x 3
	}
	return n
}

// checkAToB looks at the parts of a lutAToBType, each where an offset says, 0 for none.
func checkAToB(b []byte, in, out int) error {
	offset := func(i int) uint64 { return uint64(binary.BigEndian.Uint32(b[12+4*i:])) }
	for _, c := range []struct{ at, n int }{{0, out}, {2, out}, {4, in}} { // B, M, A curves
		pos := offset(c.at)
		for range c.n {
			if pos == 0 {
				break
			}
			if pos > uint64(len(b)) {
				return errProfileShort
			}
			size, err := checkCurve(b[pos:])
			if err != nil {
				return err
			}
			pos += uint64(size)
		}
	}
	if pos := offset(1); pos != 0 && pos+48 > uint64(len(b)) { // the matrix
		return errProfileShort
	}
	pos := offset(3)
	if pos == 0 {
		return nil
	}
	if pos+20 > uint64(len(b)) {
		return errProfileShort
	}
	clut := b[pos:]
	width := int(clut[16])
	if width != 1 && width != 2 || uint64(width*nodes(clut, in, out))+pos+20 > uint64(len(b)) {
		return errProfileShort
	}
	// The library's tetrahedra take the last side for all of them.
	if in >= 3 && (clut[0] != clut[1] || clut[1] != clut[2] || in == 4 && clut[2] != clut[3]) {
		return errors.New("its table has sides of different lengths")
	}
	return nil
}

// tagOf returns the data of a tag of a checked profile, nil when it has none.
func tagOf(p []byte, sig string) []byte {
	for i := range int(binary.BigEndian.Uint32(p[128:])) {
		if e := p[132+12*i:]; string(e[:4]) == sig {
			at, size := binary.BigEndian.Uint32(e[4:]), binary.BigEndian.Uint32(e[8:])
			return p[at : at+size]
		}
	}
	return nil
}
