package headless

import (
	"context"
	"errors"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"stopladder/analysis/film"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/stills"
)

// knownFilm measures a roll of testdata.
func knownFilm(t *testing.T, name string) (*film.Roll, func(i int) (scan.Source, error)) {
	t.Helper()
	job, err := load.Plan([]string{filepath.Join(testdata, "rolls", name)}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := load.Measure(t.Context(), job, nil, load.Options{}, func(load.Event) {})
	if err != nil {
		t.Fatal(err)
	}
	return r, load.Opener(job.Roll, load.Options{})
}

// Stills that are stopped, or may not be written after all, leave nothing behind.
func TestStillsLeaveNothingHalf(t *testing.T) {
	r, open := knownFilm(t, "hand-held")
	set, err := stills.New(r, stills.Options{W: 640, H: 360, Grades: []criteria.Grade{"", criteria.Exposure}})
	if err != nil {
		t.Fatal(err)
	}
	refused := errors.New("it is needed")
	ctx, stop := context.WithCancel(t.Context())
	for _, c := range []struct {
		name     string
		ctx      context.Context
		still    func(string) error
		progress func(done, total int)
		want     error
	}{
		{"stopped", ctx, nil, func(done, _ int) {
			if done == 3 {
				stop()
			}
		}, context.Canceled},
		{"refused", t.Context(), func(path string) error {
			if filepath.Base(path) == set.List()[4].Name {
				return refused
			}
			return nil
		}, nil, refused},
	} {
		dir := t.TempDir()
		if err := set.WriteFolder(c.ctx, dir, "Stopladder", open, c.still, c.progress); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
		if left, _ := os.ReadDir(dir); len(left) > 0 {
			t.Errorf("%s: left %v", c.name, left)
		}
	}
}

// Frames that the camera was moved between show the same place, and no edge of the scan.
func TestStillsShowTheSamePlace(t *testing.T) {
	r, open := knownFilm(t, "hand-held")
	set, err := stills.New(r, stills.Options{W: 640, H: 360, Grades: []criteria.Grade{criteria.Curves}})
	if err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	pictures := map[int]*image.RGBA{}
	if err := set.Draw(t.Context(), open, func(s stills.Still, img *image.RGBA) error {
		mu.Lock()
		defer mu.Unlock()
		c := image.NewRGBA(img.Rect)
		copy(c.Pix, img.Pix)
		pictures[s.Frame] = c
		return nil
	}, nil); err != nil {
		t.Fatal(err)
	}
	base := pictures[r.Base]
	for i, p := range pictures {
		if i == r.Base || math.Abs(r.Judged.Frames[i].Stop) > 1 { // further away much is lost
			continue
		}
		here := alike(base, p, image.Point{})
		for _, off := range []image.Point{{8, 0}, {-8, 0}, {0, 8}, {0, -8}} { // less than two pixels of the scan
			if there := alike(base, p, off); there >= here {
				t.Errorf("%+g lies better on the base frame when it is moved by %v: correlation %.3f, %.3f where it is", r.Judged.Frames[i].Stop, off, there, here)
			}
		}
		for _, at := range []image.Point{{0, 180}, {639, 180}, {320, 0}, {320, 359}} {
			if p.RGBAAt(at.X, at.Y) == (color.RGBA{0x3a, 0x3a, 0x3a, 255}) {
				t.Errorf("%+g: surround at %v", r.Judged.Frames[i].Stop, at)
			}
		}
	}
}

// alike is the correlation of the greens of two pictures, the second moved by off.
func alike(a, b *image.RGBA, off image.Point) float64 {
	var n, sa, sb, saa, sbb, sab float64
	for y := 20; y < a.Rect.Dy()-20; y++ {
		for x := 20; x < a.Rect.Dx()-20; x++ {
			u, v := float64(a.RGBAAt(x, y).G), float64(b.RGBAAt(x+off.X, y+off.Y).G)
			n, sa, sb, saa, sbb, sab = n+1, sa+u, sb+v, saa+u*u, sbb+v*v, sab+u*v
		}
	}
	return (sab - sa*sb/n) / math.Sqrt((saa-sa*sa/n)*(sbb-sb*sb/n))
}
