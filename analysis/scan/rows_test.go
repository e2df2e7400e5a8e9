package scan

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"
)

func pngChunk(kind string, data []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	b = append(append(b, kind...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// rawPNG is a PNG of rows as they are given, filter byte and all.
func rawPNG(t testing.TB, w, h int, depth, kind, interlace byte, palette, rows []byte) []byte {
	t.Helper()
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(w)), uint32(h))
	b := append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", append(head, depth, kind, 0, 0, interlace))...)
	if palette != nil {
		b = append(b, pngChunk("PLTE", palette)...)
	}
	packed := deflated(t, rows)
	for len(packed) > 100 {
		b = append(b, pngChunk("IDAT", packed[:100])...)
		packed = packed[100:]
	}
	return append(append(b, pngChunk("IDAT", packed)...), pngChunk("IEND", nil)...)
}

// codesOfImage are the codes of a whole picture as image/png gives it.
func codesOfImage(img image.Image) (codes []uint16) {
	b := img.Bounds()
	codes = make([]uint16, 3*b.Dx()*b.Dy())
	for y := range b.Dy() {
		codesOf(codes[3*b.Dx()*y:3*b.Dx()*(y+1)], img, y)
	}
	return codes
}

// PNGs of every kind and depth, under all five filters, against image/png.
func TestPNGRows(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	palette := make([]byte, 3*11)
	for i := range palette {
		palette[i] = byte(rnd.Uint32())
	}
	for kind, depths := range map[byte][]byte{0: {1, 2, 4, 8, 16}, 2: {8, 16}, 3: {1, 2, 4, 8}, 4: {8, 16}, 6: {8, 16}} {
		for _, depth := range depths {
			const w, h = 37, 90
			samples := map[byte]int{0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[kind]
			var rows []byte
			for range h {
				rows = append(rows, byte(rnd.IntN(5)))
				for range (w*samples*int(depth) + 7) / 8 {
					rows = append(rows, byte(rnd.Uint32()))
				}
			}
			b := rawPNG(t, w, h, depth, kind, 0, map[bool][]byte{true: palette[:3*min(11, 1<<depth)]}[kind == 3], rows)
			want, err := png.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			path := saved(t, "a.png", b)
			sameCodes(t, "PNG", held(t, path).Pix, codesOfImage(want))
			agree(t, path, DefaultBounds)
		}
	}
}

// Interlaced PNGs as image/png reads them.
func TestPNGInterlaced(t *testing.T) {
	img := image.NewRGBA64(image.Rect(0, 0, 90, 70))
	for i := range img.Pix {
		img.Pix[i] = byte(i * i >> 5)
	}
	dir := t.TempDir()
	in, out := saved(t, "in.png", encodePNG(t, img)), dir+"/out.png"
	tool(t, "vips", "copy", in, out+"[interlace]")
	b, err := os.ReadFile(out)
	if err != nil || b[28] != 1 {
		t.Fatalf("not interlaced: %v", err)
	}
	sameCodes(t, "interlaced", held(t, out).Pix, held(t, in).Pix)
	lim := DefaultBounds
	lim.MaxMemory = 50_000
	var limit *BoundsError
	if _, err := Open(out, lim); !errors.As(err, &limit) || !strings.Contains(err.Error(), "memory") {
		t.Errorf("%v", err)
	}
}

// A PNG that is cut gives the rows before the cut; one that is damaged those before
// the chunk that does not fit its checksum.
func TestPNGCutAndDamaged(t *testing.T) {
	const w, h = 60, 80
	img := image.NewNRGBA64(image.Rect(0, 0, w, h))
	rnd := rand.New(rand.NewPCG(5, 6))
	for i := range img.Pix {
		img.Pix[i] = byte(rnd.Uint32())
	}
	for i := 6; i < len(img.Pix); i += 8 { // opaque, so that it is written as RGB
		img.Pix[i], img.Pix[i+1] = 255, 255
	}
	b := encodePNG(t, img)
	codes := codesOfImage(img)
	most := 0
	for i := range 40 {
		n := len(b) * (i + 1) / 41
		src, err := Open(saved(t, "a.png", b[:n]), DefaultBounds)
		if err != nil {
			continue // within the header
		}
		p, err := Hold(context.Background(), src)
		var short *TruncatedError
		if !errors.As(err, &short) || short.Damaged {
			t.Fatalf("cut at %d of %d: %v", n, len(b), err)
		}
		if want := (n - 200) * h / len(b); short.RowsRead < want-6 {
			t.Errorf("cut at %d of %d: %d of %d rows", n, len(b), short.RowsRead, h)
		}
		most = max(most, short.RowsRead)
		sameCodes(t, "before the cut", p.Pix, codes[:3*w*short.RowsRead])
	}
	if most < h/2 {
		t.Errorf("at most %d rows", most)
	}
	packed := rawPNG(t, w, h, 16, 6, 0, nil, func() (rows []byte) {
		for y := range h {
			rows = append(append(rows, 0), img.Pix[8*w*y:8*w*(y+1)]...)
		}
		return rows
	}())
	hurt := bytes.Clone(packed)
	hurt[len(hurt)/2] ^= 16
	p, err := func() (*Pixels, error) {
		src, err := Open(saved(t, "a.png", hurt), DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		return Hold(context.Background(), src)
	}()
	var short *TruncatedError
	if !errors.As(err, &short) || !short.Damaged || short.RowsRead < h/2-4 || short.RowsRead > h/2 {
		t.Fatalf("damaged in the middle: %v", err)
	}
	sameCodes(t, "before the damage", p.Pix, codes[:3*w*short.RowsRead])
}

// A JPEG that is cut gives the rows that are whole, as image/jpeg decodes them of the
// whole file.
func TestJPEGCut(t *testing.T) {
	const w, h = 150, 211
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	rnd := rand.New(rand.NewPCG(7, 8))
	for i := range w * h {
		img.SetRGBA(i%w, i/w, color.RGBA{R: byte(i), G: byte(i / w), B: byte(rnd.Uint32()), A: 255})
	}
	b := encodeJPEG(t, img)
	want, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	codes := codesOfImage(want)
	start := bytes.Index(b, []byte{0xFF, 0xDA})
	for i := range 30 {
		n := start + 40 + (len(b)-start-60)*i/29
		p, err := func() (*Pixels, error) {
			src, err := Open(saved(t, "a.jpg", append(b[:n:n], make([]byte, i%2*9000)...)), DefaultBounds)
			if err != nil {
				t.Fatal(err)
			}
			return Hold(context.Background(), src)
		}()
		var short *TruncatedError
		if !errors.As(err, &short) {
			t.Fatalf("cut at %d of %d: %v", n, len(b), err)
		}
		if share := (n - start) * h / (len(b) - start); short.RowsRead < share-40 || short.RowsRead > share+16 {
			t.Errorf("cut at %d of %d: %d of %d rows", n, len(b), short.RowsRead, h)
		}
		sameCodes(t, "before the cut", p.Pix, codes[:3*w*short.RowsRead])
	}
	if p := held(t, saved(t, "a.jpg", b[:len(b)-2])); len(p.Pix) != len(codes) {
		t.Error("a picture that lacks nothing but its end marker was not read whole")
	}
}

// passStarts returns where the passes of a JPEG begin, and its end.
func passStarts(b []byte) (at []int) {
	for i := 2; i+1 < len(b); i++ {
		if b[i] == 0xFF && (b[i+1] == 0xDA || b[i+1] == 0xD9) {
			at = append(at, i)
		}
	}
	return at
}

// A progressive JPEG has its picture in passes of ever finer detail. Where the last pass
// is cut, the rows above the cut are whole, as the decoder has them of the whole file;
// where another is, all rows lack detail, nothing is delivered, and the error says so.
func TestProgressiveJPEGCut(t *testing.T) {
	const w, h = 150, 211
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	rnd := rand.New(rand.NewPCG(9, 10))
	for i := range w * h {
		img.SetRGBA(i%w, i/w, color.RGBA{R: byte(i), G: byte(i / w), B: byte(rnd.Uint32()), A: 255})
	}
	dir := t.TempDir()
	in := saved(t, "in.jpg", encodeJPEG(t, img))
	for k, how := range []string{"[interlace]", "[interlace,subsample-mode=off]", "[interlace,optimize-scans]"} {
		out := fmt.Sprintf("%s/out%d.jpg", dir, k)
		tool(t, "vips", "copy", in, out+how)
		b, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		want, err := jpeg.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		codes, starts := codesOfImage(want), passStarts(b)
		last, end := starts[len(starts)-2], starts[len(starts)-1]
		if len(starts) < 6 {
			t.Fatalf("%s: %d passes only", how, len(starts)-1)
		}
		read := func(n int) (*Pixels, error) {
			src, err := Open(saved(t, "p.jpg", b[:n:n]), DefaultBounds)
			if err != nil {
				t.Fatal(err)
			}
			return Hold(context.Background(), src)
		}
		var short *TruncatedError
		for i := range 12 {
			n := last + 60 + (end-last-120)*i/11
			p, err := read(n)
			if !errors.As(err, &short) || short.Coarse {
				t.Fatalf("%s: the last pass cut at %d of %d: %v", how, n-last, end-last, err)
			}
			if share := (n - last) * h / (end - last); short.RowsRead < share-60 || short.RowsRead > share+32 || i > 8 && short.RowsRead == 0 {
				t.Errorf("%s: the last pass cut at %d of %d: %d of %d rows", how, n-last, end-last, short.RowsRead, h)
			}
			if short.RowsRead > 0 {
				sameCodes(t, "before the cut", p.Pix, codes[:3*w*short.RowsRead])
			}
		}
		for i := 1; i < len(starts)-1; i++ { // in each pass but the last, and where one ends
			for _, n := range []int{starts[i], (starts[i-1] + starts[i]) / 2} {
				_, err := read(n)
				if !errors.As(err, &short) || short.RowsRead != 0 || !short.Coarse || !strings.Contains(err.Error(), "coarse everywhere") {
					t.Errorf("%s: cut at %d of %d, in pass %d of %d: %v", how, n, len(b), i, len(starts)-1, err)
				}
			}
		}
		if p, err := read(end); err != nil || len(p.Pix) != len(codes) {
			t.Errorf("%s: a picture that lacks nothing but its end marker was not read whole: %v", how, err)
		}
		held(t, out)
	}
}

// A JPEG that goes over its picture thousands of times is refused before it is
// decoded.
func TestJPEGScans(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 300, 200))
	in, dir := saved(t, "in.jpg", encodeJPEG(t, img)), t.TempDir()
	tool(t, "vips", "copy", in, dir+"/p.jpg[interlace]")
	b, err := os.ReadFile(dir + "/p.jpg")
	if err != nil {
		t.Fatal(err)
	}
	last := bytes.LastIndex(b, []byte{0xFF, 0xDA})
	scan := b[last : len(b)-2]
	b = append(b[:len(b)-2:len(b)-2], append(bytes.Repeat(scan, 5000), 0xFF, 0xD9)...)
	src, err := Open(saved(t, "a.jpg", b), DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	var limit *BoundsError
	if _, err := Hold(context.Background(), src); !errors.As(err, &limit) || !strings.Contains(err.Error(), "more than 100 times") {
		t.Errorf("%v", err)
	} else {
		sentence(t, err, "a.jpg")
	}
	if d := time.Since(start); d > 10*time.Second {
		t.Errorf("it took %v", d)
	}
}

// A decoder that panics, or never ends, costs its own scan alone, and no longer than
// the scan's size allows.
func TestRunaway(t *testing.T) {
	path := saved(t, "a.jpg", []byte("anything"))
	s := newSource(Info{Path: path, Width: 8, Height: 8, Orientation: 1}, &wholeRaster{path: path, w: 8, h: 8, limit: 20 * time.Millisecond,
		decode: func(io.Reader) (image.Image, error) { select {} }})
	var limit *BoundsError
	if err := s.Stream(context.Background(), func(int, []uint16) error { return nil }); !errors.As(err, &limit) || !strings.Contains(err.Error(), "longer than the 20ms allowed") {
		t.Errorf("past its time: %v", err)
	} else {
		sentence(t, err, "a.jpg")
	}
	if d := decodeTime(6000, 4000, 20<<20); d < time.Minute || d > 3*time.Minute {
		t.Errorf("24 megapixels may take %v", d)
	}
	for name, decode := range map[string]func(io.Reader) (image.Image, error){
		"panics":    func(io.Reader) (image.Image, error) { panic("a fault of the decoder") },
		"runs away": func(r io.Reader) (image.Image, error) { select {} },
	} {
		ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
		defer cancel()
		s := newSource(Info{Path: path, Width: 8, Height: 8, Orientation: 1}, &wholeRaster{path: path, w: 8, h: 8, decode: decode})
		err := s.Stream(ctx, func(int, []uint16) error { return nil })
		var short *TruncatedError
		if name == "panics" && !errors.As(err, &short) || name == "runs away" && !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// FuzzPNG: rows of any bytes give what image/png makes of them, whole and cut.
func FuzzPNG(f *testing.F) {
	f.Add([]byte("\x00abcdefgh\x01abcdefgh\x04abcdefgh"), byte(8), byte(2), uint16(0))
	f.Add([]byte("\x02abcdefgh\x03abcdefgh\x04abcdefgh"), byte(16), byte(6), uint16(70))
	f.Add([]byte("\x02ab\x03cd\x04ef"), byte(1), byte(3), uint16(0))
	f.Fuzz(func(t *testing.T, rows []byte, depth, kind byte, cutAt uint16) {
		samples := map[byte]int{0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[kind]
		if samples == 0 || depth == 0 || depth > 16 || len(rows) > 4096 {
			return
		}
		w := max(1, min(40, len(rows)*8/int(depth)/samples/3))
		row := 1 + (w*samples*int(depth)+7)/8
		h := max(1, len(rows)/row)
		b := rawPNG(t, w, h, depth, kind, 0, map[bool][]byte{true: []byte("\x01\x02\x03\x80\x81\x82")}[kind == 3], rows)
		if cutAt > 0 {
			b = b[:min(len(b), int(cutAt))]
		}
		path := saved(t, "a.png", b)
		want, wantErr := png.Decode(bytes.NewReader(b))
		src, err := Open(path, DefaultBounds)
		if err != nil {
			if wantErr == nil {
				t.Fatalf("image/png reads it; here: %v", err)
			}
			return
		}
		p, err := Hold(context.Background(), src)
		if wantErr == nil {
			if err != nil {
				t.Fatalf("image/png reads it; here: %v", err)
			}
			sameCodes(t, "PNG", p.Pix, codesOfImage(want))
		}
	})
}

// FuzzJPEG: any bytes end in a picture or an error, soon and in little memory.
func FuzzJPEG(f *testing.F) {
	img := image.NewRGBA(image.Rect(0, 0, 20, 40))
	for i := range img.Pix {
		img.Pix[i] = byte(i * 7)
	}
	b := encodeJPEG(f, img)
	f.Add(b)
	f.Add(b[:len(b)-40])
	lim := Bounds{MaxSide: 2000, MaxPixels: 200_000, MaxProfile: 1 << 16, MaxMemory: 8 << 20}
	f.Fuzz(func(t *testing.T, b []byte) {
		kind, err := readAll(saved(t, "a.jpg", b), lim)
		if kind == "other" {
			t.Fatal(err)
		}
	})
}
