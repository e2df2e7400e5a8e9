package render

import (
	"context"
	"encoding/binary"
	"image"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
)

// turnedTIFF is a bare 16-bit RGB file, one row a strip, its directory first, with
// the given Orientation (TIFF 6.0 section 8).
func turnedTIFF(w, h, orientation int, code func(x, y, c int) uint16) []byte {
	le := binary.LittleEndian
	const entries = 10
	bits, offsets := 8+2+12*entries+4, 8+2+12*entries+4+6
	counts := offsets + 4*h
	data := counts + 4*h
	b := append([]byte("II*\x00"), 8, 0, 0, 0, entries, 0)
	entry := func(tag, kind uint16, n, v int) {
		b = le.AppendUint16(le.AppendUint16(b, tag), kind)
		b = le.AppendUint32(le.AppendUint32(b, uint32(n)), uint32(v))
	}
	entry(256, 4, 1, w)
	entry(257, 4, 1, h)
	entry(258, 3, 3, bits)
	entry(259, 3, 1, 1)
	entry(262, 3, 1, 2)
	entry(273, 4, h, offsets)
	entry(274, 3, 1, orientation)
	entry(277, 3, 1, 3)
	entry(278, 4, 1, 1)
	entry(279, 4, h, counts)
	b = le.AppendUint32(b, 0)
	for range 3 {
		b = le.AppendUint16(b, 16)
	}
	for y := range h {
		b = le.AppendUint32(b, uint32(data+6*w*y))
	}
	for range h {
		b = le.AppendUint32(b, uint32(6*w))
	}
	for y := range h {
		for x := range w {
			for c := range 3 {
				b = le.AppendUint16(b, code(x, y, c))
			}
		}
	}
	return b
}

// A file that ends early, at every orientation: what is asked for over the whole
// picture is given as far as the file goes, code for code, and is not asked for
// again.
func TestDetailOfTurnedFileThatEndsEarly(t *testing.T) {
	const w, h, rows = 90, 70, 40
	code := func(x, y, c int) uint16 { return uint16(700*x + 31*y + 9001*c) }
	for o := 1; o <= 8; o++ {
		dir := t.TempDir()
		file := turnedTIFF(w, h, o, code)
		whole, short := filepath.Join(dir, "whole.tif"), filepath.Join(dir, "short.tif")
		for name, b := range map[string][]byte{whole: file, short: file[:len(file)-6*w*(h-rows)]} {
			if err := os.WriteFile(name, b, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		all, err := scan.Open(whole, scan.DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		src, err := scan.Open(short, scan.DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		l, err := measure.NewLook(context.Background(), src, measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		r := image.Rect(0, 0, l.Info.Width, l.Info.Height)
		b := newBench(t, 10<<20)
		req := DetailRequest{Key: o, Look: l, Rect: r, Step: 1, Open: func() (scan.Source, error) { return scan.Open(short, scan.DefaultBounds) }}
		b.d.Request(req)
		res := b.wait(t)
		if res.Err != nil || res.Detail.Rect.Dx()*res.Detail.Rect.Dy() != w*rows {
			t.Errorf("orientation %d: %v, %+v", o, res.Err, res.Detail)
			continue
		}
		want, err := all.Region(context.Background(), res.Detail.Rect)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(res.Detail.Pix, want) {
			t.Errorf("orientation %d: other codes than the whole file's over %v", o, res.Detail.Rect)
		}
		if b.d.Request(req) != res.Detail {
			t.Errorf("orientation %d: what the file lacks is asked for again", o)
		}
	}
}
