package patch

import (
	"bytes"
	"context"
	"encoding/csv"
	"math"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/affine"
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
