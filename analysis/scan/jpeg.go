package scan

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image/jpeg"
	"os"
)

// openJPEG reads the segments of a JPEG up to its first scan (ITU-T T.81, annex
// B; the ICC segments by ICC.1 annex B.4; the orientation by Exif 2.3).
func openJPEG(f *os.File, size int64, path string, lim Limits) (*source, error) {
	broken := func(reason string) error { return &FormatError{Path: path, Reason: reason} }
	info := Info{Path: path, Format: "JPEG", Bits: 8, Orientation: 1}
	profile := map[byte][]byte{}
	var pieces byte
	total := 0
	at := int64(2)
	for {
		marker, length, err := nextSegment(f, &at)
		if err != nil {
			return nil, broken("it ends before its pixels, which looks like an incomplete copy")
		}
		if marker == 0xDA { // start of scan
			break
		}
		if marker == 0xD9 {
			return nil, broken("it holds no pixels")
		}
		if length > size-at {
			return nil, broken("it ends before its pixels, which looks like an incomplete copy")
		}
		body := make([]byte, length) // at most 64 kB
		if readFull(f, body, at) != nil {
			return nil, broken("it ends before its pixels, which looks like an incomplete copy")
		}
		at += length
		switch {
		case marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC:
			if info.Width != 0 {
				return nil, broken("it has two headers")
			}
			feature, err := readSOF(&info, marker, body)
			if err != nil {
				return nil, broken(err.Error())
			}
			if feature != "" {
				return nil, &UnsupportedError{path, feature}
			}
			if err := checkSize(path, info.Width, info.Height, lim); err != nil {
				return nil, err
			}
			// Every 8x8 block needs at least one bit; with 4x4 subsampling a byte
			// makes at most some 2000 pixels.
			if int64(info.Width)*int64(info.Height)/2000 > size {
				return nil, broken(fmt.Sprintf("its header promises %d x %d pixels but the file has only %s", info.Width, info.Height, byteSize(size)))
			}
		case marker == 0xE1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")):
			exif := body[6:]
			dirs, err := readDirectories(bytes.NewReader(exif), int64(len(exif)))
			if err != nil {
				break // the picture is sound without it
			}
			if o, err := dirs[0].one(tagOrientation, 1); err == nil && o >= 1 && o <= 8 {
				info.Orientation = int(o)
			}
		case marker == 0xE2 && bytes.HasPrefix(body, []byte("ICC_PROFILE\x00")) && len(body) > 14:
			if total += len(body) - 14; total > lim.MaxProfile {
				return nil, &LimitError{path, fmt.Sprintf("its colour profile is larger than the %s allowed", byteSize(int64(lim.MaxProfile)))}
			}
			profile[body[12]], pieces = body[14:], body[13]
		}
	}
	if info.Width == 0 {
		return nil, broken("it has no header before its pixels")
	}
	if pieces > 0 {
		for i := 1; i <= int(pieces); i++ {
			p, ok := profile[byte(i)]
			if !ok {
				info.ICC = nil
				info.Notes = append(info.Notes, "The colour profile is incomplete and was ignored.")
				break
			}
			info.ICC = append(info.ICC, p...)
		}
	}
	info.Notes = append(info.Notes, "JPEG compression changes code values; readings of a TIFF of the same scan are more certain.")
	return newSource(info, &wholeRaster{path, info.Width, info.Height, jpeg.Decode}), nil
}

// nextSegment reads a marker and the length of what follows it, and leaves at
// behind both.
func nextSegment(f *os.File, at *int64) (marker byte, length int64, err error) {
	var b [2]byte
	if err := readFull(f, b[:], *at); err != nil {
		return 0, 0, err
	}
	if b[0] != 0xFF {
		return 0, 0, fmt.Errorf("no marker")
	}
	for fill := 0; b[1] == 0xFF; fill++ { // B.1.1.2: any number of fill bytes
		*at++
		if fill > 1<<16 {
			return 0, 0, fmt.Errorf("no marker")
		}
		if err := readFull(f, b[:], *at); err != nil {
			return 0, 0, err
		}
	}
	marker = b[1]
	*at += 2
	if marker == 0x01 || marker >= 0xD0 && marker <= 0xD9 { // stand alone
		return marker, 0, nil
	}
	if err := readFull(f, b[:], *at); err != nil {
		return 0, 0, err
	}
	n := int64(binary.BigEndian.Uint16(b[:]))
	if n < 2 {
		return 0, 0, fmt.Errorf("impossible length")
	}
	*at += 2
	return marker, n - 2, nil
}

func readSOF(info *Info, marker byte, b []byte) (feature string, err error) {
	if len(b) < 6 || len(b) < 6+3*int(b[5]) {
		return "", fmt.Errorf("its header is damaged")
	}
	switch marker {
	case 0xC0, 0xC1, 0xC2:
	case 0xC3, 0xC7, 0xCB, 0xCF:
		return "lossless JPEG compression", nil
	default:
		return "hierarchical or arithmetic JPEG coding", nil
	}
	if b[0] != 8 {
		return fmt.Sprintf("%d bits per sample in a JPEG", b[0]), nil
	}
	info.Height, info.Width = int(binary.BigEndian.Uint16(b[1:])), int(binary.BigEndian.Uint16(b[3:]))
	if info.Height == 0 {
		return "a JPEG height that is given only at its end", nil
	}
	if info.Width == 0 {
		return "", fmt.Errorf("it has no width")
	}
	switch b[5] {
	case 1:
		info.Channels = 1
	case 3:
		info.Channels = 3
	case 4:
		return "CMYK colour", nil
	default:
		return "", fmt.Errorf("it has %d colour components", b[5])
	}
	return "", nil
}
