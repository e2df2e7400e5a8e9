package pngwrite

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/scan/colour"
)

func streamed(t testing.TB, w, h, depth int, m Meta, pix []byte) []byte {
	t.Helper()
	stride := len(pix) / h
	var b bytes.Buffer
	err := Stream(context.Background(), &b, Rows{W: w, H: h, Depth: depth, Band: func(_ context.Context, dst []byte, y0, y1 int) error {
		copy(dst, pix[stride*y0:stride*y1])
		return nil
	}}, m)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What is streamed in several bands is read back by Go's decoder to the byte, at both depths.
func TestStreamReadBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, depth := range []int{8, 16} {
		const w, h = 1500, 1200
		pix := make([]byte, w*h*3*depth/8)
		for i := range pix { // smooth parts, noise, plain ground
			switch y := i / (len(pix) / h); {
			case y < 300:
				pix[i] = byte(i / 97)
			case y < 700:
				pix[i] = byte(rng.IntN(256))
			default:
				pix[i] = 0x33
			}
		}
		img, err := png.Decode(bytes.NewReader(streamed(t, w, h, depth, Meta{}, pix)))
		if err != nil {
			t.Fatal(err)
		}
		i := 0
		for y := range h {
			for x := range w {
				r, g, b, _ := img.At(x, y).RGBA()
				for _, v := range []uint32{r, g, b} {
					want := uint32(pix[i]) * 257
					if depth == 16 {
						want = uint32(pix[i])<<8 | uint32(pix[i+1])
					}
					if v != want {
						t.Fatalf("depth %d at %d,%d: %d, want %d", depth, x, y, v, want)
					}
					i += depth / 8
				}
			}
		}
		if img.Bounds() != image.Rect(0, 0, w, h) {
			t.Fatal(img.Bounds())
		}
	}
}

// What the file says of itself is read by ImageMagick and by libvips.
func TestStreamChunks(t *testing.T) {
	pix := make([]byte, 40*30*3)
	for i := range pix {
		pix[i] = byte(i)
	}
	for _, space := range []colour.Display{colour.SRGB, colour.DisplayP3} {
		path := filepath.Join(t.TempDir(), "a.png")
		if err := os.WriteFile(path, streamed(t, 40, 30, 8, Meta{PPI: 300, Title: "Courtyard", Software: "Stopladder", Space: space}, pix), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := exec.LookPath("identify"); err != nil {
			t.Skip("identify (ImageMagick) is not installed")
		}
		out, err := exec.Command("identify", "-verbose", path).CombinedOutput()
		text := string(out)
		if err != nil {
			t.Fatal(err, text)
		}
		for _, want := range []string{"118.11x118.11", "Title: Courtyard", "Software: Stopladder", "8-bit"} {
			if !strings.Contains(text, want) {
				t.Errorf("%v: no %q in\n%s", space, want, text)
			}
		}
		if space == colour.DisplayP3 && !strings.Contains(text, "icc:description: Display P3") {
			t.Errorf("no profile of Display P3 in\n%s", text)
		}
		if _, err := exec.LookPath("vipsheader"); err != nil {
			continue
		}
		out, err = exec.Command("vipsheader", "-a", path).CombinedOutput()
		if err != nil || !strings.Contains(string(out), "xres: 11.8") || (space == colour.DisplayP3) != strings.Contains(string(out), "icc-profile-data") {
			t.Errorf("%v: %v\n%s", space, err, out)
		}
	}
}

func TestStreamEnds(t *testing.T) {
	stop := errors.New("enough")
	for _, at := range []int{0, 600} {
		err := Stream(context.Background(), &bytes.Buffer{}, Rows{W: 3000, H: 1000, Depth: 8, Band: func(_ context.Context, dst []byte, y0, y1 int) error {
			if y1 > at {
				return stop
			}
			return nil
		}}, Meta{})
		if !errors.Is(err, stop) {
			t.Errorf("%v", err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	err := Stream(ctx, &bytes.Buffer{}, Rows{W: 3000, H: 9000, Depth: 8, Band: func(ctx context.Context, dst []byte, y0, y1 int) error {
		if y0 > 2000 {
			cancel()
		}
		return ctx.Err()
	}}, Meta{})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func BenchmarkStream(b *testing.B) {
	const w, h = 6000, 3375
	rng := rand.New(rand.NewPCG(1, 2))
	pix := make([]byte, w*h*3)
	for i := range pix {
		pix[i] = byte(i/4000) + byte(rng.IntN(6))
	}
	for b.Loop() {
		streamed(b, w, h, 8, Meta{}, pix)
	}
}
