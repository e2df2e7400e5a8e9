package scan

import (
	"bytes"
	"context"
	"encoding/binary"
	"testing"
)

// openTold opens a file that is damaged where its pixels are not. It is refused, or
// something is said of it that nothing is said of a sound one.
func openTold(t *testing.T, what, name string, b []byte) {
	t.Helper()
	src, err := Open(saved(t, name, b), DefaultBounds)
	if err != nil {
		return
	}
	if _, err := Hold(context.Background(), src); err == nil && len(src.Info().Notes) == 0 {
		t.Errorf("%s: it is measured without a word", what)
	}
}

// openSilent opens a sound file, of which nothing is to be said.
func openSilent(t *testing.T, name string, b []byte) {
	t.Helper()
	src, err := Open(saved(t, name, b), DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	if len(src.Info().Notes) > 0 {
		t.Errorf("of a sound file it is said: %q", src.Info().Notes)
	}
}

// A tag that is needed and whose type TIFF does not have (6.0, page 15) is not passed over
// as one that nobody knows: a predictor that was overlooked would spoil every pixel.
// libtiff refuses these files or warns, golang.org/x/image/tiff refuses them.
func TestTagTypesThatDoNotExist(t *testing.T) {
	const w, h = 16, 12
	order := binary.LittleEndian
	data, _ := words(order, 3*w*h)
	tags := with(rgb16(w, h), map[uint16]any{tagCompression: []uint16{8}, tagPredictor: []uint16{1}, tagOrientation: []uint16{1}, tagSampleFormat: []uint16{1, 1, 1}})
	b := buildTIFF(order, tags, deflated(t, data))
	openSilent(t, "a.tif", b)
	n := int(order.Uint16(b[8:]))
	for i := range n {
		entry := 10 + 12*i
		for _, kind := range []uint16{0, 14, 19, 52288} {
			hurt := bytes.Clone(b)
			order.PutUint16(hurt[entry+2:], kind)
			openTold(t, "a tag of no type", "a.tif", hurt)
		}
	}
}

// A directory in which the lengths of strips became another tag, as one flipped bit can
// do, is told, packed or not; TIFF 6.0 requires them (page 40).
func TestLengthsOfStripsAreMissing(t *testing.T) {
	const w, h = 16, 12
	order := binary.LittleEndian
	data, _ := words(order, 3*w*h)
	for _, c := range []struct {
		pack  uint16
		chunk []byte
	}{{1, data}, {8, deflated(t, data)}} {
		b := buildTIFF(order, with(rgb16(w, h), map[uint16]any{tagCompression: []uint16{c.pack}}), c.chunk)
		openSilent(t, "a.tif", b)
		for i := range int(order.Uint16(b[8:])) {
			if entry := b[10+12*i:]; order.Uint16(entry) == tagStripByteCounts {
				order.PutUint16(entry, tagStripByteCounts|1<<14)
			}
		}
		openTold(t, "no lengths", "a.tif", b)
	}
}

// A PNG whose pixels are whole and fit their checksum, but whose chunks lead past its end
// or whose end is gone, is told. libpng and image/png refuse these files.
func TestPNGPartsLeadElsewhere(t *testing.T) {
	const w, h = 16, 12
	data, _ := words(binary.BigEndian, 3*w*h)
	var rows []byte
	for y := range h {
		rows = append(append(rows, 0), data[6*w*y:6*w*(y+1)]...)
	}
	b := rawPNG(t, w, h, 16, 2, 0, nil, rows)
	openSilent(t, "a.png", b)
	last := bytes.LastIndex(b, []byte("IDAT"))
	hurt := bytes.Clone(b)
	binary.BigEndian.PutUint32(hurt[last-4:], 25578)
	openTold(t, "a chunk longer than the file", "a.png", hurt)
	for _, n := range []int{5, 12} { // less would be within the checksum of the end
		openTold(t, "an end that is gone", "a.png", b[:len(b)-n])
	}
}
