package render

import (
	"context"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// exactLook is a look at a made-up scan, and the scan.
func exactLook(w, h, factor int) (*measure.Look, *scan.Pixels) {
	px := &scan.Pixels{Header: scan.Info{Path: "made up", Width: w, Height: h, Bits: 16, Channels: 3, Orientation: 1}, Pix: make([]uint16, 3*w*h)}
	for y := range h {
		for x := range w {
			u, v := float64(x)/float64(w), float64(y)/float64(h)
			for c := range 3 {
				s := 0.5 + 0.35*math.Sin(11*u+float64(c))*math.Cos(9*v) + 0.1*math.Sin(70*u*v+float64(3*c))
				px.Pix[3*(y*w+x)+c] = uint16(65535 * math.Max(0, math.Min(1, s)))
			}
		}
	}
	l := &measure.Look{Info: px.Header, Space: colour.AssumedSRGB(65535), Area: image.Rect(0, 0, w, h)}
	l.Ceiling, l.Floor = measure.RGB[int]{R: 65535, G: 65535, B: 65535}, measure.RGB[int]{}
	pw, ph := (w+factor-1)/factor, (h+factor-1)/factor
	l.Preview = &measure.Preview{W: pw, H: ph, Factor: factor, Pix: make([]uint16, 3*pw*ph)}
	tone := l.Space.Tone()
	for c := range 3 {
		in := newInverse(tone[c])
		for y := range ph {
			for x := range pw {
				sum, n := float32(0), float32(0)
				for yy := y * factor; yy < min(h, (y+1)*factor); yy++ {
					for xx := x * factor; xx < min(w, (x+1)*factor); xx++ {
						sum += tone[c][px.Pix[3*(yy*w+xx)+c]]
						n++
					}
				}
				l.Preview.Pix[3*(y*pw+x)+c] = in.code(sum / n)
			}
		}
	}
	return l, px
}

func drawn(t *testing.T, e Exact) *Deep {
	t.Helper()
	d, err := e.Draw(context.Background())
	if err != nil || d == nil || d.Stood != nil {
		t.Fatalf("%v %v", err, d)
	}
	return d
}

// A reduction of the scan is libvips' own in linear light with a tent as wide as the
// reduction (vips resize --kernel linear), to a thousandth of the scale.
func TestExactReducesAsVips(t *testing.T) {
	if _, err := exec.LookPath("vips"); err != nil {
		t.Skip("vips (libvips-tools) is not installed")
	}
	const w, h = 600, 400
	look, px := exactLook(w, h, 4)
	dir := t.TempDir()
	img := image.NewRGBA64(image.Rect(0, 0, w, h))
	for i := range w * h {
		img.SetRGBA64(i%w, i/w, color.RGBA64{px.Pix[3*i], px.Pix[3*i+1], px.Pix[3*i+2], 65535})
	}
	in, out := filepath.Join(dir, "in.png"), filepath.Join(dir, "out.png")
	f, err := os.Create(in)
	if err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(f, img); err != nil {
		t.Fatal(err)
	}
	f.Close()
	for _, step := range [][]string{
		{"colourspace", in, filepath.Join(dir, "a.v"), "scrgb"},
		{"resize", filepath.Join(dir, "a.v"), filepath.Join(dir, "b.v"), "0.5", "--kernel", "linear"},
		{"colourspace", filepath.Join(dir, "b.v"), out, "rgb16"},
	} {
		if b, err := exec.Command("vips", step...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v\n%s", step, err, b)
		}
	}
	g, err := os.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	want, err := png.Decode(g)
	if err != nil {
		t.Fatal(err)
	}
	d := drawn(t, Exact{Picture: Picture{Look: look}, Open: func() (scan.Source, error) { return px, nil }, W: w / 2, H: h / 2})
	worst, sum := 0.0, 0.0
	for y := 3; y < h/2-3; y++ {
		for x := 3; x < w/2-3; x++ {
			r, g, b, _ := want.At(x, y).RGBA()
			for c, v := range []uint32{r, g, b} {
				off := math.Abs(float64(d.Pix[3*(y*d.W+x)+c]) - float64(v))
				worst, sum = math.Max(worst, off), sum+off
			}
		}
	}
	mean := sum / float64(3*(w/2-6)*(h/2-6))
	if worst > 300 || mean > 65 {
		t.Errorf("off by %.0f codes of 65535 at worst, %.0f in the mean", worst, mean)
	}
}

// The preview gives the same picture as the scan where it has the pixels: to a hundredth.
func TestExactPreviewIsScan(t *testing.T) {
	look, px := exactLook(640, 480, 2)
	a := drawn(t, Exact{Picture: Picture{Look: look}, W: 160, H: 120})
	look.Preview.Factor = 2
	e := Exact{Picture: Picture{Look: look}, Open: func() (scan.Source, error) { return px, nil }, W: 160, H: 120}
	b := &Deep{W: 160, H: 120, Pix: make([]uint16, 3*160*120)}
	if err := e.fromScan(context.Background(), b, look.Area); err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for i := range a.Pix {
		sum += math.Abs(float64(a.Pix[i]) - float64(b.Pix[i]))
	}
	if mean := sum / float64(len(a.Pix)); mean > 655 {
		t.Errorf("off by %.0f codes in the mean", mean)
	}
}

// At its own size a scan is drawn as it is; enlarged, a plain field stays plain.
func TestExactOwnSize(t *testing.T) {
	look, px := exactLook(160, 120, 2)
	d := drawn(t, Exact{Picture: Picture{Look: look}, Open: func() (scan.Source, error) { return px, nil }, W: 160, H: 120})
	for i, v := range d.Pix {
		if off := int(v) - int(px.Pix[i]); off < -2 || off > 2 {
			t.Fatalf("code %d is %d, not %d", i, v, px.Pix[i])
		}
	}
	for i := range px.Pix {
		px.Pix[i] = 30000
	}
	for i := range look.Preview.Pix {
		look.Preview.Pix[i] = 30000
	}
	for _, v := range drawn(t, Exact{Picture: Picture{Look: look}, Open: func() (scan.Source, error) { return px, nil }, W: 400, H: 300}).Pix {
		if v < 29990 || v > 30010 {
			t.Fatalf("a plain field of 30000 became %d", v)
		}
	}
}

// A scan that cannot be opened, or is another, leaves the preview's picture, and says why.
func TestExactStandsIn(t *testing.T) {
	look, px := exactLook(400, 300, 4)
	other := *px
	other.Header.Width = 399
	for _, open := range []func() (scan.Source, error){
		func() (scan.Source, error) { return nil, os.ErrNotExist },
		func() (scan.Source, error) { return &other, nil },
	} {
		d, err := Exact{Picture: Picture{Look: look}, Open: open, W: 300, H: 225}.Draw(context.Background())
		if err != nil || d == nil || d.Stood == nil {
			t.Errorf("%v %v", d, err)
		}
	}
}

// A detail at 1:1 is the scan's own codes.
func TestExactDetail(t *testing.T) {
	look, px := exactLook(400, 300, 4)
	d, err := ExactDetail{Picture: Picture{Look: look}, Open: func() (scan.Source, error) { return px, nil }, Centre: image.Pt(200, 150), W: 80, H: 60}.Draw(context.Background())
	if err != nil || d.Stood != nil {
		t.Fatal(err, d.Stood)
	}
	for y := range 60 {
		for x := range 80 {
			for c := range 3 {
				got, want := int(d.Pix[3*(y*80+x)+c]), int(px.Pix[3*((120+y)*400+160+x)+c])
				if got < want-2 || got > want+2 {
					t.Fatalf("at %d,%d: %d, not %d", x, y, got, want)
				}
			}
		}
	}
}

// Masks lie where the flags are.
func TestExactMasks(t *testing.T) {
	look, px := exactLook(200, 100, 1)
	look.BlownShare = make([]uint8, 200*100)
	for i := range look.BlownShare {
		if i%200 < 100 {
			look.BlownShare[i] = 255
		}
	}
	plain := drawn(t, Exact{Picture: Picture{Look: look}, W: 200, H: 100})
	masked := drawn(t, Exact{Picture: Picture{Look: look}, W: 200, H: 100, Masks: Overlay{Blown: true}})
	for y := range 100 {
		for x := range 200 {
			i := 3 * (y*200 + x)
			if same := plain.Pix[i] == masked.Pix[i] && plain.Pix[i+1] == masked.Pix[i+1]; same == (x < 100) {
				t.Fatalf("at %d,%d: masked %v", x, y, !same)
			}
		}
	}
	_ = px
}
