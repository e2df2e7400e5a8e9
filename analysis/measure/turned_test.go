package measure

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"stopladder/analysis/scan"
)

// A file that ends early is measured as far as it goes whichever way it is
// turned: what is there are the same pixels, so the counts are the same.
func TestTruncatedAndTurned(t *testing.T) {
	if _, err := exec.LookPath("tiffset"); err != nil {
		t.Skip("SKIPPED: libtiff's tools are not installed")
	}
	const w, h = 700, 600
	px := scene16(0.9, 1, 300, nil)
	dir := t.TempDir()
	plain := filepath.Join(dir, "plain.tif")
	writeTIFF(t, plain, px)
	// Its last third is made of nothing, which no decoder takes for rows.
	lzw := filepath.Join(dir, "lzw.tif")
	if b, err := exec.Command("tiffcp", "-c", "lzw", "-r", "20", plain, lzw).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	var want *Look
	for o := 1; o <= 8; o++ {
		name := filepath.Join(dir, fmt.Sprintf("%d.tif", o))
		b, err := os.ReadFile(lzw)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if b, err := exec.Command("tiffset", "-s", "274", fmt.Sprint(o), name).CombinedOutput(); err != nil {
			t.Fatalf("%v %s", err, b)
		}
		if b, err = os.ReadFile(name); err != nil {
			t.Fatal(err)
		}
		clear(b[len(b)*2/3 : len(b)-4000]) // the directory lies at the end
		if err := os.WriteFile(name, b, 0o600); err != nil {
			t.Fatal(err)
		}
		src, err := scan.Open(name, scan.DefaultLimits)
		if err != nil {
			t.Fatal(err)
		}
		l := look(t, src, Options{})
		if o == 1 {
			if want = l; l.MissingRows < 100 || l.MissingRows > 400 {
				t.Fatalf("%d rows missing", l.MissingRows)
			}
			continue
		}
		if l.MissingRows != want.MissingRows || l.Hist.Pixels != want.Hist.Pixels || l.Mean != want.Mean || l.Blown != want.Blown {
			t.Errorf("orientation %d: %d rows missing, %d pixels, mean %v; upright %d, %d, %v", o, l.MissingRows, l.Hist.Pixels, l.Mean, want.MissingRows, want.Hist.Pixels, want.Mean)
		}
		x, y := scan.UprightPixel(o, w, h, 350, 5)
		a, ok := PixelAt(l, x, y, 1)
		b2, _ := PixelAt(want, 350, 5, 1)
		if !ok || a.Codes != b2.Codes {
			t.Errorf("orientation %d: a pixel that is there reads %v, want %v", o, a.Codes, b2.Codes)
		}
		x, y = scan.UprightPixel(o, w, h, 350, h-5)
		if _, ok := PixelAt(l, x, y, 1); ok {
			t.Errorf("orientation %d: a pixel that is missing was read", o)
		}
	}
}
