package measure

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"strings"
	"testing"

	"github.com/lucasb-eyer/go-colorful"

	"stopladder/analysis/scan"
)

func flat(w, h, bits int, code uint16) *scan.Pixels {
	px := &scan.Pixels{Header: scan.Info{Path: "flat.tif", Format: "TIFF", Width: w, Height: h, Bits: bits, Channels: 3}, Pix: make([]uint16, 3*w*h)}
	for i := range px.Pix {
		px.Pix[i] = code
	}
	return px
}

// Nothing that can be opened may end the program, and fractions of uniform
// pictures are plain.
func TestDegenerate(t *testing.T) {
	for _, c := range []struct {
		w, h, bits     int
		code           uint16
		blown, blocked float64
	}{
		{1, 1, 16, 0, 0, 1}, {1, 1, 16, 65535, 1, 0}, {1, 1, 8, 128, 0, 0}, {1, 3000, 16, 30000, 0, 0}, {5000, 1, 8, 255, 1, 0},
		{2, 2, 16, 64500, 0, 0}, {47, 48, 16, 0, 0, 1}, {300, 300, 16, 0, 0, 1}, {300, 300, 16, 65535, 1, 0}, {300, 300, 8, 0, 0, 1},
		{300, 300, 16, 30000, 0, 0}, {2049, 3, 16, 5, 0, 0}, {4097, 60, 16, 65535, 1, 0},
	} {
		t.Run(fmt.Sprintf("%dx%d %d-bit %d", c.w, c.h, c.bits, c.code), func(t *testing.T) {
			l := look(t, flat(c.w, c.h, c.bits, c.code), Options{})
			if l.Area != image.Rect(0, 0, c.w, c.h) {
				t.Errorf("area %v", l.Area)
			}
			if l.Blown.All != c.blown || l.Blown.Any != c.blown || l.Blocked.All != c.blocked || l.Blocked.R != c.blocked {
				t.Errorf("blown %+v blocked %+v", l.Blown, l.Blocked)
			}
			if l.Mean.G != float64(c.code) || l.EffectiveBits != c.bits {
				t.Errorf("mean %v, %d bits", l.Mean, l.EffectiveBits)
			}
			for _, v := range l.Preview.Pix {
				if v != c.code {
					t.Fatalf("preview code %d of a flat %d", v, c.code)
				}
			}
			r := relate(t, l, l)
			for b, v := range r.Bands {
				if v != nil && (v.DL != 0 || math.IsNaN(v.L)) {
					t.Errorf("%v %+v", Band(b), v)
				}
			}
			h := StopHistogram(l, -12, 0.5, 50)
			for ch := range h {
				sum := 0.0
				for _, v := range h[ch] {
					sum += v
				}
				if math.Abs(sum-1) > 1e-9 {
					t.Errorf("histogram sums to %g", sum)
				}
			}
			if _, ok := PixelAt(l, c.w-1, c.h-1, 5); !ok {
				t.Error("no pixel in the corner")
			}
			if _, ok := PixelAt(l, c.w, 0, 1); ok {
				t.Error("a pixel outside")
			}
		})
	}
}

func TestTruncated(t *testing.T) {
	px := scene16(0.9, 1, 300, nil)
	px.Pix = px.Pix[:3*700*211]
	l := look(t, px, Options{})
	if got := l.Damage(); got != "cut at row 211" {
		t.Errorf("told as %q", got)
	}
	if l.MissingRows != 389 || l.Hist.Pixels != 700*211 || l.Area.Max.Y != 211 {
		t.Errorf("%d rows missing, area %v", l.MissingRows, l.Area)
	}
	if !strings.Contains(strings.Join(l.Notes, " "), "389") {
		t.Errorf("no note: %v", l.Notes)
	}
	whole := look(t, scene16(0.9, 1, 300, nil), Options{})
	r := relate(t, whole, l)
	q := relate(t, l, whole)
	for b := range r.Bands {
		// The same picture where there is picture: no difference to speak of.
		for _, v := range []*BandReading{q.Bands[b]} {
			if v != nil && math.Abs(v.DL) > 1e-9 {
				t.Errorf("%v: dL %g", Band(b), v.DL)
			}
		}
	}
	px.Pix = px.Pix[:0]
	if _, err := NewLook(context.Background(), px, Options{}); err == nil {
		t.Error("a file without a row gave a look")
	}
}

func TestCancel(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	px := scene16(0.9, 1, 300, nil)
	if _, err := NewLook(ctx, px, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	l := look(t, px, Options{})
	if _, err := Relate(ctx, l, l, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	if _, err := Relate(context.Background(), l, l, Options{}); err != nil {
		t.Errorf("a cancelled call leaves a broken look: %v", err)
	}
}

// The preview keeps the mean light: known truth for a block of two codes.
func TestPreviewAveragesLight(t *testing.T) {
	px := flat(2*PreviewSide, 40, 16, 0)
	for i := range px.Pix {
		if (i/3)%2 == 1 {
			px.Pix[i] = 65535
		}
	}
	l := look(t, px, Options{})
	if l.Preview.Factor != 2 || l.Preview.W != PreviewSide {
		t.Fatalf("factor %d", l.Preview.Factor)
	}
	// Half the light is sRGB 0.7353569 (IEC 61966-2-1) = code 48191.6 of 65535.
	for _, v := range l.Preview.Pix {
		if v != 48192 {
			t.Fatalf("code %d", v)
		}
	}
	for _, s := range l.BlownShare {
		if s != 128 { // half of the pixels, in 255ths
			t.Fatalf("share %d", s)
		}
	}
}

func TestLookIgnoresWorkers(t *testing.T) {
	px := busyPixels(2500, 701)
	a, b := look(t, px, Options{Workers: 1}), look(t, px, Options{Workers: 9})
	if a.Area != b.Area || a.Mean != b.Mean || a.Blown != b.Blown || a.Blocked != b.Blocked {
		t.Error("readings depend on workers")
	}
	for i := range a.Preview.Pix {
		if a.Preview.Pix[i] != b.Preview.Pix[i] {
			t.Fatal("preview depends on workers")
		}
	}
}

func TestProgress(t *testing.T) {
	last, total := 0, 0
	look(t, busyPixels(2500, 300), Options{Progress: func(d, n int) {
		if d < last {
			t.Errorf("progress falls from %d to %d", last, d)
		}
		last, total = d, n
	}})
	if last != total || total == 0 {
		t.Errorf("ended at %d of %d", last, total)
	}
}

// One stop of light is one stop on the axis, and mid-grey stands at
// log2(0.18) = -2.474 (standards: 18 % grey is sRGB code 30235 of 65535).
func TestStopHistogram(t *testing.T) {
	for _, c := range []struct {
		code uint16
		stop float64
	}{{65535, 0}, {30235, -2.474}, {41566, -1.474}, {56691, -0.474}, {15387, -4.474}, {2381, -8.474}} {
		h := StopHistogram(look(t, flat(60, 60, 16, c.code), Options{}), -12, 1, 1300)
		mean := 0.0
		for i, v := range h[1] {
			mean += v * (-12 + (float64(i)+0.5)/100)
		}
		if math.Abs(mean-c.stop) > 0.011 {
			t.Errorf("code %d at %.3f stops, want %.3f", c.code, mean, c.stop)
		}
	}
	// 8-bit data draws without gaps between its lowest and highest code.
	px := &scan.Pixels{Header: scan.Info{Width: 256, Height: 64, Bits: 8, Channels: 3}, Pix: make([]uint16, 3*256*64)}
	for i := range px.Pix {
		px.Pix[i] = uint16(i / 3 % 256)
	}
	h := StopHistogram(look(t, px, Options{}), -10, 0.001, 400)
	for i, v := range h[0][:399] {
		if v <= 0 {
			t.Fatalf("gap at bin %d", i)
		}
	}
	l := look(t, flat(10, 10, 16, 65535), Options{})
	hi, lo := EndStops(l)
	if hi.R != 0 || !math.IsInf(lo.B, -1) {
		t.Errorf("limits at %v %v", hi, lo)
	}
	if h := StopHistogram(l, 1, 1, 10); h[0] != nil {
		t.Error("an axis without length gave a histogram")
	}
}

func TestPixelAt(t *testing.T) {
	l := look(t, flat(100, 80, 16, 30235), Options{})
	p, ok := PixelAt(l, 50, 40, 5)
	if !ok || p.Codes.G != 30235 || !p.InArea {
		t.Fatalf("%+v", p)
	}
	// 18 % grey: L* 49.4961, density -log10(0.18) = 0.7447.
	if math.Abs(p.L-49.496) > 1e-3 || math.Abs(p.A) > 0.01 || math.Abs(p.B) > 0.01 || math.Abs(p.Density.R-0.7447) > 1e-4 || math.Abs(p.Linear.B-0.18) > 1e-5 {
		t.Errorf("%+v", p)
	}
	if p, _ := PixelAt(look(t, flat(10, 10, 16, 0), Options{}), 1, 1, 1); !math.IsInf(p.Density.G, 1) || p.Blocked != 1 {
		t.Errorf("%+v", p)
	}
	if p, _ := PixelAt(look(t, flat(10, 10, 16, 65535), Options{}), 1, 1, 3); p.Density.G != 0 || math.Signbit(p.Density.G) {
		t.Errorf("%+v", p)
	}
}

// Noise of a known height over the light is carried to L* at the base frame's
// brightness, and Noisy's error is what it moves by when the noise is off by its own.
func TestNoiseInL(t *testing.T) {
	const w, h, rel = 1000, 800, 0.08
	px := &scan.Pixels{Header: scan.Info{Path: "n.tif", Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3}, Pix: make([]uint16, 3*w*h)}
	for i := range px.Pix {
		px.Pix[i] = code16(0.01 + 0.3*float64(i/3%w)/w)
	}
	l := look(t, px, Options{})
	share := func(limit, rel float64) *Relation {
		r, err := Relate(context.Background(), l, l, Options{NoiseLimit: limit, Noise: noisyBy(rel)})
		if err != nil || r.BandNoise[Shadows] == nil || r.Noisy == nil || r.NoisyError == nil {
			t.Fatal(err, r)
		}
		return r
	}
	// dL* of a relative step: 116/3 Y^(1/3), Y evenly from 0.01 to 0.09.
	mean := 116.0 / 3 * rel * (math.Pow(0.09, 4.0/3) - math.Pow(0.01, 4.0/3)) * 0.75 / 0.08
	r := share(1.2, rel)
	if got := *r.BandNoise[Shadows]; math.Abs(got/mean-1) > 0.02 {
		t.Errorf("noise %.3f L*, want %.3f", got, mean)
	}
	want := (*share(1.2, 1.1*rel).Noisy - *share(1.2, 0.9*rel).Noisy) / 2
	if got := *r.NoisyError; math.Abs(got-want) > 0.1*want || !(want > 0.01) {
		t.Errorf("Noisy %.3f +/- %.3f, want %.3f", *r.Noisy, got, want)
	}
}

// Clipped pixels show no noise: they are unknown, not clean.
func TestNoiseOfBlockedIsUnknown(t *testing.T) {
	base := look(t, frameSpec{w: 700, h: 600, gate: [4]float64{-500, -500, 2000, 2000}, holder: -1, gain: 1, noise: 200}.pixels(), Options{})
	dark := frameSpec{w: 700, h: 600, gate: [4]float64{-500, -500, 2000, 2000}, holder: -1, gain: 1, noise: 200}.pixels()
	for i, v := range dark.Pix {
		dark.Pix[i] = uint16(max(0, int(v)-14000))
	}
	frame := look(t, dark, Options{})
	r := relate(t, base, frame)
	if r.NoiseKnown > 1-frame.Blocked.All+0.01 {
		t.Errorf("noise known over %.3f, but %.3f is blocked", r.NoiseKnown, frame.Blocked.All)
	}
	if len(r.Notes) == 0 {
		t.Error("no word about it")
	}
	black := look(t, flat(700, 600, 16, 0), Options{})
	r = relate(t, base, black)
	if r.Noisy != nil {
		t.Errorf("noise of a black frame: %g", *r.Noisy)
	}
}

func code16(v float64) uint16 {
	return uint16(math.Round(math.Min(1, math.Max(0, colorful.LinearRgb(v, 0, 0).R)) * 65535))
}

// Previews of a roll of any size take no more than those of FullFrames frames, but
// for the smallest that are worth reading.
func TestPreviewsShareMemory(t *testing.T) {
	for n := 1; n <= 2000; n++ {
		side := PreviewSideFor(n)
		if n <= FullFrames && side != PreviewSide || side < leastSide {
			t.Fatalf("%d frames: side %d", n, side)
		}
		if side > leastSide && n*side*side > FullFrames*PreviewSide*PreviewSide {
			t.Fatalf("%d frames at %d pixels take more than %d at %d", n, side, FullFrames, PreviewSide)
		}
	}
	l, err := NewLook(context.Background(), flat(1000, 300, 8, 90), Options{PreviewSide: 400})
	if err != nil {
		t.Fatal(err)
	}
	if l.Preview.Factor != 3 || l.Preview.W != 334 || !l.HasPreviewOf(400) || l.HasPreviewOf(0) {
		t.Errorf("factor %d, %d wide", l.Preview.Factor, l.Preview.W)
	}
	// Counted over another area, it keeps its preview.
	area := image.Rect(10, 10, 900, 290)
	again, err := l.Recount(context.Background(), flat(1000, 300, 8, 90), Options{Area: &area})
	if err != nil || again.Preview != l.Preview || again.Hist.Pixels != 890*280 || len(again.BlownShare) != 334*100 {
		t.Errorf("recounted: %v", err)
	}
}

// The tiles of a preview that is smaller than usual take a small part of what it takes.
func TestTilesShareMemory(t *testing.T) {
	for _, side := range []int{256, 400, 1000} {
		g := gridOf(7000, 4700, 1, previewFactor(7000, 4700, side))
		tiles := newTiles(g)
		each := 6 * tiles.Side * tiles.Side
		if n := tiles.N(); n < tileLeast || n > tileLeast && n*each > tileShare*g.W*g.H {
			t.Errorf("side %d: %d tiles of %d bytes for %d x %d", side, n, each, g.W, g.H)
		}
	}
	if n := newTiles(gridOf(7000, 4700, 1, previewFactor(7000, 4700, 0))).N(); n != tileCount {
		t.Errorf("%d tiles as usual", n)
	}
}

// Rows of zeros between others are told, whatever the size of the preview; borders of
// zeros are not.
func TestGapsAreTold(t *testing.T) {
	for _, w := range []int{300, 2*PreviewSide + 1} {
		const h = 200
		for name, c := range map[string]struct {
			zero [][2]int
			says string
		}{
			"none":    {nil, ""},
			"one":     {[][2]int{{40, 57}}, "Rows 40 to 56 are exactly zero"},
			"two":     {[][2]int{{40, 57}, {90, 100}}, "27 rows in 2 runs, the first from row 40 on"},
			"short":   {[][2]int{{40, 45}}, ""},
			"borders": {[][2]int{{0, 20}, {170, h}}, ""},
		} {
			px := flat(w, h, 16, 9000)
			for i := range px.Pix {
				px.Pix[i] += uint16(i * 2654435761 >> 20 & 511)
			}
			for _, z := range c.zero {
				clear(px.Pix[3*w*z[0] : 3*w*z[1]])
			}
			l, err := NewLook(context.Background(), px, Options{Workers: 2})
			if err != nil {
				t.Fatal(err)
			}
			notes := strings.Join(l.Notes, " ")
			if told := strings.Contains(notes, "exactly zero"); told != (c.says != "") || !strings.Contains(notes, c.says) {
				t.Errorf("%s, %d wide: notes %q", name, w, notes)
			}
		}
	}
}
