package scan

import (
	"context"
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// What a file says of itself, written by libtiff's tiffset.
func TestDescription(t *testing.T) {
	data, _ := words(binary.LittleEndian, 12)
	path := saved(t, "a.tif", buildTIFF(binary.LittleEndian, rgb16(2, 2), data))
	tool(t, "tiffset", "-s", "270", "A courtyard,\nat noon", path)
	tool(t, "tiffset", "-s", "305", "An invented scanner", path)
	tool(t, "tiffset", "-s", "306", "2024:02:29 12:30:05", path)
	tool(t, "tiffset", "-s", "296", "3", path) // per centimetre
	tool(t, "tiffset", "-s", "282", "1000", path)
	tool(t, "tiffset", "-s", "283", "500", path)
	src, err := Open(path, DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	in := src.Info()
	if in.Description != "A courtyard, at noon" || in.Software != "An invented scanner" || in.Date != "2024-02-29 12:30:05" || in.XPPI != 2540 || in.YPPI != 1270 {
		t.Errorf("%q %q %q %g %g", in.Description, in.Software, in.Date, in.XPPI, in.YPPI)
	}
}

// BigTIFF as libtiff's tiffcp writes it, in all encodings.
func TestBigTIFF(t *testing.T) {
	const w, h = 131, 77
	data, codes := words(binary.LittleEndian, 3*w*h)
	in := saved(t, "in.tif", buildTIFF(binary.LittleEndian, rgb16(w, h), data))
	for _, args := range [][]string{{"-c", "none"}, {"-c", "lzw:2", "-r", "7"}, {"-c", "zip:2", "-B"}, {"-c", "packbits", "-t", "-w", "48", "-l", "32"}} {
		out := filepath.Join(t.TempDir(), "out.tif")
		tool(t, "tiffcp", append(append([]string{"-8"}, args...), in, out)...)
		sameCodes(t, strings.Join(args, " "), held(t, out).Pix, codes)
		agree(t, out, DefaultBounds)
	}
}

// A pyramid as libvips writes it, with the smaller pictures after the whole one
// or below it, and a file whose first page is an unmarked thumbnail.
func TestFullPictureIsTaken(t *testing.T) {
	const w, h = 600, 400
	data, codes := words(binary.LittleEndian, 3*w*h)
	in := saved(t, "in.tif", buildTIFF(binary.LittleEndian, rgb16(w, h), data))
	dir := t.TempDir()
	for _, options := range []string{"tile,pyramid,tile-width=128,tile-height=128", "tile,pyramid,subifd,tile-width=128,tile-height=128"} {
		out := filepath.Join(dir, "p.tif")
		tool(t, "vips", "copy", in, out+"["+options+"]")
		sameCodes(t, options, held(t, out).Pix, codes)
	}
	small, both := filepath.Join(dir, "small.tif"), filepath.Join(dir, "both.tif")
	tool(t, "vips", "subsample", in, small, "4", "4")
	tool(t, "tiffcp", small, in, both)
	p := held(t, both)
	sameCodes(t, "thumbnail first", p.Pix, codes)
	if !strings.Contains(strings.Join(p.Header.Notes, " "), "highest resolution") {
		t.Errorf("notes %q", p.Header.Notes)
	}
	// A second page of another shape is another picture: the first is read.
	tool(t, "vips", "extract_area", in, small, "0", "0", "100", "300")
	tool(t, "tiffcp", small, in, both)
	if p := held(t, both); p.Header.Width != 100 || !strings.Contains(strings.Join(p.Header.Notes, " "), "holds 2 pictures; the first") {
		t.Errorf("%d wide, notes %q", p.Header.Width, p.Header.Notes)
	}
}

// Floating-point and 32-bit pictures as libvips writes them, with both
// predictors, against the numbers that went in.
func TestWideSamples(t *testing.T) {
	const w, h = 131, 77
	data, codes := words(binary.LittleEndian, 3*w*h)
	in := saved(t, "in.tif", buildTIFF(binary.LittleEndian, rgb16(w, h), data))
	dir := t.TempDir()
	// 0..65535 as 0..1, in floating point; what is above 1 goes to the top.
	for _, c := range []struct {
		scale string
		top   uint16
	}{{"0.0000152590218966964", 65535}, {"0.0000305180437933928", 65535}} {
		scaled := filepath.Join(dir, "s.v")
		tool(t, "vips", "linear", in, scaled, "--", c.scale, "0")
		for _, options := range []string{"", "compression=deflate,predictor=horizontal", "compression=deflate,predictor=float", "compression=lzw,predictor=float,tile,tile-width=48,tile-height=32"} {
			out := filepath.Join(dir, "f.tif")
			tool(t, "vips", "copy", scaled, out+"["+options+"]")
			p := held(t, out)
			if !strings.Contains(strings.Join(p.Header.Notes, " "), "32-bit floating-point") || p.Header.Bits != 16 {
				t.Errorf("%q, %d bits", p.Header.Notes, p.Header.Bits)
			}
			for i, v := range p.Pix {
				want := uint32(codes[i])
				if c.scale[6] == '3' {
					want = min(2*want, 65535)
				}
				if uint32(v) != want {
					t.Fatalf("%s, scale %s: code %d is %d, want %d", options, c.scale, i, v, want)
				}
			}
		}
	}
	wide := filepath.Join(dir, "w.v")
	tool(t, "vips", "linear", in, wide, "--", "65536", "9")
	tool(t, "vips", "cast", wide, filepath.Join(dir, "u.v"), "uint")
	for _, options := range []string{"", "compression=deflate,predictor=horizontal", "compression=lzw,predictor=horizontal"} {
		out := filepath.Join(dir, "u.tif")
		tool(t, "vips", "copy", filepath.Join(dir, "u.v"), out+"["+options+"]")
		sameCodes(t, "32 bits "+options, held(t, out).Pix, codes)
	}
}

// Memory does not grow with the picture: one strip, every compression.
func TestMemoryIsBounded(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	if _, err := exec.LookPath("vips"); err != nil {
		t.Skip("SKIPPED: vips is not installed; no large picture was made")
	}
	dir := t.TempDir()
	taken := map[string][2]uint64{}
	for i, side := range []string{"1500", "4500"} {
		for _, pack := range []string{"none", "lzw", "deflate", "packbits"} {
			noise, out, one := filepath.Join(dir, "n.v"), filepath.Join(dir, "n.tif"), filepath.Join(dir, "one.tif")
			tool(t, "vips", "gaussnoise", noise, side, side, "--mean", "30000", "--sigma", "3000")
			tool(t, "vips", "cast", noise, filepath.Join(dir, "c.v"), "ushort")
			tool(t, "vips", "copy", filepath.Join(dir, "c.v"), out)
			tool(t, "tiffcp", "-c", map[string]string{"none": "none", "lzw": "lzw:2", "deflate": "zip:2", "packbits": "packbits"}[pack], "-r", "1000000", out, one)
			src, err := Open(one, DefaultBounds)
			if err != nil {
				t.Fatal(err)
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			err = src.(Sweeper).Sweep(context.Background(), SweepOptions{Workers: 2}, func() func(Block) error { return func(Block) error { return nil } })
			runtime.ReadMemStats(&after)
			if err != nil {
				t.Fatal(err)
			}
			v := taken[pack]
			v[i] = after.TotalAlloc - before.TotalAlloc
			taken[pack] = v
		}
	}
	for pack, v := range taken {
		t.Logf("%s: %s for 2 Mpx, %s for 20 Mpx", pack, byteSize(int64(v[0])), byteSize(int64(v[1])))
		if v[1] > v[0]+1<<20 || v[1] > 8<<20 {
			t.Errorf("%s: memory grows with the picture", pack)
		}
	}
}

// The date of exposure stands in the Exif directory (Exif 2.3, tag 0x9003), and
// goes before the date of the file (TIFF 6.0, tag 306).
func TestExifDate(t *testing.T) {
	for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
		data := make([]byte, 2*2*6)
		tags := with(rgb16(2, 2), map[uint16]any{tagEXIF: []uint32{0}})
		at := uint32(len(buildTIFF(order, tags, data)))
		b := buildTIFF(order, with(tags, map[uint16]any{tagEXIF: []uint32{at}}), data)
		date := "2031:05:06 07:08:09\x00"
		b = order.AppendUint16(b, 1)
		b = order.AppendUint16(b, 0x9003)
		b = order.AppendUint16(b, 2)
		b = order.AppendUint32(b, uint32(len(date)))
		b = order.AppendUint32(b, at+2+12+4)
		b = order.AppendUint32(b, 0)
		b = append(b, date...)
		name := filepath.Join(t.TempDir(), "exif.tif")
		if err := os.WriteFile(name, b, 0o600); err != nil {
			t.Fatal(err)
		}
		src, err := Open(name, DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		if got := src.Info().Date; got != "2031-05-06 07:08:09" {
			t.Errorf("%v: date %q", order, got)
		}
	}
}

// Uncompressed strips are read as one where they follow each other, and one by one
// where they do not: the pixels are the same.
func TestStripsApartAndTogether(t *testing.T) {
	const w, h, rows = 5, 7, 2
	rowBytes := 6 * w
	pix := make([]byte, rowBytes*h)
	for i := range pix {
		pix[i] = byte(7*i + i/50)
	}
	var strips [][]byte
	for y := 0; y < h; y += rows {
		strips = append(strips, pix[rowBytes*y:rowBytes*min(y+rows, h)])
	}
	tags := with(rgb16(w, h), map[uint16]any{tagRowsPerStrip: []uint32{rows}})
	together := buildTIFF(binary.LittleEndian, tags, strips...)
	at := uint32(len(together))
	offsets := make([]uint32, len(strips))
	apart := buildTIFF(binary.LittleEndian, with(tags, map[uint16]any{tagStripOffsets: offsets}), strips...)
	if uint32(len(apart)) != at {
		t.Fatal("the two files are laid out differently")
	}
	for i := len(strips) - 1; i >= 0; i-- { // the last first, with a byte between
		apart = append(apart, 0xEE)
		offsets[i] = uint32(len(apart))
		apart = append(apart, strips[i]...)
	}
	b := buildTIFF(binary.LittleEndian, with(tags, map[uint16]any{tagStripOffsets: offsets}), strips...)
	apart = append(b, apart[len(b):]...)
	for name, c := range map[string]struct {
		file  []byte
		joint bool
	}{"together": {together, true}, "apart": {apart, false}} {
		path := filepath.Join(t.TempDir(), name+".tif")
		if err := os.WriteFile(path, c.file, 0o600); err != nil {
			t.Fatal(err)
		}
		src, err := Open(path, DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		if l := src.(*source).raster.(*tiffRaster).l; (l.down == 1) != c.joint {
			t.Errorf("%s: %d rows of strips", name, l.down)
		}
		held, err := Hold(context.Background(), src)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range held.Pix {
			if want := binary.LittleEndian.Uint16(pix[2*i:]); v != want {
				t.Fatalf("%s: sample %d is %d, want %d", name, i, v, want)
			}
		}
	}
}
