package colour

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.10f, want %.10f within %g", what, got, want, tolerance)
	}
}

// encode is go-colorful's sRGB curve.
func encode(linear float64) float64 { return colorful.LinearRgb(linear, 0, 0).R }

// Values of the sRGB curve computed from IEC 61966-2-1:1999's formula.
func TestSRGBCurve(t *testing.T) {
	near(t, "decode(0.5)", DecodeSRGB(0.5), 0.2140411405, 5e-11)
	near(t, "decode(118/255)", DecodeSRGB(118.0/255), 0.1811642, 5e-8)
	near(t, "decode(128/255)", DecodeSRGB(128.0/255), 0.2158605, 5e-8)
	for i := range 3001 {
		v := float64(i) / 1000
		// The standard's two constants leave a gap of 1e-6 at the join.
		near(t, fmt.Sprintf("decode(encode(%g))", v), DecodeSRGB(encode(v)), v, 1e-8)
		near(t, fmt.Sprintf("decode(%g)", -v), DecodeSRGB(-v), -DecodeSRGB(v), 0)
	}
}

// go-colorful's curve is compared exactly to rounding, by our own comparison.
func TestSRGBCurveAgainstColorful(t *testing.T) {
	for i := range 1001 {
		v := float64(i) / 1000
		r, _, _ := colorful.Color{R: v}.LinearRgb()
		near(t, fmt.Sprintf("decode(%g)", v), DecodeSRGB(v), r, 1e-12)
	}
}

// 18 % grey by whole stops: L* and sRGB codes computed from CIE 15:2004 and
// IEC 61966-2-1:1999.
func TestGreyByStops(t *testing.T) {
	for _, c := range []struct {
		stop, l, code8, code16 float64
	}{
		{-6, 2.541, 9.27, 2381}, {-5, 5.081, 17.05, 4381}, {-4, 9.992, 27.45, 7054}, {-3, 16.748, 41.34, 10623},
		{-2, 25.260, 59.87, 15387}, {-1, 35.984, 84.62, 21746}, {0, 49.496, 117.65, 30235}, {1, 66.520, 161.73, 41566}, {2, 87.969, 220.59, 56691},
	} {
		y := 0.18 * math.Exp2(c.stop)
		lab := LabOf(y, y, y)
		near(t, fmt.Sprintf("L* at %+g", c.stop), lab.L, c.l, 5e-4+1e-9)
		near(t, fmt.Sprintf("a* at %+g", c.stop), lab.A, 0, 1e-9)
		near(t, fmt.Sprintf("b* at %+g", c.stop), lab.B, 0, 1e-9)
		near(t, fmt.Sprintf("8-bit code at %+g", c.stop), 255*encode(y), c.code8, 5e-3+1e-9)
		near(t, fmt.Sprintf("16-bit code at %+g", c.stop), 65535*encode(y), c.code16, 0.5)
	}
	near(t, "L*(0.10)", LabOf(.1, .1, .1).L, 37.8424, 5e-5)
	near(t, "L* at the join", labOfXYZ([3]float64{labEpsilon, labEpsilon, labEpsilon}, [3]float64{1, 1, 1}).L, 8, 1e-9)
}

// Matrices derived from the primaries of IEC 61966-2-1:1999, Adobe RGB (1998)
// and ROMM as colour-science/colour gives them, and Bradford to the ICC white.
func TestMatrices(t *testing.T) {
	check := func(name string, got, want mat3, tolerance float64) {
		t.Helper()
		for r := range 3 {
			for c := range 3 {
				near(t, fmt.Sprintf("%s[%d][%d]", name, r, c), got[r][c], want[r][c], tolerance)
			}
		}
	}
	check("sRGB to XYZ", rgbToXYZ(srgbPrimaries, whiteD65), mat3{
		{.4123908, .3575843, .1804808}, {.2126390, .7151687, .0721923}, {.0193308, .1191948, .9505322}}, 5e-8)
	// Computed for these two whites (CIE D65 and D50 to five digits), not ICC's.
	d65, d50 := [3]float64{.95047, 1, 1.08883}, [3]float64{.96422, 1, .82521}
	check("sRGB to D50", adaptation(d65, d50).mul(rgbToXYZ(srgbPrimaries, whiteD65)), mat3{
		{.4360053, .3850738, .1431147}, {.2224691, .7168952, .0606315}, {.0139300, .0971068, .7143447}}, 1e-6)
	check("Adobe RGB to XYZ", rgbToXYZ([3][2]float64{{.64, .33}, {.21, .71}, {.15, .06}}, whiteD65), mat3{
		{.57667, .18556, .18823}, {.29734, .62736, .07529}, {.02703, .07069, .99134}}, 2e-5)
	check("Bradford", adaptation(d65, pcsWhite), mat3{
		{1.04784, .0228979, -.0501808}, {.0295537, .9904924, -.0170663}, {-.0092459, .0150633, .7518389}}, 5e-6)
	check("inverse", srgbToPCS.mul(pcsToSRGB), mat3{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, 1e-14)
	w := srgbToPCS.apply([3]float64{1, 1, 1})
	for i := range w {
		near(t, "white", w[i], pcsWhite[i], 1e-14)
	}
}

// go-colorful's CIELAB for its own D50 white, from the same XYZ.
func TestLabAgainstColorful(t *testing.T) {
	white := colorful.D50
	for x := 0.0; x <= 1.2; x += 0.05 {
		for y := 0.0; y <= 1.2; y += 0.05 {
			for z := 0.0; z <= 1.2; z += 0.15 {
				got := labOfXYZ([3]float64{x, y, z}, white)
				l, a, b := colorful.XyzToLabWhiteRef(x, y, z, white)
				// go-colorful scales L*, a*, b* by 1/100.
				near(t, "L*", got.L, 100*l, 1e-8)
				near(t, "a*", got.A, 100*a, 1e-8)
				near(t, "b*", got.B, 100*b, 1e-8)
			}
		}
	}
}

// The chart's 2005 Lab values and the sRGB bytes computed from them by way of
// Bradford (colour-science/colour for the Lab; the published sRGB list is not
// the exact conversion and is not used).
func TestChart(t *testing.T) {
	for _, c := range []struct {
		lab LAB
		rgb [3]float64
	}{
		{LAB{37.986, 13.555, 14.059}, [3]float64{116, 81, 67}},
		{LAB{62.661, 36.067, 57.096}, [3]float64{224, 124, 47}},
		{LAB{28.778, 14.179, -50.297}, [3]float64{35, 63, 147}},
		{LAB{55.261, -38.342, 31.370}, [3]float64{67, 149, 74}},
		{LAB{81.733, 4.039, 79.819}, [3]float64{238, 198, 20}},
		{LAB{96.539, -0.425, 1.186}, [3]float64{245, 245, 243}},
		{LAB{50.867, -0.153, -0.270}, [3]float64{121, 121, 122}},
		{LAB{20.461, -0.079, -0.973}, [3]float64{49, 49, 51}},
	} {
		r, g, b := LinearOf(c.lab)
		for i, v := range []float64{r, g, b} {
			near(t, fmt.Sprintf("%v channel %d", c.lab, i), 255*encode(v), c.rgb[i], 0.55)
		}
		back := LabOf(r, g, b)
		near(t, "there and back", math.Abs(back.L-c.lab.L)+math.Abs(back.A-c.lab.A)+math.Abs(back.B-c.lab.B), 0, 1e-9)
	}
	r, _, _ := LinearOf(LAB{51.038, -28.631, -28.638}) // cyan lies outside sRGB
	near(t, "linear red of cyan", r, -0.0374, 5e-4)
}

func TestSlicesAgreeWithSingles(t *testing.T) {
	lin := []float32{0.18, 0.18, 0.18, 1, 0.5, -0.02, 2, 3, 4, 0, 0, 0}
	lab, xyz, out := make([]float32, len(lin)), make([]float32, len(lin)), make([]uint8, 16)
	Lab(lab, lin)
	XYZ(xyz, lin)
	SRGB8(out, lin)
	for i := 0; i < len(lin); i += 3 {
		r, g, b := float64(lin[i]), float64(lin[i+1]), float64(lin[i+2])
		want := LabOf(r, g, b)
		near(t, "L*", float64(lab[i]), want.L, 1e-4)
		near(t, "a*", float64(lab[i+1]), want.A, 1e-4)
		near(t, "b*", float64(lab[i+2]), want.B, 1e-4)
		v := srgbToPCS.apply([3]float64{r, g, b})
		for c := range 3 {
			near(t, "XYZ", float64(xyz[i+c]), v[c], 1e-6)
		}
	}
	want := []uint8{118, 118, 118, 255, 255, 188, 0, 255, 255, 255, 255, 255, 0, 0, 0, 255}
	if string(out) != string(want) {
		t.Errorf("SRGB8 = %v, want %v", out, want)
	}
	nan := float32(math.NaN())
	SRGB8(out, []float32{nan, nan, nan})
	if out[0] != 0 || out[3] != 255 {
		t.Errorf("SRGB8 of NaN = %v", out[:4])
	}
}

// The table must give the rounded byte of the exact curve wherever the exact
// value is not within 0.03 of the border between two bytes.
func TestDisplayTable(t *testing.T) {
	tried := 0
	for i := range 1_000_001 {
		v := float32(i) / 1e6
		exact := 255 * encode(float64(v))
		if d := math.Abs(exact - math.Floor(exact) - 0.5); d < 0.03 {
			continue
		}
		tried++
		if got := display(v); float64(got) != math.Round(exact) {
			t.Fatalf("display(%g) = %d, exact %.3f", v, got, exact)
		}
	}
	if tried < 900_000 {
		t.Fatalf("only %d values tried", tried)
	}
}

// All 34 pairs of Sharma, Wu & Dalal 2005, table 1.
func TestCIEDE2000(t *testing.T) {
	n := 0
	for _, line := range strings.Split(strings.TrimSpace(sharma), "\n") {
		var k int
		var a, b LAB
		var want float64
		if _, err := fmt.Sscan(line, &k, &a.L, &a.A, &a.B, &b.L, &b.A, &b.B, &want); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		n++
		near(t, fmt.Sprintf("pair %d", k), DeltaE2000(a, b), want, 5e-5)
		near(t, fmt.Sprintf("pair %d turned round", k), DeltaE2000(b, a), want, 5e-5)
	}
	if n != 34 {
		t.Fatalf("%d pairs", n)
	}
	if d := DeltaE2000(LAB{50, 1, 2}, LAB{50, 1, 2}); d != 0 {
		t.Errorf("a colour differs from itself by %g", d)
	}
}

// The shares of luminance are the Y row of the derived matrix; IEC 61966-2-1 prints
// them as 0.2126, 0.7152, 0.0722.
func TestLuminanceShares(t *testing.T) {
	y := rgbToXYZ(srgbPrimaries, whiteD65)[1]
	for c, got := range [3]float64{LumR, LumG, LumB} {
		if math.Abs(got-y[c]) > 5e-8 || math.Abs(got-[3]float64{0.2126, 0.7152, 0.0722}[c]) > 5e-5 {
			t.Errorf("channel %d: %.7f, derived %.9f", c, got, y[c])
		}
	}
}
