package scan

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image/png"
	"io"
	"os"

	"stopladder/analysis/scan/colour"
)

// pngHead is what the chunks of a PNG before its pixels say.
type pngHead struct {
	f                 *os.File
	size              int64
	lim               Bounds
	info              Info
	srgb, gamma, cicp bool
	raster            *pngRaster
	interlaced        bool
}

// openPNG reads the chunks of a PNG that stand before its pixels (W3C PNG
// Specification, third edition, section 11).
func openPNG(f *os.File, size int64, path string, lim Bounds) (*source, error) {
	h := &pngHead{f: f, size: size, lim: lim, info: Info{Path: path, Format: "PNG", Channels: 3, Orientation: 1}, raster: &pngRaster{path: path}}
	at := int64(8)
	for first := true; ; first = false {
		var head [8]byte
		if readFull(f, head[:], at) != nil {
			return nil, refusal(path, errCutShort)
		}
		n, kind := int64(binary.BigEndian.Uint32(head[:])), string(head[4:])
		if n > 1<<31-1 {
			return nil, refusal(path, errors.New("a part of it claims an impossible length"))
		}
		if first != (kind == "IHDR") {
			return nil, refusal(path, errors.New("its header is not where it should be"))
		}
		if kind == "IEND" {
			return nil, refusal(path, errNoPixels)
		}
		if kind == "IDAT" {
			break
		}
		damaged := h.damaged(kind, at, n)
		if damaged && (kind == "IHDR" || kind == "PLTE") {
			return nil, refusal(path, errors.New("its header is damaged: it does not fit its checksum"))
		}
		if damaged && colourChunks[kind] {
			h.info.Notes = append(h.info.Notes, "What the file says of its colours ("+kind+") is damaged and was ignored.")
		} else if err := h.chunk(kind, at+8, n); err != nil {
			return nil, refusal(path, err)
		}
		at += 12 + n
	}
	h.space()
	h.raster.data = at
	if !h.goesOn(at) {
		h.info.Notes = append(h.info.Notes, "The parts of the file do not follow each other up to its end, as those of a PNG must: it is cut short or damaged.")
	}
	if h.info.Channels == 3 && h.raster.samples == 1 && h.raster.palette == nil {
		return nil, refusal(path, errors.New("its palette is missing or damaged"))
	}
	if !h.interlaced {
		return newSource(h.info, h.raster), nil
	}
	// The picture, and one of its seven parts, which is at most half of it.
	bytes := int64(h.info.Width) * int64(h.info.Height) * map[bool]int64{true: 8, false: 4}[h.info.Bits == 16] * 3 / 2
	if err := checkMemory(path, bytes, lim); err != nil {
		return nil, err
	}
	return newSource(h.info, &wholeRaster{path: path, w: h.info.Width, h: h.info.Height, decode: png.Decode}), nil
}

// mostParts is how many chunks are followed; a million of the smallest that writers make
// hold more than any file that is read.
const mostParts = 1 << 20

// goesOn reports whether the chunks from an offset on lead to the one that ends a PNG
// (section 5.6): a length that is wrong leads elsewhere, even where the pixels are whole.
func (h *pngHead) goesOn(at int64) bool {
	for range mostParts {
		var head [8]byte
		if readFull(h.f, head[:], at) != nil {
			return false
		}
		if string(head[4:]) == "IEND" {
			return true
		}
		at += 12 + int64(binary.BigEndian.Uint32(head[:]))
	}
	return true // nobody knows
}

// colourChunks say what colours the codes are.
var colourChunks = map[string]bool{"iCCP": true, "sRGB": true, "gAMA": true, "cHRM": true, "cICP": true}

// damaged reports whether a chunk of n bytes at an offset does not fit its checksum (W3C
// PNG, section 5.3). Chunks that are not used, too large to be looked at, or cut off are
// not.
func (h *pngHead) damaged(kind string, at, n int64) bool {
	if kind != "IHDR" && kind != "PLTE" && !colourChunks[kind] {
		return false
	}
	b, ok := h.data(at+4, n+4, int64(h.lim.MaxProfile)+1024)
	var want [4]byte
	return ok && readFull(h.f, want[:], at+8+n) == nil && binary.BigEndian.Uint32(want[:]) != crc32.ChecksumIEEE(b)
}

// data reads a chunk of n bytes at an offset; ok is false where it is larger than
// most or than the file.
func (h *pngHead) data(at, n, most int64) (b []byte, ok bool) {
	if n > most || n > h.size-at {
		return nil, false
	}
	b = make([]byte, n)
	return b, readFull(h.f, b, at) == nil
}

// chunk reads what a chunk of n bytes at an offset says.
func (h *pngHead) chunk(kind string, at, n int64) error {
	switch kind {
	case "IHDR":
		return h.header(at, n)
	case "iCCP":
		return h.profile(at, n)
	case "PLTE":
		if b, ok := h.data(at, n, 768); ok && n%3 == 0 && h.raster.samples == 1 && h.info.Channels == 3 {
			h.raster.palette = b
		}
	case "sRGB":
		h.srgb = true
	case "gAMA", "cHRM":
		h.gamma = true
	case "cICP":
		b, ok := h.data(at, n, 4)
		// Primaries 1, transfer 13: sRGB (ITU-T H.273).
		if ok && len(b) == 4 && b[0] == 1 && b[1] == 13 {
			h.srgb = true
		} else {
			h.cicp = true
		}
	case "tRNS":
		h.info.Notes = append(h.info.Notes, "Transparency was ignored.")
	case "acTL":
		h.info.Notes = append(h.info.Notes, "The file is an animation; its first picture was read.")
	}
	return nil
}

func (h *pngHead) header(at, n int64) error {
	b, ok := h.data(at, n, 13)
	if !ok || len(b) != 13 {
		return errors.New("its header is damaged")
	}
	pixelBits, err := readIHDR(&h.info, b)
	if err != nil {
		return err
	}
	if err := checkSize(h.info.Path, h.info.Width, h.info.Height, h.lim); err != nil {
		return err
	}
	h.raster.w, h.raster.h = h.info.Width, h.info.Height
	h.raster.depth, h.raster.samples = int(b[8]), pixelBits/int(b[8])
	h.interlaced = b[12] == 1
	// Deflate makes at most 1032 bytes of one (RFC 1951).
	if promised := int64(h.info.Width) * int64(h.info.Height) / 8 * int64(pixelBits); promised/1032 > h.size {
		return fmt.Errorf("its header promises %s of picture but the file has only %s", byteSize(promised), byteSize(h.size))
	}
	return nil
}

func (h *pngHead) profile(at, n int64) error {
	b, ok := h.data(at, n, min(h.size, int64(h.lim.MaxProfile)+1024))
	if !ok {
		return profileTooLarge(h.info.Path, h.lim)
	}
	icc, err := inflateProfile(b, h.lim.MaxProfile)
	switch {
	case err == errProfileTooLarge:
		return profileTooLarge(h.info.Path, h.lim)
	case err != nil:
		h.info.Notes = append(h.info.Notes, "The colour profile is damaged and was ignored.")
	default:
		h.info.ICC = icc
	}
	return nil
}

// space settles on a colour space: an embedded profile comes before what the other
// chunks say.
func (h *pngHead) space() {
	switch {
	case h.info.ICC != nil:
	case h.srgb:
		h.info.ICC = colour.SRGBProfile()
		h.info.Notes = append(h.info.Notes, "The file says that it is sRGB, without a profile.")
	case h.cicp:
		h.info.Notes = append(h.info.Notes, "The file names its colour space by a code (cICP) that is not used here.")
	case h.gamma:
		h.info.Notes = append(h.info.Notes, "The file gives a gamma or primaries (gAMA, cHRM) that are not used here.")
	}
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
