package session

import (
	"cmp"
	"image"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/row"
)

// One roll that is measured once, looked at in many ways.
func TestOneRollInManyWays(t *testing.T) {
	d := demo(t, "negative")
	for _, c := range []struct {
		name string
		look func(t *testing.T, d *desk)
	}{{"rows have their own readings", rowsOfTheirOwn}, {"Noisy at a limit and through a lift", noisyFollows}, {"difference in colour", differenceInColour},
		{"marker between the frames", markerBetween}, {"patches", patchesAreRead}, {"picked neutral", neutralIsPicked},
		{"pages", pagesAreFilled}, {"corrections", correctionsAreShown}, {"exports", exports}, {"outputs agree", outputsAgree}} {
		t.Run(c.name, func(t *testing.T) {
			d.t = t
			page, masked := d.panel, d.masks
			c.look(t, d)
			for d.undo() != "" {
			}
			d.settle()
			d.view = view{panel: page, masks: masked, grade: criteria.Curves, corrected: true}
			d.do(Go{d.Base()})
		})
	}
}

// rowsOf is a page's rows by name.
func rowsOf(sections []row.Section) map[string][]string {
	out := map[string][]string{}
	for _, s := range sections {
		for _, r := range s.Rows {
			out[s.Title+": "+r.Name] = r.Values
		}
	}
	return out
}

func at(d *desk, stop float64) int {
	return slices.IndexFunc(d.Roll().Frames, func(f roll.Frame) bool { return f.Stop == stop })
}

func rowsOfTheirOwn(t *testing.T, d *desk) {
	seen := map[string]bool{}
	for i, r := range d.Rows() {
		f := d.Frame(i)
		if r.Look == nil || r.Look.Info.Path != d.Roll().Frames[i].File || r.Rel != f.Relation || r.Thumb == nil || r.Registration == nil || r.MeasuredStop == nil {
			t.Fatalf("row %d has the look of %s", i, r.Look.Info.Path)
		}
		if math.Abs(*r.MeasuredStop-r.Stop) > 0.3 || r.Registration.DX != f.Registration.DX {
			t.Errorf("row %d at %g is measured at %g, moved by %g and %g", i, r.Stop, *r.MeasuredStop, r.Registration.DX, f.Registration.DX)
		}
		key := row.TablesText(row.ReadingsOf(r))
		if seen[key] {
			t.Errorf("row %d reads what another does", i)
		}
		seen[key] = true
	}
}

// The limit of Noisy is the judge's: the readings follow it, undo takes it back, and a
// shadow lift that is dialled in is seen in the figure that is shown, never in the
// readings.
func noisyFollows(t *testing.T, d *desk) {
	d.do(Go{0})
	rel := func() *measure.Relation { return d.Frame(0).Relation }
	was := rel()
	d.do(SetNoisyLimit{1.2, false})
	if rel().NoiseLimit != 1.2 {
		t.Error("the readings do not follow the drag")
	}
	d.do(SetNoisyLimit{0.6, true})
	at06 := *rel().Noisy
	if rel() == was || rel().NoiseLimit != 0.6 || at06 <= *was.Noisy || at06 != *was.NoisyFraction(0.6, nil) {
		t.Fatalf("at 0.6 L* %g of the frame is Noisy, at 3 L* %g", at06, *was.Noisy)
	}
	if r := d.Frame(1).Relation; r.NoiseLimit != 0.6 {
		t.Error("the other frames kept their limit")
	}
	d.do(Correct{"Shadow lift", func(v *correction.Settings) { v.Lift = 3 }, true})
	v := d.Roll().View
	_, want := rel().NoisyAt(0.6, func(y float64) float64 { return colour.Luminance(v.At(0, y), v.At(1, y), v.At(2, y)) })
	if lifted := *d.NoisyShown(0); math.Abs(lifted-*want) > 0.001+0.01**want || math.Abs(lifted-at06) < 0.01 || *rel().Noisy != at06 {
		t.Errorf("lifted %g, wanted %g, as scanned %g, the reading says %g", lifted, *want, at06, *rel().Noisy)
	}
	if k1, _ := d.Tone(); k1 == "" {
		t.Error("a lift is no tone")
	}
	d.do(ToggleCorrected{}) // as scanned
	if k, f := d.Tone(); *d.NoisyShown(0) != at06 || k != "" || f != nil {
		t.Error("the lift that is not shown is seen")
	}
	d.do(ToggleCorrected{})
	d.undo()
	d.undo()
	if d.Roll().NoisyLimit != 0 || *rel().Noisy != *was.Noisy {
		t.Errorf("taken back: limit %g, Noisy %g, at first %g", d.Roll().NoisyLimit, *rel().Noisy, *was.Noisy)
	}
}

// The difference in colour is that of the pictures as they are shown: salvage makes it
// smaller, and the base frame has none against itself.
func differenceInColour(t *testing.T, d *desk) {
	i := at(d, 2)
	d.do(Go{i})
	median := func(i int) float64 {
		var all []float64
		l := d.Frame(i).Look
		for y := l.Area.Min.Y + 6; y < l.Area.Max.Y-6; y += 7 {
			for x := l.Area.Min.X + 6; x < l.Area.Max.X-6; x += 9 {
				if e, ok := d.DifferenceAt(i, image.Pt(x, y)); ok {
					all = append(all, e)
				}
			}
		}
		if len(all) < 500 {
			t.Fatalf("%d places", len(all))
		}
		slices.Sort(all)
		return all[len(all)/2]
	}
	scanned := median(i)
	d.do(ShowGrade{criteria.Curves})
	salvaged := median(i)
	// Single places have the grain that the cost's cells average, so they differ more.
	cost := *d.Film().Cost(i, criteria.Curves).DeltaE
	if scanned < 10 || salvaged > 0.4*scanned || salvaged < cost {
		t.Errorf("as scanned %.1f, salvaged %.1f, the cost is %.1f dE00", scanned, salvaged, cost)
	}
	if e := median(d.Base()); e > 0.01 {
		t.Errorf("the base frame differs from itself by %.2f", e)
	}
	if _, ok := d.DifferenceAt(i, image.Pt(-5, 3)); ok {
		t.Error("a difference outside the picture")
	}
}

// A marker that is dragged passes the frames like what lies between them; at rest near
// one it stands on it, and between two it stays.
func markerBetween(t *testing.T, d *desk) {
	b := d.Roll().Frames[d.Base()].Stop
	for _, v := range []float64{0.4, 0.99, 1.2} {
		d.do(Slide{b + v})
		if g, ok := d.Gliding(); !ok || g.Lower != d.Base()+int(v) || g.Upper != d.Base()+int(v)+1 {
			t.Errorf("at %+.2f between %d and %d: %v", v, g.Lower, g.Upper, ok)
		}
	}
	if d.do(Settle{}); math.Abs(d.Marker()-b-1.2) > 1e-9 {
		t.Errorf("at rest at %g", d.Marker())
	}
	d.do(Slide{b + 1.01})
	d.do(Settle{})
	if _, ok := d.Gliding(); ok || d.Marker() != b+1 {
		t.Errorf("at rest at %g, between the frames: %v", d.Marker(), ok)
	}
	if d.do(Glide{0.1}); math.Abs(d.Marker()-b-1.1) > 1e-9 {
		t.Errorf("glided to %g", d.Marker())
	}
	if _, ok := d.Gliding(); !ok {
		t.Error("no picture a tenth of a stop above a frame")
	}
}

// Patches: suggested, placed by a click, named, made neutral, read, sorted, taken away.
func patchesAreRead(t *testing.T, d *desk) {
	d.do(TogglePanel{PatchesPanel})
	d.do(SuggestPatches{})
	n := len(d.Roll().Patches)
	if n < 4 {
		t.Fatalf("%d suggested", n)
	}
	i := len(d.Roll().Frames) - 2
	p, m := d.Roll().Patches[0], d.Frame(i).Map
	// Clicked in another frame at the place where a suggestion lies there, a patch comes to
	// lie on the suggestion in the base frame, within the half pixel of a click.
	click := func(file string, x, y float64) {
		d.do(Pick{PickPatch})
		d.do(Click{file, image.Pt(int(math.Round(x)), int(math.Round(y)))})
	}
	click(d.Roll().Frames[i].File, m[0]*p.X+m[1]*p.Y+m[2], m[3]*p.X+m[4]*p.Y+m[5])
	if q := d.Roll().Patches[n]; math.Hypot(q.X-p.X, q.Y-p.Y) > 0.8 || d.Patch() != n {
		t.Errorf("placed at %.2f %.2f, wanted %.2f %.2f", q.X, q.Y, p.X, p.Y)
	}
	if k, _ := d.Picking(); k != PickFrame {
		t.Error("the click after it places another patch")
	}
	d.do(NamePatch{" Card "})
	d.do(ChoosePatch{0})
	d.do(ToggleNeutral{})
	if d.Roll().Patches[0].Neutral == p.Neutral {
		t.Error("neutral is not changed")
	}
	d.do(ChoosePatch{n})
	d.do(ToggleNeutral{})
	neutral := 0
	for _, q := range d.Roll().Patches {
		if q.Neutral {
			neutral++
		}
	}
	sections, press := d.PatchTables(i)
	got := row.TablesText(sections)
	if neutral != 1 || !strings.Contains(got, "Card, neutral") || !strings.Contains(got, "Card over stops") {
		t.Errorf("%d neutral\n%s", neutral, got)
	}
	if text := row.TablesText(d.BandTables(i)); !strings.Contains(text, "Check: “Card”") {
		t.Errorf("the bands are not told against the neutral:\n%s", text)
	}
	// A head sorts: falling, rising, as placed; a row chooses; a reading is plotted.
	column := func() (names []string, v []float64) {
		sections, press = d.PatchTables(i)
		for _, r := range sections[0].Rows {
			x, err := strconv.ParseFloat(strings.ReplaceAll(r.Values[0], "−", "-"), 64)
			if err != nil {
				t.Fatal(err)
			}
			names, v = append(names, r.Name), append(v, x)
		}
		return names, v
	}
	placed, _ := column()
	head := row.Cell{Row: -1, Col: 0}
	d.do(press(head))
	names, v := column()
	if !slices.IsSortedFunc(v, func(a, b float64) int { return cmp.Compare(b, a) }) || slices.Equal(names, placed) || !strings.HasSuffix(sections[0].Title, "falling") {
		t.Errorf("falling: %v", v)
	}
	d.do(press(row.Cell{Section: 0, Row: 1, Col: -1}))
	if q := d.Roll().Patches[d.Patch()].Name; !strings.HasPrefix(names[1], q) {
		t.Errorf("a click on %q chose %q", names[1], q)
	}
	d.do(press(head))
	if _, v = column(); !slices.IsSorted(v) {
		t.Errorf("rising: %v", v)
	}
	d.do(press(head))
	if names, _ = column(); !slices.Equal(names, placed) {
		t.Errorf("as placed %v, sorted back %v", placed, names)
	}
	if press(row.Cell{Section: 9}) != nil {
		t.Error("a click beside the tables does something")
	}
	d.do(press(row.Cell{Section: 2, Row: 2, Col: -1}))
	plotted := d.PatchPlot(i)
	if plotted.Title != "b*" || len(plotted.Series) != n+1 || len(plotted.Series[0].Values) != len(d.Roll().Frames) || plotted.At != d.Roll().Frames[i].Stop {
		t.Errorf("plotted: %q, %d series", plotted.Title, len(plotted.Series))
	}
	for k, q := range plotted.Series {
		for j, stop := range q.Stops {
			if r := d.Film().Patches().Readings[k][at(d, stop)]; r.Reason == "" && r.B != q.Values[j] {
				t.Errorf("%s at %g: plotted %g, read %g", q.Name, stop, q.Values[j], r.B)
			}
		}
	}
	d.do(press(row.Cell{Section: 1, Row: 0, Col: -1}))
	if d.Current() != len(d.Roll().Frames)-1 {
		t.Error("a click on a stop did not go there")
	}
	d.do(ChoosePatch{n})
	var csv strings.Builder
	if err := d.PatchCSV(&csv); err != nil || strings.Count(csv.String(), "\n") != 1+(n+1)*len(d.Roll().Frames) {
		t.Errorf("CSV: %v, %d lines", err, strings.Count(csv.String(), "\n"))
	}
	d.do(RemovePatch{})
	if len(d.Roll().Patches) != n || d.Patch() >= n {
		t.Error("not taken away")
	}
	if d.undo(); len(d.Roll().Patches) != n+1 {
		t.Error("not brought back")
	}
	if d.do(NextPatch{}); d.Patch() != 0 && d.Patch() != n {
		t.Errorf("next is %d", d.Patch())
	}
	d.refused = nil
	click(d.Roll().Frames[d.Base()].File, -5, 3)
	if len(d.refused) != 1 || len(d.Roll().Patches) != n+1 {
		t.Error("a patch outside the picture")
	}
	for _, bad := range []string{"  ", strings.Repeat("x", 61)} {
		if d.do(NamePatch{bad}); d.hint == "" || d.Roll().Patches[d.Patch()].Name == bad {
			t.Errorf("named %q", bad)
		}
	}
}

// A click on a grey makes it neutral, of all frames or of one.
func neutralIsPicked(t *testing.T, d *desk) {
	d.do(SuggestPatches{})
	k := slices.IndexFunc(d.Roll().Patches, func(p roll.Patch) bool { return p.Neutral })
	if k = max(k, 0); len(d.Roll().Patches) == 0 {
		t.Fatal("no patch to click on")
	}
	p := d.Roll().Patches[k]
	spot := image.Pt(int(p.X), int(p.Y))
	file, look := d.Roll().Frames[d.Base()].File, d.Frame(d.Base()).Look
	d.do(Pick{PickNeutral})
	d.do(Click{file, spot})
	px, _ := measure.PixelAt(look, spot.X, spot.Y, 5)
	v := d.Roll().View
	if v == nil {
		t.Fatalf("nothing is corrected: %q", d.hint)
	}
	r, g, b := v.At(0, px.Linear.R), v.At(1, px.Linear.G), v.At(2, px.Linear.B)
	if math.Abs(r/g-1) > 0.01 || math.Abs(b/g-1) > 0.01 {
		t.Errorf("it is shown as %.4f %.4f %.4f", r, g, b)
	}
	if d.do(Click{file, spot}); d.Undoes() != "correction: neutral picked" || d.Current() != d.Base() {
		t.Error("the next click does more than move the marker")
	}
	d.do(Pick{PickNeutral})
	d.do(Click{file, image.Pt(-1, -1)})
	if !strings.Contains(d.hint, "clipped") {
		t.Errorf("outside the picture it says %q", d.hint)
	}
}

// The pages of bands and salvage, and what a correction by hand costs.
func pagesAreFilled(t *testing.T, d *desk) {
	i := at(d, 3)
	d.do(Go{i})
	bands := row.TablesText(d.BandTables(i))
	grey := greyRow("Midtones", d.Film().Compared(i).Bands[measure.Midtones].Grey)
	for _, want := range []string{"casts of greys", "Mean colour of what stands there", grey.Values[0] + "\t" + grey.Values[1], d.Film().Compared(i).Words} {
		if !strings.Contains(bands, want) {
			t.Errorf("no %q in\n%s", want, bands)
		}
	}
	for _, want := range []string{"Highlights", "Crossover", "S/N", "codes in use", "Blown"} {
		if !strings.Contains(bands, want) {
			t.Errorf("the bands' page lacks %q:\n%s", want, bands)
		}
	}
	for k := range d.Roll().Frames { // no two frames read alike
		if k != i && row.TablesText(d.BandTables(k)) == bands {
			t.Errorf("the bands of frames %d and %d read alike", i, k)
		}
	}
	d.do(TogglePanel{SalvagePanel})
	got := rowsOf(d.SalvageTables(i))
	v, ok := d.Suggested(i)
	if s := got["+3 stops: The limits suggest"]; !ok || len(s) != 1 || !strings.HasPrefix(s[0], row.SuggestionWord(v.Says)) {
		t.Errorf("suggested: %v, %v", s, v)
	}
	if v := got["Cost by grade: Lost, % of area"]; len(v) != 5 || v[0] == none || v[3] != none {
		t.Errorf("lost: %v", v)
	}
	if d.Rows()[i].Suggested == "" || d.Rows()[i].Verdict != roll.Unjudged || d.Rows()[d.Base()].Suggested != "" {
		t.Error("the ladder does not show the suggestion beside the verdict")
	}
	// Other limits: another range, undoable; a limit that is dragged moves it at once.
	before := d.Film().Range().Holds
	d.do(SetLimits{criteria.Named()[2]})
	if d.Film().Range().Holds == before {
		t.Error("another set of limits leaves the range")
	}
	if d.undo(); d.Film().Range().Holds != before {
		t.Error("the limits were not taken back")
	}
	d.do(SetLimit{criteria.LostArea, true, 0.005, false})
	mid := d.Film().Range().Holds
	d.do(SetLimit{criteria.LostArea, true, 0.05, true})
	if wide := d.Film().Range().Holds; !(mid.Hi.Stop < wide.Hi.Stop) || d.hint == "" {
		t.Errorf("the range ends at %+.2f, then at %+.2f; told %q", mid.Hi.Stop, wide.Hi.Stop, d.hint)
	}
	d.undo()
	// By hand, from curves unchanged it costs what curves cost; the live measure reads fewer
	// cells, for which the reported figures may differ by the 15 % of their own bound.
	d.do(GoOnByHand{})
	d.settle()
	if d.Panel() != CorrectionPanel || !d.ByHand() || d.HandCost(i) == nil {
		t.Fatal("the correction by hand was not measured")
	}
	hand, curves := *d.HandCost(i).DeltaE, *d.Film().Cost(i, criteria.Curves).DeltaE
	if math.Abs(hand-curves) > 0.15*curves {
		t.Errorf("by hand, from curves unchanged, %.2f dE00, and curves %.2f", hand, curves)
	}
	if v := rowsOf(d.SalvageTables(i))["Cost by grade: ΔE00, median"]; v[3] == none || !strings.HasPrefix(d.HandCostWords(i), "Costs: lost area") {
		t.Errorf("the cost by hand is not shown: %v, %q", v, d.HandCostWords(i))
	}
	d.do(Correct{"Exposure", func(v *correction.Settings) { v.Exposure -= 1 }, true})
	d.settle()
	if now := *d.HandCost(i).DeltaE; now <= hand {
		t.Errorf("a stop darker than the base costs no colour: %.2f after %.2f", now, hand)
	}
	d.do(Go{d.Base()})
	if d.do(GoOnByHand{}); !strings.Contains(d.hint, "base frame") {
		t.Errorf("the base frame by hand: %q", d.hint)
	}
	if s := d.SalvageTables(d.Base()); !strings.Contains(s[0].Rows[0].Name, "costs nothing") {
		t.Error("the base frame costs something")
	}
}

// shown is how the i-th frame is looked at.
func (d *desk) shown(i int) (own, all correction.Settings, words string) {
	return d.Look().Of(d.Film(), i)
}

func correctionsAreShown(t *testing.T, d *desk) {
	i := at(d, 1)
	d.do(Go{i})
	if _, _, words := d.shown(i); words != "as scanned" {
		t.Errorf("at first shown %q", words)
	}
	d.do(ShowGrade{criteria.Exposure})
	if s, _, words := d.shown(i); words != "salvaged, exposure" || s.Exposure > -0.5 {
		t.Errorf("shown %q with %+v", words, s)
	}
	d.do(ShowGrade{criteria.Hand})
	if _, _, words := d.shown(i); words != "as scanned: no salvage by hand yet" {
		t.Errorf("shown %q", words)
	}
	d.do(CorrectByHand{true})
	d.do(Correct{"Exposure", func(v *correction.Settings) { v.Exposure = -1.5 }, true})
	if s, _, words := d.shown(i); words != "salvaged, by hand" || s.Exposure != -1.5 || d.Settings().Exposure != -1.5 {
		t.Errorf("shown %q with %+v", words, s)
	}
	d.do(CopyHand{})
	for k, f := range d.Roll().Frames {
		if (f.Hand == nil) != (k == d.Base()) || f.Hand != nil && f.Hand.Exposure != -1.5 {
			t.Errorf("frame %d has %+v", k, f.Hand)
		}
	}
	d.undo()
	d.do(CorrectByHand{})
	if d.do(CopyHand{}); d.Undoes() != "correction: Exposure" {
		t.Error("the correction of all frames was copied to each")
	}
	d.do(ToggleCorrected{})
	d.do(Correct{"Black point", func(v *correction.Settings) { v.Black = 0.01 }, true})
	if _, all, words := d.shown(i); all.Black != 0.01 || words != "salvaged, by hand, corrected like all" || !d.Corrected() {
		t.Errorf("shown %q with %+v", words, all)
	}
	if _, all, words := d.shown(d.Base()); all.Black != 0.01 || words != "corrected like all" {
		t.Errorf("the base frame is shown %q", words)
	}
}

func exports(t *testing.T, d *desk) {
	if c := d.CurveData(); c.Curve == nil || c.Roll != d.Name() {
		t.Errorf("the curve is that of %q: %s", c.Roll, c.Reason)
	}
	d.do(Correct{"Shadow lift", func(v *correction.Settings) { v.Lift = 1 }, true})
	in := d.Sheet("x", nil).Input()
	if len(in.Frames) != len(d.Roll().Frames) || in.Response == nil || in.Correction == "" || len(in.Conditions) == 0 || in.Frames[1].Shown != "corrected like all" {
		t.Errorf("the sheet has %d frames, correction %q, %d sentences, shows %q", len(in.Frames), in.Correction, len(in.Conditions), in.Frames[1].Shown)
	}
	for _, f := range in.Frames {
		if f.Data.Current {
			t.Error("the sheet knows where the window looks")
		}
	}
	if !d.Rows()[d.Current()].Current {
		t.Error("the sheet took the marker off the ladder")
	}
}

// What is measured follows every edit that touches it, also one that was made while the
// roll was being read, and undo brings the readings back.
func TestMeasuredAgain(t *testing.T) {
	job, err := load.Plan([]string{demoFiles(t, "negative")}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d := newDesk(t)
	d.do(Open{Job: job})
	second := job.Roll.Frames[1].File
	d.do(MakeBase{second}) // while the scans are being read
	d.settle()
	if b := d.Base(); d.Roll().Frames[b].File != second || !d.Rows()[b].Base || d.Frame(b).Registration.DX != 0 || d.Film().Base != b {
		t.Fatalf("the base frame that was chosen while reading is not that of the readings")
	}
	d.undo()
	d.settle()
	b := d.Base()
	before := d.Frame(4).Relation.Bands
	d.do(MakeBase{d.Roll().Frames[5].File})
	if words, on := d.Reading(); !on || words != "Comparing the frames" {
		t.Errorf("reading %v: %q", on, words)
	}
	d.settle()
	if d.Frame(4).Relation.Bands == before {
		t.Error("another base frame leaves the readings")
	}
	d.undo()
	d.settle()
	for k, r := range d.Frame(4).Relation.Bands {
		if d.Base() != b || (r == nil) != (before[k] == nil) || r != nil && *r != *before[k] {
			t.Errorf("band %d reads %+v, was %+v", k, r, before[k])
		}
	}
	// Placed by hand: the arrow keys nudge, Keep keeps, undo goes back.
	d.do(StartPlacing{})
	if len(d.refused) != 1 || d.Placing() != nil {
		t.Fatal("the base frame is being placed on itself")
	}
	d.do(Go{6})
	was := d.Frame(6).Registration
	d.do(SetLayout{Grid})
	d.do(StartPlacing{})
	d.do(Nudge{Right: 0.5})
	d.do(Nudge{Down: -0.25, Turn: 0.01})
	if p := d.Placing(); p == nil || p.Map == nil || p.Put.DX != was.DX+0.5 || d.Layout() != One || d.Difference() != LightDifference {
		t.Fatalf("placing %+v", p)
	}
	if n := d.Notices(); n[len(n)-1].ID != placingID || len(n[len(n)-1].Actions) != 2 {
		t.Error("nothing is said of placing")
	}
	d.do(EndPlacing{Leave})
	if d.Placing() != nil || d.Layout() != Grid || d.Undoes() != "" {
		t.Error("left, it is not as before")
	}
	d.do(StartPlacing{})
	d.do(Nudge{0.5, -0.25, 0.01})
	d.do(EndPlacing{Keep})
	d.settle()
	if g := d.Frame(6).Registration; g.DX != was.DX+0.5 || g.DY != was.DY-0.25 || g.Rotation != was.Rotation+0.01 || !d.Frame(6).Relation.Registered {
		t.Errorf("placed at %+v from %+v", g, was)
	}
	d.do(StartPlacing{})
	d.do(CloseNotice{placingID})
	if d.Placing() != nil {
		t.Error("closing its words does not leave placing")
	}
	d.do(StartPlacing{})
	d.do(EndPlacing{Unplace})
	d.settle()
	if g := d.Frame(6).Registration; g != was || d.Roll().Frames[6].Placed != nil {
		t.Errorf("given back it lies at %+v, was %+v", g, was)
	}
	// An image area by hand.
	whole := d.Frame(6).Look.Area
	part := whole.Inset(40)
	d.do(SetArea{[]string{d.Roll().Frames[6].File}, &part})
	d.settle()
	if l := d.Frame(6).Look; l.Area != part || d.Rows()[6].Rel == nil {
		t.Errorf("measured over %v", l.Area)
	}
	d.undo()
	d.settle()
	if l := d.Frame(6).Look; l.Area != whole {
		t.Errorf("after undo measured over %v, at first %v", l.Area, whole)
	}
	// Left out, the rest is compared anew.
	d.do(LeaveOut{d.Roll().Frames[7].File})
	d.settle()
	if d.Film().Comparison == nil || len(d.Film().Comparison.Frames) != 7 || !d.Glides() {
		t.Error("with a frame left out the rest is not measured")
	}
	d.do(ReadAgain{d.Roll().Frames[0].File})
	if _, on := d.Reading(); !on {
		t.Error("nothing is read again")
	}
	d.do(StopReading{})
	if d.run.Busy() {
		t.Error("stopped, it goes on")
	}
}
