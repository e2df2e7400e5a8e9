package measure

import (
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"stopladder/analysis/scan"
)

// turnedAndCut writes a picture whose file ends early, as each of the eight
// orientations, and looks at them; the first is the upright one.
func turnedAndCut(t *testing.T, px *scan.Pixels) (looks [9]*Look) {
	t.Helper()
	if _, err := exec.LookPath("tiffset"); err != nil {
		t.Skip("SKIPPED: libtiff's tools are not installed")
	}
	dir := t.TempDir()
	plain := filepath.Join(dir, "plain.tif")
	writeTIFF(t, plain, px)
	// Its last third is made of nothing, which no decoder takes for rows.
	lzw := filepath.Join(dir, "lzw.tif")
	if b, err := exec.Command("tiffcp", "-c", "lzw", "-r", "20", plain, lzw).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
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
		src, err := scan.Open(name, scan.DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		looks[o] = look(t, src, Options{})
	}
	if m := looks[1].MissingRows; m < 100 || m > 400 {
		t.Fatalf("%d rows missing", m)
	}
	return looks
}

// A file that ends early is measured as far as it goes whichever way it is
// turned: what is there are the same pixels, so the counts are the same.
func TestTruncatedAndTurned(t *testing.T) {
	const w, h = 700, 600
	looks := turnedAndCut(t, scene16(0.9, 1, 300, nil))
	want := looks[1]
	for o := 2; o <= 8; o++ {
		l := looks[o]
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

// So is its border found: at the sides that are there.
func TestBorderOfTruncatedAndTurned(t *testing.T) {
	const w, h, holder = 700, 600, 36
	px := scene16(0.9, 1, 300, nil)
	for y := range h {
		for x := range w {
			if x < holder || y < holder || x >= w-holder || y >= h-holder {
				for c := range 3 {
					px.Pix[3*(y*w+x)+c] = uint16(300 + (x*7+y*13+c)%40)
				}
			}
		}
	}
	looks := turnedAndCut(t, px)
	want := looks[1]
	if want.AreaFrom != AreaFound {
		t.Fatalf("the upright border is %v: %s", want.AreaFrom, want.AreaNote)
	}
	for o := 2; o <= 8; o++ {
		l := looks[o]
		if l.AreaFrom != want.AreaFrom {
			t.Errorf("orientation %d: border %v, %s", o, l.AreaFrom, l.AreaNote)
		}
		x0, y0 := scan.UprightPixel(o, w, h, want.Area.Min.X, want.Area.Min.Y)
		x1, y1 := scan.UprightPixel(o, w, h, want.Area.Max.X-1, want.Area.Max.Y-1)
		r := image.Rect(x0, y0, x1, y1)
		r.Max = r.Max.Add(image.Pt(1, 1))
		near := func(a, b int) bool { return a-b <= 2 && b-a <= 2 }
		if g := l.Area; !near(g.Min.X, r.Min.X) || !near(g.Min.Y, r.Min.Y) || !near(g.Max.X, r.Max.X) || !near(g.Max.Y, r.Max.Y) {
			t.Errorf("orientation %d: area %v, want %v", o, g, r)
		}
		if d := l.Blocked.Any - want.Blocked.Any; d > 1e-3 || d < -1e-3 {
			t.Errorf("orientation %d: blocked %.4f, upright %.4f", o, l.Blocked.Any, want.Blocked.Any)
		}
	}
}
