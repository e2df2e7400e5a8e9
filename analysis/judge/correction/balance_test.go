package correction

import (
	"math"
	"testing"
)

// A picked neutral comes out neutral whatever else the settings do to the channels.
func TestNeutralAt(t *testing.T) {
	rgb := [3]float64{0.21, 0.18, 0.12}
	for name, s := range map[string]Settings{
		"nothing":                            {},
		"an exposure, a lift and a shoulder": {Exposure: -1, Lift: 2, Highlights: 0.4},
		"a black point":                      {Black: 0.02},
		"a curve of each channel": {Curves: [3][]Point{
			{{X: -8, Y: -7}, {X: 0, Y: 0.2}}, {{X: -8, Y: -8}, {X: -2, Y: -1.5}, {X: 0, Y: 0}}, {{X: -6, Y: -6.5}, {X: 0, Y: -0.3}}}},
	} {
		got := s.NeutralAt(rgb)
		r, g, b := got.At(0, rgb[0]), got.At(1, rgb[1]), got.At(2, rgb[2])
		if math.Abs(r/g-1) > 1e-6 || math.Abs(b/g-1) > 1e-6 || got.At(1, rgb[1]) != s.At(1, rgb[1]) {
			t.Errorf("%s: %g %g %g", name, r, g, b)
		}
	}
	if s := (Settings{}).NeutralAt(rgb); math.Abs(s.RG-math.Log10(rgb[1]/rgb[0])) > 1e-9 {
		t.Errorf("without anything else %g", s.RG)
	}
	if s := (Settings{Black: MaxBlack}).NeutralAt([3]float64{0.001, 0.002, 0.003}); s.Validate() != nil || s.RG == 0 {
		t.Error("no balance makes black neutral, but the light's own is kept")
	}
}

// balanceOf is the density by which light of a chromaticity is lighter in red, and in
// blue, than in green, with primaries and white of IEC 61966-2-1 and nothing else:
// by Cramer's rule, luminances of the primaries that add up to the light.
func balanceOf(x, y float64) (rg, bg float64) {
	primaries := [3][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}
	of := func(x, y float64) [3]float64 { return [3]float64{x / y, 1, (1 - x - y) / y} }
	det := func(a, b, c [3]float64) float64 {
		return a[0]*(b[1]*c[2]-b[2]*c[1]) - b[0]*(a[1]*c[2]-a[2]*c[1]) + c[0]*(a[1]*b[2]-a[2]*b[1])
	}
	shares := func(w [3]float64) (s [3]float64) {
		p := [3][3]float64{}
		for i, q := range primaries {
			p[i] = of(q[0], q[1])
		}
		all := det(p[0], p[1], p[2])
		for i := range s {
			q := p
			q[i] = w
			s[i] = det(q[0], q[1], q[2]) / all
		}
		return
	}
	white, light := shares(of(0.3127, 0.3290)), shares(of(x, y))
	g := light[1] / white[1]
	return math.Log10(light[0] / white[0] / g), math.Log10(light[2] / white[2] / g)
}

// The daylights of CIE 15 (its table of the illuminants D50, D55, D65 and D75; D65
// and D50 also in ISO 11664-2), on both sides of 7000 K where its formula changes.
func TestDaylightIsCIEs(t *testing.T) {
	for _, d := range []struct{ kelvin, x, y float64 }{
		{5003, 0.34567, 0.35851}, {5503, 0.33243, 0.34744}, {6504, 0.31272, 0.32903}, {7504, 0.29903, 0.31488},
	} {
		rg, bg := daylightBalance(d.kelvin)
		wantRG, wantBG := balanceOf(d.x, d.y)
		// CIE's formula gives y 0.0001 higher than its table, which is of the spectra
		// rounded as published: 0.0004 of density, the same at every temperature.
		rg0, bg0 := daylightBalance(6504)
		wantRG0, wantBG0 := balanceOf(0.31272, 0.32903)
		if math.Abs(rg-wantRG) > 6e-4 || math.Abs(bg-wantBG) > 6e-4 ||
			math.Abs((rg-rg0)-(wantRG-wantRG0)) > 2e-4 || math.Abs((bg-bg0)-(wantBG-wantBG0)) > 2e-4 {
			t.Errorf("%g K: red %+.5f, blue %+.5f of density, want %+.5f and %+.5f", d.kelvin, rg, bg, wantRG, wantBG)
		}
	}
	// A shift by mireds is the way of these daylights at D65.
	r5, b5 := balanceOf(0.33243, 0.34744)
	r7, b7 := balanceOf(0.29903, 0.31488)
	mired := 1e6/5503 - 1e6/7504
	rg, bg := Join(mired, 0)
	if math.Abs(rg/(r5-r7)-1) > 0.01 || math.Abs(bg/(b5-b7)-1) > 0.01 || rg < 0 || bg > 0 {
		t.Errorf("%.1f mired: red %+.4f, blue %+.4f, from D75 to D55 it is %+.4f and %+.4f", mired, rg, bg, r5-r7, b5-b7)
	}
}
