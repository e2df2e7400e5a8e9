package scan

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"os"

	"stopladder/analysis/scan/colour"
)

const lossyNote = "JPEG compression changes code values; readings of a scan that was saved without it are more certain."

// jpegHead is what the segments of a JPEG before its pixels say.
type jpegHead struct {
	size    int64
	lim     Bounds
	info    Info
	profile map[byte][]byte // pieces of the colour profile by number, from 1
	pieces  byte
	total   int // bytes of all pieces

	components  []byte // their identifiers
	progressive bool
	unit        int   // rows that are coded together
	heightAt    int64 // where the height stands in the file
}

// openJPEG reads the segments of a JPEG up to its first scan (ITU-T T.81, annex
// B; the ICC segments by ICC.1 annex B.4; the orientation by Exif 2.3).
func openJPEG(f *os.File, size int64, path string, lim Bounds) (*source, error) {
	h := &jpegHead{size: size, lim: lim, info: Info{Path: path, Format: "JPEG", Bits: 8, Orientation: 1}, profile: map[byte][]byte{}}
	at := int64(2)
	for {
		marker, length, err := nextSegment(f, &at)
		if err != nil {
			return nil, refusal(path, errCutShort)
		}
		if marker == 0xDA { // start of scan
			var n [1]byte
			if readFull(f, n[:], at) != nil {
				return nil, refusal(path, errCutShort)
			}
			break
		}
		if marker == 0xD9 {
			return nil, refusal(path, errNoPixels)
		}
		if length > size-at {
			return nil, refusal(path, errCutShort)
		}
		body := make([]byte, length) // at most 64 kB
		if readFull(f, body, at) != nil {
			return nil, refusal(path, errCutShort)
		}
		at += length
		if err := h.segment(marker, body, at-length); err != nil {
			return nil, refusal(path, err)
		}
	}
	if h.info.Width == 0 {
		return nil, refusal(path, errors.New("it has no header before its pixels"))
	}
	h.joinProfile()
	var inks *colour.Inks
	if len(h.components) == 4 {
		var err error
		if inks, err = inksOf(&h.info); err != nil {
			return nil, refusal(path, err)
		}
	}
	h.info.Notes = append(h.info.Notes, lossyNote)
	if !endsWell(f, size) {
		h.info.Notes = append(h.info.Notes, "The file lacks the mark that a JPEG ends with: its last bytes are missing. What was read is what it still has.")
	}
	t := &wholeRaster{path: path, w: h.info.Width, h: h.info.Height, decode: jpeg.Decode, inks: inks}
	t.whole = func(ctx context.Context, f *os.File, size int64) (*decodedRaster, error) {
		return h.picture(ctx, t, f, size)
	}
	return newSource(h.info, t), nil
}

// endsWell reports whether a JPEG has its end. Only a file whose last bytes are not the mark
// of it is looked through.
func endsWell(f *os.File, size int64) bool {
	var last [2]byte
	if readFull(f, last[:], size-2) == nil && bytes.Equal(last[:], endOfImage) {
		return true
	}
	p, err := readPasses(context.Background(), io.NewSectionReader(f, 0, size))
	return err != nil || p.ends || p.scans > maxScans // refused for those
}

// segment reads what a segment says.
func (h *jpegHead) segment(marker byte, body []byte, at int64) error {
	switch {
	case marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC:
		h.heightAt = at + 1
		return h.header(marker, body)
	case marker == 0xE1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")):
		exif := body[6:]
		dirs, err := readDirectories(bytes.NewReader(exif), int64(len(exif)))
		if err != nil {
			return nil // the picture is sound without it
		}
		if o, err := dirs[0].one(tagOrientation, 1); err == nil && o >= 1 && o <= 8 {
			h.info.Orientation = int(o)
		}
	case marker == 0xE2 && bytes.HasPrefix(body, []byte("ICC_PROFILE\x00")) && len(body) > 14:
		if h.total += len(body) - 14; h.total > h.lim.MaxProfile {
			return profileTooLarge(h.info.Path, h.lim)
		}
		h.profile[body[12]], h.pieces = body[14:], body[13]
	}
	return nil
}

func (h *jpegHead) header(marker byte, body []byte) error {
	if h.info.Width != 0 {
		return errors.New("it has two headers")
	}
	if err := readSOF(&h.info, marker, body); err != nil {
		return err
	}
	if err := checkSize(h.info.Path, h.info.Width, h.info.Height, h.lim); err != nil {
		return err
	}
	// Every 8x8 block needs at least one bit; with 4x4 subsampling a byte
	// makes at most some 2000 pixels.
	if int64(h.info.Width)*int64(h.info.Height)/2000 > h.size {
		return fmt.Errorf("its header promises %d x %d pixels but the file has only %s", h.info.Width, h.info.Height, byteSize(h.size))
	}
	h.progressive = marker == 0xC2
	for c := range int(body[5]) {
		h.components = append(h.components, body[6+3*c])
	}
	return checkMemory(h.info.Path, h.memory(body), h.lim)
}

// memory returns the bytes that decoding takes: a byte for a sample, of a progressive
// picture four more for its coefficient; and sets unit.
func (h *jpegHead) memory(sof []byte) (bytes int64) {
	n := int(sof[5])
	across, down := 1, 1
	for c := range n {
		across, down = max(across, int(sof[7+3*c]>>4)), max(down, int(sof[7+3*c]&15))
	}
	h.unit = 8 * down
	units := int64((h.info.Width+8*across-1)/(8*across)) * int64((h.info.Height+8*down-1)/(8*down))
	for c := range n {
		bytes += 64 * units * int64(sof[7+3*c]>>4) * int64(sof[7+3*c]&15)
	}
	if n == 4 { // which are put together at the end
		bytes += 4 * int64(h.info.Width) * int64(h.info.Height)
	}
	if n == 1 { // its factors mean nothing
		h.unit = 8
		bytes = int64(h.info.Width+7) * int64(h.info.Height+7)
	}
	if h.progressive {
		bytes *= 5
	}
	return bytes
}

// maxScans is how often a JPEG may go over its picture. A progressive one of the
// usual encoders does so some ten times; each time costs a decoder a look at every
// block, however little the file has to say of it.
const maxScans = 100

var endOfImage = []byte{0xFF, 0xD9}

// passes is what the scans of a JPEG hold of its picture.
type passes struct {
	scans int  // at most one more than are read
	ends  bool // the end of the image is there
	// least is, by component and coefficient, the lowest bit that a scan has of it; what
	// is not in the map was not begun.
	least map[byte]*[64]byte
}

// notBegun is more than any bit of a coefficient.
const notBegun = 0xFF

// add notes what a scan's header says (T.81, B.2.3): its components, the coefficients
// and the lowest bit of them that it holds.
func (p *passes) add(body []byte) {
	p.scans++
	n := 0
	if len(body) > 0 {
		n = int(body[0])
	}
	if n == 0 || len(body) < 1+2*n+3 {
		return
	}
	from, to, low := body[1+2*n], body[2+2*n], body[3+2*n]&15
	for c := range n {
		id := body[1+2*c]
		if p.least[id] == nil {
			p.least[id] = new([64]byte)
			for k := range 64 {
				p.least[id][k] = notBegun
			}
		}
		for k := int(from); k <= min(int(to), 63); k++ {
			p.least[id][k] = min(p.least[id][k], low)
		}
	}
}

// complete reports whether nothing of the picture comes after the scans that were
// begun: what the last of them has is whole as far as it goes.
func (p *passes) complete(components []byte) bool {
	for _, id := range components {
		if p.least[id] == nil || *p.least[id] != [64]byte{} {
			return false
		}
	}
	return true
}

// picture decodes the picture, of a file that was cut short as much as is there.
func (h *jpegHead) picture(ctx context.Context, t *wholeRaster, f *os.File, size int64) (*decodedRaster, error) {
	size = withoutZeros(f, size)
	scans, err := readPasses(ctx, io.NewSectionReader(f, 0, size))
	if err != nil {
		return nil, err
	}
	complete := scans.complete(h.components)
	if !scans.ends { // however few zeros: a decoder takes them for a picture that goes on
		size = min(size, zerosBefore(f, size))
	}
	if scans.scans > maxScans {
		return nil, &BoundsError{t.path, fmt.Sprintf("it goes over its picture more than %d times", maxScans)}
	}
	whole := func(rows int) (image.Image, error) {
		height := binary.BigEndian.AppendUint16(nil, uint16(rows))
		return t.guarded(ctx, size, io.MultiReader(io.NewSectionReader(f, 0, h.heightAt), bytes.NewReader(height),
			io.NewSectionReader(f, h.heightAt+2, size-h.heightAt-2), bytes.NewReader(endOfImage)))
	}
	img, err := whole(t.h)
	if err != nil {
		return nil, err
	}
	if img != nil && (scans.ends || complete) {
		return t.fits(img, t.h)
	}
	if scans.ends { // a whole file that the decoder finds fault with: who knows where
		return nil, &TruncatedError{Path: t.path, Rows: t.h, Damaged: true}
	}
	if !complete { // all rows lack detail that was to follow
		return nil, &TruncatedError{Path: t.path, Rows: t.h, Coarse: true}
	}
	// How many rows are there: the largest height for which the data of the last scan
	// suffices; those before it have more than that takes.
	good, bad := 0, (t.h+h.unit-1)/h.unit
	var best image.Image
	for good+1 < bad {
		mid := (good + bad) / 2
		img, err := whole(mid * h.unit)
		if err != nil {
			return nil, err
		}
		if img == nil {
			bad = mid
		} else {
			good, best = mid, img
		}
	}
	if best == nil {
		return nil, &TruncatedError{Path: t.path, Rows: t.h}
	}
	return t.fits(best, good*h.unit)
}

// readPasses reads the headers of the scans of a JPEG.
func readPasses(ctx context.Context, r io.Reader) (p passes, err error) {
	p.least = map[byte]*[64]byte{}
	in := bufio.NewReaderSize(r, 64<<10)
	for n := 0; p.scans <= maxScans; n++ {
		if n%(1<<16) == 0 && ctx.Err() != nil {
			return p, ctx.Err()
		}
		if _, err := in.ReadSlice(0xFF); err == bufio.ErrBufferFull {
			continue
		} else if err == io.EOF {
			return p, nil
		} else if err != nil {
			return p, err
		}
		marker, err := in.ReadByte()
		for ; err == nil && marker == 0xFF; marker, err = in.ReadByte() {
		}
		if err == nil && marker == 0xD9 && p.scans > 0 {
			p.ends = true
			return p, nil
		}
		// Segments may hold anything, the markers of a small picture among it.
		if err == nil && marker >= 0xC0 && (marker < 0xD0 || marker > 0xD9) && marker != 0xFF {
			err = readSegment(in, marker, &p)
		}
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			return p, nil
		}
		if err != nil {
			return p, err
		}
	}
	return p, nil
}

// readSegment reads what follows a marker: the header of a scan, or nothing of note.
func readSegment(in *bufio.Reader, marker byte, p *passes) error {
	var length [2]byte
	if _, err := io.ReadFull(in, length[:]); err != nil {
		return err
	}
	n := max(0, int(binary.BigEndian.Uint16(length[:]))-2)
	if marker != 0xDA {
		_, err := in.Discard(n)
		return err
	}
	body := make([]byte, n)
	if _, err := io.ReadFull(in, body); err != nil {
		return err
	}
	p.add(body)
	return nil
}

// joinProfile puts the pieces of the colour profile together.
func (h *jpegHead) joinProfile() {
	for i := 1; i <= int(h.pieces); i++ {
		p, ok := h.profile[byte(i)]
		if !ok {
			h.info.ICC = nil
			h.info.Notes = append(h.info.Notes, "The colour profile is incomplete and was ignored.")
			return
		}
		h.info.ICC = append(h.info.ICC, p...)
	}
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

func readSOF(info *Info, marker byte, b []byte) error {
	if len(b) < 6 || len(b) < 6+3*int(b[5]) {
		return errors.New("its header is damaged")
	}
	switch marker {
	case 0xC0, 0xC1, 0xC2:
	case 0xC3, 0xC7, 0xCB, 0xCF:
		return feature("lossless JPEG compression")
	default:
		return feature("hierarchical or arithmetic JPEG coding")
	}
	if b[0] != 8 {
		return feature(fmt.Sprintf("%d bits per sample in a JPEG", b[0]))
	}
	info.Height, info.Width = int(binary.BigEndian.Uint16(b[1:])), int(binary.BigEndian.Uint16(b[3:]))
	if info.Height == 0 {
		return feature("a JPEG height that is given only at its end")
	}
	if info.Width == 0 {
		return errors.New("it has no width")
	}
	switch b[5] {
	case 1:
		info.Channels = 1
	case 3:
		info.Channels = 3
	case 4: // CMYK, which openJPEG converts
		info.Channels, info.Bits = 3, 16
	default:
		return fmt.Errorf("it has %d colour components", b[5])
	}
	return nil
}
