package scan

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"

	"stopladder/analysis/scan/colour"
)

// gentle is an 8-bit picture that JPEG keeps well, in chunks of n channels.
func gentle(w, h, n int) (data []byte) {
	for i := range w * h {
		x, y := float64(i%w), float64(i/w)
		for c := range n {
			data = append(data, byte(120+60*math.Sin(x/17+float64(c))+50*math.Cos(y/23-float64(c))))
		}
	}
	return data
}

func grey8Tags(w, h uint32) map[uint16]any {
	return map[uint16]any{tagImageWidth: []uint32{w}, tagImageLength: []uint32{h}, tagBitsPerSample: []uint16{8}, tagPhotometric: []uint16{1}, tagRowsPerStrip: []uint32{h}}
}

// JPEG in TIFF as libtiff (tiffcp) and libvips write it, against libvips's reading
// through libtiff and libjpeg: within two codes where colour is not halved, and within
// eight where it is, which the two decoders double differently.
func TestJPEGInTIFF(t *testing.T) {
	const w, h = 192, 128
	dir := t.TempDir()
	rgb := saved(t, "rgb.tif", buildTIFF(binary.LittleEndian, with(rgb16(w, h), map[uint16]any{tagBitsPerSample: []uint16{8, 8, 8}}), gentle(w, h, 3)))
	grey := saved(t, "grey.tif", buildTIFF(binary.LittleEndian, grey8Tags(w, h), gentle(w, h, 1)))
	for name, c := range map[string]struct {
		make  []string
		in    string
		bound int
	}{
		"RGB":              {[]string{"tiffcp", "-c", "jpeg:r:95", "-r", "16"}, rgb, 2},
		"YCbCr":            {[]string{"tiffcp", "-c", "jpeg:95", "-r", "160"}, rgb, 8},
		"YCbCr, strips":    {[]string{"tiffcp", "-c", "jpeg:95", "-r", "16"}, rgb, 8},
		"YCbCr, tiles":     {[]string{"tiffcp", "-c", "jpeg:90", "-t", "-w", "64", "-l", "32"}, rgb, 8},
		"RGB, tiles":       {[]string{"tiffcp", "-c", "jpeg:r:90", "-t", "-w", "80", "-l", "48", "-B"}, rgb, 2},
		"grey":             {[]string{"tiffcp", "-c", "jpeg:95", "-r", "16"}, grey, 2},
		"grey, tiles":      {[]string{"tiffcp", "-c", "jpeg:95", "-t", "-w", "48", "-l", "48"}, grey, 2},
		"libvips, strips":  {[]string{"vips", "[compression=jpeg,Q=95]"}, rgb, 2},
		"libvips, tiles":   {[]string{"vips", "[compression=jpeg,Q=85,tile,tile-width=64,tile-height=64]"}, rgb, 8},
		"libvips, BigTIFF": {[]string{"vips", "[compression=jpeg,Q=95,bigtiff]"}, grey, 2},
	} {
		out, raw := filepath.Join(dir, "out.tif"), filepath.Join(dir, "out.raw")
		if c.make[0] == "vips" {
			tool(t, "vips", "copy", c.in, out+c.make[1])
		} else {
			tool(t, c.make[0], append(c.make[1:], c.in, out)...)
		}
		tool(t, "vips", "rawsave", out, raw)
		want, err := os.ReadFile(raw)
		if err != nil {
			t.Fatal(err)
		}
		p := held(t, out)
		if !slices.Contains(p.Header.Notes, lossyNote) {
			t.Errorf("%s: notes %q", name, p.Header.Notes)
		}
		if p.Header.Bits != 8 || len(want) != w*h*p.Header.Channels {
			t.Fatalf("%s: %d bits, %d bytes from libvips", name, p.Header.Bits, len(want))
		}
		worst := 0
		for i, v := range p.Pix {
			at := i
			if p.Header.Channels == 1 {
				at = i / 3
			}
			d := int(v) - int(want[at])
			worst = max(worst, d, -d)
		}
		t.Logf("%s: at most %d codes from libvips", name, worst)
		if worst > c.bound {
			t.Errorf("%s: %d codes from libvips's reading", name, worst)
		}
		agree(t, out, DefaultBounds)
	}
	// A chunk that is damaged costs the rows from it on.
	out := filepath.Join(dir, "cut.tif")
	tool(t, "tiffcp", "-c", "jpeg:r:95", "-r", "16", rgb, out)
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	whole := held(t, out)
	src, err := Open(saved(t, "a.tif", damaged(t, b, 4)), DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	p, err := Hold(context.Background(), src)
	var short *TruncatedError
	if !errors.As(err, &short) || short.RowsRead != 64 || !short.Damaged {
		t.Fatalf("%v", err)
	}
	sameCodes(t, "before the damaged strip", p.Pix, whole.Pix[:3*w*64])
}

// damaged overwrites the beginning of a strip.
func damaged(t testing.TB, b []byte, strip int) []byte {
	t.Helper()
	dirs, err := readDirectories(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	at, err := dirs[0].uints(tagStripOffsets)
	if err != nil {
		t.Fatal(err)
	}
	b = bytes.Clone(b)
	copy(b[at[strip]:], "damaged")
	return b
}

// Zstandard as libtiff writes it, with both kinds of predictor and in tiles; damage is
// told as that of Deflate is.
func TestZstdInTIFF(t *testing.T) {
	const w, h = 131, 77
	data, codes := words(binary.LittleEndian, 3*w*h)
	in := saved(t, "in.tif", buildTIFF(binary.LittleEndian, rgb16(w, h), data))
	dir := t.TempDir()
	out := filepath.Join(dir, "out.tif")
	for _, args := range [][]string{{"-c", "zstd"}, {"-c", "zstd:2", "-r", "10"}, {"-c", "zstd:2", "-B"}, {"-c", "zstd:2", "-t", "-w", "48", "-l", "32"}, {"-c", "zstd:p19", "-t", "-w", "16", "-l", "16"}} {
		tool(t, "tiffcp", append(args, in, out)...)
		sameCodes(t, strings.Join(args, " "), held(t, out).Pix, codes)
		agree(t, out, DefaultBounds)
	}
	scaled := filepath.Join(dir, "s.v")
	tool(t, "vips", "linear", in, scaled, "--", "0.0000152590218966964", "0")
	tool(t, "vips", "copy", scaled, out+"[compression=zstd,predictor=float]")
	sameCodes(t, "floating point", held(t, out).Pix, codes)

	tool(t, "tiffcp", "-c", "zstd", "-r", "10", in, out)
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	src, err := Open(saved(t, "a.tif", damaged(t, b, 3)), DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	p, err := Hold(context.Background(), src)
	var short *TruncatedError
	if !errors.As(err, &short) || short.RowsRead != 30 || !short.Damaged {
		t.Fatalf("%v", err)
	}
	sameCodes(t, "before the damage", p.Pix, codes[:3*w*30])
}

// labsOf reads a picture's colours back from its codes through the profile that it is
// given with.
func labsOf(t testing.TB, p *Pixels) []colour.LAB {
	t.Helper()
	s, err := colour.FromICC(p.Header.ICC, 3, p.Header.Max())
	if err != nil {
		t.Fatal(err)
	}
	lin := make([]float32, len(p.Pix))
	s.Linear(lin, p.Pix)
	var out []colour.LAB
	for i := 0; i < len(lin); i += 3 {
		out = append(out, colour.LabOf(float64(lin[i]), float64(lin[i+1]), float64(lin[i+2])))
	}
	return out
}

// vipsLabs are the colours of a file as libvips gives them after an operation.
func vipsLabs(t testing.TB, in string, operation ...string) []colour.LAB {
	t.Helper()
	dir := t.TempDir()
	lab, raw := filepath.Join(dir, "lab.v"), filepath.Join(dir, "lab.raw")
	tool(t, "vips", append([]string{operation[0], in, lab}, operation[1:]...)...)
	tool(t, "vips", "rawsave", lab, raw)
	b, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	var out []colour.LAB
	f := func(i int) float64 { return float64(math.Float32frombits(binary.NativeEndian.Uint32(b[i:]))) }
	for i := 0; i+11 < len(b); i += 12 {
		out = append(out, colour.LAB{L: f(i), A: f(i + 4), B: f(i + 8)})
	}
	return out
}

func sameLabs(t testing.TB, what string, got, want []colour.LAB, bound float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d colours, want %d", what, len(got), len(want))
	}
	worst := 0.0
	for i, w := range want {
		if d := colour.DeltaE2000(got[i], w); d > worst {
			worst = d
			if d > bound {
				t.Logf("%s: %.3f, want %.3f", what, got[i], w)
			}
		}
	}
	t.Logf("%s: dE00 at most %.4f", what, worst)
	if worst > bound {
		t.Errorf("%s: dE00 of up to %.3f", what, worst)
	}
}

// CIELAB in both encodings of TIFF, 8 and 16 bits. Photometric interpretation 8 is
// compared with libvips's reading; 9 with its definition (the encoding of ICC profiles,
// which package colour holds against Little CMS).
func TestLabInTIFF(t *testing.T) {
	const w, h = 40, 30
	var want []colour.LAB
	for i := range w * h {
		want = append(want, colour.LAB{L: 5 + 90*float64(i)/(w*h), A: 25 * math.Sin(float64(i)), B: 25 * math.Cos(float64(3*i))})
		c := &want[i] // less colour towards black and white, where there is none
		c.A, c.B = c.A*c.L*(100-c.L)/2500, c.B*c.L*(100-c.L)/2500
	}
	for _, photo := range []uint16{photoLab, photoICCLab} {
		for _, bits := range []uint16{8, 16} {
			var data []byte
			for _, c := range want {
				v := [3]int{int(math.Round(c.L * 255 / 100)), int(math.Round(c.A)), int(math.Round(c.B))}
				switch {
				case photo == photoLab && bits == 16:
					v = [3]int{int(math.Round(c.L * 655.35)), int(math.Round(256 * c.A)), int(math.Round(256 * c.B))}
				case bits == 16:
					v = [3]int{int(math.Round(c.L * 652.8)), int(math.Round(256 * (c.A + 128))), int(math.Round(256 * (c.B + 128)))}
				case photo == photoICCLab:
					v[1], v[2] = v[1]+128, v[2]+128
				}
				for _, x := range v {
					if bits == 8 {
						data = append(data, byte(x))
					} else {
						data = binary.LittleEndian.AppendUint16(data, uint16(x))
					}
				}
			}
			path := saved(t, "lab.tif", buildTIFF(binary.LittleEndian, with(rgb16(w, h), map[uint16]any{tagPhotometric: []uint16{photo}, tagBitsPerSample: []uint16{bits, bits, bits}}), data))
			p := held(t, path)
			what := fmt.Sprintf("photometric interpretation %d, %d bits", photo, bits)
			if p.Header.Bits != 16 || p.Header.Channels != 3 || !strings.Contains(strings.Join(p.Header.Notes, " "), "CIELAB") {
				t.Errorf("%s: %+v", what, p.Header)
			}
			got := labsOf(t, p)
			sameLabs(t, what, got, want, map[uint16]float64{8: .8, 16: .01}[bits])
			if photo == photoLab { // whose white in 8 bits is at 255.75 for libvips, at 255 for the specification
				sameLabs(t, what+", libvips", got, vipsLabs(t, path, "colourspace", "lab"), map[uint16]float64{8: .2, 16: .02}[bits])
			}
		}
	}
}

// transicc evaluates a printing profile with Little CMS: relative colorimetric CIELAB
// of inks in percent, in floating point. (libvips asks Little CMS for whole numbers,
// which it gives from a coarser table, up to 0.9 dE00 off.)
func transicc(t testing.TB, profile string, inks [][4]float64) (labs []colour.LAB) {
	t.Helper()
	if _, err := exec.LookPath("transicc"); err != nil {
		t.Skip("SKIPPED: transicc (liblcms2-utils) is not installed; nothing was compared with Little CMS")
	}
	var in bytes.Buffer
	for _, v := range inks {
		fmt.Fprintf(&in, "%.5f %.5f %.5f %.5f\n", v[0], v[1], v[2], v[3])
	}
	cmd := exec.Command("transicc", "-n", "-c0", "-t1", "-i", profile, "-o", "*Lab")
	cmd.Stdin = &in
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(out)) {
		var c colour.LAB
		if n, _ := fmt.Sscan(line, &c.L, &c.A, &c.B); n == 3 {
			labs = append(labs, c)
		}
	}
	return labs
}

// CMYK with its profile: inks as libvips reads them, their colours by Little CMS.
func TestCMYKInTIFF(t *testing.T) {
	list, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/kovidgoyal/imaging").Output()
	if err != nil {
		t.Skipf("SKIPPED: the ICC library's sources cannot be found: %v", err)
	}
	profile := filepath.Join(strings.TrimSpace(string(list)), "prism/meta/icc/test-profiles/cmyk.icc")
	const w, h = 64, 48
	in := saved(t, "in.tif", buildTIFF(binary.LittleEndian, with(rgb16(w, h), map[uint16]any{tagBitsPerSample: []uint16{8, 8, 8}, tagICC: colour.SRGBProfile()}), gentle(w, h, 3)))
	dir := t.TempDir()
	for _, depth := range []string{"8", "16"} {
		cmyk := filepath.Join(dir, "cmyk"+depth+".tif")
		tool(t, "vips", "icc_transform", in, cmyk+"[compression=lzw]", profile, "--intent", "relative", "--depth", depth)
		p := held(t, cmyk)
		if notes := strings.Join(p.Header.Notes, " "); !strings.Contains(notes, "relative colorimetric table") {
			t.Errorf("notes %q", notes)
		}
		raw := filepath.Join(dir, "cmyk.raw")
		tool(t, "vips", "rawsave", cmyk, raw)
		b, err := os.ReadFile(raw)
		if err != nil {
			t.Fatal(err)
		}
		inks := make([][4]float64, w*h)
		for i := range 4 * w * h {
			v := float64(b[i%len(b)]) / 2.55
			if depth == "16" {
				v = float64(binary.NativeEndian.Uint16(b[2*i:])) / 655.35
			}
			inks[i/4][i%4] = v
		}
		sameLabs(t, "CMYK, "+depth+" bits", labsOf(t, p), transicc(t, profile, inks), .05)
	}
	// The same in a JPEG, whose inks are read by libvips too.
	inked, raw := filepath.Join(dir, "cmyk.jpg"), filepath.Join(dir, "cmyk.raw")
	tool(t, "vips", "copy", filepath.Join(dir, "cmyk8.tif"), inked+"[Q=98,subsample_mode=off]")
	tool(t, "vips", "rawsave", inked, raw)
	b, err := os.ReadFile(raw)
	if err != nil || len(b) != 4*w*h {
		t.Fatalf("%d bytes, %v", len(b), err)
	}
	inks := make([][4]float64, w*h)
	for i, v := range b {
		inks[i/4][i%4] = float64(v) / 2.55
	}
	p := held(t, inked)
	if p.Header.Bits != 16 || p.Header.Channels != 3 || p.Header.Format != "JPEG" {
		t.Errorf("%+v", p.Header)
	}
	sameLabs(t, "CMYK in a JPEG", labsOf(t, p), transicc(t, profile, inks), .5) // a code or two of the two decoders
	short, err := os.ReadFile(inked)
	if err != nil {
		t.Fatal(err)
	}
	src, err := Open(saved(t, "cut.jpg", short[:len(short)-1000]), DefaultBounds)
	if err != nil {
		t.Fatal(err)
	}
	var early *TruncatedError
	if _, err := Hold(context.Background(), src); !errors.As(err, &early) {
		t.Errorf("cut short: %v", err)
	}
	bare := filepath.Join(dir, "bare.tif")
	tool(t, "vips", "copy", filepath.Join(dir, "cmyk8.tif"), bare+"[strip]")
	var u *UnsupportedError
	if _, err := Open(bare, DefaultBounds); !errors.As(err, &u) || !strings.Contains(err.Error(), "without a colour profile") {
		t.Errorf("%v", err)
	}
}

// A camera's raw file is named as that, with the way to a TIFF, whatever previews it
// holds.
func TestCameraRaw(t *testing.T) {
	le := binary.LittleEndian
	data, _ := words(le, 3*8*8)
	plain := buildTIFF(le, rgb16(8, 8), data)
	mark := bytes.Clone(plain)
	// Canon: the directory stands behind a mark, and the first picture is a preview.
	canon := append(append(bytes.Clone(mark[:8]), "CR\x02\x00"...), mark[8:]...)
	le.PutUint32(canon[4:], 12)
	for name, b := range map[string][]byte{
		"a.dng": buildTIFF(le, with(rgb16(8, 8), map[uint16]any{tagDNGVersion: []byte{1, 4, 0, 0}}), data),
		"b.nef": buildTIFF(le, with(rgb16(8, 8), map[uint16]any{tagPhotometric: []uint16{photoCFA}, tagSamplesPerPixel: []uint16{1}, tagBitsPerSample: []uint16{14}, tagCompression: []uint16{rawNikon}}), data),
		"c.tif": buildTIFF(le, with(rgb16(8, 8), map[uint16]any{tagPhotometric: []uint16{photoLinearRaw}}), data),
		"d.cr2": canon,
		"e.orf": append([]byte("IIRO\x08\x00\x00\x00"), data...),
		"f.rw2": append([]byte("IIU\x00\x18\x00\x00\x00"), data...),
	} {
		_, err := Open(saved(t, name, b), DefaultBounds)
		var u *UnsupportedError
		if !errors.As(err, &u) || !strings.Contains(err.Error(), "camera's sensor") || !strings.Contains(err.Error(), "16-bit TIFFs") {
			t.Errorf("%s: %v", name, err)
			continue
		}
		sentence(t, err, name)
	}
	// A preview before the sensor's picture, which stands in a directory below.
	below := buildTIFF(le, with(rgb16(8, 8), map[uint16]any{tagSubIFDs: []uint32{0}}), data)
	at := uint32(len(below))
	sub := le.AppendUint16(nil, 1)
	sub = le.AppendUint16(le.AppendUint16(sub, tagPhotometric), 3)
	sub = le.AppendUint16(le.AppendUint32(sub, 1), photoCFA)
	sub = append(sub, 0, 0, 0, 0, 0, 0)
	below = append(buildTIFF(le, with(rgb16(8, 8), map[uint16]any{tagSubIFDs: []uint32{at}}), data), sub...)
	if _, err := Open(saved(t, "g.tif", below), DefaultBounds); err == nil || !strings.Contains(err.Error(), "camera's sensor") {
		t.Errorf("a preview was taken for the picture: %v", err)
	}
	held(t, saved(t, "plain.tif", plain))
}

// FuzzChunks: chunks of any bytes, in every compression and colour model that is read,
// end in a picture or an error, soon and in little memory.
func FuzzChunks(f *testing.F) {
	gentle := gentle(32, 16, 3)
	var j bytes.Buffer
	img := image.NewGray(image.Rect(0, 0, 32, 16))
	copy(img.Pix, gentle)
	if err := jpeg.Encode(&j, img, nil); err != nil {
		f.Fatal(err)
	}
	e, err := zstd.NewWriter(nil)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(j.Bytes(), uint16(packJPEG), uint16(photoBlackIsZero), uint16(8), byte(1))
	f.Add(e.EncodeAll(gentle, nil), uint16(packZstd), uint16(photoRGB), uint16(8), byte(3))
	f.Add(deflated(f, gentle), uint16(packDeflate), uint16(photoLab), uint16(8), byte(3))
	f.Add(gentle, uint16(packNone), uint16(photoICCLab), uint16(16), byte(3))
	f.Add(gentle, uint16(packLZW), uint16(photoYCbCr), uint16(16), byte(4))
	lim := Bounds{MaxSide: 2000, MaxPixels: 200_000, MaxProfile: 1 << 16, MaxMemory: 64 << 20}
	f.Fuzz(func(t *testing.T, data []byte, pack, photo, bits uint16, samples byte) {
		n := int(samples%5) + 1
		half := len(data) / 2
		b := buildTIFF(binary.LittleEndian, map[uint16]any{
			tagImageWidth: []uint32{32}, tagImageLength: []uint32{32}, tagBitsPerSample: slices.Repeat([]uint16{bits}, n), tagCompression: []uint16{pack},
			tagPhotometric: []uint16{photo}, tagSamplesPerPixel: []uint16{uint16(n)}, tagRowsPerStrip: []uint32{16}, tagJPEGTables: data[:min(half, 700)],
		}, data[half:], data)
		if kind, err := readAll(saved(t, "a.tif", b), lim); kind == "other" {
			t.Fatal(err)
		}
	})
}
