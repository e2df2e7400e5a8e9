package plan

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func form() Form {
	return Form{Meter: "f/11 1/125", ISO: "100", Camera: "leaf shutter", From: "-3", To: "+4", Format: "6x9"}
}

func made(t *testing.T, f Form) *File {
	t.Helper()
	file, err := New(f, Generic())
	if err != nil {
		t.Fatalf("%+v: %v", f, err)
	}
	return file
}

func frames(p *Plan) string {
	var b strings.Builder
	for _, f := range p.Frames {
		fmt.Fprintf(&b, "%d:%+g %s %s; ", f.Number, f.Stop, f.Time.Seconds(), f.Aperture.Number())
	}
	return strings.TrimSuffix(b.String(), "; ")
}

// A bracket of time on the standard series (ISO 516 marks, exact powers of two):
// 8 frames fill a roll of 6x9, the deviations of the exact values are nil, and the
// engraved figures deviate as computed for the series (1/60 to 1/125 is 1.059).
func TestStandardBracket(t *testing.T) {
	f := form()
	f.Hold = "f/16"
	p := &made(t, f).Plan
	want := "1:+0 1/60 f/16; 2:-3 1/500 f/16; 3:-2 1/250 f/16; 4:-1 1/125 f/16; 5:+1 1/30 f/16; 6:+2 1/15 f/16; 7:+3 1/8 f/16; 8:+4 1/4 f/16"
	if got := frames(p); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	if p.Left == nil || *p.Left != 0 {
		t.Errorf("left on the roll: %v", p.Left)
	}
	near(t, "EV", p.EV, 14, 1e-12)
	for _, fr := range p.Frames {
		near(t, "deviation", fr.Deviation, 0, 1e-12)
		near(t, "EV of "+fr.Time.Text, fr.EV, 14-fr.Stop, 1e-9)
	}
	near(t, "1/60 to 1/125 as engraved", -1+p.Frames[3].Literal, -1.059, 5e-4)
	if len(p.Warnings) != 0 {
		t.Errorf("a clean bracket is warned of: %+v", p.Warnings)
	}
	// The same bracket leaves two on 6x7, four on 6x6, seven or eight on 6x4.5.
	for format, left := range map[string]int{"6x7": 2, "6x6": 4, "645": 7, "645-16": 8, "35mm": 28, "6x8": 1} {
		f.Format = format
		if p := made(t, f).Plan; *p.Left != left {
			t.Errorf("%d left on %s, want %d", *p.Left, format, left)
		}
	}
}

func TestOrders(t *testing.T) {
	f := form()
	f.From, f.To, f.Hold, f.First = "-1", "1", "f/16", "3"
	for order, want := range map[string]string{
		"":           "3:+0 1/60 f/16; 4:-1 1/125 f/16; 5:+1 1/30 f/16; 6:+0 1/60 f/16",
		"under-over": "3:-1 1/125 f/16; 4:+0 1/60 f/16; 5:+1 1/30 f/16; 6:+0 1/60 f/16",
		"over under": "3:+1 1/30 f/16; 4:+0 1/60 f/16; 5:-1 1/125 f/16; 6:+0 1/60 f/16",
	} {
		f.Order, f.BaseAgain = order, true
		if got := frames(&made(t, f).Plan); got != want {
			t.Errorf("%q: %s\nwant %s", order, got, want)
		}
	}
}

// Sunny 16, common practice, no source: f/16 at 1/ISO, so f/16 and 1/125 for ISO
// 125, and 1/500 at f/8.
func TestSunny(t *testing.T) {
	p := made(t, Form{Meter: "sunny 16", ISO: "125", Camera: "leaf", From: "0", To: "0", Hold: "f/8"}).Plan
	if got := frames(&p); got != "1:+0 1/500 f/8" {
		t.Error(got)
	}
	near(t, "base off", p.BaseOffset, -math.Log2(512.0/500), 1e-6)
}

// Whatever a camera has, the planned exposures multiply back to the wanted stops
// within half of the widest step between its settings; where the search is asked
// to hold, it holds.
func TestPlansMultiplyBack(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	checked, short := 0, 0
	for range 600 {
		c := Generic()[r.IntN(len(Generic()))]
		c.Bulb = r.IntN(2) == 0
		times, apertures, err := c.marks()
		if err != nil {
			t.Fatal(err)
		}
		f := Form{
			Meter: fmt.Sprintf("EV %.2f at ISO 100", r.Float64()*14+2), ISO: fmt.Sprint([]float64{3, 25, 50, 64, 100, 125, 160, 400, 800}[r.IntN(9)]), Camera: c.Name,
			Vary: string([]Vary{Shutter, Aperture, Both}[r.IntN(3)]), Step: []string{"1", "1/2", "1/3"}[r.IntN(3)],
			From: fmt.Sprint(-r.IntN(5)), To: fmt.Sprint(r.IntN(5)), Order: string([]Order{BaseFirst, UnderOver, OverUnder}[r.IntN(3)]), BaseAgain: r.IntN(2) == 0,
		}
		if r.IntN(2) == 0 {
			if Vary(f.Vary) == Aperture {
				f.Hold = times[r.IntN(len(times))].Seconds()
			} else {
				f.Hold = apertures[r.IntN(len(apertures))].Number()
			}
		}
		file, err := New(f, []Camera{c})
		if err != nil {
			t.Fatalf("%+v: %v", f, err)
		}
		p := &file.Plan
		base := p.Frames[p.Base()]
		// Half the widest gap that the ring which varies can leave, the slack of the
		// search, and the step of a watch.
		gap := func(marks []Mark, per float64) (g float64) {
			for i := 1; i < len(marks); i++ {
				g = max(g, per*math.Abs(math.Log2(marks[i].Exact/marks[i-1].Exact)))
			}
			return g
		}
		limit := gap(times, 1)
		if Vary(f.Vary) == Aperture {
			limit = gap(apertures, 2)
		}
		if c.Bulb {
			limit = max(limit, math.Log2(2/times[0].Exact), math.Log2(3.0/2))
		}
		limit = limit/2 + little + 1e-6
		for _, fr := range p.Frames {
			// Multiplied back without a logarithm: H = t/N².
			h := fr.Time.Exact / (fr.Aperture.Exact * fr.Aperture.Exact)
			h0 := base.Time.Exact / (base.Aperture.Exact * base.Aperture.Exact)
			got := h / h0 / math.Exp2(fr.Stop)
			if math.Abs(got/math.Exp2(fr.Deviation)-1) > 1e-6 {
				t.Fatalf("%+v: frame %+v gives %v of the wanted exposure", f, fr, got)
			}
			if Vary(f.Vary) == Shutter && fr.Aperture.Text != base.Aperture.Text || Vary(f.Vary) == Aperture && fr.Time.Text != base.Time.Text {
				t.Fatalf("%+v: what is held changes: %s", f, frames(p))
			}
			if fr.Short {
				short++
				continue
			}
			checked++
			if math.Abs(fr.Deviation) > limit {
				t.Fatalf("%+v: frame %+v deviates by more than %v", f, fr, limit)
			}
			if !fr.Time.Watch {
				if m, ok := find(times, fr.Time); !ok || m.Text != fr.Time.Text {
					t.Fatalf("%+v: the shutter has no %s", f, fr.Time.Seconds())
				}
			}
			if m, ok := find(apertures, fr.Aperture); !ok || m.Text != fr.Aperture.Text {
				t.Fatalf("%+v: the lens has no %s", f, fr.Aperture.Number())
			}
		}
		near(t, "base against the meter", p.EV-base.EV, p.BaseOffset, 1e-6)
	}
	if checked < 10*short || checked < 1000 {
		t.Logf("%d frames checked, %d out of reach", checked, short)
	}
	if checked < 1000 {
		t.Error("too few frames were checked")
	}
}

// No other setting of the held aperture's shutter is nearer: the search against all.
func TestSearchIsBest(t *testing.T) {
	for _, c := range Generic() {
		c.Bulb = false
		times, apertures, _ := c.marks()
		for _, ev := range []string{"9.3", "12", "13.97"} {
			p := made(t, Form{Meter: "EV " + ev + " at ISO 100", ISO: "100", Camera: c.Name, From: "-2", To: "2", Step: "1/2", Hold: apertures[len(apertures)/2].Number()}).Plan
			base := p.Frames[p.Base()]
			for _, fr := range p.Frames {
				for _, m := range times {
					if other := math.Log2(m.Exact/base.Time.Exact) - fr.Stop; !fr.Time.Watch && math.Abs(other) < math.Abs(fr.Deviation)-1e-9 {
						t.Errorf("%s, EV %s: %s is nearer to %+g than %s", c.Name, ev, m.Seconds(), fr.Stop, fr.Time.Seconds())
					}
				}
			}
		}
	}
}

func codes(p *Plan) (out []string) {
	for _, w := range p.Warnings {
		out = append(out, string(w.Code))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Every warning appears where it is due and nowhere else.
func TestWarnings(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Form)
		want   []Code
	}{
		"clean":     {func(f *Form) { f.Hold = "f/16" }, nil},
		"too fast":  {func(f *Form) { f.Hold = "f/8" }, []Code{Outside}},
		"long":      {func(f *Form) { f.Meter, f.Hold = "EV 6", "f/16" }, []Code{ByHand, Colour, Crosses, Clouds, Unsteady, Long}},
		"very fast": {func(f *Form) { f.Camera, f.Hold = "electronic shutter 30", "f/5.6" }, []Code{Crosses, Unsteady}},
		"apertures": {func(f *Form) { f.Vary, f.Hold, f.To, f.From = "aperture", "1/60", "2", "-1" }, []Code{Depth, Diffraction}},
		"fine": {func(f *Form) {
			f.Camera, f.Hold, f.Step, f.Format, f.From, f.To = "electronic shutter 30", "f/16", "1/3", "", "-1", "1"
		}, []Code{FineSteps}},
		"slow work": {func(f *Form) { f.Hold, f.Step, f.Format, f.Camera = "f/16", "1/3", "", "electronic shutter 30" }, []Code{FineSteps, Clouds}},
		"coarse":    {func(f *Form) { f.Camera, f.Hold = "old leaf", "f/16" }, []Code{BaseOff, Coarse, Outside, Same}},
		"base":      {func(f *Form) { f.Meter, f.Hold, f.From, f.To = "EV 14.4", "f/16", "0", "2" }, []Code{BaseOff}},
	} {
		f := form()
		c.change(&f)
		p := made(t, f).Plan
		var want []string
		for _, w := range c.want {
			want = append(want, string(w))
		}
		slices.Sort(want)
		if got := codes(&p); !slices.Equal(got, want) {
			t.Errorf("%s: warnings %v, want %v\n%s\n%+v", name, got, want, frames(&p), p.Warnings)
		}
		for _, w := range p.Warnings {
			if !strings.HasSuffix(w.Text, ".") || strings.Contains(w.Text, "\n") || strings.Contains(w.Text, "%!") {
				t.Errorf("%s: %q", name, w.Text)
			}
		}
	}
	f := form()
	f.Hold = "f/8"
	for _, w := range made(t, f).Plan.Warnings {
		if w.Code == Outside && !strings.Contains(w.Text, "holding f/16 instead") {
			t.Errorf("no way out is offered: %s", w.Text)
		}
	}
}

// What is advised where the camera does not reach is planned first: it reaches all.
func TestAdviceReaches(t *testing.T) {
	one := Camera{Name: "one", Times: []string{"1/60"}, Apertures: []string{"8"}}
	fast := Camera{Name: "fast", Times: []string{"1/125", "1/60", "1/30", "1/15"}, Apertures: []string{"8"}}
	bulb := fast
	bulb.Bulb = true
	for name, c := range map[string]struct {
		camera   Camera
		ev       string
		from, to string
		says     string
	}{
		"one setting":    {one, "12", "-1", "1", "shorter bracket or another camera would help"},
		"bright":         {fast, "15", "-1", "1", "a filter of 3 stops would help"},
		"a little":       {fast, "14", "-1", "1", "a filter of 2 stops would help"},
		"by one":         {fast, "13", "-1", "1", "a filter of 1 stop would help"},
		"dark":           {fast, "9", "-1", "1", "2 stops more light"},
		"dark, with B":   {bulb, "-9", "-1", "1", "stops more light"},
		"wide, no end":   {fast, "12", "-4", "4", "shorter bracket or another camera would help"},
		"nearly reached": {fast, "12", "-1", "2", ""},
	} {
		file, err := New(Form{Meter: "EV " + c.ev + " at ISO 100", ISO: "100", Camera: c.camera.Name, From: c.from, To: c.to}, []Camera{c.camera})
		if err != nil {
			t.Fatal(err)
		}
		said := ""
		for _, w := range file.Plan.Warnings {
			if w.Code == Outside {
				said = w.Text
			}
		}
		if !strings.Contains(said, c.says) || c.says == "" && said != "" || strings.Contains(said, "on B") {
			t.Errorf("%s: %q, want %q\n%s", name, said, c.says, frames(&file.Plan))
		}
	}
}

func TestLasting(t *testing.T) {
	for seconds, want := range map[float64]string{0.016: "1 s", 70: "70 s", 89.4: "89 s", 100: "2 minutes", 7200: "120 minutes", 16200: "4.5 hours", 522056: "145 hours"} {
		if got := lasting(seconds); got != want {
			t.Errorf("%v s is written %s, want %s", seconds, got, want)
		}
	}
}

// Varying both is advised where it helps, and never where both vary already.
func TestVaryBothIsAdvisedWhereItHelps(t *testing.T) {
	coarse := Camera{Name: "coarse", Times: []string{"1/30", "1/60", "1/125", "1/250"}, Apertures: []string{"8"}}
	fine := coarse
	fine.Apertures, fine.ApertureClicks = []string{"5.6", "8", "11"}, Thirds
	for _, c := range []struct {
		camera Camera
		vary   Vary
		advise bool
	}{{fine, Shutter, true}, {fine, Both, false}, {coarse, Shutter, false}, {coarse, Both, false}} {
		file, err := New(Form{Meter: "f/8 1/60 at ISO 100", ISO: "100", Camera: "coarse", From: "-1", To: "1", Step: "1/3", Vary: string(c.vary)}, []Camera{c.camera})
		if err != nil {
			t.Fatal(err)
		}
		advised := false
		for _, w := range file.Plan.Warnings {
			advised = advised || strings.Contains(w.Text, "vary")
		}
		if advised != c.advise {
			t.Errorf("%v, varying %s: %+v", c.camera.Apertures, c.vary, file.Plan.Warnings)
		}
		if same := slices.Contains(codes(&file.Plan), string(Same)); same != (c.vary != Both || len(c.camera.Apertures) == 1) {
			t.Errorf("%v, varying %s: frames alike %v\n%s", c.camera.Apertures, c.vary, same, frames(&file.Plan))
		}
	}
}

// Cautions where they are due: the sun only where a meter with a view may see it.
func TestCautions(t *testing.T) {
	for meter, want := range map[string]bool{"f/16 1/125": true, "reflected 4000 cd/m2": true, "incident f/16 1/125": false, "64000 lux": false, "EV 6": false} {
		f := form()
		f.Meter, f.From, f.To, f.Format = meter, "0", "0", ""
		p := made(t, f).Plan
		if got := slices.ContainsFunc(p.Cautions, func(s string) bool { return strings.Contains(s, "sun") }); got != want {
			t.Errorf("%s: caution of the sun %v, want %v", meter, got, want)
		}
		if !slices.ContainsFunc(p.Cautions, func(s string) bool { return strings.Contains(s, "data sheet") }) {
			t.Error("the data sheet is not deferred to")
		}
	}
}

// Lengthened times do for the film what was wanted: by P = 1.31 the frame metered
// at 8 s gets 15 s by watch (table of standards: 15.2 s), and its stop is the one
// that was wanted.
func TestReciprocity(t *testing.T) {
	f := form()
	f.Meter, f.Hold, f.From, f.To, f.Reciprocity = "EV 5", "f/16", "0", "0", "1.31"
	p := made(t, f).Plan
	if got := frames(&p); got != "1:+0 8 s f/16" {
		t.Error(got)
	}
	near(t, "loss of 8 s", p.Frames[0].Loss, 3-3/1.31, 1e-9)
	f.Correct = true
	p = made(t, f).Plan
	if got := frames(&p); got != "1:+0 15 s f/16" {
		t.Error(got)
	}
	near(t, "base offset", p.BaseOffset, math.Log2(15/15.245)/1.31, 1e-3)
	// A table goes by its rows: 8 s metered are 20 s.
	f.Reciprocity = "2=3, 8=20"
	if p = made(t, f).Plan; frames(&p) != "1:+0 20 s f/16" {
		t.Error(frames(&p))
	}
}

// Where times are not lengthened the real stops of the plan have the loss taken off,
// by hand: with P 1.31 a base frame of 4 s counts as 4^(1/1.31) = 2.881 s and one of 1
// s as 1 s, which is log2 1/2.881 = -1.53 and not -2; 16 s count as 8.302 s, +1.53.
// By a table of data sheets (1 s to 2 s, 10 s to 50 s, 100 s to 1200 s; from memory)
// 10 s count as 10^(log10 5 / log10 25) = 3.162 s, and 2 s as 1 s: -1.66 for -2.32.
func TestUncorrectedLoss(t *testing.T) {
	f := Form{Meter: "EV 4 at ISO 100", ISO: "100", Camera: "electronic shutter 30", From: "-2", To: "2", Hold: "f/8", Reciprocity: "1.31"}
	p := made(t, f).Plan
	if got := frames(&p); got != "1:+0 4 s f/8; 2:-2 1 s f/8; 3:-1 2 s f/8; 4:+1 8 s f/8; 5:+2 15 s f/8" {
		t.Fatal(got)
	}
	for i, want := range []float64{0, -1.527, -0.763, 0.763, 1.527} {
		near(t, "real stop of "+p.Frames[i].Time.Seconds(), p.Frames[i].Real(), want, 5e-4)
	}
	near(t, "base against the meter", p.BaseOffset, -(2 - 1.527), 5e-4)
	told := false
	for _, w := range p.Warnings {
		told = told || w.Code == Long && strings.Contains(w.Text, "real stops")
		if w.Code == Coarse || w.Code == BaseOff {
			t.Errorf("what long times lose is taken for a coarse setting: %s", w.Text)
		}
	}
	if !told {
		t.Errorf("nothing says that the loss is taken off: %+v", p.Warnings)
	}
	near(t, "as engraved", p.Frames[4].Real()-p.Frames[4].Deviation+p.Frames[4].Literal, math.Log2(15./4)/1.31, 1e-9)

	c := Camera{Name: "table", Times: []string{"2=2", "10=10"}, Apertures: []string{"8"}}
	f = Form{Meter: "f/8 10 s at ISO 100", ISO: "100", Camera: "table", From: "-2", To: "0", Step: "2", Reciprocity: "1=2, 10=50, 100=1200"}
	file, err := New(f, []Camera{c})
	if err != nil {
		t.Fatal(err)
	}
	if got := frames(&file.Plan); got != "1:+0 10 s f/8; 2:-2 2 s f/8" {
		t.Fatal(got)
	}
	near(t, "by the table", file.Plan.Frames[1].Real(), -1.661, 5e-4)
}

// Plan and log give one real stop to every frame that was exposed as planned, with
// figures for reciprocity and without, lengthened or not.
func TestPlanAndLogAgree(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 2))
	lossy := 0
	for range 400 {
		f := Form{
			Meter: fmt.Sprintf("EV %.2f at ISO 100", r.Float64()*16-4), ISO: fmt.Sprint([]int{25, 50, 100, 400, 1600}[r.IntN(5)]), Camera: Generic()[r.IntN(6)].Name,
			Vary: string([]Vary{Shutter, Aperture, Both}[r.IntN(3)]), Step: []string{"1", "1/2", "1/3"}[r.IntN(3)],
			From: fmt.Sprint(-r.IntN(5)), To: fmt.Sprint(r.IntN(5)), BaseAgain: r.IntN(2) == 0,
			Reciprocity: []string{"", "1.31", "p 0.86", "1=2, 10=50, 100=1200", "4=6"}[r.IntN(5)],
		}
		f.Correct = f.Reciprocity != "" && r.IntN(2) == 0
		file := made(t, f)
		real, err := file.Real()
		if err != nil {
			t.Fatal(err)
		}
		near(t, "base offset", file.Plan.BaseOffset, real.BaseOffset, 1e-6)
		for i, fr := range file.Plan.Frames {
			if e := real.Exposed[i]; math.Abs(e.Stop-fr.Real()) > 1e-6 || math.Abs(e.Loss-fr.Loss) > 1e-9 {
				t.Fatalf("%+v: the plan has %v for frame %d, the log %v", f, fr.Real(), fr.Number, e.Stop)
			}
			if fr.Loss > 0.1 && !f.Correct {
				lossy++
			}
		}
	}
	if lossy < 300 {
		t.Errorf("only %d frames lost light", lossy)
	}
}

// A filter takes light off, as its rim says it: a density, a factor, or stops. Factor
// and density are 2^stops and 0.3 a stop (tables of filter makers' marks: ND8 is ND
// 0.9 and three stops, ND64 is 1.8 and six, ND400 8 2/3, ND1000 and 3.0 about ten,
// 2.0 is 6 2/3).
func TestFilter(t *testing.T) {
	for text, want := range map[string]float64{
		"3": 3, "3 stops": 3, "1 stop": 1, "1 2/3": 5. / 3, "1 2/3 stops": 5. / 3, "2.5": 2.5, "-3": 3, "0.9 stops": 0.9, "none": 0,
		"ND 0.9": 3, "nd0,9": 3, "ND.9": 3, "0.9 ND": 3, "ND 0.3": 1, "ND0.6": 2, "ND 1.8": 6, "ND 3.0": 10, "ND 2.0": 20. / 3, "ND 0.1": 1. / 3, "ND 0.15": 0.15 / math.Log10(2),
		"ND2": 1, "ND4": 2, "ND8": 3, "nd 8": 3, "ND16": 4, "ND64": 6, "ND400": math.Log2(400), "ND1000": math.Log2(1000), "ND1024": 10, "ND 10000": math.Log2(10000),
		"8x": 3, "x8": 3, "8×": 3, "×8": 3, "8 x": 3, "NDX8": 3, "NDx400": math.Log2(400), "ND 8x": 3, "ND×8": 3, "1.5x": math.Log2(1.5), "NDx3": math.Log2(3),
	} {
		f := form()
		f.Filter = text
		file, err := New(f, Generic())
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		near(t, "EV behind "+text, file.Plan.EV, 14-want, 1e-9)
	}
	near(t, "ND1000 in stops", math.Log2(1000), 10, 0.05)
	near(t, "ND400 in stops", math.Log2(400), 8+2./3, 0.05)
	for text, says := range map[string][]string{
		"ND 3": {"ND 3.0", "3x", "3 stops"}, "ND6": {"ND 6.0", "6x", "6 stops"}, "ND 1": {"ND 1.0", "1 stop"}, "ND10": {"10x", "10 stops"}, "ND 20": {"20x"},
		"0.9": {"ND 0.9", "0.9 stops"}, "1,8": {"ND 1.8", "1.8 stops"}, "3.0": {"ND 3.0", "3.0 stops"}, ".6": {"ND 0.6", "0.6 stops"},
		"ND1,000": {"1000 or 1:"}, "ND": {"ND8"}, "ND 0": {"ND8"}, "grey": {"8x"}, "ND 1/8": {"8x"}, "ND-8": {"8x"}, "0x": {"8x"}, "0.5x": {"8x"}, "ND 7.5": {"8x"}, "8xx": {"8x"},
		"-ND 0.9": {"8x"}, "xx": {"8x"}, "99999999x": {"8x"},
	} {
		f := form()
		f.Filter = text
		file, err := New(f, Generic())
		if err == nil {
			t.Errorf("%q is read as %.2f stops", text, 14-file.Plan.EV)
			continue
		}
		es := Fields(err)
		for _, s := range says {
			if !strings.Contains(es.On(FieldFilter), s) || strings.HasSuffix(err.Error(), ".") {
				t.Errorf("%q: %v, want %q", text, err, s)
			}
		}
	}
}

// The darkest light on the slowest film behind the densest filter, and the brightest
// on the fastest: what is planned can be kept and opened again.
func TestEndsOfLight(t *testing.T) {
	for _, f := range []Form{
		{Meter: "EV -15 at ISO 100", ISO: "0.5", Filter: "ND 6.0"}, {Meter: "EV 26 at ISO 100", ISO: "204800"}, {Meter: "EV 26 at ISO 100", ISO: "0.5"},
	} {
		f.Camera, f.From, f.To = "leaf", "0", "0"
		var b bytes.Buffer
		if err := made(t, f).Encode(&b); err != nil {
			t.Errorf("%+v: %v", f, err)
		} else if _, err := Decode(b.Bytes()); err != nil {
			t.Errorf("%+v: %v", f, err)
		}
	}
}

// A tested shutter is planned with what the test found.
func TestTestedTimes(t *testing.T) {
	c := Generic()[0]
	c.Name = "tested"
	c.Times = []string{"1/500=1/400", "1/250", "1/125", "1/60", "1/30"}
	f := form()
	f.Camera, f.From, f.To, f.Hold = "tested", "-1", "1", "f/8"
	f.Meter = "f/8 1/250"
	file, err := New(f, []Camera{c})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "1/400 beside 1/256", file.Plan.Frames[1].Real(), -math.Log2(400.0/256), 1e-9)
}
