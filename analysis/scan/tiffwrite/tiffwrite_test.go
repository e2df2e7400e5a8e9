package tiffwrite

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/tiff"
)

func ramp(w, h int) []uint16 {
	p := make([]uint16, 3*w*h)
	s := uint32(1)
	for i := range p {
		s = s*1664525 + 1013904223
		p[i] = uint16(s >> 16)
	}
	return p
}

func write(t testing.TB, path string, o Options, pix []uint16) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w, err := NewWriter(f, o)
	if err != nil {
		t.Fatal(err)
	}
	// Uneven bands: strips must not depend on how the rows arrive.
	for y, n := 0, 1; y < o.Height; n = n%7 + 2 {
		n = min(n, o.Height-y)
		if err := w.WriteRows(pix[3*o.Width*y : 3*o.Width*(y+n)]); err != nil {
			t.Fatal(err)
		}
		y += n
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestOutsideReader reads the file back with golang.org/x/image/tiff and, for
// the header, with Debian's tiffinfo and vipsheader.
func TestOutsideReader(t *testing.T) {
	for _, c := range []Compression{None, Deflate} {
		for _, size := range [][2]int{{1, 1}, {37, 53}, {401, 133}} {
			for _, rps := range []int{0, 1, 5} {
				t.Run(fmt.Sprint(c, size, rps), func(t *testing.T) {
					o := Options{Width: size[0], Height: size[1], ICC: []byte("not a real profile, odd"), Description: "stepped", Software: "s", PPI: 3200, Compression: c, RowsPerStrip: rps}
					pix := ramp(o.Width, o.Height)
					path := filepath.Join(t.TempDir(), "a.tif")
					write(t, path, o, pix)
					data, err := os.ReadFile(path)
					if err != nil {
						t.Fatal(err)
					}
					img, err := tiff.Decode(bytes.NewReader(data))
					if err != nil {
						t.Fatal(err)
					}
					if b := img.Bounds(); b.Dx() != o.Width || b.Dy() != o.Height {
						t.Fatalf("size %v", b)
					}
					for y := range o.Height {
						for x := range o.Width {
							r, g, b, _ := img.At(x, y).RGBA()
							i := 3 * (y*o.Width + x)
							if uint16(r) != pix[i] || uint16(g) != pix[i+1] || uint16(b) != pix[i+2] {
								t.Fatalf("pixel %d,%d differs", x, y)
							}
						}
					}
				})
			}
		}
	}
}

func TestTiffinfo(t *testing.T) {
	tool, err := exec.LookPath("tiffinfo")
	if err != nil {
		t.Skip("SKIPPED: tiffinfo (Debian libtiff-tools) is missing, the header was not checked from outside")
	}
	path := filepath.Join(t.TempDir(), "a.tif")
	write(t, path, Options{Width: 64, Height: 40, ICC: bytes.Repeat([]byte{7}, 300), Description: "a stepped grey", PPI: 3200, Compression: Deflate}, ramp(64, 40))
	out, err := exec.Command(tool, path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, want := range []string{"Image Width: 64 Image Length: 40", "Resolution: 3200, 3200 pixels/inch", "Bits/Sample: 16", "AdobeDeflate", "RGB color", "a stepped grey", "Samples/Pixel: 3", "single image plane", "Predictor: horizontal differencing", "ICC Profile: <present>, 300 bytes"} {
		if !strings.Contains(string(out), want) {
			t.Errorf("tiffinfo does not say %q:\n%s", want, out)
		}
	}
	if strings.Contains(string(out), "Warning") {
		t.Errorf("tiffinfo warns:\n%s", out)
	}
}

func TestRefusals(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "a.tif"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, o := range []Options{{}, {Width: 1 << 25, Height: 1}, {Width: 30000, Height: 30000}, {Width: 1, Height: 1, Compression: 9}} {
		if _, err := NewWriter(f, o); err == nil {
			t.Errorf("%+v was taken", o)
		}
	}
	w, err := NewWriter(f, Options{Width: 2, Height: 2})
	if err != nil {
		t.Fatal(err)
	}
	if w.WriteRows(make([]uint16, 5)) == nil {
		t.Error("half a row was taken")
	}
	if w.WriteRows(make([]uint16, 18)) == nil {
		t.Error("three rows of two were taken")
	}
	if err := w.WriteRows(make([]uint16, 6)); err != nil {
		t.Fatal(err)
	}
	if w.Close() == nil {
		t.Error("a picture with a missing row was closed")
	}
}

func BenchmarkWrite(b *testing.B) {
	for _, c := range []Compression{None, Deflate} {
		b.Run(fmt.Sprint(c), func(b *testing.B) {
			pix := ramp(2000, 500)
			b.SetBytes(int64(len(pix) * 2))
			for b.Loop() {
				write(b, filepath.Join(b.TempDir(), "a.tif"), Options{Width: 2000, Height: 500, Compression: c}, pix)
			}
		})
	}
}
