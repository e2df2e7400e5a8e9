package scan

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
)

func held(t testing.TB, path string) *Pixels {
	t.Helper()
	src, err := Open(path, DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	p, err := Hold(context.Background(), src)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func sameCodes(t testing.TB, what string, got, want []uint16) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d codes, want %d", what, len(got), len(want))
		return
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%s: code %d is %d, want %d", what, i, got[i], want[i])
			return
		}
	}
}

// tool runs a Debian tool, or skips aloud.
func tool(t testing.TB, name string, args ...string) {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Skipf("SKIPPED: %s is not installed; its files were not compared", name)
	}
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

// Code values survive every encoding that libtiff's tiffcp writes: the pixels
// are ours and known, the encoder is not.
func TestTiffcpEncodings(t *testing.T) {
	const w, h = 131, 77 // partial tiles on both sides
	for _, c := range []struct {
		name string
		bits int
	}{{"16 bits", 16}, {"8 bits", 8}} {
		data, codes := words(binary.LittleEndian, 3*w*h)
		tags := rgb16(w, h)
		if c.bits == 8 {
			tags[tagBitsPerSample] = []uint16{8, 8, 8}
			data = data[:3*w*h]
			for i, b := range data {
				codes[i] = uint16(b)
			}
		}
		in := saved(t, "in.tif", buildTIFF(binary.LittleEndian, tags, data))
		sameCodes(t, c.name+" as built", held(t, in).Pix, codes)
		for _, args := range [][]string{
			{"-c", "none"}, {"-c", "none", "-r", "16"}, {"-c", "none", "-B"}, {"-c", "lzw"}, {"-c", "lzw:2"}, {"-c", "lzw:2", "-B", "-r", "10"},
			{"-c", "zip"}, {"-c", "zip:2", "-r", "7"}, {"-c", "packbits"}, {"-c", "zip:2", "-B"},
			{"-c", "none", "-t", "-w", "48", "-l", "32"}, {"-c", "lzw:2", "-t", "-w", "64", "-l", "16"}, {"-c", "zip:2", "-t", "-w", "256", "-l", "256"},
			{"-c", "packbits", "-t", "-w", "48", "-l", "80", "-B"},
			{"-c", "none", "-p", "separate"}, {"-c", "lzw:2", "-p", "separate", "-r", "20"}, {"-c", "zip:2", "-p", "separate", "-t", "-w", "48", "-l", "32", "-B"},
		} {
			if c.bits == 16 && slices.Contains(args, "separate") {
				continue // tiffcp cannot; TestPlanar and the conformance files do
			}
			out := filepath.Join(t.TempDir(), "out.tif")
			tool(t, "tiffcp", append(slices.Clone(args), in, out)...)
			what := c.name + " " + strings.Join(args, " ")
			p := held(t, out)
			sameCodes(t, what, p.Pix, codes)
			// A region that cuts tiles and strips.
			src, _ := Open(out, DefaultBounds)
			r := image.Rect(40, 30, 120, 70)
			got, err := src.Region(context.Background(), r)
			if err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			want, _ := p.Region(context.Background(), r)
			sameCodes(t, what+" region", got, want)
		}
	}
}

// Planes after each other, 16 bits, in strips of two rows.
func TestPlanar(t *testing.T) {
	const w, h = 5, 7
	for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
		_, codes := words(order, 3*w*h)
		var chunks [][]byte
		for c := range 3 {
			var plane []byte
			for i := range w * h {
				plane = order.AppendUint16(plane, codes[3*i+c])
			}
			chunks = append(chunks, cut(plane, 2*2*w)...)
		}
		b := buildTIFF(order, with(rgb16(w, h), map[uint16]any{tagPlanarConfig: []uint16{2}, tagRowsPerStrip: []uint32{2}}), chunks...)
		sameCodes(t, "planar", held(t, saved(t, "a.tif", b)).Pix, codes)
	}
}

// The same with libvips as the writer, and libvips's own reading as the truth.
func TestVipsEncodings(t *testing.T) {
	const w, h = 131, 77
	data, codes := words(binary.LittleEndian, 3*w*h)
	in := saved(t, "in.tif", buildTIFF(binary.LittleEndian, rgb16(w, h), data))
	for _, options := range []string{
		"", "compression=lzw,predictor=horizontal", "compression=deflate,predictor=horizontal", "compression=packbits", "tile,tile-width=64,tile-height=32",
		"compression=lzw,tile,tile-width=128,tile-height=128", "compression=deflate,predictor=none,tile,tile-width=16,tile-height=16",
	} {
		dir := t.TempDir()
		out, raw := filepath.Join(dir, "out.tif"), filepath.Join(dir, "out.raw")
		tool(t, "vips", "copy", in, out+"["+options+"]")
		tool(t, "vips", "rawsave", out, raw)
		sameCodes(t, "vips "+options, held(t, out).Pix, codes)
		sameCodes(t, "vips's reading of "+options, rawWords(t, raw), codes)
	}
}

// Orientation by libvips (vips autorot) on files of every orientation.
func TestOrientation(t *testing.T) {
	const w, h = 37, 70 // more than one band
	data, codes := words(binary.LittleEndian, 3*w*h)
	for o := uint16(1); o <= 8; o++ {
		in := saved(t, "in.tif", buildTIFF(binary.LittleEndian, with(rgb16(w, h), map[uint16]any{tagOrientation: []uint16{o}, tagRowsPerStrip: []uint32{9}}), cut(data, 9*6*w)...))
		src, err := Open(in, DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		info := src.Info()
		if o >= 5 && (info.Width != h || info.Height != w) || o < 5 && (info.Width != w || info.Height != h) {
			t.Errorf("orientation %d: %d x %d", o, info.Width, info.Height)
		}
		p := held(t, in)
		var want []uint16
		for y := range info.Height {
			for x := range info.Width {
				fx, fy := place(int(o), w, h, x, y)
				want = append(want, codes[3*(fy*w+fx):3*(fy*w+fx)+3]...)
			}
		}
		sameCodes(t, fmt.Sprintf("orientation %d", o), p.Pix, want)
		r := image.Rect(3, 5, 30, 33)
		got, err := src.Region(context.Background(), r)
		if err != nil {
			t.Fatal(err)
		}
		part, _ := p.Region(context.Background(), r)
		sameCodes(t, fmt.Sprintf("region at orientation %d", o), got, part)

		dir := t.TempDir()
		upright, raw := filepath.Join(dir, "u.v"), filepath.Join(dir, "u.raw")
		tool(t, "vips", "autorot", in, upright)
		tool(t, "vips", "rawsave", upright, raw)
		sameCodes(t, fmt.Sprintf("orientation %d by vips", o), p.Pix, rawWords(t, raw))
	}
}

func cut(data []byte, n int) (parts [][]byte) {
	for len(data) > n {
		parts, data = append(parts, data[:n]), data[n:]
	}
	return append(parts, data)
}

// Channels beyond the colours, grey of both polarities, palettes.
func TestKinds(t *testing.T) {
	le := binary.LittleEndian
	grey := map[uint16]any{tagImageWidth: []uint32{4}, tagImageLength: []uint32{1}, tagBitsPerSample: []uint16{8}, tagPhotometric: []uint16{1}}
	palette := make([]uint16, 768)
	for i := range palette {
		palette[i] = uint16(i % 256 * 257)
	}
	for _, c := range []struct {
		name     string
		b        []byte
		channels int
		note     string
		want     []uint16
	}{
		{"grey", buildTIFF(le, grey, []byte{0, 1, 128, 255}), 1, "", []uint16{0, 0, 0, 1, 1, 1, 128, 128, 128, 255, 255, 255}},
		{"white is zero", buildTIFF(le, with(grey, map[uint16]any{tagPhotometric: []uint16{0}}), []byte{0, 1, 128, 255}), 1, "white as zero", []uint16{255, 255, 255, 254, 254, 254, 127, 127, 127, 0, 0, 0}},
		{"white is zero, 16 bits", buildTIFF(binary.BigEndian, with(grey, map[uint16]any{tagPhotometric: []uint16{0}, tagBitsPerSample: []uint16{16}, tagImageWidth: []uint16{2}}), []byte{0, 1, 255, 0}), 1, "white as zero", []uint16{65534, 65534, 65534, 255, 255, 255}},
		{"palette", buildTIFF(le, with(grey, map[uint16]any{tagPhotometric: []uint16{3}, tagColorMap: palette}), []byte{0, 1, 128, 255}), 3, "palette", []uint16{0, 0, 0, 1, 1, 1, 128, 128, 128, 255, 255, 255}},
		{"RGBA, clear", buildTIFF(le, with(rgb16(1, 1), map[uint16]any{tagBitsPerSample: []uint16{8, 8, 8, 8}, tagSamplesPerPixel: []uint16{4}, tagExtraSamples: []uint16{2}}), []byte{10, 20, 30, 0}), 3, "The alpha channel was ignored.", []uint16{10, 20, 30}},
		{"RGB and infrared", buildTIFF(le, with(rgb16(1, 1), map[uint16]any{tagBitsPerSample: []uint16{16, 16, 16, 16}, tagSamplesPerPixel: []uint16{4}, tagExtraSamples: []uint16{0}}), []byte{10, 1, 20, 2, 30, 3, 9, 9}), 3, "infrared", []uint16{266, 532, 798}},
		{"RGB and a channel of no kind", buildTIFF(le, with(rgb16(1, 1), map[uint16]any{tagBitsPerSample: []uint16{16, 16, 16, 16}, tagSamplesPerPixel: []uint16{4}, tagExtraSamples: []uint16{240}}), []byte{10, 1, 20, 2, 30, 3, 9, 9}), 3, "may be damaged", []uint16{266, 532, 798}},
	} {
		src, err := Open(saved(t, "a.tif", c.b), DefaultBounds)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		info := src.Info()
		if info.Channels != c.channels || !strings.Contains(strings.Join(info.Notes, " "), c.note) || c.note == "" && len(info.Notes) > 0 {
			t.Errorf("%s: %d channels, notes %q", c.name, info.Channels, info.Notes)
		}
		sameCodes(t, c.name, held(t, info.Path).Pix, c.want)
	}
}

func TestProfileAndPages(t *testing.T) {
	profile := slices.Repeat([]byte("profile "), 20)
	data, _ := words(binary.LittleEndian, 12)
	b := buildTIFF(binary.LittleEndian, with(rgb16(2, 2), map[uint16]any{tagICC: profile}), data)
	src, err := Open(saved(t, "a.tif", b), DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	if string(src.Info().ICC) != string(profile) {
		t.Error("the profile is not what was written")
	}
	lim := DefaultBounds
	lim.MaxProfile = 100
	var limit *BoundsError
	if _, err := Open(src.Info().Path, lim); !errors.As(err, &limit) {
		t.Errorf("a profile over the limit gave %v", err)
	}
	// The directory names itself as the next one.
	n := int(binary.LittleEndian.Uint16(b[8:]))
	binary.LittleEndian.PutUint32(b[10+12*n:], 8)
	if p := held(t, saved(t, "loop.tif", b)); len(p.Pix) != 12 {
		t.Error("a looping chain spoilt the first picture")
	}
}

// What is sound but not read is refused by the name of the feature.
func TestUnsupported(t *testing.T) {
	data, _ := words(binary.LittleEndian, 12)
	for feature, changes := range map[string]map[uint16]any{
		"CMYK":             {tagPhotometric: []uint16{5}, tagSamplesPerPixel: []uint16{4}, tagBitsPerSample: []uint16{8, 8, 8, 8}},
		"YCbCr":            {tagPhotometric: []uint16{6}},
		"CIELAB":           {tagPhotometric: []uint16{8}, tagPlanarConfig: []uint16{2}},
		"other than cyan":  {tagPhotometric: []uint16{5}, tagSamplesPerPixel: []uint16{4}, tagBitsPerSample: []uint16{8, 8, 8, 8}, tagInkSet: []uint16{2}},
		"JPEG":             {tagCompression: []uint16{7}},
		"old-style JPEG":   {tagCompression: []uint16{6}},
		"number 1234":      {tagCompression: []uint16{1234}},
		"number 777":       {tagPhotometric: []uint16{777}},
		"Group 4":          {tagCompression: []uint16{4}},
		"64-bit floating":  {tagSampleFormat: []uint16{3, 3, 3}, tagBitsPerSample: []uint16{64, 64, 64}},
		"signed":           {tagSampleFormat: []uint16{2, 2, 2}},
		"20 bits":          {tagBitsPerSample: []uint16{20, 20, 20}},
		"different depths": {tagBitsPerSample: []uint16{16, 8, 16}},
		"FillOrder":        {tagFillOrder: []uint16{2}},
	} {
		_, err := Open(saved(t, "a.tif", buildTIFF(binary.LittleEndian, with(rgb16(2, 2), changes), data)), DefaultBounds)
		var u *UnsupportedError
		if !errors.As(err, &u) || !strings.Contains(u.Feature, feature) {
			t.Errorf("%s: %v", feature, err)
		}
	}
}

// What is broken or asks for too much is refused before memory is taken.
func TestHostile(t *testing.T) {
	le := binary.LittleEndian
	data, _ := words(le, 12)
	file := func(changes map[uint16]any) []byte { return buildTIFF(le, with(rgb16(2, 2), changes), data) }
	var format *FormatError
	var limit *BoundsError
	for _, c := range []struct {
		name string
		b    []byte
		as   any
		says string
	}{
		{"empty", nil, &format, "neither a TIFF"},
		{"text", []byte("hello, this is text"), &format, "neither a TIFF"},
		{"BigTIFF header only", []byte("II+\x00\x08\x00\x00\x00"), &format, "incomplete copy"},
		{"BigTIFF of 4 bytes", []byte("II+\x00\x04\x00\x00\x00aaaaaaaaaaaaa"), &format, "BigTIFF"},
		{"BigTIFF directory at 2^64", []byte("II+\x00\x08\x00\x00\x00\xff\xff\xff\xff\xff\xff\xff\xff"), &format, "incomplete copy"},
		{"floating-point predictor of integers", file(map[uint16]any{tagCompression: []uint16{5}, tagPredictor: []uint16{3}}), &format, "predictor"},
		{"header only", []byte("II*\x00\x08\x00\x00\x00"), &format, "incomplete copy"},
		{"directory beyond the end", []byte("II*\x00\xff\xff\xff\x7f"), &format, "incomplete copy"},
		{"directory inside the header", []byte("II*\x00\x02\x00\x00\x00aaaaaaaaaaaaaaaaa"), &format, "directory"},
		{"no directory", []byte("II*\x00\x00\x00\x00\x00"), &format, "no picture directory"},
		{"no width", file(map[uint16]any{tagImageWidth: nil}), &format, "no width"},
		{"no height", file(map[uint16]any{tagImageLength: []uint32{0}}), &format, "no height"},
		{"four billion wide", file(map[uint16]any{tagImageWidth: []uint32{1<<32 - 1}}), &limit, "longest side"},
		{"too many pixels", file(map[uint16]any{tagImageWidth: []uint32{99_999}, tagImageLength: []uint32{99_999}}), &limit, "more than"},
		{"uncompressed promise", file(map[uint16]any{tagImageWidth: []uint32{40_000}, tagImageLength: []uint32{40_000}, tagRowsPerStrip: []uint32{40_000}}), &format, "promises"},
		{"LZW promise", file(map[uint16]any{tagImageWidth: []uint32{40_000}, tagImageLength: []uint32{40_000}, tagRowsPerStrip: []uint32{40_000}, tagCompression: []uint16{5}}), &format, "promises"},
		{"Deflate promise", file(map[uint16]any{tagImageWidth: []uint32{40_000}, tagImageLength: []uint32{40_000}, tagRowsPerStrip: []uint32{40_000}, tagCompression: []uint16{8}}), &format, "promises"},
		{"PackBits promise", file(map[uint16]any{tagImageWidth: []uint32{40_000}, tagImageLength: []uint32{40_000}, tagRowsPerStrip: []uint32{40_000}, tagCompression: []uint16{32773}}), &format, "promises"},
		{"strips missing", file(map[uint16]any{tagRowsPerStrip: []uint32{1}}), &format, "strips or tiles"},
		{"no strips", file(map[uint16]any{tagStripOffsets: []uint32{}}), &format, ""},
		{"no rows per strip", file(map[uint16]any{tagRowsPerStrip: []uint32{0}}), &format, "no rows"},
		{"strip beyond the end", file(map[uint16]any{tagStripOffsets: []uint32{1 << 31}}), &format, "beyond the end"},
		{"strip of 4 GB", file(map[uint16]any{tagStripByteCounts: []uint32{1<<32 - 1}}), &format, "claims"},
		{"tiles of nothing", file(map[uint16]any{tagTileWidth: []uint32{0}, tagTileLength: []uint32{0}}), &format, "tiles"},
		{"tiles of 2^31", file(map[uint16]any{tagTileWidth: []uint32{1 << 31}, tagTileLength: []uint32{1 << 31}}), &format, "tiles"},
		{"tiles of 2^24", file(map[uint16]any{tagTileWidth: []uint32{1 << 24}, tagTileLength: []uint32{16}}), &limit, "tiles"},
		{"no colour model", file(map[uint16]any{tagPhotometric: nil}), &format, "grey or colour"},
		{"RGB of one sample", file(map[uint16]any{tagSamplesPerPixel: []uint16{1}, tagBitsPerSample: []uint16{16}}), &format, "RGB"},
		{"no samples", file(map[uint16]any{tagSamplesPerPixel: []uint16{0}}), &format, "no samples"},
		{"short palette", file(map[uint16]any{tagPhotometric: []uint16{3}, tagBitsPerSample: []uint16{8}, tagSamplesPerPixel: []uint16{1}, tagColorMap: []uint16{1, 2}}), &format, "palette"},
	} {
		_, err := Open(saved(t, c.name+".tif", c.b), DefaultBounds)
		if err == nil || !errors.As(err, c.as) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		sentence(t, err, c.name+".tif")
	}
}

// sentence checks the form of a message: one line, the file's name without its
// folder, a full stop.
func sentence(t testing.TB, err error, base string) {
	t.Helper()
	text := err.Error()
	if strings.Contains(text, "\n") || !strings.HasSuffix(text, ".") || !strings.HasPrefix(text, base) || strings.Contains(text, "/tmp/") {
		t.Errorf("not a plain sentence about %s: %q", base, text)
	}
}

// A file that is cut at any byte is refused, or gives exactly the whole rows
// that are left, unchanged.
func TestCutAnywhere(t *testing.T) {
	const w, h = 5, 9
	le := binary.LittleEndian
	data, codes := words(le, 3*w*h)
	for _, c := range []struct {
		name    string
		changes map[uint16]any
		chunks  [][]byte
	}{
		{"strips", map[uint16]any{tagRowsPerStrip: []uint32{2}}, cut(data, 2*6*w)},
		{"one strip", nil, [][]byte{data}},
		{"turned", map[uint16]any{tagOrientation: []uint16{6}}, [][]byte{data}},
	} {
		whole := buildTIFF(le, with(rgb16(w, h), c.changes), c.chunks...)
		start := len(whole) - len(data)
		short := 0
		path := saved(t, "a.tif", nil)
		for n := range whole {
			if err := os.WriteFile(path, whole[:n], 0o600); err != nil {
				t.Fatal(err)
			}
			src, err := Open(path, DefaultBounds)
			var format *FormatError
			if err != nil {
				if !errors.As(err, &format) {
					t.Fatalf("%s cut at %d: %v", c.name, n, err)
				}
				sentence(t, err, "a.tif")
				continue
			}
			p, err := Hold(context.Background(), src)
			var cutOff *TruncatedError
			if !errors.As(err, &cutOff) {
				t.Fatalf("%s cut at %d of %d: %v", c.name, n, len(whole), err)
			}
			sentence(t, err, "a.tif")
			short++
			want := max(0, n-start) / (6 * w)
			if c.name == "turned" {
				want = 0
			}
			if cutOff.RowsRead != want || len(p.Pix) != 3*src.Info().Width*want {
				t.Fatalf("%s cut at %d: %d rows, %d codes, want %d rows", c.name, n, cutOff.RowsRead, len(p.Pix), want)
			}
			if want > 0 {
				sameCodes(t, "rows before the cut", p.Pix, codes[:3*w*want])
			}
			// A held picture that is short says so again.
			if err := p.Stream(context.Background(), func(int, []uint16) error { return nil }); !errors.As(err, &cutOff) {
				t.Fatalf("the held rows gave %v", err)
			}
		}
		if short < 100 {
			t.Errorf("%s: only %d cuts gave a shortened picture", c.name, short)
		}
	}
}

func TestCancel(t *testing.T) {
	data, _ := words(binary.LittleEndian, 3*4*200)
	src, err := Open(saved(t, "a.tif", buildTIFF(binary.LittleEndian, rgb16(4, 200), data)), DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	bands := 0
	err = src.Stream(ctx, func(int, []uint16) error { bands++; cancel(); return nil })
	if !errors.Is(err, context.Canceled) || bands != 1 {
		t.Errorf("%d bands, then %v", bands, err)
	}
	stop := errors.New("enough")
	if err := src.Stream(context.Background(), func(int, []uint16) error { return stop }); err != stop {
		t.Errorf("the receiver's error came back as %v", err)
	}
	for _, r := range []image.Rectangle{{}, image.Rect(0, 0, 5, 1), image.Rect(-1, 0, 2, 2), image.Rect(0, 199, 4, 201)} {
		if _, err := src.Region(context.Background(), r); err == nil {
			t.Errorf("the region %v was given", r)
		}
	}
}

// A Deflate bomb within the limits (384 MB out of 0.4) and one made of tiles
// beside each other are streamed in a few megabytes.
func TestBomb(t *testing.T) {
	const side = 8000
	pack := func(n int) []byte {
		var b bytes.Buffer
		z := zlib.NewWriter(&b)
		zeros := make([]byte, 1<<20)
		for ; n > 0; n -= len(zeros) {
			z.Write(zeros[:min(n, len(zeros))])
		}
		z.Close()
		return b.Bytes()
	}
	tile := pack(6 * 4000 * 4000)
	for name, b := range map[string][]byte{
		"one strip": buildTIFF(binary.LittleEndian, with(rgb16(side, side), map[uint16]any{tagCompression: []uint16{8}}), pack(6*side*side)),
		"four tiles": buildTIFF(binary.LittleEndian, with(rgb16(side, side), map[uint16]any{tagCompression: []uint16{8}, tagTileWidth: []uint16{4000}, tagTileLength: []uint16{4000},
			tagRowsPerStrip: nil}), tile, tile, tile, tile),
	} {
		path := saved(t, "bomb.tif", b)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		kind, err := readAll(path, DefaultBounds)
		runtime.ReadMemStats(&after)
		used := after.TotalAlloc - before.TotalAlloc
		t.Logf("%s: file of %s, took %s", name, byteSize(int64(len(b))), byteSize(int64(used)))
		if kind != "read" || used > 8<<20 {
			t.Errorf("%s: %s, %v; took %s", name, kind, err, byteSize(int64(used)))
		}
	}
}
