package scan

import (
	"context"
	"image"
	"image/color"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/tiff"
)

// foreign are the TIFFs that the module golang.org/x/image carries for its own
// tests: made by other programs, and in the module cache wherever this compiles.
func foreign(t *testing.T) []string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "golang.org/x/image").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	paths, err := filepath.Glob(filepath.Join(strings.TrimSpace(string(out)), "testdata", "*.tiff"))
	if err != nil || len(paths) < 15 {
		t.Fatalf("%d TIFFs in golang.org/x/image, %v", len(paths), err)
	}
	return paths
}

// Every foreign TIFF has the pixels that golang.org/x/image/tiff reads, code by code,
// or is refused for what it is.
func TestForeign(t *testing.T) {
	refusals := map[string]string{
		"bw-gopher_ccittGroup3.tiff": "CCITT", "bw-gopher_ccittGroup4.tiff": "CCITT",
		"invalid-palette-ref.tiff": "its palette has 195 values", // libtiff finds its count wrong too
	}
	read := 0
	for _, path := range foreign(t) {
		name := filepath.Base(path)
		src, err := Open(path, DefaultBounds)
		if err != nil {
			if why, ok := refusals[name]; !ok || !strings.Contains(err.Error(), why) {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if refusals[name] != "" {
			t.Errorf("%s was not refused", name)
			continue
		}
		p, err := Hold(context.Background(), src)
		f, ferr := os.Open(path)
		if ferr != nil {
			t.Fatal(ferr)
		}
		want, wantErr := tiff.Decode(f)
		f.Close()
		if err != nil || wantErr != nil {
			t.Errorf("%s: %v; the library: %v", name, err, wantErr)
			continue
		}
		read++
		if b := want.Bounds(); b.Dx() != p.Header.Width || b.Dy() != p.Header.Height {
			t.Errorf("%s: %d x %d, want %d x %d", name, p.Header.Width, p.Header.Height, b.Dx(), b.Dy())
			continue
		}
		for i := range p.Header.Width * p.Header.Height {
			x, y := i%p.Header.Width, i/p.Header.Width
			c := color.NRGBA64Model.Convert(want.At(x, y)).(color.NRGBA64)
			if n, ok := want.(*image.NRGBA); ok { // converting loses the colour of what is clear
				c = color.NRGBA64{R: 257 * uint16(n.NRGBAAt(x, y).R), G: 257 * uint16(n.NRGBAAt(x, y).G), B: 257 * uint16(n.NRGBAAt(x, y).B)}
			}
			codes := [3]uint16{c.R, c.G, c.B}
			if p.Header.Bits == 8 {
				codes = [3]uint16{c.R >> 8, c.G >> 8, c.B >> 8}
			}
			if got := [3]uint16(p.Pix[3*i : 3*i+3]); got != codes {
				t.Errorf("%s: pixel %d is %v, the library has %v", name, i, got, codes)
				break
			}
		}
	}
	if read < 12 {
		t.Errorf("only %d were read", read)
	}
}
