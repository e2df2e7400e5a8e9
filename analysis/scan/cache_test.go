package scan

import (
	"context"
	"encoding/binary"
	"errors"
	"image"
	"math/rand/v2"
	"os"
	"testing"
)

// counted counts the regions that reach the source.
type counted struct {
	Source
	regions int
}

func (c *counted) Region(ctx context.Context, r image.Rectangle) ([]uint16, error) {
	c.regions++
	return c.Source.Region(ctx, r)
}

// Regions out of the cache are those of the source, its bound holds, and what was
// decoded is not decoded again.
func TestCache(t *testing.T) {
	const w, h = 700, 500
	data, _ := words(binary.LittleEndian, 3*w*h)
	for _, o := range []uint16{1, 6} {
		path := saved(t, "a.tif", buildTIFF(binary.LittleEndian, with(rgb16(w, h), map[uint16]any{tagRowsPerStrip: []uint32{20}, tagOrientation: []uint16{o}}), cut(data, 20*6*w)...))
		src, err := Open(path, DefaultLimits)
		if err != nil {
			t.Fatal(err)
		}
		p := held(t, path)
		below := &counted{Source: src}
		const most = 4 << 20
		c := NewCache(below, most)
		rng := rand.New(rand.NewPCG(1, uint64(o)))
		ctx := context.Background()
		for range 300 {
			in := src.Info()
			x, y := rng.IntN(in.Width), rng.IntN(in.Height)
			r := image.Rect(x, y, x+1+rng.IntN(in.Width-x), y+1+rng.IntN(in.Height-y))
			got, err := c.Region(ctx, r)
			if err != nil {
				t.Fatal(err)
			}
			want, _ := p.Region(ctx, r)
			sameCodes(t, r.String(), got, want)
			if c.Used() > most {
				t.Fatalf("%d bytes", c.Used())
			}
		}
		r := image.Rect(10, 10, 60, 60)
		c.Region(ctx, r)
		n := below.regions
		c.Region(ctx, r.Add(image.Pt(3, 4)))
		if below.regions != n {
			t.Error("decoded again")
		}
	}
}

// Rows that are missing are missing through the cache as well, and no others.
func TestCacheTruncated(t *testing.T) {
	const w, h = 40, 300
	data, codes := words(binary.LittleEndian, 3*w*h)
	b := buildTIFF(binary.LittleEndian, rgb16(w, h), data)
	path := saved(t, "a.tif", b)
	if err := os.WriteFile(path, b[:len(b)-100*6*w], 0o600); err != nil {
		t.Fatal(err)
	}
	src, err := Open(path, DefaultLimits)
	if err != nil {
		t.Fatal(err)
	}
	c := NewCache(src, 0)
	got, err := c.Region(context.Background(), image.Rect(0, 190, w, 200))
	if err != nil {
		t.Fatal(err)
	}
	sameCodes(t, "the last rows", got, codes[3*w*190:3*w*200])
	var short *TruncatedError
	if _, err := c.Region(context.Background(), image.Rect(0, 190, w, 201)); !errors.As(err, &short) {
		t.Errorf("%v", err)
	}
}
