package row_test

import (
	"flag"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
)

// A share that is not nothing never reads as nothing, nor one short of the whole
// as the whole.
func TestPercent(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0 %", 1: "100 %", 1e-9: "<0.1 %", 0.0004: "<0.1 %", 0.0006: "0.1 %", 0.031: "3.1 %", 0.0996: "10 %", 0.12: "12 %",
		0.994: "99 %", 0.9999999: ">99 %", math.NaN(): "–",
	} {
		if got := row.Percent(v); got != want {
			t.Errorf("%v is %q, want %q", v, got, want)
		}
	}
}

// The row of a scan that is not whole says so, in words and where.
func TestDamageInRow(t *testing.T) {
	d := &row.Data{File: "a.tif", State: row.Ready, Damage: "damaged at row 1234"}
	for _, c := range row.Columns() {
		if c.ID == "file" {
			if got := c.Text(d); len(got) != 1 || got[0] != "a.tif, damaged at row 1234" {
				t.Errorf("%q", got)
			}
			d.Damage = ""
			if got := c.Text(d); len(got) != 1 || got[0] != "a.tif" {
				t.Errorf("a whole scan: %q", got)
			}
			return
		}
	}
	t.Error("no column of the file")
}

// checkPlaced fails when columns overlap, leave the rung or lose their order.
func checkPlaced(t *testing.T, width int, scale float64, cols []row.Column, placed []row.Placed) {
	t.Helper()
	x, k := 0, 0
	for _, p := range placed {
		if p.X < x || p.W <= 0 || p.X+p.W > width {
			t.Fatalf("width %d scale %v: %s stands at %d+%d after %d", width, scale, p.ID, p.X, p.W, x)
		}
		x = p.X + p.W
		for k < len(cols) && cols[k].ID != p.ID {
			k++
		}
		if k == len(cols) {
			t.Fatalf("width %d: %s is out of order", width, p.ID)
		}
	}
}

func FuzzArrange(f *testing.F) {
	f.Add(700, 1.0, uint64(1))
	f.Add(0, 2.0, uint64(2))
	f.Add(-5, math.NaN(), uint64(3))
	f.Fuzz(func(t *testing.T, width int, scale float64, seed uint64) {
		if width > 1<<20 || scale > 64 {
			return
		}
		rng := rand.New(rand.NewPCG(seed, 1))
		cols := row.Columns()
		if seed%2 == 0 {
			cols = nil
			for i := range rng.IntN(9) {
				c := row.Column{ID: string(rune('a' + i)), Min: rng.Float64()*200 - 20, Priority: rng.IntN(20)}
				c.Ideal = c.Min + rng.Float64()*100 - 20
				c.Max = c.Ideal + rng.Float64()*100 - 50
				cols = append(cols, c)
			}
		}
		checkPlaced(t, width, scale, cols, row.Arrange(width, scale, cols))
	})
}

// Dragging the ladder wider only adds; narrow it is pictures, wide the table.
func TestArrangeGrows(t *testing.T) {
	cols := row.Columns()
	had := map[string]bool{}
	for w := 20; w < 3000; w++ {
		now := map[string]bool{}
		placed := row.Arrange(w, 1, cols)
		checkPlaced(t, w, 1, cols, placed)
		for _, p := range placed {
			now[p.ID] = true
			if float64(p.W) < p.Min-1 && len(placed) > 1 {
				t.Fatalf("width %d: %s has %d of %v units", w, p.ID, p.W, p.Min)
			}
		}
		for id := range had {
			if !now[id] {
				t.Fatalf("width %d lost %s", w, id)
			}
		}
		had = now
	}
	if len(had) != len(cols) {
		t.Errorf("the widest ladder shows %d of %d columns", len(had), len(cols))
	}
	ids := func(w int) (s []string) {
		for _, p := range row.Arrange(w, 1, cols) {
			s = append(s, p.ID)
		}
		return
	}
	if s := ids(60); len(s) != 1 || s[0] != "picture" {
		t.Errorf("60 units wide: %v", s)
	}
	if s := ids(420); len(s) != 5 {
		t.Errorf("420 units wide: %v", s)
	}
}

func FuzzSpread(f *testing.F) {
	f.Add(uint64(1), 5, 100.0)
	f.Fuzz(func(t *testing.T, seed uint64, n int, room float64) {
		if n < 0 || n > 60 || !(room >= 0 && room < 1e6) {
			return
		}
		rng := rand.New(rand.NewPCG(seed, 5))
		want, sizes := make([]float64, n), make([]float64, n)
		sum := 0.0
		for i := range want {
			sizes[i] = rng.Float64() * 30
			sum += sizes[i]
			want[i] = rng.Float64() * room
			if i > 0 {
				want[i] = math.Max(want[i-1], want[i])
			}
		}
		got := row.Spread(want, sizes, 0, room)
		free := sum <= room
		for i := range got {
			lo := 0.0
			if i > 0 {
				lo = got[i-1] + sizes[i-1]/2
			}
			if free && (got[i]-sizes[i]/2 < lo-1e-6 || got[i]+sizes[i]/2 > room+1e-6) {
				t.Fatalf("box %d of %d at %v (%v high) after %v in %v", i, n, got[i], sizes[i], lo, room)
			}
			if i > 0 && got[i] < got[i-1]-1e-6 {
				t.Fatalf("order lost at %d: %v", i, got)
			}
		}
	})
}

// Boxes that do not touch are not moved.
func TestSpreadLeavesTruePlacesAlone(t *testing.T) {
	want := []float64{20, 60, 130, 160}
	for i, v := range row.Spread(want, []float64{30, 30, 30, 30}, 0, 200) {
		if math.Abs(v-want[i]) > 1e-9 {
			t.Errorf("%v moved to %v", want[i], v)
		}
	}
	got := row.Spread([]float64{50, 50}, []float64{20, 20}, 0, 100)
	if math.Abs(got[0]-40) > 1e-9 || math.Abs(got[1]-60) > 1e-9 {
		t.Errorf("two at one place: %v", got)
	}
}

// Every state of a frame, every emptiness, every size: nothing panics, and the
// row keeps to its rectangle.
func TestNothingPanicsAndRowsKeepTheirPlace(t *testing.T) {
	ok := rowtest.Frames(0, 1)
	nan := math.NaN()
	broken := *ok[1]
	broken.Hist = [3][]float64{{nan, 1, math.Inf(1)}, nil, {}}
	broken.Scales = row.Scales{Hist: nan, Cast: -1}
	broken.Ceiling = measure.RGB[float64]{R: nan, G: math.Inf(1), B: -200}
	broken.Thumb = image.NewRGBA(image.Rect(3, 3, 3, 9))
	broken.Rel = &measure.Relation{Bands: [measure.Bands]*measure.BandReading{{A: nan}, nil, {A: math.Inf(1), B: 1e300}}}
	broken.Stop = nan
	inf, far := math.Inf(1), 7.5
	broken.MeasuredStop, broken.MeasuredStopError, broken.FlatLight, broken.FlatDark = &nan, &inf, &nan, &inf
	broken.Registration = &register.Registration{How: register.Direct, DX: nan, DY: inf, Rotation: -inf, Confidence: nan}
	broken.Headroom[0] = &response.Headroom{Blown: &nan, BlockedAtLeast: inf}
	ok[1].MeasuredStop = &far
	ok[1].Registration = &register.Registration{How: register.Areas}
	all := []*row.Data{
		nil, {}, {State: row.Waiting}, {State: row.Reading, Progress: nan}, {State: row.Reading, Progress: 7},
		{State: row.Failed}, {State: row.Failed, File: "a.tif", Message: "The file ends early: fetch it again from the lab, whole this time, please."},
		{State: row.Ready}, {State: row.Ready, Look: &measure.Look{}}, {Look: &measure.Look{Info: scan.Info{Bits: 16}}, Rel: &measure.Relation{}},
		{Verdict: "unheard of", Note: "x", InRange: true, Current: true}, ok[0], ok[1], &broken,
	}
	row.Share(all)
	for _, d := range all[1:] {
		if d != &broken && d != ok[0] && d != ok[1] {
			d.Prepare()
		}
	}
	for _, scale := range []float64{0.5, 1, 1.5, 2.75} {
		for _, w := range []int{1, 7, 40, 90, 220, 420, 700, 1400, 2400} {
			placed := row.Arrange(w, scale, row.Columns())
			for _, h := range []int{1, 3, 16, 36, 40, 90, 160, 400} {
				img := image.NewRGBA(image.Rect(0, 0, w+8, h+8))
				c := paint.New(img, scale)
				r := image.Rect(4, 4, 4+w, 4+h)
				for _, d := range all {
					row.DrawRung(c, r, placed, d)
					row.DrawColumns(c, r, placed, func(s float64) float64 { return s }, all)
				}
				row.DrawHeader(c, r, placed, all...)
				for _, stops := range [][]float64{nil, {0}, {-3, nan, 0, 1.0 / 3, math.Inf(1)}} {
					for _, y := range []func(float64) float64{func(s float64) float64 { return 4 + float64(h)/2 - s*10 }, func(float64) float64 { return nan }} {
						row.DrawAxis(c, r, y, -3, 4, stops)
						row.DrawAxis(c, r, y, nan, 4, stops)
						row.DrawMeasured(c, r, y, -3, 4, all)
						row.DrawMeasured(c, r, y, nan, 4, all)
						row.DrawRange(c, r, y, row.RangeMarks{Judge: &roll.Range{Lo: -1, Hi: 2}, Measured: &roll.Range{Lo: nan, Hi: 0}, Hot: 1})
					}
				}
				for _, d := range all {
					row.HistogramPlot(c, r, d, row.PlotOptions{Hover: true, HoverX: w / 2})
					row.Tables(c, r, row.ReadingsOf(d), nil)
					row.ReadingsOf(d)
				}
				for i := 0; i < len(img.Pix); i += 4 {
					x, y := i/4%(w+8), i/4/(w+8)
					if !image.Pt(x, y).In(r) && img.Pix[i+3] != 0 {
						t.Fatalf("width %d height %d scale %v: drawn outside at %d,%d", w, h, scale, x, y)
					}
				}
			}
		}
	}
}

// What headings and cells hold fits, measured, so that nothing is cut short at
// the width a column asks for.
func TestWordsFit(t *testing.T) {
	c := paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1)
	title := paint.Style{Size: 11, Weight: paint.Medium}
	for _, col := range row.Columns() {
		if w := c.Width(col.Title, title); w > col.Ideal {
			t.Errorf("%s: title %q is %.0f wide, the column %v", col.ID, col.Title, w, col.Ideal)
		}
		if w := c.Width(col.Unit, paint.Style{Size: 10}); col.DrawHead == nil && w > col.Ideal {
			t.Errorf("%s: unit %q is %.0f wide, the column %v", col.ID, col.Unit, w, col.Ideal)
		}
		if len(col.Subs) == 0 {
			continue
		}
		cell := col.Min / float64(len(col.Subs))
		worst := "−100.0"
		switch col.ID {
		case "blown", "blocked", "noisy":
			worst = ">99.9"
		case "mean", "ceiling", "floor":
			worst = "65\u2009535"
		}
		for _, s := range append([]string{worst}, col.Subs...) {
			if w := c.Width(s, paint.Style{Size: 11.5}); w > cell-3 {
				t.Errorf("%s: %q is %.1f wide, the cell %.1f", col.ID, s, w, cell-3)
			}
		}
	}
	for _, s := range []string{"<0.1 %", "100 %", ">99 %"} {
		if w := c.Width(s, paint.Style{Size: 10}); w > 40 {
			t.Errorf("%q is %.1f wide beside a bar", s, w)
		}
	}
	for _, v := range []roll.Verdict{roll.Holds, roll.Strains, roll.Breaks} {
		if w := c.Width(row.VerdictWord(v), paint.Style{Size: 11.5, Weight: paint.Medium}); w > 22+44-22-7+7 {
			t.Errorf("%q is %.1f wide", row.VerdictWord(v), w)
		}
	}
}

// The four signs are told apart without colour and without the word.
func TestVerdictMarksDiffer(t *testing.T) {
	draw := func(v roll.Verdict) []uint8 {
		img := image.NewRGBA(image.Rect(0, 0, 24, 18))
		row.VerdictMark(paint.New(img, 1), img.Rect, v)
		return img.Pix
	}
	all := []roll.Verdict{roll.Unjudged, roll.Holds, roll.Strains, roll.Breaks}
	for i, a := range all {
		for _, b := range all[i+1:] {
			pa, pb, diff := draw(a), draw(b), 0
			for k := 3; k < len(pa); k += 4 {
				if d := int(pa[k]) - int(pb[k]); d > 100 || d < -100 {
					diff++
				}
			}
			if diff < 12 {
				t.Errorf("%q and %q differ in %d pixels", a, b, diff)
			}
		}
	}
}

func TestShare(t *testing.T) {
	f := rowtest.Frames(-1, 0, 1)
	if f[0].Scales != f[2].Scales || !(f[0].Scales.Hist > 0) || !(f[0].Scales.Cast > 0) {
		t.Errorf("%+v %+v", f[0].Scales, f[2].Scales)
	}
	for _, d := range f {
		for _, b := range d.Casts {
			if math.Abs(b.DA) > d.Scales.Cast || math.Abs(b.DB) > d.Scales.Cast {
				t.Errorf("%v %v does not fit a plane of %v", b.DA, b.DB, d.Scales.Cast)
			}
		}
	}
}

func TestReadingsSayWhatIsMissing(t *testing.T) {
	d := rowtest.Frames(0, 1)[1]
	d.Rel.Noisy, d.Rel.Bands[2], d.Casts[2] = nil, nil, nil
	d.Rel.Notes = []string{"Highlights: the base frame has none."}
	found := map[string]bool{}
	for _, s := range row.ReadingsOf(d) {
		for _, r := range s.Rows {
			found[r.Name] = true
			if r.Name == "Highlights" && r.Values[0] != "–" {
				t.Errorf("an unmeasured band reads %q", r.Values)
			}
			if r.Name == "Profile" && r.Values[0] != "sRGB (assumed)" {
				t.Errorf("profile reads %q", r.Values)
			}
		}
	}
	if !found["Could not be measured; see the notes."] || !found["Highlights: the base frame has none."] {
		t.Errorf("%v", found)
	}
	c := paint.New(image.NewRGBA(image.Rect(0, 0, 320, 900)), 1)
	need := row.Tables(c, image.Rect(0, 0, 320, 900), row.ReadingsOf(d), nil)
	if again := row.Tables(c, image.Rect(0, 0, 320, 10), row.ReadingsOf(d), nil); need != again || need < 300 {
		t.Errorf("needs %d in a tall panel, %d in a low one", need, again)
	}
}

func TestHistogramStop(t *testing.T) {
	c := paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1)
	r := image.Rect(100, 0, 622, 200)
	if _, ok := row.HistogramStop(c, r, 101); ok {
		t.Error("left of the plot")
	}
	if s, ok := row.HistogramStop(c, r, 110); !ok || math.Abs(s-row.HistLo) > 0.02 {
		t.Errorf("left end is %v", s)
	}
	if s, ok := row.HistogramStop(c, r, 609); !ok || math.Abs(s) > 0.02 {
		t.Errorf("right end is %v", s)
	}
}

func BenchmarkLadder(b *testing.B) {
	frames := rowtest.Frames(-3, -2, -1, 0, 1, 2, 3, 4)
	b.ResetTimer()
	for b.Loop() {
		ladder(frames, 700, 1400, 1)
	}
}

var update = flag.Bool("update", false, "draw the golden pictures anew")

func TestGoldenRung(t *testing.T) {
	frames := rowtest.Frames(-2, 0, 1)
	img := image.NewRGBA(image.Rect(0, 0, 640, 90+36))
	c := paint.New(img, 1)
	placed := row.Arrange(640, 1, row.Columns())
	c.Fill(img.Rect, c.Pal.Surround)
	row.DrawHeader(c, image.Rect(0, 0, 640, 36), placed, frames...)
	row.DrawRung(c, image.Rect(0, 36, 640, 126), placed, frames[0])
	rowtest.Golden(t, img, "testdata/row.png", *update)
}
