package simulate

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/image/tiff"

	"stopladder/analysis/demo/scene"
)

func TestDemoRoll(t *testing.T) {
	for _, kind := range []string{"reversal", "negative"} {
		d, err := NewDemo(kind)
		if err != nil {
			t.Fatal(err)
		}
		want := []string{"courtyard -3.tif", "courtyard -2.tif", "courtyard -1.tif", "courtyard 0.tif", "courtyard +1.tif", "courtyard +2.tif", "courtyard +3.tif", "courtyard +4.tif"}
		if !slices.Equal(d.Names(), want) || !slices.Equal(d.Stops(), DefaultStops()) {
			t.Errorf("%v %v", d.Names(), d.Stops())
		}
		if !strings.HasPrefix(d.Stock, "sample "+kind) || d.Title == "" || d.Exposure == "" {
			t.Errorf("%+v", d)
		}
		src := d.Open(3)
		info := src.Info()
		if d.frames[3].pix != nil {
			t.Error("Info rendered the frame")
		}
		if info.Path != "demo:courtyard 0.tif" || info.Bits != 16 || info.Width <= scene.EmbeddedWidth || len(info.ICC) < 128 {
			t.Errorf("%+v", info)
		}
		rows, last := 0, -1
		err = src.Stream(context.Background(), func(y int, b []uint16) error {
			if y <= last {
				t.Fatal("bands are out of order")
			}
			last = y
			rows += len(b) / (3 * info.Width)
			return nil
		})
		if err != nil || rows != info.Height {
			t.Fatalf("%d rows of %d, %v", rows, info.Height, err)
		}
		r := image.Rect(700, 600, 720, 610)
		part, err := src.Region(context.Background(), r)
		if err != nil || len(part) != 3*200 {
			t.Fatal(err, len(part))
		}
		if part[0] != d.frames[3].pix.Pix[3*(600*info.Width+700)] {
			t.Error("Region and Stream disagree")
		}
		tr, err := d.Truth(5)
		if err != nil || tr.Stop != 2 || tr.Exposure == 2 || tr.Shift == [2]float64{} {
			t.Errorf("%+v %v", tr, err)
		}
	}
	if _, err := NewDemo("slide"); err == nil {
		t.Error("an unknown roll was opened")
	}
}

// TestWriteDemo writes the roll and checks it with Debian's tools and an
// independent reader.
func TestWriteDemo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "roll")
	last := 0.0
	paths, err := WriteDemo(context.Background(), dir, WriteOptions{Kind: "reversal", Size: 420, Progress: func(p float64) {
		if p < last || p > 1 {
			t.Errorf("progress went from %v to %v", last, p)
		}
		last = p
	}})
	if err != nil {
		t.Fatal(err)
	}
	if len(paths) != 8 || last != 1 {
		t.Fatalf("%d files, progress %v", len(paths), last)
	}
	files, _ := os.ReadDir(dir)
	if len(files) != 8 {
		t.Errorf("%d files in the folder", len(files))
	}
	d, err := NewDemoOf("reversal", 420, 362)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(paths[4])
	if err != nil {
		t.Fatal(err)
	}
	img, err := tiff.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(b, Profile()) {
		t.Error("the profile is not embedded")
	}
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	d.o.W, d.o.H = w, h
	p, err := d.frames[4].pixels(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for y := 0; y < h; y += 7 {
		for x := 0; x < w; x += 5 {
			r, g, bl, _ := img.At(x, y).RGBA()
			i := 3 * (y*w + x)
			if uint16(r) != p.Pix[i] || uint16(g) != p.Pix[i+1] || uint16(bl) != p.Pix[i+2] {
				t.Fatalf("pixel %d,%d of the file differs from the frame", x, y)
			}
		}
	}
	t.Run("tiffinfo", func(t *testing.T) {
		out := tool(t, "tiffinfo", paths[0])
		for _, want := range []string{fmt.Sprintf("Image Width: %d Image Length: %d", w, h), "Bits/Sample: 16", "Samples/Pixel: 3", "ICC Profile: <present>", "sample reversal 100, -3 stops"} {
			if !strings.Contains(out, want) {
				t.Errorf("tiffinfo does not say %q:\n%s", want, out)
			}
		}
		if strings.Contains(out, "Warning") || strings.Contains(out, "Error") {
			t.Error(out)
		}
	})
	t.Run("vipsheader", func(t *testing.T) {
		out := tool(t, "vipsheader", "-a", paths[7])
		for _, want := range []string{fmt.Sprintf("width: %d", w), fmt.Sprintf("height: %d", h), "bands: 3", "format: ushort", "icc-profile-data"} {
			if !strings.Contains(out, want) {
				t.Errorf("vipsheader does not say %q:\n%s", want, out)
			}
		}
	})
	t.Run("again", func(t *testing.T) {
		before, _ := os.ReadFile(paths[2])
		_, err := WriteDemo(context.Background(), dir, WriteOptions{Kind: "negative", Size: 420})
		if !errors.Is(err, fs.ErrExist) || !strings.Contains(err.Error(), "courtyard -3.tif") {
			t.Errorf("overwriting: %v", err)
		}
		after, _ := os.ReadFile(paths[2])
		if !bytes.Equal(before, after) {
			t.Error("a file was changed")
		}
		if _, err := WriteDemo(context.Background(), dir, WriteOptions{Kind: "negative", Size: 420, Force: true}); err != nil {
			t.Error(err)
		}
	})
}

func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	p, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("SKIPPED: %s (Debian) is missing, the file was not checked by it", name)
	}
	out, err := exec.Command(p, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

func TestWriteDemoFails(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := WriteDemo(context.Background(), file, WriteOptions{Kind: "reversal", Size: 300})
	var de *DemoFileError
	if !errors.As(err, &de) || de.Path != file || strings.Contains(err.Error(), "\n") {
		t.Errorf("a file as folder: %v", err)
	}
	// A folder stands where a file should go, so the rename must fail.
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "courtyard -2.tif", "x"), 0o700); err != nil {
		t.Fatal(err)
	}
	done, err := WriteDemo(context.Background(), dir, WriteOptions{Kind: "reversal", Size: 300, Force: true})
	if !errors.As(err, &de) || len(done) != 1 || !strings.Contains(err.Error(), "courtyard -2.tif cannot be written") {
		t.Errorf("a file that cannot be written: %v, %v", done, err)
	}
	parts, _ := filepath.Glob(filepath.Join(dir, ".*part"))
	if len(parts) != 0 {
		t.Errorf("left behind: %v", parts)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := WriteDemo(ctx, t.TempDir(), WriteOptions{Kind: "reversal", Size: 300}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	for _, size := range []int{-1, 10, 50000} {
		if _, err := WriteDemo(context.Background(), t.TempDir(), WriteOptions{Kind: "reversal", Size: size}); err == nil {
			t.Errorf("size %d was taken", size)
		}
	}
}

func BenchmarkDemo(b *testing.B) {
	if _, err := scene.Embedded(); err != nil {
		b.Fatal(err)
	}
	for _, kind := range []string{"reversal", "negative"} {
		b.Run(kind, func(b *testing.B) {
			for b.Loop() {
				d, err := NewDemo(kind)
				if err != nil {
					b.Fatal(err)
				}
				for _, f := range d.frames {
					if _, err := f.pixels(context.Background()); err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}

// BenchmarkFull writes nothing: it scans one frame of a real size, in bands.
func BenchmarkFull(b *testing.B) {
	d, err := NewDemoOf("reversal", 7000, 6056)
	if err != nil {
		b.Fatal(err)
	}
	s, err := d.frames[5].shot()
	if err != nil {
		b.Fatal(err)
	}
	buf := make([]uint16, 3*7000*384)
	b.SetBytes(7000 * 6056 * 6)
	for b.Loop() {
		for y := 0; y < s.o.H; y += 384 {
			end := min(y+384, s.o.H)
			if err := s.rows(context.Background(), image.Pt(y, end), buf[:3*7000*(end-y)]); err != nil {
				b.Fatal(err)
			}
		}
	}
}
