package scan

import (
	"context"
	"encoding/binary"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// conformance is a folder of TIFFs beside the repository: the test pictures of
// image-rs/image-tiff and libtiff's public set, with means decoded by libtiff.
func conformance(t testing.TB) string {
	dir := filepath.Join("..", "..", "..", "shared", "tiff-conformance")
	if _, err := os.Stat(dir); err != nil {
		t.Skip("SKIPPED: ../shared/tiff-conformance is not there; TestForeign and TestHostile read what is in every clone")
	}
	return dir
}

// means of the code values per channel.
func means(p *Pixels) (m [3]float64) {
	for i, v := range p.Pix {
		m[i%3] += float64(v)
	}
	for c := range m {
		m[c] /= float64(len(p.Pix) / 3)
	}
	return m
}

// Every well-formed file has libtiff's mean, or is refused by name.
func TestConformanceValid(t *testing.T) {
	dir := conformance(t)
	f, err := os.Open(filepath.Join(dir, "valid.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	read, refused := 0, 0
	for _, row := range rows[1:] {
		get := func(name string) string { return row[column[name]] }
		path := filepath.Join(dir, "valid", get("name"))
		src, err := Open(path, DefaultBounds)
		var unsupported *UnsupportedError
		if errors.As(err, &unsupported) {
			refused++
			t.Logf("%s: refused for %s", get("name"), unsupported.Feature)
			ordinary := (get("bps") == "8" || get("bps") == "16") && get("sampleformat") == "1" && get("bigtiff") == "False" &&
				strings.Contains("rgb minisblack miniswhite", get("photometric")) && strings.Contains("none lzw deflate deflate-old packbits", get("compression"))
			if ordinary && !strings.Contains(unsupported.Feature, "before TIFF 5.0") {
				t.Errorf("%s is of an ordinary kind and was refused: %v", get("name"), err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", get("name"), err)
			continue
		}
		p, err := Hold(context.Background(), src)
		if err != nil {
			t.Errorf("%s: %v", get("name"), err)
			continue
		}
		read++
		info := src.Info()
		agree(t, path, DefaultBounds)
		// vips_mean is after palette and polarity, where vips could read the file.
		var want []float64
		text := get("vips_mean")
		if text == "" || get("vips_agrees") == "False" && get("photometric") != "palette" && get("photometric") != "miniswhite" {
			text = get("libtiff_raw_mean")
		}
		if err := json.Unmarshal([]byte(text), &want); err != nil || len(want) == 0 {
			t.Errorf("%s: no mean in the list", get("name"))
			continue
		}
		if len(want) < 3 && get("photometric") != "palette" {
			want = []float64{want[0], want[0], want[0]} // grey, with or without alpha
		}
		bps, _ := strconv.Atoi(get("bps"))
		if get("photometric") == "miniswhite" { // vips turns some of them to 8 bits
			if err := json.Unmarshal([]byte(get("libtiff_raw_mean")), &want); err != nil || len(want) == 0 {
				t.Errorf("%s: no mean in the list", get("name"))
				continue
			}
			want = []float64{want[0], want[0], want[0]}
		}
		// The list has seven figures. Samples of other depths are scaled, with
		// rounding (half a code), or cut to their upper 16 bits (less than one).
		scale, off, slack := 1.0, 0.0, 0.0
		switch {
		case get("sampleformat") == "3":
			t.Logf("%s: floating point, mean compared in TestConformancePixels", get("name"))
			continue
		case get("photometric") == "palette":
		case get("compression") == "jpeg":
			slack = 0.5 // half a code: see TestConformancePixels
		case bps < 8:
			scale, slack = 255/float64(int(1)<<bps-1), 0.5
			if 255%(1<<bps-1) == 0 {
				slack = 0
			}
		case bps > 8 && bps < 16:
			scale, slack = 65535/float64(int(1)<<bps-1), 0.5
		case bps > 16:
			scale, off, slack = 1/float64(int(1)<<(bps-16)), -0.5, 0.5
		}
		for c := range want {
			want[c] = want[c]*scale + off
			if get("photometric") == "miniswhite" {
				want[c] = float64(info.Max()) - want[c]
			}
		}
		if info.Bits == 16 && get("photometric") == "palette" && bps < 16 {
			// A colour map has 16 bits (TIFF 6.0, page 23); vips keeps the upper 8.
			for i := range p.Pix {
				p.Pix[i] >>= 8
			}
		}
		got := means(p)
		for c := range 3 {
			if c < len(want) && math.Abs(got[c]-want[c]) > 1e-6*want[c]+1e-6+slack {
				t.Errorf("%s (%s %s bits, %s): mean of channel %d is %.4f, want %.4f", get("name"), get("photometric"), get("bps"), get("compression"), c, got[c], want[c])
			}
		}
		w, _ := strconv.Atoi(get("w"))
		h, _ := strconv.Atoi(get("h"))
		if o := info.Orientation; o < 5 && (info.Width != w || info.Height != h) || o >= 5 && (info.Width != h || info.Height != w) {
			t.Errorf("%s: %d x %d, orientation %d, want %d x %d", get("name"), info.Width, info.Height, o, w, h)
		}
	}
	t.Logf("%d read, %d refused by name", read, refused)
	if read < 50 {
		t.Fatalf("only %d files were read", read)
	}
}

// Every well-formed file that libvips can read has its pixels, code by code: vips
// reads through libtiff and gives the samples as they are, upper bits of the wider
// ones and floating-point numbers included.
func TestConformancePixels(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	dir := conformance(t)
	files, _ := filepath.Glob(filepath.Join(dir, "valid", "*"))
	compared := map[string]int{}
	for _, path := range files {
		name := filepath.Base(path)
		src, err := Open(path, DefaultBounds)
		if err != nil {
			continue
		}
		l := src.(*source).raster.(*tiffRaster).l
		if l.photo == photoPalette {
			continue // expanded by neither in the same way; their means are compared
		}
		if strings.Contains(strings.Join(src.Info().Notes, " "), "were multiplied by it") {
			continue // vips divides by associated alpha; libtiff's own means are compared
		}
		raw := filepath.Join(t.TempDir(), "raw")
		if !vipsRaw(t, path, raw) {
			t.Logf("%s: vips cannot read it", name)
			continue
		}
		b, err := os.ReadFile(raw)
		if err != nil {
			t.Fatal(err)
		}
		size := l.bits / 8
		if l.kind == kindFloat {
			size = 4
		}
		if l.bits != 8 && l.bits != 16 && l.bits != 32 || len(b) != l.w*l.h*size*l.samples {
			t.Logf("%s: vips has another layout (%d bits, %d samples)", name, l.bits, l.samples)
			continue
		}
		stored := make([]uint16, 3*l.w*l.h)
		err = src.(Sweeper).Sweep(context.Background(), SweepOptions{}, func() func(Block) error {
			return func(b Block) error { copy(stored[3*l.w*b.Y:], b.Rows); return nil }
		})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		flip := uint16(0)
		if l.photo == photoWhiteIsZero {
			flip = uint16(l.max())
		}
		if l.ycc {
			sameLight(t, name, stored, b, l.samples)
			compared["JPEG with halved colour"]++
			continue
		}
		for i, got := range stored {
			c := i % 3
			if l.photo != photoRGB {
				c = 0
			}
			p := b[(i/3*l.samples+c)*size:]
			var want uint16
			switch {
			case l.kind == kindFloat:
				want = codeOf(math.Float32frombits(binary.LittleEndian.Uint32(p)))
			case l.bits == 8:
				want = uint16(p[0])
			case l.bits == 16:
				want = binary.LittleEndian.Uint16(p)
			case l.bits == 32:
				want = uint16(binary.LittleEndian.Uint32(p) >> 16)
			}
			if l.pack == packJPEG && max(got, want)-min(got, want) <= 2 {
				continue // T.81 does not prescribe the inverse transform to the code
			}
			if got != want && got != want^flip {
				t.Errorf("%s: code %d is %d, vips has %d", name, i, got, want)
				break
			}
		}
		compared[fmt.Sprintf("%d bits", l.bits)]++
	}
	t.Logf("compared: %v", compared)
	if compared["16 bits"] < 10 || compared["8 bits"] < 20 {
		t.Errorf("too few were compared")
	}
}

// sameLight: a JPEG whose colour is halved has libjpeg's light, within three codes
// (one of the inverse transform, up to one of each rounding back to three channels).
// T.81 does not prescribe how halved colour is doubled: libjpeg interpolates it,
// image/jpeg repeats it, so the channels differ at the edges of drawn pictures, and
// their luminance (ITU-R BT.601, as in JFIF) does not but where a channel is clipped.
func sameLight(t *testing.T, name string, got []uint16, vips []byte, samples int) {
	far, compared := 0, 0
	for i := 0; i < len(got); i += 3 {
		p := vips[i/3*samples:]
		light, clipped := 0.0, false
		for c, weight := range [3]float64{0.299, 0.587, 0.114} {
			light += weight * (float64(got[i+c]) - float64(p[c]))
			clipped = clipped || got[i+c] == 0 || got[i+c] == 255 || p[c] == 0 || p[c] == 255
		}
		if clipped {
			continue
		}
		compared++
		if math.Abs(light) > 3 {
			far++
		}
	}
	if far > 0 || compared < len(got)/3/5 {
		t.Errorf("%s: the light of %d of %d pixels is over three codes from vips", name, far, compared)
	}
}

func vipsRaw(t *testing.T, path, raw string) bool {
	if _, err := exec.LookPath("vips"); err != nil {
		t.Skip("SKIPPED: vips is not installed; the pixels were not compared")
	}
	return exec.Command("vips", "rawsave", path, raw).Run() == nil
}

// Every malformed file is refused or truncated, in bounded memory and without a
// panic.
func TestConformanceMalformed(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(conformance(t), "malformed", "*"))
	if len(files) < 100 {
		t.Fatalf("only %d malformed files", len(files))
	}
	lim := Bounds{MaxSide: 20_000, MaxPixels: 20_000_000, MaxProfile: 1 << 20, MaxMemory: 1 << 30}
	counts := map[string]int{}
	for _, path := range files {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		kind, err := readAll(path, lim)
		runtime.ReadMemStats(&after)
		agree(t, path, lim)
		counts[kind]++
		if kind == "other" {
			t.Errorf("%s: %v", filepath.Base(path), err)
		}
		if used := after.TotalAlloc - before.TotalAlloc; used > 64<<20 {
			t.Errorf("%s took %s", filepath.Base(path), byteSize(int64(used)))
		}
		if kind == "read" {
			t.Errorf("%s was read as if it were sound", filepath.Base(path))
		}
	}
	t.Logf("%v", counts)
}

// readAll streams a file and says how that ended.
func readAll(path string, lim Bounds) (string, error) {
	src, err := Open(path, lim)
	if err == nil {
		rows := 0
		err = src.Stream(context.Background(), func(y int, band []uint16) error {
			if y != rows {
				return errors.New("a band is out of order")
			}
			if n := 3 * src.Info().Width; len(band) == 0 || len(band)%n != 0 {
				return errors.New("a band is not made of whole rows")
			} else {
				rows += len(band) / n
			}
			return nil
		})
		var short *TruncatedError
		if err == nil && rows != src.Info().Height {
			err = errors.New("rows are missing and nobody said so")
		}
		if errors.As(err, &short) && (short.RowsRead != rows && !(short.Damaged && short.RowsRead < rows) || short.Rows != src.Info().Height) {
			err = errors.New("the rows of the error are not those that were given")
		}
	}
	var format *FormatError
	var unsupported *UnsupportedError
	var limit *BoundsError
	var short *TruncatedError
	switch {
	case err == nil:
		return "read", nil
	case errors.As(err, &format):
		return "broken", err
	case errors.As(err, &unsupported):
		return "unsupported", err
	case errors.As(err, &limit):
		return "limit", err
	case errors.As(err, &short):
		return "truncated", err
	}
	return "other", err
}
