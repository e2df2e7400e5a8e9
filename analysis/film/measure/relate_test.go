package measure

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

func relate(t testing.TB, base, frame *Look) *Relation {
	t.Helper()
	r, err := Relate(context.Background(), base, frame, Options{Noise: noisyBy(0.05)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// noisyBy is noise of a known height over the light.
type noisyBy float64

func (g noisyBy) SigmaY(y float64) float64 { return float64(g) * y }
func (g noisyBy) ErrorY(float64) float64   { return 0.1 }

// patches is a 16-bit scan of three vertical fields.
func patches(w, h int, codes ...uint16) *scan.Pixels {
	px := &scan.Pixels{Header: scan.Info{Path: "patches.tif", Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3}}
	px.Pix = make([]uint16, 3*w*h)
	for y := range h {
		for x := range w {
			v := codes[x*len(codes)/w]
			for c := range 3 {
				px.Pix[3*(y*w+x)+c] = v
			}
		}
	}
	return px
}

// The 18 % grey moved by whole stops, no tone curve: L* and sRGB code of 65535
// as in the project's table (computed from IEC 61966-2-1 and CIE 15:2004).
func TestGreyTableThroughBands(t *testing.T) {
	table := []struct {
		stop int
		l    float64
		code uint16
	}{
		{-6, 2.541, 2381}, {-5, 5.081, 4381}, {-4, 9.992, 7054}, {-3, 16.748, 10623}, {-2, 25.260, 15387},
		{-1, 35.984, 21746}, {0, 49.496, 30235}, {1, 66.520, 41566}, {2, 87.969, 56691}, {3, 100, 65535},
	}
	base := look(t, patches(600, 400, 10623, 30235, 56691), Options{})
	for _, row := range table {
		frame := look(t, patches(600, 400, row.code, row.code, row.code), Options{})
		r := relate(t, base, frame)
		for b, want := range [Bands]float64{16.748, 49.496, 87.969} {
			got := r.Bands[b]
			if got == nil {
				t.Fatalf("stop %d: no %v: %v", row.stop, Band(b), r.Notes)
			}
			// One code of 65535 at the darkest patch is 0.002 L*.
			if math.Abs(got.L-row.l) > 2e-3 || math.Abs(got.DL-(row.l-want)) > 3e-3 {
				t.Errorf("stop %d %v: L %.4f dL %.4f, want %.3f %.3f", row.stop, Band(b), got.L, got.DL, row.l, row.l-want)
			}
			if math.Abs(got.A) > 1e-2 || math.Abs(got.B) > 1e-2 {
				t.Errorf("stop %d: a %.4f b %.4f of a grey", row.stop, got.A, got.B)
			}
			if math.Abs(got.Area-1.0/3) > 0.01 {
				t.Errorf("area %.4f", got.Area)
			}
		}
	}
}

func TestBaseBesideItselfIsZero(t *testing.T) {
	l := look(t, frameSpec{w: 900, h: 700, gate: [4]float64{40, 40, 860, 660}, border: 0.0005, holder: -1, gain: 1, noise: 300, turn: 0.2}.pixels(), Options{})
	r := relate(t, l, l)
	for b, v := range r.Bands {
		if v == nil {
			t.Fatal(r.Notes)
		}
		if v.DL != 0 || v.Da != 0 || v.Db != 0 {
			t.Errorf("%v: %+v", Band(b), *v)
		}
	}
	// A second look at the same file gives the same, on any number of workers.
	again := look(t, frameSpec{w: 900, h: 700, gate: [4]float64{40, 40, 860, 660}, border: 0.0005, holder: -1, gain: 1, noise: 300, turn: 0.2}.pixels(), Options{Workers: 7})
	q, err := Relate(context.Background(), l, again, Options{Workers: 5, Noise: noisyBy(0.05)})
	if err != nil {
		t.Fatal(err)
	}
	for b := range r.Bands {
		if *q.Bands[b] != *r.Bands[b] {
			t.Errorf("%v: %+v and %+v", Band(b), *q.Bands[b], *r.Bands[b])
		}
	}
	if *q.Noisy != *r.Noisy || q.NoiseKnown != r.NoiseKnown {
		t.Error("noise depends on workers")
	}
	for i := range r.NoiseL {
		if math.Float32bits(r.NoiseL[i]) != math.Float32bits(q.NoiseL[i]) {
			t.Fatal("noise map depends on workers")
		}
	}
}

func TestThinBandIsAbsentWithReason(t *testing.T) {
	px := patches(600, 400, 10623, 30235)
	for y := range 20 { // 0.17 % of highlights
		for x := range 20 {
			for c := range 3 {
				px.Pix[3*((y+100)*600+x+400)+c] = 56691
			}
		}
	}
	l := look(t, px, Options{})
	r := relate(t, l, l)
	if r.Bands[Highlights] != nil || len(r.Notes) == 0 {
		t.Errorf("%+v %v", r.Bands[Highlights], r.Notes)
	}
	if r.Bands[Shadows] == nil || r.Bands[Midtones] == nil {
		t.Error(r.Notes)
	}
}

func TestLabRowAgainstColour(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	v := make([]float32, 3*5000)
	for i := range v {
		v[i] = float32(rng.Float64() * rng.Float64() * rng.Float64() * 1.3)
	}
	want := make([]float32, len(v))
	colour.Lab(want, v)
	labRow(v)
	for i := range v {
		if math.Abs(float64(v[i]-want[i])) > 2e-3 {
			t.Fatalf("%d: %g, want %g", i, v[i], want[i])
		}
	}
	for e := -20.0; e < 3; e += 0.01 {
		x := float32(math.Exp2(e))
		if d := float64(cbrt(x))/math.Cbrt(float64(x)) - 1; math.Abs(d) > 3e-7 {
			t.Fatalf("cbrt(%g): relative error %g", x, d)
		}
	}
}
