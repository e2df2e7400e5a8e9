package scan

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"image/png"
	"io"
	"os"

	"stopladder/analysis/scan/colour"
)

// openPNG reads the chunks of a PNG that stand before its pixels (W3C PNG
// Specification, third edition, section 11).
func openPNG(f *os.File, size int64, path string, lim Limits) (*source, error) {
	broken := func(reason string) error { return &FormatError{Path: path, Reason: reason} }
	info := Info{Path: path, Format: "PNG", Channels: 3, Orientation: 1}
	var srgb, gamma, cicp bool
	at := int64(8)
	for first := true; ; first = false {
		var head [8]byte
		if readFull(f, head[:], at) != nil {
			return nil, broken("it ends before its pixels, which looks like an incomplete copy")
		}
		n, kind := int64(binary.BigEndian.Uint32(head[:])), string(head[4:])
		if n > 1<<31-1 {
			return nil, broken("a part of it claims an impossible length")
		}
		if first != (kind == "IHDR") {
			return nil, broken("its header is not where it should be")
		}
		if kind == "IDAT" || kind == "IEND" {
			if kind == "IEND" {
				return nil, broken("it holds no pixels")
			}
			break
		}
		data := func(most int64) ([]byte, bool) {
			if n > most || n > size-at-8 {
				return nil, false
			}
			b := make([]byte, n)
			return b, readFull(f, b, at+8) == nil
		}
		switch kind {
		case "IHDR":
			b, ok := data(13)
			if !ok || len(b) != 13 {
				return nil, broken("its header is damaged")
			}
			pixelBits, err := readIHDR(&info, b)
			if err != nil {
				return nil, broken(err.Error())
			}
			if err := checkSize(path, info.Width, info.Height, lim); err != nil {
				return nil, err
			}
			// Deflate makes at most 1032 bytes of one (RFC 1951).
			if promised := int64(info.Width) * int64(info.Height) / 8 * int64(pixelBits); promised/1032 > size {
				return nil, broken(fmt.Sprintf("its header promises %s of picture but the file has only %s", byteSize(promised), byteSize(size)))
			}
		case "iCCP":
			b, ok := data(min(size, int64(lim.MaxProfile)+1024))
			if !ok {
				return nil, &LimitError{path, fmt.Sprintf("its colour profile is larger than the %s allowed", byteSize(int64(lim.MaxProfile)))}
			}
			icc, err := inflateProfile(b, lim.MaxProfile)
			if err == errProfileTooLarge {
				return nil, &LimitError{path, fmt.Sprintf("its colour profile is larger than the %s allowed", byteSize(int64(lim.MaxProfile)))}
			}
			if err != nil {
				info.Notes = append(info.Notes, "The colour profile is damaged and was ignored.")
				break
			}
			info.ICC = icc
		case "sRGB":
			srgb = true
		case "gAMA", "cHRM":
			gamma = true
		case "cICP":
			b, ok := data(4)
			// Primaries 1, transfer 13: sRGB (ITU-T H.273).
			if ok && len(b) == 4 && b[0] == 1 && b[1] == 13 {
				srgb = true
			} else {
				cicp = true
			}
		case "tRNS":
			info.Notes = append(info.Notes, "Transparency was ignored.")
		case "acTL":
			info.Notes = append(info.Notes, "The file is an animation; its first picture was read.")
		}
		at += 12 + n
	}
	switch {
	case info.ICC != nil:
	case srgb:
		info.ICC = colour.SRGBProfile()
		info.Notes = append(info.Notes, "The file says that it is sRGB, without a profile.")
	case cicp:
		info.Notes = append(info.Notes, "The file names its colour space by a code (cICP) that is not used here.")
	case gamma:
		info.Notes = append(info.Notes, "The file gives a gamma or primaries (gAMA, cHRM) that are not used here.")
	}
	return newSource(info, &wholeRaster{path, info.Width, info.Height, png.Decode}), nil
}

// readIHDR fills info and returns the bits that a pixel has in the file.
func readIHDR(info *Info, b []byte) (pixelBits int, err error) {
	w, h := binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])
	if w == 0 || h == 0 || w > 1<<31-1 || h > 1<<31-1 {
		return 0, errors.New("it has an impossible width or height")
	}
	info.Width, info.Height = int(w), int(h)
	depth, kind := b[8], b[9]
	allowed := map[byte][]byte{0: {1, 2, 4, 8, 16}, 2: {8, 16}, 3: {1, 2, 4, 8}, 4: {8, 16}, 6: {8, 16}}
	if !bytes.Contains(allowed[kind], []byte{depth}) || b[10] != 0 || b[11] != 0 || b[12] > 1 {
		return 0, errors.New("its header has values that a PNG cannot have")
	}
	info.Bits = 8
	if depth == 16 {
		info.Bits = 16
	}
	switch kind {
	case 0, 4:
		info.Channels = 1
	case 3:
		info.Notes = append(info.Notes, "The file stores a palette of at most 256 colours.")
	}
	if kind == 0 && depth < 8 {
		info.Notes = append(info.Notes, fmt.Sprintf("The file has only %d bits per sample; code values were spread to 8 bits.", depth))
	}
	if kind == 4 || kind == 6 {
		info.Notes = append(info.Notes, "The alpha channel was ignored.")
	}
	samples := map[byte]int{0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
	return samples[kind] * int(depth), nil
}

var errProfileTooLarge = errors.New("profile too large")

// inflateProfile reads an iCCP chunk: a name, a zero, the compression method 0,
// a zlib stream.
func inflateProfile(b []byte, most int) ([]byte, error) {
	_, rest, ok := bytes.Cut(b, []byte{0})
	if !ok || len(rest) < 1 || rest[0] != 0 {
		return nil, errors.New("damaged")
	}
	z, err := zlib.NewReader(bytes.NewReader(rest[1:]))
	if err != nil {
		return nil, err
	}
	defer z.Close()
	icc, err := io.ReadAll(io.LimitReader(z, int64(most)+1))
	if err != nil {
		return nil, err
	}
	if len(icc) > most {
		return nil, errProfileTooLarge
	}
	return icc, nil
}
