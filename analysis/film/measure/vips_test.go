package measure

import (
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"stopladder/analysis/scan"
	"stopladder/analysis/scan/tiffwrite"
)

// Counts, means and histograms against Debian's libvips (hist_find, stats,
// relational_const, bandbool) on the same TIFF.

func vips(t *testing.T, args ...string) string {
	t.Helper()
	out, err := exec.Command("vips", args...).CombinedOutput()
	if err != nil {
		t.Fatalf("vips %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return strings.TrimSpace(string(out))
}

func writeTIFF(t *testing.T, path string, px *scan.Pixels) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w, err := tiffwrite.NewWriter(f, tiffwrite.Options{Width: px.Header.Width, Height: px.Header.Height})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.WriteRows(px.Pix); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestAgainstVips(t *testing.T) {
	if _, err := exec.LookPath("vips"); err != nil {
		t.Skip("SKIPPED: vips is not installed (apt-get install libvips-tools); exact counts were not checked from outside")
	}
	for _, c := range []struct {
		w, h int
		area image.Rectangle
		bits int
	}{
		{7013, 311, image.Rect(131, 17, 6801, 307), 16},
		{977, 1409, image.Rect(1, 2, 976, 1400), 16},
		{2049, 257, image.Rect(0, 0, 2049, 257), 8},
		{1, 7, image.Rect(0, 0, 1, 7), 16},
	} {
		t.Run(fmt.Sprintf("%dx%d %d-bit %v", c.w, c.h, c.bits, c.area), func(t *testing.T) {
			dir := t.TempDir()
			file := filepath.Join(dir, "x.tif")
			px := clippedPixels(c.w, c.h)
			writeTIFF(t, file, px)
			if c.bits == 8 {
				eight := filepath.Join(dir, "x8.tif")
				vips(t, "msb", file, eight)
				file = eight
			}
			src, err := scan.Open(file, scan.DefaultBounds)
			if err != nil {
				t.Fatal(err)
			}
			top := 1<<c.bits - 1
			lim := &CodeRange{Ceiling: RGB[int]{top - top/64, top, top - top/100}, Floor: RGB[int]{0, top / 200, top / 150}}
			l, err := NewLook(context.Background(), src, Options{Area: &c.area, CodeRange: lim})
			if err != nil {
				t.Fatal(err)
			}
			if l.Info.Bits != c.bits {
				t.Fatalf("%d bits", l.Info.Bits)
			}
			cut := filepath.Join(dir, "cut.v")
			vips(t, "extract_area", file, cut, strconv.Itoa(c.area.Min.X), strconv.Itoa(c.area.Min.Y), strconv.Itoa(c.area.Dx()), strconv.Itoa(c.area.Dy()))
			compareHistogram(t, dir, cut, l)
			compareMeans(t, dir, cut, l)
			compareClip(t, dir, cut, "moreeq", lim.Ceiling, l.Blown, l.Hist.Pixels)
			compareClip(t, dir, cut, "lesseq", lim.Floor, l.Blocked, l.Hist.Pixels)
		})
	}
}

// clippedPixels has all levels, with plenty at and near both ends.
func clippedPixels(w, h int) *scan.Pixels {
	px := &scan.Pixels{Header: scan.Info{Path: "clipped.tif", Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3}, Pix: make([]uint16, 3*w*h)}
	rng := rand.New(rand.NewPCG(uint64(w), uint64(h)))
	for i := range px.Pix {
		v := rng.NormFloat64()*30000 + float64(i%(3*w))/float64(3*w)*65535
		px.Pix[i] = uint16(math.Min(65535, math.Max(0, v)))
	}
	return px
}

func compareHistogram(t *testing.T, dir, cut string, l *Look) {
	t.Helper()
	raw := filepath.Join(dir, "hist.raw")
	vips(t, "hist_find", cut, raw)
	b, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	n := len(b) / 12 // codes up to the largest in use, three 32-bit counts each
	if n == 0 {
		t.Fatal("no histogram from vips")
	}
	counts := [3][]uint64{l.Hist.Channel(0), l.Hist.Channel(1), l.Hist.Channel(2)}
	for code := range l.Hist.Max + 1 {
		for c := range 3 {
			want := uint64(0)
			if code < n {
				want = uint64(binary.NativeEndian.Uint32(b[4*(3*code+c):]))
			}
			if got := counts[c][code]; got != want {
				t.Fatalf("channel %d code %d: %d pixels, vips says %d", c, code, got, want)
			}
		}
	}
}

// averages are the means of a picture's bands.
func averages(t *testing.T, dir, file string) (out []float64) {
	t.Helper()
	stats := filepath.Join(dir, "stats.mat")
	vips(t, "stats", file, stats)
	b, err := os.ReadFile(stats)
	if err != nil {
		t.Fatal(err)
	}
	// A line of sizes, one of all bands, then one for each: least, most, sum, sum of
	// squares, mean, and so on.
	for _, line := range strings.Split(strings.TrimSpace(string(b)), "\n")[2:] {
		v, err := strconv.ParseFloat(strings.Fields(line)[4], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

func compareMeans(t *testing.T, dir, cut string, l *Look) {
	t.Helper()
	want := averages(t, dir, cut)
	for c, got := range []float64{l.Mean.R, l.Mean.G, l.Mean.B} {
		if math.Abs(got-want[c]) > 1e-9*want[c] {
			t.Errorf("channel %d: mean %.8f, vips says %.8f", c, got, want[c])
		}
	}
}

func compareClip(t *testing.T, dir, cut, relation string, at RGB[int], got Clip, pixels uint64) {
	t.Helper()
	rel := filepath.Join(dir, "rel.v")
	vips(t, "relational_const", cut, rel, relation, fmt.Sprintf("%d %d %d", at.R, at.G, at.B))
	check := func(what string, got, mean float64) {
		want := math.Round(mean / 255 * float64(pixels)) // 255 where true
		if n := got * float64(pixels); math.Abs(n-want) > 1e-6*math.Max(1, want)+0.02 {
			t.Errorf("%s %s: %.2f pixels, vips says %.0f", relation, what, n, want)
		}
	}
	for c, mean := range averages(t, dir, rel) {
		check("rgb"[c:c+1], [3]float64{got.R, got.G, got.B}[c], mean)
	}
	for op, v := range map[string]float64{"or": got.Any, "and": got.All} {
		out := filepath.Join(dir, op+".v")
		vips(t, "bandbool", rel, out, op)
		mean, err := strconv.ParseFloat(vips(t, "avg", out), 64)
		if err != nil {
			t.Fatal(err)
		}
		check(op, v, mean)
	}
}
