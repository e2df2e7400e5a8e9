package session

import (
	"errors"
	"image"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/row"
)

func TestStartsOnTheBaseAndStepsAlongTheLadder(t *testing.T) {
	d := bracket(t)
	if got := d.Roll().Frames[d.Current()].File; got != "/scans/base.tif" {
		t.Fatalf("starts on %s", got)
	}
	for _, want := range []float64{1, 2, 2} {
		d.do(Step{1})
		if d.Marker() != want {
			t.Errorf("marker at %v, want %v", d.Marker(), want)
		}
	}
	d.do(MoveTo{-9})
	if d.Marker() != -2 {
		t.Errorf("the marker left the ladder: %v", d.Marker())
	}
	d.do(MoveTo{0.4})
	if got := d.Roll().Frames[d.Current()].Stop; got != 0 {
		t.Errorf("at +0.4 the frame at %v is shown", got)
	}
	d.do(Slide{1.3})
	if d.do(Settle{}); d.Marker() != 1 {
		t.Errorf("without a response the marker rests at %v", d.Marker())
	}
	if d.do(Glide{0.1}); d.Marker() != 1 || d.hint == "" {
		t.Errorf("without a response the marker glides to %v, told %q", d.Marker(), d.hint)
	}
}

func TestEmptyRoll(t *testing.T) {
	d := newDesk(t)
	for _, c := range []Change{Step{1}, StepOther{1}, MoveTo{3}, Slide{3}, Settle{}, Go{2}, Undo{}, Redo{}, StartPlacing{}, EndPlacing{Keep}, Nudge{1, 1, 1},
		SetVerdict{0, roll.Holds}, SuggestPatches{}, RemovePatch{}, NextPatch{}, ToggleNeutral{}, NamePatch{"a"}, Correct{What: "x", Set: func(*correction.Settings) {}},
		CopyHand{}, GoOnByHand{}, StopReading{}, ReadAgain{}, Click{"a", image.Pt(1, 1)}, ToggleCosts{}, SetLimit{Value: 1, Done: true}} {
		d.do(c)
	}
	if d.Current() != -1 || d.Base() != -1 || d.OtherIndex() != -1 || len(d.Rows()) != 0 || d.run.Busy() {
		t.Error("an empty roll has a current frame, or work to do")
	}
	if d.Name() != "No roll open" {
		t.Errorf("it is called %q", d.Name())
	}
}

func TestEveryFrameOfAStopCanBeReached(t *testing.T) {
	d := bracket(t)
	d.do(SetLabels{"labels", map[string]float64{"/scans/p1.tif": 0}, roll.ByHand})
	d.do(Go{0})
	var seen []string
	for range d.Roll().Frames {
		seen = append(seen, d.Roll().Frames[d.Current()].File)
		d.do(Step{1})
	}
	for i, f := range d.Roll().Frames {
		if seen[i] != f.File {
			t.Errorf("step %d shows %s, want %s", i, seen[i], f.File)
		}
	}
}

// area is an image area in the tests.
var area = image.Rect(5, 6, 105, 86)

// edits are all changes that a person makes of the roll, each with what is to be seen of
// it.
func edits(d *desk) []struct {
	name string
	c    Change
	seen func(r *roll.Roll) bool
} {
	const p1 = "/scans/p1.tif"
	at := func(r *roll.Roll, file string) roll.Frame {
		i := slices.IndexFunc(r.Frames, func(f roll.Frame) bool { return f.File == file })
		if i < 0 {
			return roll.Frame{}
		}
		return r.Frames[i]
	}
	set := criteria.Named()[2]
	return []struct {
		name string
		c    Change
		seen func(r *roll.Roll) bool
	}{
		{"verdict", SetVerdict{d.Index(p1), roll.Strains}, func(r *roll.Roll) bool { return at(r, p1).Verdict == roll.Strains }},
		{"note", SetNote{File: p1, Text: "sky thin"}, func(r *roll.Roll) bool { return at(r, p1).Note == "sky thin" }},
		{"range", SetRange{&roll.Range{Lo: 1.13, Hi: -1}}, func(r *roll.Roll) bool { return *r.Marks[0].Range == roll.Range{Lo: -1, Hi: 1.25} }},
		{"range", SetRangeEnd{true, 2}, func(r *roll.Roll) bool { return r.Marks[0].Range.Hi == 2 }},
		{"roll details", SetDetails{map[string]string{"title": "T", "stock": "S", "baseExposure": "E", "date": "D", "lab": "L"}, "J"}, func(r *roll.Roll) bool {
			return r.Title+r.Stock+r.Exposure+r.Date+r.Marks[0].Judge == "TSEDJ"
		}},
		{"finding", SetFinding{" Give more light.\n"}, func(r *roll.Roll) bool {
			text, judge := r.OwnFinding()
			return text == "Give more light." && judge == "J"
		}},
		{"base frame", MakeBase{p1}, func(r *roll.Roll) bool { return r.BaseFile == p1 }},
		{"image area", SetArea{[]string{p1}, &area}, func(r *roll.Roll) bool {
			return reflect.DeepEqual(at(r, p1).Area, &roll.Area{X: 5, Y: 6, W: 100, H: 80})
		}},
		{"image area", SetArea{[]string{p1}, nil}, func(r *roll.Roll) bool { return at(r, p1).Area == nil }},
		{"profile of scans without one", AssumeProfile{"Linear sRGB"}, func(r *roll.Roll) bool { return r.AssumedProfile == "Linear sRGB" }},
		{"limit", SetLimit{criteria.DeltaE, true, 4.5, true}, func(r *roll.Roll) bool { return r.LimitSet().Limits[criteria.DeltaE].Holds == 4.5 }},
		{"limits", SetLimits{set}, func(r *roll.Roll) bool { return r.Limits.Same(set) }},
		{"limit of Noisy", SetNoisyLimit{2.5, true}, func(r *roll.Roll) bool { return r.NoisyLimit == 2.5 }},
		{"limit of Noisy", SetNoisyLimit{measure.NoisyLimit, true}, func(r *roll.Roll) bool { return r.NoisyLimit == 0 }},
		{"correction: Exposure", Correct{"Exposure", func(v *correction.Settings) { v.Exposure = 1 }, true}, func(r *roll.Roll) bool { return r.View.Exposure == 1 }},
		{"correction: Exposure", Correct{"Exposure", func(v *correction.Settings) { *v = correction.Settings{} }, true}, func(r *roll.Roll) bool { return r.View == nil }},
		{"labels", SetLabels{"labels", map[string]float64{p1: -3}, roll.ByHand}, func(r *roll.Roll) bool {
			return r.Frames[0].File == p1 && r.Frames[0].Stop == -3 && r.Frames[0].Origin == roll.ByHand
		}},
		{"finding scans", found{map[string]string{"/scans/m2.tif": "/moved/m2.tif"}}, func(r *roll.Roll) bool { return at(r, "/moved/m2.tif").Stop == -2 }},
		{"leaving a frame out", LeaveOut{"/scans/p2.tif"}, func(r *roll.Roll) bool { return len(r.Frames) == 4 }},
	}
}

// Every judgement and setting is one step of undo and of redo, and nothing that held the
// roll before sees it change.
func TestEveryEditCanBeTakenBack(t *testing.T) {
	d := bracket(t)
	if d.Unsaved() {
		t.Fatal("a roll that was only opened counts as unsaved")
	}
	held, text := []*roll.Roll{d.Roll()}, []string{string(encoded(d.Roll()))}
	var names []string
	for _, e := range edits(d) {
		d.drawn = 0
		d.do(e.c)
		if !e.seen(d.Roll()) || d.Undoes() != e.name || d.drawn == 0 || !d.Unsaved() {
			t.Errorf("%s: undo offers %q, drawn %b, roll %s", e.name, d.Undoes(), d.drawn, encoded(d.Roll()))
		}
		d.do(Undo{})
		if now := string(encoded(d.Roll())); now != text[len(text)-1] {
			t.Errorf("%s taken back left %s", e.name, now)
		}
		d.do(Redo{})
		held, text, names = append(held, d.Roll()), append(text, string(encoded(d.Roll()))), append(names, e.name)
	}
	for i, r := range held {
		if string(encoded(r)) != text[i] {
			t.Errorf("the roll of before step %d was changed", i)
		}
	}
	for _, want := range slices.Backward(names) {
		if got := d.undo(); got != want {
			t.Errorf("undid %q, want %q", got, want)
		}
	}
	if d.Unsaved() || d.undo() != "" {
		t.Error("with everything taken back the roll is not as it was opened")
	}
	for range names {
		d.do(Redo{})
	}
	if string(encoded(d.Roll())) != text[len(text)-1] {
		t.Error("done again it is another roll")
	}
	d.do(SetVerdict{1, roll.Holds})
	if d.Redoes() != "" {
		t.Error("after another edit the old ones can still be done again")
	}
}

// What changes nothing is no step of undo.
func TestNoChangeIsNoStep(t *testing.T) {
	d := bracket(t)
	for _, c := range []Change{SetNote{File: "/scans/p1.tif"}, SetNote{File: "/no such", Text: "x"}, SetRange{}, SetArea{Files: []string{"/scans/p1.tif"}},
		AssumeProfile{}, LeaveOut{"/no such"}, SetVerdict{99, roll.Holds}, SetDetails{Lines: map[string]string{"title": "Yard"}}, SetNoisyLimit{measure.NoisyLimit, true}} {
		if d.do(c); d.Undoes() != "" || d.Unsaved() {
			t.Fatalf("%#v is a step: %q", c, d.Undoes())
		}
	}
}

func TestTheSameVerdictAgainTakesItBack(t *testing.T) {
	d := bracket(t)
	d.do(SetVerdict{0, roll.Breaks})
	d.do(SetVerdict{0, roll.Breaks})
	if v := d.Roll().Frames[0].Verdict; v != roll.Unjudged {
		t.Errorf("verdict is %q", v)
	}
}

func TestAPostPushesTheOther(t *testing.T) {
	d := bracket(t)
	d.do(SetRange{&roll.Range{Lo: -1, Hi: 1}})
	d.do(SetRangeEnd{false, 1.5})
	if r := d.Range(); *r != (roll.Range{Lo: 1.5, Hi: 1.5}) {
		t.Errorf("range %+v", r)
	}
	d.do(SetRangeEnd{true, -7})
	if r := d.Range(); *r != (roll.Range{Lo: -2, Hi: -2}) {
		t.Errorf("range %+v, want it held at the lowest frame", r)
	}
	d.do(SetRange{})
	if d.Range() != nil {
		t.Error("the range was not taken away")
	}
}

// A drag and a stretch of writing are one step; another slide, another frame or a rest
// begin the next.
func TestDragsAreOneStep(t *testing.T) {
	d := bracket(t)
	steps := func() (n int) {
		for d.undo() != "" {
			n++
		}
		return n
	}
	for _, v := range []float64{1, 2, 3} {
		d.do(SetLimit{criteria.DeltaE, true, v, v == 3})
	}
	d.do(SetLimit{criteria.DeltaE, true, 5, true})
	if n := steps(); n != 2 {
		t.Errorf("two drags of a limit are %d steps", n)
	}
	for _, v := range []float64{1, 2} {
		d.do(SetNoisyLimit{v, v == 2})
		d.do(Correct{"Exposure", func(s *correction.Settings) { s.Exposure = v }, false})
	}
	if n := steps(); n != 4 {
		t.Errorf("four drags in turn are %d steps", n)
	}
	now := time.Unix(0, 0)
	write := func(file, text string, after time.Duration) {
		now = now.Add(after)
		d.do(SetNote{"/scans/" + file, text, now})
	}
	write("p1.tif", "s", 0)
	write("p1.tif", "sk", time.Second)
	write("p1.tif", "sky", time.Second)
	write("p1.tif", "sky thin", 10*time.Second)
	write("p2.tif", "a", 0)
	d.do(EndNote{})
	write("p2.tif", "ab", 0)
	if n := steps(); n != 4 {
		t.Errorf("four stretches of writing are %d steps", n)
	}
}

func TestRowsKnowTheJudge(t *testing.T) {
	d := bracket(t)
	d.do(SetRange{&roll.Range{Lo: -1, Hi: 1}})
	d.do(SetVerdict{0, roll.Breaks})
	d.do(SetNote{File: "/scans/p1.tif", Text: "thin"})
	rows := d.Rows()
	var in []float64
	for _, r := range rows {
		if r.InRange {
			in = append(in, r.Stop)
		}
	}
	if len(in) != 3 || in[0] != -1 || in[2] != 1 {
		t.Errorf("in range: %v", in)
	}
	if rows[0].Verdict != roll.Breaks || !rows[2].Base || !rows[2].Current || rows[2].File != "base.tif" || rows[3].Note != "thin" {
		t.Errorf("rows %+v %+v", rows[0], rows[2])
	}
	d.do(Step{1})
	if rows = d.Rows(); rows[2].Current || !rows[3].Current {
		t.Error("the rows do not follow the marker")
	}
}

// with is what is measured with one more scan read.
func with(d *desk, file string, l *measure.Look) *film.Roll {
	m := d.Film().Snapshot()
	m.Frames[m.Index(file)].Look = l
	return m
}

// The readings of a scan stay with it wherever its frame goes, and each row has its own.
func TestReadingsStayWithTheirScan(t *testing.T) {
	d := bracket(t)
	looks := map[string]*measure.Look{}
	for _, f := range d.Roll().Frames {
		looks[f.File] = &measure.Look{}
		d.drawn = 0
		d.do(readOn{film: with(d, f.File, looks[f.File])})
		if d.drawn&Readings == 0 {
			t.Errorf("drawn %b", d.drawn)
		}
	}
	own := func() {
		t.Helper()
		for i, f := range d.Roll().Frames {
			if d.Rows()[i].Look != looks[f.File] || d.Frame(i).Look != looks[f.File] {
				t.Errorf("row %d has not the readings of %s", i, f.File)
			}
		}
	}
	own()
	d.do(SetLabels{"labels", map[string]float64{"/scans/m1.tif": 5}, roll.ByHand})
	own()
	d.do(LeaveOut{"/scans/base.tif"})
	own()
}

func TestReadingIsStopped(t *testing.T) {
	d := bracket(t)
	d.do(readOn{film: with(d, "/scans/m1.tif", &measure.Look{})})
	d.do(readOn{frame: d.Index("/scans/p2.tif"), progress: 0.5})
	if r := d.Rows()[d.Index("/scans/p2.tif")]; r.State != row.Reading || r.Progress != 0.5 {
		t.Errorf("half read: %+v", r)
	}
	if words, on := d.Reading(); !on || words != "Read 1 of 5 scans" {
		t.Errorf("reading %v: %q", on, words)
	}
	d.do(StopReading{})
	if done, all := d.Read(); done != 5 || all != 5 {
		t.Errorf("read %d of %d", done, all)
	}
	if _, on := d.Reading(); on {
		t.Error("still reading")
	}
	i := d.Index("/scans/p1.tif")
	if f := d.Rows()[i]; f.State != row.Failed || !strings.Contains(f.Message, "stopped") {
		t.Errorf("%+v", f)
	}
}

// What the program finds out by itself is nobody's work: no step, and no unsaved mark.
func TestHashesAreNobodysWork(t *testing.T) {
	d := bracket(t)
	hash := func(i int, sum string) { d.fill(func(r *roll.Roll) { r.Frames[i].SHA256 = sum }) }
	hash(0, "00")
	if d.Unsaved() || d.Undoes() != "" {
		t.Error("filling in a hash made the roll unsaved or undoable")
	}
	d.do(SetNote{File: "/scans/p1.tif", Text: "x"})
	hash(1, "01")
	if !d.Unsaved() {
		t.Error("filling in a hash hid unsaved work")
	}
	d.do(Undo{})
	if d.Roll().Frames[1].SHA256 != "01" {
		t.Error("taking a note back lost a hash")
	}
}

func TestSavedAndUnsaved(t *testing.T) {
	d := bracket(t)
	d.do(SetVerdict{0, roll.Holds})
	d.do(Saved{d.Roll().In("/rolls/yard.stopladder")})
	if d.Unsaved() || d.Roll().Path() != "/rolls/yard.stopladder" {
		t.Error("a saved roll counts as unsaved")
	}
	d.do(Undo{})
	if !d.Unsaved() {
		t.Error("what was taken back after saving counts as saved")
	}
	d.do(SetDetails{Lines: map[string]string{"title": ""}})
	if d.Name() != "yard" {
		t.Errorf("without a title it is called %q", d.Name())
	}
	d.do(Open{Job: load.Of(d.Roll()), Unsaved: true})
	if !d.Unsaved() {
		t.Error("recovered work counts as saved")
	}
	if d.do(Close{}); !d.Empty() || d.Unsaved() || d.Undoes() != "" || d.run.Busy() {
		t.Error("after closing something is left")
	}
}

// Everything that is looked at, without a toolkit.
func TestViews(t *testing.T) {
	d := bracket(t)
	grade := func() string {
		if on, g := d.Salvaged(); on {
			return string(g)
		}
		return ""
	}
	for _, c := range []struct {
		name      string
		c         Change
		got, want func() any
	}{
		{"layout", SetLayout{Grid}, func() any { return d.Layout() }, func() any { return Grid }},
		{"left", ShowLeft{"/scans/p2.tif"}, func() any { return [2]int{int(d.Layout()), d.OtherIndex()} }, func() any { return [2]int{int(Pair), 4} }},
		{"left picture down", StepOther{-1}, func() any { return d.OtherIndex() }, func() any { return 3 }},
		{"mask", ToggleMask{Lost}, func() any { return d.Masked(Lost) && !d.Masked(Blown) }, func() any { return true }},
		{"mask again", ToggleMask{Lost}, func() any { return d.Masked(Lost) }, func() any { return false }},
		{"page", TogglePanel{BandsPanel}, func() any { return d.Panel() }, func() any { return BandsPanel }},
		{"other page", TogglePanel{SalvagePanel}, func() any { return d.Panel() }, func() any { return SalvagePanel }},
		{"page again", TogglePanel{SalvagePanel}, func() any { return d.Panel() }, func() any { return NoPanel }},
		{"curve", ToggleCurve{}, func() any { return d.Curve() }, func() any { return true }},
		{"difference", ShowDifference{ColourDifference}, func() any { return d.Difference() }, func() any { return ColourDifference }},
		{"other difference", ShowDifference{LightDifference}, func() any { return d.Difference() }, func() any { return LightDifference }},
		{"difference again", ShowDifference{LightDifference}, func() any { return d.Difference() }, func() any { return NoDifference }},
		{"corrected", ToggleCorrected{}, func() any { return d.Corrected() }, func() any { return false }},
		{"salvaged", ToggleSalvaged{}, func() any { return grade() }, func() any { return "curves" }},
		{"grade", ShowGrade{criteria.Balance}, func() any { return grade() }, func() any { return "balance" }},
		{"next grade", NextGrade{}, func() any { return grade() }, func() any { return "curves" }},
		{"grade again", ShowGrade{criteria.Curves}, func() any { return grade() }, func() any { return "" }},
		{"costs", ToggleCosts{}, func() any { return d.OnLadder() }, func() any { return true }},
		{"by hand", CorrectByHand{true}, func() any { return d.ByHand() }, func() any { return true }},
		{"picking", Pick{PickNeutral}, func() any { p, please := d.Picking(); return p == PickNeutral && please != "" }, func() any { return true }},
		{"notice", Notify{Notice{ID: "a", Text: "b"}}, func() any { return d.Notices()[0].Text }, func() any { return "b" }},
		{"notice anew", Notify{Notice{ID: "a", Text: "c"}}, func() any { return d.Notices()[0].Text }, func() any { return "c" }},
		{"finding first", Notify{Notice{ID: findingID + "x", Text: "f"}}, func() any { return d.Notices()[0].Text + d.Notices()[1].Text }, func() any { return "fc" }},
		{"notice closed", CloseNotice{"a"}, func() any { return len(d.Notices()) }, func() any { return 1 }},
	} {
		d.drawn = 0
		if d.do(c.c); c.got() != c.want() || d.drawn == 0 {
			t.Errorf("%s: %v, want %v; drawn %b", c.name, c.got(), c.want(), d.drawn)
		}
	}
	if d.Undoes() != "" || d.Unsaved() {
		t.Error("looking is an edit")
	}
	for _, c := range []Change{SetLayout{Pair}, MoveTo{d.Marker()}, Go{d.Current()}} {
		if d.drawn = 0; true {
			if d.do(c); d.drawn != 0 {
				t.Errorf("%#v changes nothing and is drawn", c)
			}
		}
	}
}

func TestFailedWorkIsTold(t *testing.T) {
	d := bracket(t)
	d.do(Failed{Work{Name: measuring, Title: "Not measured"}, errors.New("the disk is gone")})
	if _, on := d.Reading(); on || len(d.refused) != 1 || d.refused[0].Title != "Not measured" {
		t.Errorf("reading %v, told %+v", on, d.refused)
	}
}

// Scans that were moved are found, and read there.
func TestMovedScansAreFound(t *testing.T) {
	from := demoFiles(t, "negative")
	dir := t.TempDir()
	var files []string
	names, _ := filepath.Glob(filepath.Join(from, "*.tif"))
	for _, f := range names[2:5] {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, filepath.Join(dir, filepath.Base(f)))
		if err := os.WriteFile(files[len(files)-1], b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	job, err := load.Plan([]string{dir}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d := newDesk(t)
	d.do(Open{Job: job})
	d.do(Saved{d.Roll().In(filepath.Join(dir, "a.stopladder"))}) // before the hashes are known
	d.settle()
	r, _, err := roll.Load(filepath.Join(dir, "a.stopladder"))
	if err != nil || r.Frames[0].SHA256 == "" || d.Unsaved() {
		t.Fatalf("the hashes did not follow into the file: %v", err)
	}
	away := filepath.Join(dir, "away")
	if err := os.Mkdir(away, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(d.Roll().Frames[0].File, filepath.Join(away, filepath.Base(d.Roll().Frames[0].File))); err != nil {
		t.Fatal(err)
	}
	d.do(Open{Job: load.Of(r)})
	d.settle()
	if d.Rows()[0].State != row.Failed || !slices.ContainsFunc(d.Notices(), func(n Notice) bool { return n.ID == "missing" }) {
		t.Fatalf("a missing scan is not told: %+v", d.Notices())
	}
	empty := t.TempDir()
	if d.do(FindScans{empty}); true {
		if d.settle(); len(d.refused) != 1 || d.refused[0].Title != "Not found" {
			t.Errorf("found in an empty folder: %+v", d.refused)
		}
	}
	d.do(FindScans{away})
	d.settle()
	if d.Rows()[0].State != row.Ready || filepath.Dir(d.Roll().Frames[0].File) != away || d.Undoes() != "finding scans" {
		t.Errorf("at %s: %s", d.Roll().Frames[0].File, d.Rows()[0].Message)
	}
	if slices.ContainsFunc(d.Notices(), func(n Notice) bool { return n.ID == "missing" }) {
		t.Error("it is still told as missing")
	}
}

func TestFigures(t *testing.T) {
	nan := math.NaN()
	if figure(nil, 1, false) != none || figure(&nan, 1, false) != none {
		t.Error("what is not known has a figure")
	}
	if Sentence("the scan a.tif") != "The scan a.tif." || Sentence("a.tif is broken?") != "a.tif is broken?" || Sentence("") != "" {
		t.Error("sentences")
	}
	if someNames([]string{"a"}) != "a" || someNames([]string{"a", "b"}) != "a and b" || someNames([]string{"a", "b", "c", "d"}) != "a, b and 2 more" || someNames(nil) != "" {
		t.Error("names")
	}
}
