package scan

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/scan/colour"
)

func rawWords(t testing.TB, path string) (codes []uint16) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(b); i += 2 {
		codes = append(codes, binary.NativeEndian.Uint16(b[i:]))
	}
	return codes
}

func encodePNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// withChunk puts a chunk behind a PNG's header.
func withChunk(b []byte, kind string, data []byte) []byte {
	const header = 8 + 25
	c := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	body := append([]byte(kind), data...)
	c = append(c, body...)
	c = binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(body))
	return append(append(bytes.Clone(b[:header]), c...), b[header:]...)
}

// Colours under a transparent alpha survive, in 8 and 16 bits.
func TestPNG(t *testing.T) {
	n64 := image.NewNRGBA64(image.Rect(0, 0, 2, 1))
	n64.SetNRGBA64(0, 0, color.NRGBA64{R: 1000, G: 20000, B: 65535, A: 1})
	n64.SetNRGBA64(1, 0, color.NRGBA64{R: 7, G: 8, B: 9, A: 0})
	n8 := image.NewNRGBA(image.Rect(0, 0, 1, 1))
	n8.SetNRGBA(0, 0, color.NRGBA{R: 200, G: 100, B: 50, A: 3})
	g16 := image.NewGray16(image.Rect(0, 0, 1, 1))
	g16.SetGray16(0, 0, color.Gray16{Y: 12345})
	pal := image.NewPaletted(image.Rect(0, 0, 1, 1), color.Palette{color.NRGBA{R: 9, G: 8, B: 7, A: 2}})
	for _, c := range []struct {
		name           string
		img            image.Image
		bits, channels int
		note           string
		want           []uint16
	}{
		{"16 bits with alpha", n64, 16, 3, "alpha", []uint16{1000, 20000, 65535, 7, 8, 9}},
		{"8 bits with alpha", n8, 8, 3, "alpha", []uint16{200, 100, 50}},
		{"16-bit grey", g16, 16, 1, "", []uint16{12345, 12345, 12345}},
		{"palette", pal, 8, 3, "palette", []uint16{9, 8, 7}},
	} {
		p := held(t, saved(t, "a.png", encodePNG(t, c.img)))
		if h := p.Header; h.Format != "PNG" || h.Bits != c.bits || h.Channels != c.channels || !strings.Contains(strings.Join(h.Notes, " "), c.note) {
			t.Errorf("%s: %+v", c.name, h)
		}
		sameCodes(t, c.name, p.Pix, c.want)
	}
}

func TestPNGColour(t *testing.T) {
	plain := encodePNG(t, image.NewRGBA(image.Rect(0, 0, 3, 2)))
	get := func(b []byte) Info {
		src, err := Open(saved(t, "a.png", b), DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		return src.Info()
	}
	if i := get(plain); i.ICC != nil {
		t.Error("a profile came from nowhere")
	}
	if s, note := colour.Of(get(withChunk(plain, "sRGB", []byte{0})).ICC, 3, 255); s.Assumed() || note != "" {
		t.Error("an sRGB chunk does not count as sRGB")
	}
	if i := get(withChunk(plain, "gAMA", []byte{0, 0, 177, 143})); i.ICC != nil || !strings.Contains(strings.Join(i.Notes, " "), "gAMA") {
		t.Errorf("gAMA: %+v", i.Notes)
	}
	if i := get(withChunk(plain, "cICP", []byte{9, 16, 0, 1})); i.ICC != nil || !strings.Contains(strings.Join(i.Notes, " "), "cICP") {
		t.Errorf("cICP: %+v", i.Notes)
	}
	bomb := append([]byte("x\x00\x00"), bytes.Repeat([]byte{0}, 100)...)
	if i := get(withChunk(plain, "iCCP", bomb)); i.ICC != nil || !strings.Contains(strings.Join(i.Notes, " "), "damaged") {
		t.Errorf("damaged profile: %+v", i.Notes)
	}
}

// iCCP as libvips writes it.
func TestPNGProfileByVips(t *testing.T) {
	dir := t.TempDir()
	icc, in, out := filepath.Join(dir, "p.icc"), saved(t, "in.png", encodePNG(t, image.NewRGBA(image.Rect(0, 0, 3, 2)))), filepath.Join(dir, "o.png")
	if err := os.WriteFile(icc, colour.SRGBProfile(), 0o600); err != nil {
		t.Fatal(err)
	}
	tool(t, "vips", "copy", in, out+"[profile="+icc+"]")
	src, err := Open(out, DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(src.Info().ICC, colour.SRGBProfile()) {
		t.Error("the profile is not what vips was given")
	}
	lim := DefaultBounds
	lim.MaxProfile = 100
	var limit *BoundsError
	if _, err := Open(out, lim); !errors.As(err, &limit) {
		t.Errorf("a profile over the limit gave %v", err)
	}
}

func encodeJPEG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// app puts an application segment behind a JPEG's first marker.
func app(b []byte, marker byte, data []byte) []byte {
	s := binary.BigEndian.AppendUint16([]byte{0xFF, marker}, uint16(len(data)+2))
	return append(append(bytes.Clone(b[:2]), append(s, data...)...), b[2:]...)
}

func TestJPEG(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 40, 24))
	for y := range 24 {
		for x := range 40 {
			img.Set(x, y, color.RGBA{R: uint8(6 * x), G: uint8(10 * y), B: 90, A: 255})
		}
	}
	plain := encodeJPEG(t, img)
	exif := buildTIFF(binary.BigEndian, map[uint16]any{tagOrientation: []uint16{6}})
	profile := bytes.Repeat([]byte("0123456789"), 30)
	b := app(plain, 0xE1, append([]byte("Exif\x00\x00"), exif...))
	b = app(b, 0xE2, append([]byte("ICC_PROFILE\x00\x02\x02"), profile[200:]...)) // the later piece first
	b = app(b, 0xE2, append([]byte("ICC_PROFILE\x00\x01\x02"), profile[:200]...))
	p := held(t, saved(t, "a.jpg", b))
	h := p.Header
	if h.Format != "JPEG" || h.Width != 24 || h.Height != 40 || h.Orientation != 6 || h.Bits != 8 || h.Channels != 3 {
		t.Errorf("%+v", h)
	}
	if !bytes.Equal(h.ICC, profile) {
		t.Errorf("profile of %d bytes", len(h.ICC))
	}
	want, err := jpeg.Decode(bytes.NewReader(plain))
	if err != nil {
		t.Fatal(err)
	}
	for y := range h.Height {
		for x := range h.Width {
			fx, fy := place(6, 40, 24, x, y)
			r, g, bl, _ := want.At(fx, fy).RGBA()
			got := p.Pix[3*(y*h.Width+x):]
			if got[0] != uint16(r>>8) || got[1] != uint16(g>>8) || got[2] != uint16(bl>>8) {
				t.Fatalf("pixel %d,%d is %v", x, y, got[:3])
			}
		}
	}
	grey := held(t, saved(t, "g.jpg", encodeJPEG(t, image.NewGray(image.Rect(0, 0, 9, 9)))))
	if grey.Header.Channels != 1 || grey.Pix[0] != grey.Pix[2] {
		t.Errorf("grey: %+v", grey.Header)
	}
	// Four components, twelve bits, lossless: refused by name.
	sof := bytes.Index(plain, []byte{0xFF, 0xC0})
	change := func(at int, v byte) []byte { c := bytes.Clone(plain); c[sof+at] = v; return c }
	for feature, c := range map[string][]byte{"12 bits": change(4, 12), "lossless": change(1, 0xC3), "arithmetic": change(1, 0xC9), "only at its end": func() []byte { c := change(5, 0); c[sof+6] = 0; return c }()} {
		var u *UnsupportedError
		if _, err := Open(saved(t, "a.jpg", c), DefaultBounds); !errors.As(err, &u) || !strings.Contains(u.Feature, feature) {
			t.Errorf("%s: %v", feature, err)
		}
	}
	big := change(5, 0xFF)
	big[sof+7] = 0x80
	var format *FormatError
	if _, err := Open(saved(t, "a.jpg", big), DefaultBounds); !errors.As(err, &format) || !strings.Contains(err.Error(), "promises") {
		t.Errorf("a header that promises two gigapixels: %v", err)
	}
}

// PNG and JPEG that are cut anywhere are refused, or say that rows are missing.
func TestCutWholeFormats(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 30, 20))
	for i := range img.Pix {
		img.Pix[i] = uint8(i * i >> 3)
	}
	for name, b := range map[string][]byte{"a.png": encodePNG(t, img), "a.jpg": encodeJPEG(t, img)} {
		ends := map[string]int{}
		path := saved(t, name, nil)
		for n := range b {
			if err := os.WriteFile(path, b[:n], 0o600); err != nil {
				t.Fatal(err)
			}
			kind, err := readAll(path, DefaultBounds)
			ends[kind]++
			switch kind {
			case "broken", "truncated":
				sentence(t, err, name)
			case "read": // the last bytes are not of the picture: checksums, the end marker
				if n < len(b)-20 {
					t.Errorf("%s cut at %d of %d was read whole", name, n, len(b))
				}
			default:
				t.Errorf("%s cut at %d: %v", name, n, err)
			}
		}
		if ends["truncated"] == 0 || ends["broken"] == 0 {
			t.Errorf("%s: %v", name, ends)
		}
	}
}

func TestExpand(t *testing.T) {
	dir := t.TempDir()
	tiff := []byte("II*\x00 and so on")
	for name, b := range map[string][]byte{
		"f10.tif": tiff, "f2.TIFF": tiff, "f1.png": []byte("\x89PNG\r\n\x1a\n"), "F3.jpeg": []byte("\xff\xd8\xff\xe0"), "f02b.jpg": []byte("\xff\xd8\xff\xe0"),
		"liar.tif": []byte("text"), "notes.txt": []byte("text"), "empty.png": nil, ".hidden.tif": tiff,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.MkdirAll(filepath.Join(dir, "deeper.tif"), 0o700); err != nil {
		t.Fatal(err)
	}
	loose := saved(t, "loose.bin", nil)
	files, skipped, err := Expand([]string{loose, dir})
	if err != nil {
		t.Fatal(err)
	}
	base := func(paths []string) (s []string) {
		for _, p := range paths {
			s = append(s, filepath.Base(p))
		}
		return s
	}
	if got := strings.Join(base(files), " "); got != "loose.bin f1.png f2.TIFF f02b.jpg F3.jpeg f10.tif" {
		t.Errorf("files: %s", got)
	}
	if got := strings.Join(base(skipped), " "); got != "deeper.tif empty.png liar.tif notes.txt" {
		t.Errorf("skipped: %s", got)
	}
	_, _, err = Expand([]string{filepath.Join(dir, "absent.tif")})
	if !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("an absent file gave %v", err)
	}
	sentence(t, err, "absent.tif")
}

// FuzzOpen: any bytes give a known error, or as many rows as promised.
func FuzzOpen(f *testing.F) {
	data, _ := words(binary.LittleEndian, 3*4*3)
	for _, changes := range []map[uint16]any{nil, {tagCompression: []uint16{5}}, {tagCompression: []uint16{8}}, {tagCompression: []uint16{32773}}, {tagOrientation: []uint16{7}},
		{tagPlanarConfig: []uint16{2}}, {tagTileWidth: []uint16{16}, tagTileLength: []uint16{16}}} {
		f.Add(buildTIFF(binary.LittleEndian, with(rgb16(4, 3), changes), data))
	}
	f.Add(buildTIFF(binary.BigEndian, rgb16(4, 3), data))
	for _, changes := range []map[uint16]any{
		{tagBitsPerSample: []uint16{32, 32, 32}, tagSampleFormat: []uint16{3, 3, 3}, tagCompression: []uint16{8}, tagPredictor: []uint16{3}},
		{tagBitsPerSample: []uint16{12, 12, 12}}, {tagBitsPerSample: []uint16{1}, tagSamplesPerPixel: []uint16{1}, tagPhotometric: []uint16{0}},
		{tagRowsPerStrip: []uint32{1}, tagPlanarConfig: []uint16{2}, tagOrientation: []uint16{3}}, {tagDescription: []byte("a scan"), tagSubIFDs: []uint32{8}},
	} {
		f.Add(buildTIFF(binary.BigEndian, with(rgb16(4, 3), changes), cut(data, 8)...))
	}
	f.Add(encodePNG(f, image.NewNRGBA64(image.Rect(0, 0, 5, 4))))
	f.Add(encodeJPEG(f, image.NewRGBA(image.Rect(0, 0, 5, 4))))
	dir := f.TempDir()
	lim := Bounds{MaxSide: 2000, MaxPixels: 200_000, MaxProfile: 1 << 16, MaxMemory: 64 << 20}
	f.Fuzz(func(t *testing.T, b []byte) {
		path := filepath.Join(dir, "f")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		kind, err := readAll(path, lim)
		if kind == "other" {
			t.Fatal(err)
		}
		if err != nil {
			sentence(t, err, "f")
		}
		agree(t, path, lim)
	})
}

// agree holds the ways to read a file against each other: in order, in any order
// with one worker and with three, and by regions.
func agree(t testing.TB, path string, lim Bounds) {
	t.Helper()
	src, err := Open(path, lim)
	if err != nil {
		return
	}
	ctx := context.Background()
	info := src.Info()
	var inOrder []uint16
	err = src.Stream(ctx, func(_ int, rows []uint16) error { inOrder = append(inOrder, rows...); return nil })
	var short *TruncatedError
	if err != nil && !errors.As(err, &short) {
		t.Fatal(err)
	}
	p, err2 := Hold(ctx, src)
	if (err == nil) != (err2 == nil) || err != nil && err.Error() != err2.Error() {
		t.Fatalf("in order: %v; held: %v", err, err2)
	}
	sameCodes(t, "held", p.Pix, inOrder)
	whole := len(inOrder) / (3 * info.Width)
	w, h, o := src.(Sweeper).Stored()
	if o > 2 && err != nil {
		return
	}
	for _, workers := range []int{1, 3} {
		got := make([]uint16, 3*w*h)
		sweepErr := src.(Sweeper).Sweep(ctx, SweepOptions{Workers: workers, Align: 3}, func() func(Block) error {
			return func(b Block) error { copy(got[3*w*b.Y:], b.Rows); return nil }
		})
		if (err == nil) != (sweepErr == nil) || err != nil && err.Error() != sweepErr.Error() {
			t.Fatalf("in order: %v; swept by %d: %v", err, workers, sweepErr)
		}
		for y := range whole {
			for x := range info.Width {
				fx, fy := place(o, w, h, x, y)
				for c := range 3 {
					if g, want := got[3*(fy*w+fx)+c], inOrder[3*(y*info.Width+x)+c]; g != want {
						t.Fatalf("swept by %d: %d at %d, %d is %d, want %d", workers, c, x, y, g, want)
					}
				}
			}
		}
	}
	held := &Pixels{Header: info, Pix: inOrder}
	for _, r := range []image.Rectangle{image.Rect(0, 0, info.Width, whole), image.Rect(info.Width/3, whole/3, info.Width/2+1, whole/2+1), image.Rect(info.Width-1, whole-1, info.Width, whole)} {
		if r = r.Intersect(image.Rect(0, 0, info.Width, whole)); r.Empty() {
			continue
		}
		want, _ := held.Region(ctx, r)
		got, err := src.Region(ctx, r)
		if err != nil {
			t.Fatalf("region %v of %d whole rows: %v", r, whole, err)
		}
		sameCodes(t, "region", got, want)
	}
}

// A 49-megapixel scan, 294 MB, in strips of 16 rows as scanners write it.
func BenchmarkStream(b *testing.B) {
	const side = 7000
	strip, _ := words(binary.LittleEndian, 3*side*16)
	for name, order := range map[string]binary.AppendByteOrder{"little": binary.LittleEndian, "big": binary.BigEndian} {
		b.Run(name, func(b *testing.B) {
			n := (side + 15) / 16
			offsets, counts := make([]uint32, n), make([]uint32, n)
			tags := with(rgb16(side, side), map[uint16]any{tagRowsPerStrip: []uint32{16}, tagStripOffsets: offsets, tagStripByteCounts: counts})
			start := uint32(len(buildTIFF(order, tags)))
			for i := range offsets {
				counts[i] = uint32(min(16, side-16*i) * 6 * side)
				offsets[i] = start + uint32(i)*uint32(len(strip))
			}
			path := filepath.Join(b.TempDir(), "big.tif")
			f, err := os.Create(path)
			if err != nil {
				b.Fatal(err)
			}
			f.Write(buildTIFF(order, tags))
			for i := range offsets {
				if _, err := f.Write(strip[:counts[i]]); err != nil {
					b.Fatal(err)
				}
			}
			f.Close()
			src, err := Open(path, DefaultBounds)
			if err != nil {
				b.Fatal(err)
			}
			b.SetBytes(6 * side * side)
			b.ReportAllocs()
			for b.Loop() {
				var sum uint64
				if err := src.Stream(context.Background(), func(_ int, rows []uint16) error { sum += uint64(rows[0]); return nil }); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
