package rowtest

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// Golden compares img with the PNG at path, pixel for pixel; update writes it
// anew instead. Where they differ, the picture that was drawn and a map of the
// differences are left in a folder that the failure names. Other processors
// than amd64 may fuse multiplications with additions, which moves a value by
// one; there a difference of two is let pass.
func Golden(t *testing.T, img *image.RGBA, path string, update bool) {
	t.Helper()
	if update {
		write(t, path, img)
		return
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatalf("%v (run the test with -update to draw it)", err)
	}
	defer f.Close()
	dec, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	want := image.NewRGBA(dec.Bounds())
	draw.Draw(want, want.Rect, dec, want.Rect.Min, draw.Src)
	limit := 0
	if runtime.GOARCH != "amd64" {
		limit = 2
	}
	if want.Rect.Size() != img.Rect.Size() {
		t.Errorf("%s is %v, drawn %v", path, want.Rect.Size(), img.Rect.Size())
	}
	diff := image.NewGray(img.Rect)
	n, worst := 0, 0
	for y := 0; y < min(want.Rect.Dy(), img.Rect.Dy()); y++ {
		for x := 0; x < min(want.Rect.Dx(), img.Rect.Dx()); x++ {
			a, b := want.Pix[want.PixOffset(x, y):], img.Pix[img.PixOffset(x, y):]
			d := 0
			for k := range 4 {
				d = max(d, int(a[k])-int(b[k]), int(b[k])-int(a[k]))
			}
			if d > limit {
				n++
				diff.SetGray(x, y, color.Gray{uint8(min(255, 55+d*4))})
			}
			worst = max(worst, d)
		}
	}
	if n == 0 && !t.Failed() {
		return
	}
	dir, err := os.MkdirTemp("", "stopladder-golden-") // kept, unlike t.TempDir, to be looked at
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "drawn.png"), img)
	write(t, filepath.Join(dir, "difference.png"), diff)
	t.Errorf("%s: %d pixels differ, the worst by %d; see %s", path, n, worst, dir)
}

func write(t *testing.T, path string, img image.Image) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(f, img); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}
