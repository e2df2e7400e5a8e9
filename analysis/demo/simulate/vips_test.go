package simulate

import (
	"context"
	"image"
	_ "image/png" // the tool's output
	"math"
	"os"
	"path/filepath"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/numeric/affine"
)

// TestGreyThroughProfile has the base frames of both films taken to sRGB by
// Debian's libvips (with Little CMS inside) through the embedded profile, and
// reads the grey card there: a neutral near L* 50.
func TestGreyThroughProfile(t *testing.T) {
	var card scene.Place
	for _, p := range scene.Places {
		if p.Name == "grey card" {
			card = p
		}
	}
	for _, kind := range []string{"reversal", "negative"} {
		dir := t.TempDir()
		paths, err := WriteDemo(context.Background(), dir, WriteOptions{Kind: kind, Size: 700})
		if err != nil {
			t.Fatal(err)
		}
		out := filepath.Join(dir, "base.png")
		tool(t, "vips", "icc_transform", paths[3], out, "srgb", "--embedded", "--depth", "8")
		f, err := os.Open(out)
		if err != nil {
			t.Fatal(err)
		}
		img, _, err := image.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		d, err := NewDemoOf(kind, img.Bounds().Dx(), img.Bounds().Dy())
		if err != nil {
			t.Fatal(err)
		}
		tr, err := d.Truth(3)
		if err != nil {
			t.Fatal(err)
		}
		x0, y0 := affine.At(tr.FromScene, card.X0*scene.EmbeddedWidth, card.Y0*scene.EmbeddedHeight)
		x1, y1 := affine.At(tr.FromScene, card.X1*scene.EmbeddedWidth, card.Y1*scene.EmbeddedHeight)
		var s [3]float64
		n := 0.0
		for y := int(y0) + 1; y < int(y1); y++ {
			for x := int(x0) + 1; x < int(x1); x++ {
				r, g, b, _ := img.At(x, y).RGBA()
				s[0] += float64(r) / 65535
				s[1] += float64(g) / 65535
				s[2] += float64(b) / 65535
				n++
			}
		}
		for i := range s {
			s[i] /= n
		}
		// IEC 61966-2-1 to linear, then CIE L*.
		L := lstar(math.Pow((s[1]+0.055)/1.055, 2.4))
		t.Logf("%s: grey card sRGB %.1f %.1f %.1f, L* %.1f", kind, 255*s[0], 255*s[1], 255*s[2], L)
		if math.Abs(L-50) > 2 || math.Abs(s[0]-s[1])*255 > 2.5 || math.Abs(s[2]-s[1])*255 > 2.5 {
			t.Errorf("%s: the grey card is sRGB %.1f %.1f %.1f, L* %.1f", kind, 255*s[0], 255*s[1], 255*s[2], L)
		}
	}
}
