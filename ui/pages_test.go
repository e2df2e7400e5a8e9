package ui

import (
	"cmp"
	"image"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/row"
	"stopladder/ui/session"
)

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

// appraised waits until the roll is measured to the end.
func appraised(t *testing.T, w *Window) {
	t.Helper()
	settled(t, w)
	for until := time.Now().Add(2 * time.Minute); w.sess.AppraisedInOrder() == nil; pump(w) {
		if time.Now().After(until) {
			t.Fatal("the roll was not appraised")
		}
	}
}

// The pages of the bands and of salvage, from the keys to the figures of the demo
// roll, whose lights are lost two stops over.
func TestBandsAndSalvagePages(t *testing.T) {
	w := open(t, Options{Demo: "reversal"})
	appraised(t, w)
	at := slices.IndexFunc(w.sess.Roll.Frames, func(f roll.Frame) bool { return f.Stop == 2 })
	w.sess.Go(at)
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyK})
	if w.sess.Panel != session.BandsPanel || !w.side.object.Visible() {
		t.Fatalf("K opened %q", w.sess.Panel)
	}
	bands := row.TablesText(w.sess.BandTables(at))
	for _, want := range []string{"Highlights", "Crossover", "than the base", "S/N", "codes in use", "Blown"} {
		if !strings.Contains(bands, want) {
			t.Errorf("the bands' page lacks %q:\n%s", want, bands)
		}
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyW})
	if w.sess.Panel != session.SalvagePanel {
		t.Fatalf("W opened %q", w.sess.Panel)
	}
	got := rowsOf(w.sess.SalvageTables(at))
	if v := got["+2 stops: The limits suggest"]; len(v) != 1 || !strings.HasPrefix(v[0], "Breaks") {
		t.Errorf("suggested: %v", v)
	}
	if v := got["Cost by grade: Lost, % of area"]; len(v) != 5 || v[0] == none || v[3] != none {
		t.Errorf("lost: %v", v)
	}
	if w.sess.Rows()[at].Suggested != "breaks" || w.sess.Rows()[at].Verdict != roll.Unjudged {
		t.Error("the ladder does not show the suggestion beside the verdict")
	}
	// Other limits: another range, undoable.
	before := w.sess.Extent().Holds
	page := w.side.pages[session.SalvagePanel].(*salvagePage)
	page.sets[2].Tapped(nil)
	if w.sess.Roll.Limits == nil || w.sess.Roll.Limits.Name != "archive" || w.sess.Extent().Holds == before {
		t.Errorf("limits %v, range %v", w.sess.Roll.Limits, w.sess.Extent().Holds)
	}
	w.sess.Undo()
	if w.sess.Extent().Holds != before {
		t.Error("the limits were not taken back")
	}
	// By hand: the cost follows.
	page.byHand()
	if w.sess.Roll.Frames[at].Hand == nil || w.sess.Panel != session.CorrectionPanel || w.sess.Grade != session.HandGrade {
		t.Fatal("nothing to go on from by hand")
	}
	correct := w.side.pages[session.CorrectionPanel].(*correctPage)
	for until := time.Now().Add(20 * time.Second); !strings.HasPrefix(correct.costs.Text, "Costs: lost area"); pump(w) {
		if time.Now().After(until) {
			t.Fatalf("the correction by hand was not measured: %q", correct.costs.Text)
		}
	}
	// From curves unchanged it costs what curves cost; the live measure reads fewer
	// cells, for which the reported figures may differ by the 15 % of their own bound.
	hand := w.sess.HandCost(at)
	curves := w.sess.Appraised(w.sess.Roll.Frames[at].File).Salvage.Grades[salvage.Curves].Cost
	if h, c := *hand.DeltaE, *curves.DeltaE; math.Abs(h-c) > 0.15*c {
		t.Errorf("by hand, from curves unchanged, %.2f dE00, and curves %.2f", h, c)
	}
	if v := rowsOf(w.sess.SalvageTables(at))["Cost by grade: ΔE00, median"]; v[3] == none {
		t.Errorf("the page does not show the cost by hand: %v", v)
	}
	// A slide that moves is followed beside the slides themselves.
	said := correct.costs.Text
	correct.change("exposure", true, func(v *correction.Settings) { v.Exposure -= 1 })
	for until := time.Now().Add(20 * time.Second); correct.costs.Text == said; pump(w) {
		if time.Now().After(until) {
			t.Fatal("the costs did not follow the slide")
		}
	}
	if *w.sess.HandCost(at).DeltaE <= *hand.DeltaE {
		t.Errorf("a stop darker than the base costs no colour: %.2f after %.2f", *w.sess.HandCost(at).DeltaE, *hand.DeltaE)
	}
	// The Lost mask has the frame's share on its chip, and its pixels.
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyX})
	if !w.sess.Masks.Lost || w.lostMask(w.sess.Roll.Frames[at].File) == nil || w.lostMask(w.sess.Roll.Frames[w.sess.Base()].File) != nil {
		t.Error("no mask of what is lost")
	}
	if c := w.chips["lost"]; len(c) == 0 || !strings.Contains(c[0].Text, "%") {
		t.Error("no share on the chip")
	}
}

const none = "–"

// Patches: suggested, placed by a click, named, made neutral, read, taken away.
func TestPatchesPage(t *testing.T) {
	w := open(t, Options{Demo: "negative"})
	appraised(t, w)
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyQ})
	if w.sess.Panel != session.PatchesPanel {
		t.Fatalf("Q opened %q", w.sess.Panel)
	}
	n := w.sess.SuggestPatches()
	if n < 4 || len(w.sess.Roll.Patches) != n {
		t.Fatalf("%d suggested, %d there", n, len(w.sess.Roll.Patches))
	}
	b, at := w.sess.Base(), len(w.sess.Roll.Frames)-2
	p := w.sess.Roll.Patches[0]
	m := w.sess.Frame(at).Map
	if m == nil {
		t.Fatal("the frame is not registered")
	}
	// Placed in another frame at the place where a suggestion lies there, a patch
	// comes to lie on the suggestion in the base frame.
	if err := w.sess.AddPatch(at, m[0]*p.X+m[1]*p.Y+m[2], m[3]*p.X+m[4]*p.Y+m[5]); err != nil {
		t.Fatal(err)
	}
	if q := w.sess.Roll.Patches[n]; math.Hypot(q.X-p.X, q.Y-p.Y) > 0.01 || w.sess.Patch != n {
		t.Errorf("placed at %.2f %.2f, wanted %.2f %.2f", q.X, q.Y, p.X, p.Y)
	}
	w.sess.ChangePatch("name", func(q *roll.Patch) bool { q.Name, q.Neutral = "Card", true; return true })
	neutral := 0
	for _, q := range w.sess.Roll.Patches {
		if q.Neutral {
			neutral++
		}
	}
	sections, click := w.sess.PatchTables(at)
	got := row.TablesText(sections)
	if neutral != 1 || !strings.Contains(got, "Card, neutral") || !strings.Contains(got, "Card over stops") {
		t.Errorf("%d neutral\n%s", neutral, got)
	}
	if text := row.TablesText(w.sess.BandTables(at)); !strings.Contains(text, "Against “Card”") {
		t.Errorf("the bands are not told against the neutral:\n%s", text)
	}
	// A head sorts: falling, rising, as placed; a row chooses; a reading is plotted.
	column := func() (names []string, v []float64) {
		sections, click = w.sess.PatchTables(at)
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
	click(head)
	names, v := column()
	if !slices.IsSortedFunc(v, func(a, b float64) int { return cmp.Compare(b, a) }) || slices.Equal(names, placed) || !strings.HasSuffix(sections[0].Title, "falling") {
		t.Errorf("falling: %v", v)
	}
	click(row.Cell{Section: 0, Row: 1, Col: -1})
	if q := w.sess.Roll.Patches[w.sess.Patch].Name; !strings.HasPrefix(names[1], q) {
		t.Errorf("a click on %q chose %q", names[1], q)
	}
	click(head)
	if _, v = column(); !slices.IsSorted(v) {
		t.Errorf("rising: %v", v)
	}
	click(head)
	if names, _ = column(); !slices.Equal(names, placed) {
		t.Errorf("as placed %v, sorted back %v", placed, names)
	}
	click(row.Cell{Section: 2, Row: 2, Col: -1})
	d := w.sess.PatchPlot(at)
	if d.Title != "b*" || len(d.Series) != n+1 || len(d.Series[0].Values) != len(w.sess.Roll.Frames) || d.At != w.sess.Roll.Frames[at].Stop {
		t.Errorf("plotted: %q, %d series", d.Title, len(d.Series))
	}
	for k, q := range d.Series {
		for j, stop := range q.Stops {
			f := slices.IndexFunc(w.sess.Roll.Frames, func(f roll.Frame) bool { return f.Stop == stop })
			if r := w.sess.PatchSet().Readings[k][f]; r.Reason == "" && r.B != q.Values[j] {
				t.Errorf("%s at %g: plotted %g, read %g", q.Name, stop, q.Values[j], r.B)
			}
		}
	}
	click(row.Cell{Section: 1, Row: 0, Col: -1})
	if w.sess.Current() != len(w.sess.Roll.Frames)-1 {
		t.Error("a click on a stop did not go there")
	}
	w.sess.Go(at)
	w.sess.Patch = n
	var csv strings.Builder
	if err := w.sess.PatchCSV(&csv); err != nil || strings.Count(csv.String(), "\n") != 1+(n+1)*len(w.sess.Roll.Frames) {
		t.Errorf("CSV: %v, %d lines", err, strings.Count(csv.String(), "\n"))
	}
	w.sess.ChangePatch("away", func(*roll.Patch) bool { return false })
	if len(w.sess.Roll.Patches) != n || w.sess.Patch >= n {
		t.Error("not taken away")
	}
	w.sess.Undo()
	if len(w.sess.Roll.Patches) != n+1 {
		t.Error("not brought back")
	}
	if err := w.sess.AddPatch(b, -5, 3); err == nil {
		t.Error("a patch outside the picture")
	}
}

// The limit of Noisy is the judge's: the readings follow it, undo takes it back, and
// a shadow lift that is dialled in is seen in the mask and its figure, never in the
// readings.
func noisyFollows(t *testing.T, w *Window) {
	w.sess.Go(0)
	file := w.sess.Roll.Frames[0].File
	page := w.side.pages[session.CorrectionPanel].(*correctPage)
	rel := func() *measure.Relation { return w.sess.Frame(0).Row.Rel }
	was := rel()
	page.setLimit(1.2, false)
	page.setLimit(0.8, false)
	page.setLimit(0.6, true)
	at06 := *rel().Noisy
	if rel() == was || rel().NoiseLimit != 0.6 || at06 <= *was.Noisy || at06 != *was.NoisyFraction(0.6, nil) {
		t.Fatalf("at 0.6 L* %g of the frame is Noisy, at 3 L* %g", at06, *was.Noisy)
	}
	if r := w.sess.Frame(1).Row.Rel; r.NoiseLimit != 0.6 {
		t.Error("the other frames kept their limit")
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyN})
	if !w.sess.Masks.Noisy || w.noisyMask(file, rel()) != nil {
		t.Error("a mask of its own where the reading has it")
	}
	page.change("Shadow lift", true, func(v *correction.Settings) { v.Lift = 3 })
	m := w.noisyMask(file, rel())
	if m == nil || m != w.noisyMask(file, rel()) {
		t.Fatal("no mask, or another each time, through the lift")
	}
	lifted := *w.noisyShown(rel())
	if lifted <= at06 || *rel().Noisy != at06 {
		t.Errorf("lifted %g, as scanned %g, the reading says %g", lifted, at06, *rel().Noisy)
	}
	page.show(session.ViewChanged)
	if !strings.Contains(page.noisy.Text, "as shown") {
		t.Errorf("said: %q", page.noisy.Text)
	}
	w.sess.Corrected = false // as scanned
	if *w.noisyShown(rel()) != at06 || w.noisyMask(file, rel()) != nil {
		t.Error("the lift that is not shown is seen")
	}
	w.sess.Undo()
	w.sess.Undo()
	if w.sess.Roll.NoisyLimit != 0 || *rel().Noisy != *was.Noisy {
		t.Errorf("taken back: limit %g, Noisy %g, at first %g", w.sess.Roll.NoisyLimit, *rel().Noisy, *was.Noisy)
	}
}

// The difference in colour is that of the pictures as they are shown: salvage makes
// it smaller, the base frame has none against itself, and it goes with its key.
func differenceInColour(t *testing.T, w *Window) {
	at := slices.IndexFunc(w.sess.Roll.Frames, func(f roll.Frame) bool { return f.Stop == 2 })
	w.sess.Go(at)
	median := func() float64 {
		var all []float64
		l := w.sess.Frame(at).Row.Look
		for y := l.Area.Min.Y + 20; y < l.Area.Max.Y-20; y += 37 {
			for x := l.Area.Min.X + 20; x < l.Area.Max.X-20; x += 41 {
				if e, ok := w.sess.DifferenceAt(at, image.Pt(x, y)); ok {
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
	scanned := median()
	w.sess.Salvaged, w.sess.Grade = true, session.CurvesGrade
	salvaged := median()
	// Single places have the grain that the cost's cells average, so they differ more.
	cost := *w.sess.Appraised(w.sess.Roll.Frames[at].File).Salvage.Grades[salvage.Curves].Cost.DeltaE
	if scanned < 10 || salvaged > 0.3*scanned || salvaged < cost {
		t.Errorf("as scanned %.1f, salvaged %.1f, the cost is %.1f dE00", scanned, salvaged, cost)
	}
	if _, ok := w.sess.DifferenceAt(at, image.Pt(-5, 3)); ok {
		t.Error("a difference outside the picture")
	}
	w.toggleDifference(differColour)
	if on, against := w.pictures.Difference(); !on || against != w.baseID() || !w.cmds.Find("difference-colour").Checked() || w.cmds.Find("difference").Checked() {
		t.Error("the difference in colour is not shown")
	}
	w.toggleDifference(differLight)
	if !w.cmds.Find("difference").Checked() {
		t.Error("one kind of difference does not take the other's place")
	}
	w.toggleDifference(differLight)
	if on, _ := w.pictures.Difference(); on {
		t.Error("still shown")
	}
}

// Limits dragged on the ladder: the range follows every step, and a whole drag is
// one step of undo.
func TestDraggedLimitMovesTheRange(t *testing.T) {
	w := open(t, Options{Demo: "reversal"})
	appraised(t, w)
	w.toggleCosts()
	before := *w.sess.Extent()
	area := int(criteria.LostArea)
	w.dragLimit(area, row.HoldsLimit, 0.05, false)
	between := *w.sess.Extent()
	w.dragLimit(area, row.HoldsLimit, 0.08, false)
	w.dragLimit(area, row.HoldsLimit, 0.08, true)
	after := *w.sess.Extent()
	if !(before.Holds.Hi.Stop < between.Holds.Hi.Stop && between.Holds.Hi.Stop < after.Holds.Hi.Stop) {
		t.Errorf("the range ends at %+.2f, %+.2f, %+.2f", before.Holds.Hi.Stop, between.Holds.Hi.Stop, after.Holds.Hi.Stop)
	}
	if got := w.sess.Undo(); got != "limit" || w.sess.Roll.Limits != nil || w.sess.Extent().Holds != before.Holds {
		t.Errorf("undid %q, limits %v", got, w.sess.Roll.Limits)
	}
}

// A playhead that is dragged goes on showing pictures between the frames: what is on
// its way is not thrown away by the next position, rungs are passed like what lies
// between them, and at rest near one it stands on it.
func draggedPlayhead(t *testing.T, w *Window) {
	b := w.sess.Roll.Frames[w.sess.Base()].Stop
	w.sess.Slide(b + 0.4)
	if _, _, on := w.pictures.Between(); !on {
		t.Fatal("no picture between the frames")
	}
	ended := 0
	for _, d := range []float64{0.45, 0.8, 1, 1.2, 1.6} {
		w.sess.Slide(b + d)
		if _, _, on := w.pictures.Between(); !on {
			ended++
		}
	}
	if lo, hi, _ := w.pictures.Between(); ended > 1 || lo == hi { // exactly on a rung it may be the frame itself
		t.Errorf("ended %d times on the way", ended)
	}
	w.sess.Slide(b + 1.01)
	w.sess.Settle()
	if _, _, on := w.pictures.Between(); on || w.sess.Playhead() != b+1 {
		t.Errorf("at rest the playhead stands at %g, between frames: %v", w.sess.Playhead(), on)
	}
}

// The base frame, the scan and what salvage makes of it stand side by side, and
// follow the playhead; on the base frame there are two.
func threeSideBySide(t *testing.T, w *Window) {
	at := slices.IndexFunc(w.sess.Roll.Frames, func(f roll.Frame) bool { return f.Stop == -2 })
	w.sess.Go(at)
	w.sess.Salvaged, w.sess.Grade = true, session.CurvesGrade
	w.typedKey(&fyne.KeyEvent{Name: fyne.Key4})
	if w.sess.Layout != session.Beside {
		t.Fatalf("4 shows %v", w.sess.Layout)
	}
	for _, i := range []int{at, at + 1} {
		w.sess.Go(i)
		file := w.sess.Roll.Frames[i].File
		want := []int{w.baseID(), w.id(file + asScanned), w.id(file)}
		if got := w.pictures.InSight(); !slices.Equal(got, want) {
			t.Errorf("in sight %v, want %v", got, want)
		}
		if w.fileOf(want[1]) != file {
			t.Errorf("the scan beside is of %q", w.fileOf(want[1]))
		}
	}
	w.sess.Go(w.sess.Base())
	if got := w.pictures.InSight(); len(got) != 2 {
		t.Errorf("on the base frame %v", got)
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.Key1})
	if got := w.pictures.InSight(); len(got) != 1 {
		t.Errorf("back at one picture %v", got)
	}
}

// One roll that is measured once, looked at in many ways.
func TestOneRollInManyWays(t *testing.T) {
	w := open(t, Options{Demo: "negative"})
	appraised(t, w)
	for _, c := range []struct {
		name string
		look func(t *testing.T, w *Window)
	}{{"Noisy at a limit and through a lift", noisyFollows}, {"difference in colour", differenceInColour},
		{"dragged playhead", draggedPlayhead}, {"three side by side", threeSideBySide}} {
		t.Run(c.name, func(t *testing.T) {
			for w.sess.Undo() != "" {
			}
			w.sess.Masks, w.sess.Panel, w.sess.Salvaged, w.sess.Corrected = session.Masks{}, session.NoPanel, false, true
			w.sess.SetLayout(session.One)
			w.sess.Go(w.sess.Base())
			w.sess.Emit(session.ViewChanged)
			pump(w)
			c.look(t, w)
		})
	}
}
