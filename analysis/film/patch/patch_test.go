package patch

import (
	"bytes"
	"context"
	"encoding/csv"
	"image"
	"math"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/scan"
)

type shot struct {
	frames []response.Frame
	truth  []*simulate.Truth
	scene  *scene.Radiance
}

func shoot(t *testing.T, stops ...float64) *shot {
	t.Helper()
	ctx := context.Background()
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	out := &shot{scene: r}
	for _, s := range stops {
		f, err := simulate.Shoot(ctx, r, simulate.Negative(), simulate.Options{W: 900, H: 779, Seed: 5, Stops: stops, MaxShift: 0.01, MaxRotation: 0.4}, s)
		if err != nil {
			t.Fatal(err)
		}
		area := f.Truth.Area
		l, err := measure.NewLook(ctx, f.Pixels, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		a := f.Truth.FromBase
		out.frames = append(out.frames, response.Frame{Look: l, Stop: s, StopKnown: true, Map: a})
		out.truth = append(out.truth, f.Truth)
	}
	return out
}

// A patch on the grey card of the demo scene is the card in every frame, however
// the frames lie: what it reads is what the film gave that grey.
func TestPatchesFollowTheRegistration(t *testing.T) {
	s := shoot(t, -1, 0, 1)
	card := scene.Places[0]
	x0, y0 := affine.At(s.truth[1].FromScene, card.X0*float64(s.scene.W), card.Y0*float64(s.scene.H))
	x1, y1 := affine.At(s.truth[1].FromScene, card.X1*float64(s.scene.W), card.Y1*float64(s.scene.H))
	p := roll.Patch{Name: "Grey card", X: (x0 + x1) / 2, Y: (y0 + y1) / 2, R: 0.3 * math.Min(x1-x0, y1-y0), Neutral: true}
	far := roll.Patch{Name: "Corner", X: 3, Y: 3, R: 8}
	set := Read([]roll.Patch{p, far}, s.frames, 1, nil, nil)
	for j, r := range set.Readings[0] {
		if r.Reason != "" {
			t.Fatalf("frame %d: %s", j, r.Reason)
		}
		tx, ty := affine.At(s.truth[j].FromBase, p.X, p.Y)
		if math.Hypot(r.X-tx, r.Y-ty) > 1e-6 {
			t.Errorf("frame %d: read at %.2f %.2f, the card is at %.2f %.2f", j, r.X, r.Y, tx, ty)
		}
		logE := s.truth[j].LogExposure(s.scene.Mean(card))
		for c, got := range []float64{r.Codes.R, r.Codes.G, r.Codes.B} {
			if want := s.truth[j].Code(c, logE[c]); math.Abs(got-want) > 0.02*want {
				t.Errorf("frame %d channel %d: code %.0f, the film gave %.0f", j, c, got, want)
			}
		}
		if (r.DeltaE == nil) != (j == 1) {
			t.Errorf("frame %d: dE00 %v", j, r.DeltaE)
		}
	}
	if r := set.Readings[1][1]; r.Reason == "" {
		t.Error("a patch that is cut by the picture's edge has a reading")
	}
	s.frames[0].Unregistered = true
	s.frames[2].Look = nil
	set = Read([]roll.Patch{p}, s.frames, 1, nil, nil)
	if set.Readings[0][0].Reason == "" || set.Readings[0][2].Reason == "" || set.Readings[0][1].Reason != "" {
		t.Errorf("%+v", set.Readings[0])
	}
}

func TestSuggestions(t *testing.T) {
	s := shoot(t, 0)
	l := s.frames[0].Look
	got := Suggest(l, 9)
	if len(got) < 6 {
		t.Fatalf("%d suggestions", len(got))
	}
	neutral, zones := 0, map[int]bool{}
	names := map[string]bool{}
	set := Read(got, s.frames, 0, nil, nil)
	for i, p := range got {
		if names[p.Name] || p.Name == "" {
			t.Errorf("name %q twice or empty", p.Name)
		}
		names[p.Name] = true
		r := set.Readings[i][0]
		if r.Reason != "" || r.Blown > 0 || r.Blocked > 0 {
			t.Errorf("%s: %s, Blown %g, Blocked %g", p.Name, r.Reason, r.Blown, r.Blocked)
		}
		zones[int(r.L/20)] = true
		if p.Neutral {
			neutral++
			if math.Hypot(r.A, r.B) > 6 {
				t.Errorf("%s is called neutral at a* %.1f b* %.1f", p.Name, r.A, r.B)
			}
		}
		for j := range i {
			if math.Abs(p.X-got[j].X) < p.R+got[j].R && math.Abs(p.Y-got[j].Y) < p.R+got[j].R {
				t.Errorf("%s and %s overlap", p.Name, got[j].Name)
			}
		}
	}
	if neutral != 1 || len(zones) < 3 {
		t.Errorf("%d neutral, %d tonal zones", neutral, len(zones))
	}
	if Suggest(nil, 3) != nil || Suggest(l, 0) != nil {
		t.Error("suggestions of nothing")
	}
}

func TestTable(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	set := &Set{Patches: []roll.Patch{{Name: "a, \"b\""}, {Name: "c"}}, Readings: [][]Reading{
		{{L: 10, DeltaE: v(3)}, {L: 20}}, {{L: 30, DeltaE: v(1)}, {Reason: "not there"}}}}
	rows := set.Rows([]float64{-1, 1})
	if len(rows) != 4 || rows[0].Stop != 1 || rows[0].Name != "a, \"b\"" {
		t.Fatalf("%+v", rows)
	}
	var dE Column
	for _, c := range Columns() {
		if c.Short == "ΔE00" {
			dE = c
		}
	}
	Sort(rows, dE, false)
	if *rows[0].Reading.DeltaE != 1 || *rows[1].Reading.DeltaE != 3 || rows[3].Reading.DeltaE != nil {
		t.Error("not sorted, or what has no value does not stand last")
	}
	Sort(rows, dE, true)
	if *rows[0].Reading.DeltaE != 3 || rows[3].Reading.DeltaE != nil {
		t.Error("not sorted downwards")
	}
	var b bytes.Buffer
	if err := CSV(&b, rows); err != nil {
		t.Fatal(err)
	}
	back, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(back) != 5 || len(back[0]) != len(Columns())+3 {
		t.Errorf("%v, %d lines", err, len(back))
	}
	if dE.Words(nil) != "–" || dE.Words(v(1.26)) != "1.3" {
		t.Error("words")
	}
}

// painted is the look of a small scan in sRGB whose colours are given in linear light.
func painted(t *testing.T, w, h int, light func(x, y int) [3]float64) *measure.Look {
	t.Helper()
	p := &scan.Pixels{Header: scan.Info{Path: "painted.tif", Width: w, Height: h, Bits: 16, Channels: 3}, Pix: make([]uint16, 3*w*h)}
	for y := range h {
		for x := range w {
			for c, v := range light(x, y) {
				// IEC 61966-2-1
				if v <= 0.0031308 {
					v *= 12.92
				} else {
					v = 1.055*math.Pow(v, 1/2.4) - 0.055
				}
				p.Pix[3*(y*w+x)+c] = uint16(math.Round(65535 * v))
			}
		}
	}
	area := image.Rect(0, 0, w, h)
	l, err := measure.NewLook(context.Background(), p, measure.Options{Area: &area})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// sRGB's luminance is 0.2126 R + 0.7152 G + 0.0722 B (IEC 61966-2-1, four decimals),
// of a patch of one primary as of a mixture.
func TestLuminanceIsSRGBs(t *testing.T) {
	colours := [][3]float64{{0.5, 0, 0}, {0, 0.5, 0}, {0, 0, 0.5}, {0.4, 0.2, 0.1}}
	l := painted(t, 200, 50, func(x, y int) [3]float64 { return colours[x/50] })
	var patches []roll.Patch
	for i := range colours {
		patches = append(patches, roll.Patch{Name: "p", X: float64(50*i + 25), Y: 25, R: 10})
	}
	set := Read(patches, []response.Frame{{Look: l}}, 0, nil, nil)
	for i, c := range colours {
		r := set.Readings[i][0]
		want := 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]
		if r.Reason != "" || math.Abs(r.Lum-want) > 5e-4*want+2e-5 {
			t.Errorf("light %v: luminance %.5f, want %.5f; %s", c, r.Lum, want, r.Reason)
		}
	}
}

// A place whose colours flicker at one luminance is smooth, smoother than one of the
// same mean colour whose luminance varies by a little.
func TestSmoothMeansInLuminance(t *testing.T) {
	const y = 0.06 // of the first of the two colours
	for name, two := range map[string][2][3]float64{
		"red and green":  {{y / 0.2126, 0.02, 0.05}, {0.02, y / 0.7152, 0.05}},
		"green and blue": {{0.05, 0.02, y / 0.0722}, {0.05, y / 0.7152, 0.02}},
	} {
		// Both have the same luminance: what the second lacks or has over is made up in
		// green.
		lum := func(c [3]float64) float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] }
		two[1][1] += (lum(two[0]) - lum(two[1])) / 0.7152
		mean := [3]float64{}
		for c := range mean {
			mean[c] = (two[0][c] + two[1][c]) / 2
		}
		l := painted(t, 480, 240, func(x, y int) [3]float64 {
			if x >= 240 { // even in luminance
				return two[(x+y)%2]
			}
			k := 1 + 0.003*float64(2*((x+y)%2)-1)
			return [3]float64{k * mean[0], k * mean[1], k * mean[2]}
		})
		got := Suggest(l, 1)
		if len(got) != 1 || got[0].X < 240 {
			t.Errorf("%s: %+v; the right half is the smooth one", name, got)
		}
	}
}
