package render

import (
	"bytes"
	"context"
	"image"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/scan"
)

// still draws a part of a scan at full resolution, as stills are.
func still(t *testing.T, s *scan.Pixels, v View, w, h int, adjust *Correction, to *f64.Aff3) *image.RGBA {
	t.Helper()
	p := Picture{Look: lookOf(s, 4, image.Rect(0, 0, s.Header.Width, s.Header.Height)), ToThis: to}
	d, err := ReadDetail(context.Background(), opening(s), p, v, w, h)
	if err != nil {
		t.Fatal(err)
	}
	p.Detail = d
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	NewStill(p, v, w, h).Draw(img, adjust)
	return img
}

// Pixel for pixel a still is the file's own pixels.
func TestStillShowsTheFilesPixels(t *testing.T) {
	s := testScan(400, 300)
	img := still(t, s, View{U: 0.5, V: 0.5, Zoom: 1}, 60, 40, nil, nil)
	checkExact(t, "still", img, s.Pix, 400, 300, image.Pt(170, 130), 1)
	shift := f64.Aff3{1, 0, 7, 0, 1, -4}
	img = still(t, s, View{U: 0.5, V: 0.5, Zoom: 1}, 60, 40, nil, &shift)
	checkExact(t, "registered", img, s.Pix, 400, 300, image.Pt(177, 126), 1)
}

// Reduced it is the mean of light of what a pixel covers: fine stripes of black and white
// become the grey that the eye sees from afar, whatever the factor.
func TestStillMeansLight(t *testing.T) {
	s := testScan(1200, 900)
	for i := range s.Pix {
		s.Pix[i] = 0
		if x, y := i/3%1200, i/3/1200; (x+y)%2 == 0 {
			s.Pix[i] = 65535
		}
	}
	for _, zoom := range []float64{0.5, 0.4, 1.0 / 3, 0.3, 0.26} {
		img := still(t, s, View{U: 0.5, V: 0.5, Zoom: zoom}, 200, 150, nil, nil)
		sum, least, most := 0.0, 255, 0
		for y := 10; y < 140; y++ {
			for x := 10; x < 190; x++ {
				v := int(img.RGBAAt(x, y).G)
				sum += float64(v)
				least, most = min(least, v), max(most, v)
			}
		}
		// Half of the light is code 188 of sRGB (IEC 61966-2-1).
		if mean := sum / (130 * 180); math.Abs(mean-188) > 12 || most-least > 60 {
			t.Errorf("zoom %.2f: grey %.0f from %d to %d, want 188", zoom, mean, least, most)
		}
	}
}

// ImageMagick, asked to reduce in light, comes to the same picture.
func TestStillAgainstImageMagick(t *testing.T) {
	if _, err := exec.LookPath("convert"); err != nil {
		t.Skip("ImageMagick is not installed")
	}
	s := smoothScan(1200, 900)
	for i := range s.Pix { // texture over it
		s.Pix[i] += uint16(i * 7919 % 6000)
	}
	src := image.NewRGBA64(image.Rect(0, 0, 1200, 900))
	for i := range 1200 * 900 {
		p := s.Pix[3*i:]
		copy(src.Pix[8*i:], []uint8{uint8(p[0] >> 8), uint8(p[0]), uint8(p[1] >> 8), uint8(p[1]), uint8(p[2] >> 8), uint8(p[2]), 255, 255})
	}
	dir := t.TempDir()
	var b bytes.Buffer
	if err := png.Encode(&b, src); err != nil {
		t.Fatal(err)
	}
	in, out := filepath.Join(dir, "in.png"), filepath.Join(dir, "out.png")
	if err := os.WriteFile(in, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if msg, err := exec.Command("convert", in, "-colorspace", "RGB", "-filter", "Box", "-resize", "720x540!", "-colorspace", "sRGB", "-depth", "16", out).CombinedOutput(); err != nil {
		t.Fatal(err, string(msg))
	}
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	want, err := png.Decode(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	got := still(t, s, View{U: 0.5, V: 0.5, Zoom: 0.6}, 720, 540, nil, nil)
	sum, bias := 0.0, 0.0
	for y := 2; y < 538; y++ {
		for x := 2; x < 718; x++ {
			r, g, b, _ := want.At(x, y).RGBA()
			c := got.RGBAAt(x, y)
			for _, d := range []float64{float64(c.R) - float64(r)/257, float64(c.G) - float64(g)/257, float64(c.B) - float64(b)/257} {
				sum += math.Abs(d)
				bias += d
			}
		}
	}
	n := float64(3 * 536 * 716)
	t.Logf("mean difference %.2f codes of 8 bits, of it shifted %.3f", sum/n, bias/n)
	if sum/n > 2.5 || math.Abs(bias/n) > 0.1 {
		t.Errorf("the picture is another than ImageMagick's: mean difference %.2f, shifted %.3f", sum/n, bias/n)
	}
}

// A correction of a still is the one that Render draws.
func TestStillIsCorrectedAsRendered(t *testing.T) {
	s := smoothScan(400, 300)
	adjust := Corrected(correction.Settings{Exposure: 0.7}, correction.Settings{RG: 0.05})
	v := View{U: 0.5, V: 0.5, Zoom: 1}
	got := still(t, s, v, 100, 80, adjust, nil)
	p := Picture{Look: lookOf(s, 1, image.Rect(0, 0, 400, 300)), Adjust: adjust}
	want := image.NewRGBA(got.Rect)
	Render(want, p, v, Overlay{})
	if !bytes.Equal(got.Pix, want.Pix) {
		t.Error("a corrected still is another picture than the window's")
	}
}
