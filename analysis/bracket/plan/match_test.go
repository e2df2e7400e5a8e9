package plan

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func numbered(from, to int) (out []string) {
	for i := from; i <= to; i++ {
		out = append(out, fmt.Sprintf("/scans/img_%04d.tif", i))
	}
	return out
}

// stopsOf lists the stops of an assignment's scans, NaN for other pictures.
func stopsOf(scans []Placed) (out []float64) {
	for _, s := range scans {
		if s.Known {
			out = append(out, s.Stop)
		} else {
			out = append(out, math.NaN())
		}
	}
	return out
}

func matched(t *testing.T, f *File, scans []string, measured []float64) *Assignment {
	t.Helper()
	a, err := Match(f, scans, measured)
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Scans) != len(scans) {
		t.Fatalf("%d places for %d scans", len(a.Scans), len(scans))
	}
	for _, o := range a.Offers {
		if len(o.Scans) != len(scans) || !strings.HasSuffix(o.Text, ".") || strings.Contains(o.Text, "%!") {
			t.Errorf("offer %q with %d scans", o.Text, len(o.Scans))
		}
	}
	return a
}

var planned = []float64{0, -3, -2, -1, 1, 2, 3, 4, 0} // the order of held

// As many scans as frames: in the order of the film, and the other way round is
// offered.
func TestMatchByOrder(t *testing.T) {
	a := matched(t, held(t), numbered(1, 9), nil)
	if !a.Sure || !same(stopsOf(a.Scans), planned) {
		t.Errorf("%v %v", a.Sure, stopsOf(a.Scans))
	}
	back := []float64{0, 4, 3, 2, 1, -1, -2, -3, 0}
	if len(a.Offers) != 2 || !same(stopsOf(a.Offers[1].Scans), back) {
		t.Errorf("turned round: %+v", a.Offers)
	}
	// The scans may be given in any order; their names count.
	scans := []string{"b10.tif", "b9.tif", "b1.tif", "b2.tif", "b3.tif", "b4.tif", "b5.tif", "b6.tif", "b7.tif"}
	a = matched(t, held(t), scans, nil)
	if !same(stopsOf(a.Scans), []float64{0, 4, 0, -3, -2, -1, 1, 2, 3}) {
		t.Errorf("%v", stopsOf(a.Scans))
	}
	// Spoiled frames are on the film, missed ones are not.
	f := held(t)
	put(t, f, Shot{Number: 2, State: Missed}, Shot{Number: 4, State: Spoiled})
	a = matched(t, f, numbered(1, 8), nil)
	if !a.Sure || !same(stopsOf(a.Scans), []float64{0, -2, math.NaN(), 1, 2, 3, 4, 0}) {
		t.Errorf("%v %v", a.Sure, stopsOf(a.Scans))
	}
}

// Labels in the names go first, and get the real stops with thirds and deviations.
func TestMatchByLabel(t *testing.T) {
	f := held(t)
	put(t, f, Shot{Number: 8, State: Done, Setting: "1/5"})
	scans := []string{"+4.tif", "-3.tif", "0.tif", "+1.tif"}
	a := matched(t, f, scans, nil)
	want := []float64{4 - 1./3, -3, 0, 1} // 1/5 is a third less than 1/4
	if !a.Sure || !same(stopsOf(a.Scans), want) {
		t.Errorf("%v %v, want %v", a.Sure, stopsOf(a.Scans), want)
	}
	near(t, "deviation of 1/5 from 1/4", a.Scans[0].Deviation, -1./3, 1e-9)
	if !strings.Contains(strings.Join(a.Findings, " "), "no scan of frame 3 (−2)") {
		t.Errorf("missing frames are not told: %v", a.Findings)
	}
	// Two base frames take two scans at 0, in order; a third is told.
	a = matched(t, held(t), []string{"0.tif", "base.tif", "+1.tif", "-1.tif"}, nil)
	if a.Scans[0].Exposed != 0 || a.Scans[1].Exposed != 8 {
		t.Errorf("base frames: %+v", a.Scans)
	}
	a = matched(t, held(t), []string{"+1.tif", "+2.tif", "+5.tif"}, nil)
	if a.Scans[2].Known || !strings.Contains(strings.Join(a.Findings, " "), `"+5.tif"`) {
		t.Errorf("a label that is not in the plan: %+v %v", a.Scans, a.Findings)
	}
}

// Other pictures on the same roll, or a frame that is missing: asked, with the
// likeliest first.
func TestMatchCountsDiffer(t *testing.T) {
	a := matched(t, held(t), numbered(21, 32), nil)
	if a.Sure || a.Question == "" || len(a.Offers) < 4 {
		t.Fatalf("%+v", a)
	}
	nan := math.NaN()
	for _, s := range a.Scans {
		if s.Known {
			t.Error("a frame is labelled unasked")
		}
	}
	if got := stopsOf(a.Offers[0].Scans); !same(got, append(append([]float64{}, planned...), nan, nan, nan)) {
		t.Errorf("first offer %v", got)
	}
	if !strings.Contains(a.Offers[0].Text, `"img_0030.tif" to`) && !strings.Contains(a.Offers[0].Text, `"img_0030.tif", "img_0031.tif"`) {
		t.Errorf("%s", a.Offers[0].Text)
	}
	// Numbers in the names that are those of the roll go first: the plan began at 3.
	f := form()
	f.Hold, f.Format, f.First = "f/16", "6x6", "3"
	a = matched(t, made(t, f), numbered(1, 12), nil)
	if got := stopsOf(a.Offers[0].Scans); !same(got, []float64{nan, nan, 0, -3, -2, -1, 1, 2, 3, 4, nan, nan}) {
		t.Errorf("by number: %v", got)
	}
	// One short: every frame may be the missing one.
	a = matched(t, held(t), numbered(1, 8), nil)
	if a.Sure || len(a.Offers) != maxOffers || !strings.Contains(a.Offers[0].Text, "no scan of frame 9") {
		t.Errorf("%v %+v", a.Sure, a.Offers)
	}
}

// Measured stops choose, whatever their origin, and disagreements are told.
func TestMatchMeasured(t *testing.T) {
	noise := []float64{.05, -.08, .02, .1, -.04, .07, -.1, .03, 0, .06, -.02, .01}
	measure := func(real []float64) (out []float64) {
		for i, v := range real {
			out = append(out, v+1.7+noise[i])
		}
		return out
	}
	f := held(t)
	nan := math.NaN()
	// Other pictures before and after: only one place fits.
	roll := []float64{1.2, -.3, 0, -3, -2, -1, 1, 2, 3, 4, 0, nan}
	a := matched(t, f, numbered(1, 12), measure(roll))
	if !a.Sure || !same(stopsOf(a.Scans), []float64{nan, nan, 0, -3, -2, -1, 1, 2, 3, 4, 0, nan}) {
		t.Errorf("%v %v", a.Sure, stopsOf(a.Scans))
	}
	if a.Scans[3].Off == nil || math.Abs(*a.Scans[3].Off) > 0.2 || a.Offers[0].Misfit == nil {
		t.Errorf("%+v", a.Scans[3])
	}
	// A frame in the middle is missing.
	a = matched(t, f, numbered(1, 8), measure([]float64{0, -3, -2, 1, 2, 3, 4, 0}))
	if !a.Sure || !same(stopsOf(a.Scans), []float64{0, -3, -2, 1, 2, 3, 4, 0}) || !strings.Contains(strings.Join(a.Findings, " "), "frame 4 (−1)") {
		t.Errorf("%v %v %v", a.Sure, stopsOf(a.Scans), a.Findings)
	}
	// Scanned from the tail of the roll.
	a = matched(t, f, numbered(1, 9), measure([]float64{0, 4, 3, 2, 1, -1, -2, -3, 0}))
	if !a.Sure || !same(stopsOf(a.Scans), []float64{0, 4, 3, 2, 1, -1, -2, -3, 0}) {
		t.Errorf("%v %v", a.Sure, stopsOf(a.Scans))
	}
	// Two scans swapped: named, and the rest stays.
	a = matched(t, f, []string{"-2.tif", "-1.tif", "0.tif", "+1.tif", "+2.tif"}, measure([]float64{-2, 1, 0, -1, 2}))
	if found := strings.Join(a.Findings, " "); !a.Sure || !strings.Contains(found, `"+1.tif" and "-1.tif" seem to be swapped`) {
		t.Errorf("%v", a.Findings)
	}
	// One that is off by a stop is told, with its name.
	a = matched(t, f, []string{"-2.tif", "-1.tif", "0.tif", "+1.tif", "+2.tif"}, measure([]float64{-2, -1, 0, 2, 2}))
	if found := strings.Join(a.Findings, " "); !strings.Contains(found, `"+1.tif" measures`) || strings.Contains(found, `"+2.tif" measures`) {
		t.Errorf("%v", a.Findings)
	}
	// In even steps without a base to find, the ends cannot be told apart: asked.
	g := form()
	g.Hold, g.Order = "f/16", "under-over"
	a = matched(t, made(t, g), numbered(1, 7), measure([]float64{-3, -2, -1, 0, 1, 2, 3}))
	if a.Sure || len(a.Offers) < 2 {
		t.Errorf("a guess: %+v", a)
	}
}

// On any roll with unlike steps, measured stops with little noise find the bracket
// again.
func TestMatchFinds(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	f := held(t)
	for range 300 {
		before, after := r.IntN(6), r.IntN(6)
		var measured, want []float64
		for range before {
			measured, want = append(measured, r.Float64()*8-4), append(want, math.NaN())
		}
		for _, v := range planned {
			measured, want = append(measured, v+r.NormFloat64()*0.05), append(want, v)
		}
		for range after {
			measured, want = append(measured, r.Float64()*8-4), append(want, math.NaN())
		}
		a := matched(t, f, numbered(1, len(measured)), measured)
		if got := stopsOf(a.Offers[0].Scans); !same(got, want) {
			t.Fatalf("%v\nwant %v\nof   %v", got, want, measured)
		}
	}
}

func TestMatchNothing(t *testing.T) {
	if a := matched(t, held(t), nil, nil); a.Sure || len(a.Offers) != 0 {
		t.Errorf("%+v", a)
	}
	a := matched(t, held(t), []string{"x.tif"}, []float64{math.NaN()})
	if a.Sure {
		t.Errorf("%+v", a)
	}
	f := held(t)
	for n := 1; n <= 9; n++ {
		put(t, f, Shot{Number: n, State: Missed})
	}
	if a := matched(t, f, numbered(1, 3), nil); a.Sure {
		t.Errorf("%+v", a)
	}
}

func TestBeside(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "courtyard")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	touch := func(name string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	scan := touch("wall_1.tif")
	find := func(paths ...string) string {
		p, err := Beside(paths)
		if err != nil {
			t.Error(err)
		}
		return filepath.Base(p)
	}
	if got := find(dir); got != "." {
		t.Errorf("found %s", got)
	}
	touch(".hidden" + Ext)
	touch("one" + Ext)
	if find(dir) != "one"+Ext || find(scan) != "one"+Ext || find(scan, filepath.Join(dir, "gone.tif")) != "one"+Ext {
		t.Error("the only plan is not found")
	}
	touch("two" + Ext)
	_, err := Beside([]string{dir})
	var many *AmbiguousError
	if !errors.As(err, &many) || len(many.Plans) != 2 {
		t.Errorf("%v", err)
	}
	touch("wall" + Ext)
	if got := find(scan); got != "wall"+Ext {
		t.Errorf("by the scans' name: %s", got)
	}
	touch("Courtyard" + Ext)
	if got := find(dir); got != "Courtyard"+Ext {
		t.Errorf("by the folder's name: %s", got)
	}
	if got := find(filepath.Join(dir, "nowhere")); got != "Courtyard"+Ext {
		t.Errorf("%s", got)
	}
}

func BenchmarkMatchRoll(b *testing.B) {
	f, err := New(Form{Meter: "EV 14", ISO: "100", Camera: "electronic shutter 30", From: "-3", To: "4", Step: "1/3", Format: "35mm"}, Generic())
	if err != nil {
		b.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 1))
	measured := make([]float64, 36)
	for i := range measured {
		measured[i] = r.Float64() * 8
	}
	scans := numbered(1, 36)
	for b.Loop() {
		if _, err := Match(f, scans, measured); err != nil {
			b.Fatal(err)
		}
	}
}

// Scans that were laid on the film from the wrong end are told by their measured
// stops, and labels that fit are left alone.
func TestBetterMatching(t *testing.T) {
	f := held(t)
	a := matched(t, f, numbered(1, 9), nil)
	var labels []float64
	for _, s := range a.Scans {
		if !s.Known {
			t.Fatalf("%+v", a)
		}
		labels = append(labels, s.Stop)
	}
	right := slices.Clone(labels)
	turned := slices.Clone(labels)
	slices.Reverse(turned)
	noisy := func(v []float64) []float64 {
		out := slices.Clone(v)
		for i := range out {
			out[i] += 0.7 + 0.03*float64(i%3-1) // any origin, a little noise
		}
		return out
	}
	if _, _, ok := matched(t, f, numbered(1, 9), noisy(right)).Better(labels, noisy(right)); ok {
		t.Error("labels that fit are called wrong")
	}
	b, was, ok := matched(t, f, numbered(1, 9), noisy(turned)).Better(labels, noisy(turned))
	if !ok || was < 0.5 || *b.Misfit > 0.1 {
		t.Fatalf("%v %g %v", b, was, ok)
	}
	for i, s := range b.Scans {
		if s.Stop != turned[i] {
			t.Errorf("scan %d: %g, measured %g", i, s.Stop, turned[i])
		}
	}
	// A folder that was named from under to over against a plan that begins with the base
	// frame: no order of the film fits, the order of the measured stops does.
	ascending := []float64{-3, -2, -1, 0, 0, 1, 2, 3, 4}
	b, was, ok = matched(t, f, numbered(1, 9), noisy(ascending)).Better(labels, noisy(ascending))
	if !ok || was < 0.5 || *b.Misfit > 0.1 || !same(stopsOf(b.Scans), ascending) || !strings.Contains(b.Text, "at −3") {
		t.Errorf("%v %g %+v", ok, was, b)
	}
	if _, _, ok := a.Better(labels[:2], noisy(turned)); ok {
		t.Error("of other lengths")
	}
}
