package correction

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.6g, want %.6g within %g", what, got, want, tol)
	}
}

// random settings within the bounds of the window's slides, with curves.
func random(r *rand.Rand) Settings {
	s := Settings{Exposure: r.Float64()*12 - 6, RG: r.Float64() - 0.5, BG: r.Float64() - 0.5,
		Lift: r.Float64() * MaxLift, Black: r.Float64() * MaxBlack, Highlights: r.Float64()}
	for c := range s.Curves {
		x, y := -9.0, -9.0
		for range r.IntN(6) {
			dx := 0.2 + 2*r.Float64()
			x += dx
			y += 2 * dx * r.Float64() // FritschButland is at most three times as steep
			s.Curves[c] = append(s.Curves[c], Point{x, y})
		}
	}
	return s
}

// No correction turns tones over, and the table is the exact curve.
func TestCurvesRiseAndTablesAreExact(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	off, all := 0, 0
	for n := range 300 {
		s := random(r)
		if n%4 == 0 {
			s.Black = 0
		}
		if err := s.Validate(); err != nil {
			t.Fatalf("settings %d: %v", n, err)
		}
		tab := s.Tables()
		for c := range 3 {
			last, lastTab := math.Inf(-1), float32(math.Inf(-1))
			check := func(x float64) {
				y, got := s.At(c, x), tab[c].At(float32(x))
				if y < last-1e-12*math.Abs(last) || got < lastTab {
					t.Fatalf("settings %d %+v: channel %d falls at light %g", n, s, c, x)
				}
				last, lastTab = y, got
				// Beside the black point float32 itself is coarse: 1e-7 of it, raised by
				// up to MaxLift stops and a curve of up to 6 times that slope.
				d, slack := math.Abs(float64(got)-y), 2e-5*s.Black
				if all++; d > 5e-4*math.Abs(y)+slack {
					off++
				}
				if d > 0.02*math.Abs(y)+slack {
					t.Fatalf("settings %d %+v: channel %d at light %g: table %g, exact %g", n, s, c, x, got, y)
				}
			}
			for l := 2.0; l > -24; l -= 0.171 {
				check(-math.Exp2(l))
			}
			check(0)
			for l := -24.0; l < 8; l += 0.0371 {
				check(math.Exp2(l))
			}
		}
	}
	if off*200 > all {
		t.Errorf("%d of %d values are further than 0.05 %% from the exact curve", off, all)
	}
	t.Logf("%d of %d values are further than 0.05 %% from the exact curve", off, all)
}

// The black point is where it is meant, also where it is lifted by stops.
func TestBlackPointIsSharp(t *testing.T) {
	s := Settings{Black: MaxBlack, Lift: MaxLift}
	tab := s.Tables()
	for _, d := range []float64{-1e-3, -1e-5, 1e-5, 1e-4, 1e-3, 1e-2} {
		x := MaxBlack * (1 + d)
		want := s.At(0, x)
		near(t, "beside the black point", float64(tab[0].At(float32(x))), want, 1e-3*want+1e-6)
		if d < 0 && want != 0 {
			t.Errorf("under the black point stands %g", want)
		}
	}
}

// The zero value, and what is left when steps there and back are added up, is the
// exact identity, of colours outside the primaries as well.
func TestIdentity(t *testing.T) {
	for _, s := range []Settings{{}, {RG: 0.1 + 0.05 - 0.15, BG: 1e-17}} {
		if s.Linear() != nil || !s.IsZero() || s.Words() != "" {
			t.Errorf("%+v corrects something", s)
		}
		tab := s.Tables()
		for _, x := range []float32{-3, -1e-9, 0, 1e-30, 0.18, 1, 77, 1e9} {
			if got := tab[2].At(x); math.Float32bits(got) != math.Float32bits(x) {
				t.Errorf("%+v: %g became %g", s, x, got)
			}
			if got := s.At(2, float64(x)); got != float64(x) {
				t.Errorf("%+v: %g became %g exactly", s, x, got)
			}
		}
	}
	tab := (Settings{Exposure: 1, Lift: 1}).Tables()
	if got := tab[0].At(float32(math.NaN())); got != 0 {
		t.Errorf("what is no number became %g", got)
	}
	near(t, "gain of light below 0", (Settings{Exposure: 1}).At(0, -0.1), -0.2, 1e-12)
	near(t, "black point of light below 0", (Settings{Black: 0.01}).At(0, -0.1), 0, 0)
}

func TestWhatEachSettingDoes(t *testing.T) {
	at := func(s Settings, stop float64) float64 { return math.Log2(s.At(1, math.Exp2(stop))) }
	near(t, "exposure", at(Settings{Exposure: 1.5}, -3), -1.5, 1e-9)
	near(t, "lift, deep", at(Settings{Lift: 2}, -9), -7, 1e-9)
	near(t, "lift, at mid-grey", at(Settings{Lift: 2}, midGrey), midGrey, 1e-9)
	near(t, "lift, above", at(Settings{Lift: 2}, -1), -1, 1e-9)
	near(t, "black point", (Settings{Black: 0.01}).At(0, 0.01), 0, 1e-12)
	near(t, "black point keeps white", (Settings{Black: 0.01}).At(0, 1), 1, 1e-12)
	near(t, "highlights, two stops over", (Settings{Highlights: 1}).At(0, 4), 1, 1e-9)
	near(t, "highlights, one stop over at a half", (Settings{Highlights: 0.5}).At(0, 2), 1, 1e-9)
	near(t, "highlights leave mid-grey", (Settings{Highlights: 1}).At(0, 0.18), 0.18, 1e-9)
	one := Settings{}
	one.Curves[1] = []Point{{-4, -3}}
	near(t, "a single point moves all", at(one, -1), 0, 1e-9)
	two := Settings{}
	two.Curves[1] = []Point{{-6, -5}, {-2, -2}}
	near(t, "slope one under the curve", at(two, -8), -7, 1e-9)
	near(t, "slope one over the curve", at(two, 0), 0, 1e-9)
	g := Settings{RG: math.Log10(0.5), BG: math.Log10(2)} // red halved, blue doubled
	for c, want := range []float64{0.5, 1, 2} {
		near(t, "gain", g.Gain(c), want, 1e-12)
	}
}

func TestNeutral(t *testing.T) {
	rgb := [3]float64{0.3, 0.2, 0.11}
	rg, bg := Neutral(rgb)
	s := Settings{RG: rg, BG: bg}
	for c, v := range rgb {
		near(t, "channel", s.At(c, v), 0.2, 1e-12)
	}
}

// CC arithmetic by T = 10^-D: CC30 is a density of 0.30, that is
// 0.501 of the light and 0.997 stop; the pack 46Y+38M+12C is 34Y+26M and 12 of
// neutral grey (US Army SS0514, p. 5-6).
func TestFilterArithmetic(t *testing.T) {
	by := map[string]Direction{}
	for _, d := range Directions() {
		by[d.Letter] = d
	}
	pack := func(list map[string]float64) (rg, bg float64) {
		for letter, cc := range list {
			rg += by[letter].RG * cc / 100
			bg += by[letter].BG * cc / 100
		}
		return
	}
	s := Settings{}
	s.RG, s.BG = pack(map[string]float64{"M": 30})
	near(t, "CC30M lets green", s.Gain(1)/s.Gain(0), 0.501, 5e-4)
	near(t, "CC30M in stops", math.Log2(s.Gain(0)/s.Gain(1)), 0.997, 5e-4)
	arg, abg := pack(map[string]float64{"Y": 46, "M": 38, "C": 12})
	brg, bbg := pack(map[string]float64{"Y": 34, "M": 26})
	near(t, "46Y+38M+12C against 34Y+26M, R-G", arg, brg, 1e-12)
	near(t, "46Y+38M+12C against 34Y+26M, B-G", abg, bbg, 1e-12)
	for a, b := range map[string]string{"R": "C", "M": "G", "B": "Y"} {
		rg, bg := pack(map[string]float64{a: 25, b: 25})
		near(t, a+" and "+b+" cancel", math.Abs(rg)+math.Abs(bg), 0, 1e-12)
	}
	rg, bg := pack(map[string]float64{"R": 1, "G": 1, "B": 1})
	near(t, "equal R, G and B are grey", math.Abs(rg)+math.Abs(bg), 0, 1e-12)
}

// Mired shifts against daylight itself: chromaticities of CIE daylight (CIE 15).
// One slope for all must agree within 3 CC
// and an eighth of the shift over the span of daylight.
func TestMiredAgainstDaylight(t *testing.T) {
	balance := func(x, y float64) (rg, bg float64) {
		X, Y, Z := x/y, 1.0, (1-x-y)/y
		r := 3.2409699*X - 1.5373832*Y - 0.4986108*Z
		g := -0.9692436*X + 1.8759675*Y + 0.0415551*Z
		b := 0.0556301*X - 0.2039770*Y + 1.0569715*Z
		return math.Log10(r / g), math.Log10(b / g)
	}
	r0, b0 := balance(0.31271, 0.32912) // 6504 K
	for _, c := range []struct{ k, x, y float64 }{{5000, 0.34574, 0.35867}, {5500, 0.33250, 0.34761}, {7500, 0.29909, 0.31503}} {
		r, b := balance(c.x, c.y)
		mired, _ := Split(r-r0, b-b0)
		want := 1e6/c.k - 1e6/6504
		// A mired shift of light is the shift of the balance that imitates it.
		near(t, "mired", mired, want, 0.125*math.Abs(want)+0.5)
		rg, bg := Join(want, 0)
		near(t, "R-G", rg, r-r0, 0.03)
		near(t, "B-G", bg, b-b0, 0.03)
	}
	for _, m := range []float64{-131, 0, 24, 83} { // inverse of each other
		rg, bg := Join(m, 0.07)
		gm, gt := Split(rg, bg)
		near(t, "mired back", gm, m, 1e-9)
		near(t, "tint back", gt, 0.07, 1e-12)
	}
}

func TestValidate(t *testing.T) {
	bad := []Settings{{Exposure: math.NaN()}, {Exposure: 13}, {Lift: -1}, {Black: 0.06}, {Highlights: 1.5}, {RG: math.Inf(1)},
		{Curves: [3][]Point{{{-2, -2}, {-3, -1}}}}, {Curves: [3][]Point{nil, {{-2, -2}, {-1, -3}}}}, {Curves: [3][]Point{nil, nil, {{math.NaN(), 0}}}},
		{Curves: [3][]Point{make([]Point, MaxPoints+1)}}}
	for i, s := range bad {
		if err := s.Validate(); err == nil || strings.Count(err.Error(), "\n") > 0 {
			t.Errorf("settings %d: %v", i, err)
		}
	}
}

func TestJSONAndWords(t *testing.T) {
	s := Settings{Exposure: -1.5, RG: 0.1, BG: -0.05, Lift: 1, Black: 0.01, Highlights: 0.25}
	s.Curves[2] = []Point{{-4, -3.5}}
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var back Settings
	if err := json.Unmarshal(text, &back); err != nil || !back.Equal(s) {
		t.Errorf("%s came back as %+v (%v)", text, back, err)
	}
	if b, _ := json.Marshal(Settings{}); string(b) != "{}" {
		t.Errorf("the zero value is written as %s", b)
	}
	want := "exposure \u22121.50 stops, CC 10 red, CC 5 yellow, shadows lifted +1.00 stops, black point at 1.00 % of white, highlights compressed 25 %, a curve for blue"
	if got := s.Words(); got != want {
		t.Errorf("%q", got)
	}
	if got := (Settings{RG: 0.002, BG: -0.004}).Words(); got != "CC under 0.5 red, CC under 0.5 yellow" {
		t.Errorf("%q", got)
	}
	c := s.Clone()
	c.Curves[2][0].Y = 0
	if s.Curves[2][0].Y != -3.5 {
		t.Error("a clone shares its curves")
	}
}

func BenchmarkLinear(b *testing.B) {
	s := Settings{Exposure: 1, Lift: 2, Highlights: 0.5}
	f := s.Linear()
	px := make([]float32, 3*1000*1000)
	for i := range px {
		px[i] = float32(i%997) / 997
	}
	b.SetBytes(int64(len(px)))
	for b.Loop() {
		f(px)
	}
}

func BenchmarkTables(b *testing.B) {
	s := random(rand.New(rand.NewPCG(3, 4)))
	for b.Loop() {
		s.Tables()
	}
}
