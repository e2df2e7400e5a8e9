package ui

import (
	"fmt"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"
	"golang.org/x/image/tiff"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/publish"
	"stopladder/analysis/show/row"
	"stopladder/assets"
	"stopladder/ui/chip"
	"stopladder/ui/commands"
	_ "stopladder/ui/early"
	"stopladder/ui/session"
)

// queues hold what workers hand to each window. The test driver's fyne.Do runs a
// function at once on the goroutine that calls it, and the toolkit is not made for
// two: the tests run the functions on their own goroutine, with pump.
var queues = map[*Window]chan func(){}

// open builds the window in the toolkit's test driver.
func open(t *testing.T, opt Options) *Window {
	t.Helper()
	test.NewTempApp(t)
	q := make(chan func(), 1<<16)
	opt.Do = func(f func()) { q <- f }
	w := New(fyne.CurrentApp(), opt)
	queues[w] = q
	w.win.Resize(fyne.NewSize(1280, 800))
	t.Cleanup(func() {
		w.runner.StopAll()
		w.pictures.close()
		w.endJournal()
	})
	return w
}

// pump runs what workers have handed over, and gives them time for more.
func pump(w *Window) {
	for {
		select {
		case f := <-queues[w]:
			f()
		case <-time.After(20 * time.Millisecond):
			return
		}
	}
}

func settled(t *testing.T, w *Window) {
	t.Helper()
	end := time.Now().Add(3 * time.Minute) // for a machine that does other work as well
	for {
		pump(w)
		if done, all := w.state.Read(); done == all && all > 0 && !w.runner.Busy() {
			return
		}
		if time.Now().After(end) {
			t.Fatal("the roll was not read within three minutes")
		}
	}
}

func writeScan(t *testing.T, path string, level uint16) {
	t.Helper()
	img := image.NewRGBA64(image.Rect(0, 0, 160, 120))
	for y := range 120 {
		for x := range 160 {
			v := uint16(min(65535, int(level)+x*100+y*37))
			img.SetRGBA64(x, y, color.RGBA64{v, v, v, 65535})
		}
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := tiff.Encode(f, img, nil); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

func folder(t *testing.T, names ...string) string {
	t.Helper()
	dir := t.TempDir()
	for i, n := range names {
		writeScan(t, filepath.Join(dir, n), uint16(8000*(i+1)))
	}
	return dir
}

// notices are the sentences above the pictures.
func (w *Window) said() string {
	var all []string
	for _, n := range w.state.Notices() {
		all = append(all, n.Text)
	}
	return strings.Join(all, "\n")
}

func TestCommandsDoNotClash(t *testing.T) {
	w := open(t, Options{})
	claimed := map[string]string{}
	for _, c := range w.cmds {
		for _, k := range c.Keys {
			id := commands.Key{Name: k.Name, Ctrl: k.Ctrl, Shift: k.Shift}.String()
			if other, ok := claimed[id]; ok {
				t.Errorf("%s is claimed by %s and %s", id, other, c.ID)
			}
			claimed[id] = c.ID
		}
		if len(c.Keys) > 0 && c.Hint == "" && c.ID != "save-as" {
			t.Errorf("%s has a key but no line on the page of keys", c.ID)
		}
	}
}

func TestFolderIsReadAndJudged(t *testing.T) {
	dir := folder(t, "-1.tif", "0.tif", "+1.tif")
	home := t.TempDir()
	w := open(t, Options{Paths: []string{dir}, Home: home})
	settled(t, w)
	for i := range w.state.Roll().Frames {
		line := w.state.Rows()[i]
		if line.State != row.Ready || line.Look == nil || line.Rel == nil || line.Thumb == nil {
			t.Fatalf("frame %d: %+v", i, line.State)
		}
	}
	for _, k := range []fyne.KeyName{fyne.KeyUp, fyne.KeyS, fyne.KeyRightBracket, fyne.KeyDown, fyne.KeyDown, fyne.KeyB, fyne.KeyO, fyne.Key3} {
		w.typedKey(&fyne.KeyEvent{Name: k})
	}
	f := w.state.Roll().Frames
	if f[2].Verdict != roll.Strains || f[0].Verdict != roll.Breaks || w.state.Layout() != session.Grid || !w.state.Masked(session.Blown) {
		t.Errorf("after the keys: %q %q, layout %d, blown %v", f[2].Verdict, f[0].Verdict, w.state.Layout(), w.state.Masked(session.Blown))
	}
	if rg := w.state.Range(); rg == nil || rg.Hi != 1 || rg.Lo != -1 {
		t.Errorf("range %+v", rg)
	}
	path := filepath.Join(dir, "yard.stopladder")
	w.saveTo(path, nil)
	if w.state.Unsaved() || w.state.Roll().Path() != path {
		t.Error("the roll counts as unsaved after saving")
	}

	again := open(t, Options{Paths: []string{path}})
	settled(t, again)
	if again.state.Unsaved() {
		t.Error("a roll that was only opened counts as unsaved")
	}
	if g := again.state.Roll().Frames; g[2].Verdict != roll.Strains || g[0].SHA256 == "" {
		t.Errorf("reopened: %+v", g)
	}
	if s := again.said(); s != "" {
		t.Errorf("an unchanged roll is opened with the words %q", s)
	}
}

func TestBrokenScanSpoilsNothingElse(t *testing.T) {
	dir := folder(t, "-1.tif", "0.tif", "+1.tif")
	if err := os.WriteFile(filepath.Join(dir, "+2.tif"), []byte("not a picture"), 0o600); err != nil {
		t.Fatal(err)
	}
	w := open(t, Options{Paths: []string{dir}})
	settled(t, w)
	top := w.state.Rows()[3]
	if top.State != row.Failed || !strings.Contains(top.Message, "+2.tif") {
		t.Errorf("broken scan: %v %q", top.State, top.Message)
	}
	if w.state.Frame(2).Relation == nil {
		t.Error("a good scan was not measured beside a broken one")
	}
}

func TestMissingAndChangedScans(t *testing.T) {
	dir := folder(t, "-1.tif", "0.tif", "+1.tif")
	w := open(t, Options{Paths: []string{dir}})
	settled(t, w)
	path := filepath.Join(dir, "roll.stopladder")
	w.saveTo(path, nil)
	away := t.TempDir()
	if err := os.Rename(filepath.Join(dir, "+1.tif"), filepath.Join(away, "+1.tif")); err != nil {
		t.Fatal(err)
	}
	writeScan(t, filepath.Join(dir, "-1.tif"), 99)

	again := open(t, Options{Paths: []string{path}})
	settled(t, again)
	said := again.said()
	if !strings.Contains(said, "+1.tif cannot be found") || !strings.Contains(said, "-1.tif changed") {
		t.Errorf("said %q", said)
	}
	if again.state.Rows()[2].State != row.Failed || again.state.Rows()[0].State != row.Ready {
		t.Error("the missing scan should fail alone")
	}
	again.apply(session.FindScans{Folder: away})
	end := time.Now().Add(30 * time.Second)
	for again.runner.Busy() || again.state.Roll().Frames[2].File != filepath.Join(away, "+1.tif") {
		if time.Now().After(end) {
			t.Fatalf("the scan that was moved is at %s", again.state.Roll().Frames[2].File)
		}
		pump(again)
	}
	settled(t, again)
	if again.state.Rows()[2].State != row.Ready {
		t.Errorf("after finding: %q", again.state.Rows()[2].Message)
	}
}

func TestCrashLosesNothing(t *testing.T) {
	dir := folder(t, "-1.tif", "0.tif")
	home := t.TempDir()
	w := open(t, Options{Paths: []string{dir}, Home: home})
	settled(t, w)
	w.apply(session.SetVerdict{Frame: 0, Verdict: roll.Breaks})
	copies := filepath.Join(home, "recovery", "*.recovery")
	for end := time.Now().Add(30 * time.Second); ; pump(w) {
		if found, _ := filepath.Glob(copies); len(found) > 0 {
			break
		}
		if time.Now().After(end) {
			t.Fatal("no recovery copy was written")
		}
	}
	w.endJournal()

	next := open(t, Options{Paths: []string{dir}, Home: home})
	settled(t, next)
	if !strings.Contains(next.said(), "ended before") {
		t.Fatalf("the next start says %q", next.said())
	}
	next.recovered[0].Actions[0].Run()
	settled(t, next)
	if v := next.state.Roll().Frames[0].Verdict; v != roll.Breaks {
		t.Errorf("the verdict came back as %q", v)
	}
	if !next.state.Unsaved() {
		t.Error("recovered work does not count as unsaved")
	}
}

// What the program exported beside the scans is not opened as scans with them.
func TestOwnExportsAreNoScans(t *testing.T) {
	dir := folder(t, "-1.tif", "0.tif", "+1.tif")
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	if err := pngwrite.File(filepath.Join(dir, "yard sheet.png"), img, pngwrite.Meta{Title: "Yard", Software: "Stopladder 1"}); err != nil {
		t.Fatal(err)
	}
	w := open(t, Options{Paths: []string{dir}})
	settled(t, w)
	if n := len(w.state.Roll().Frames); n != 3 || !strings.Contains(w.said(), "yard sheet.png") {
		t.Errorf("%d frames, said %q", n, w.said())
	}
	alone := t.TempDir()
	if err := pngwrite.File(filepath.Join(alone, "0.png"), img, pngwrite.Meta{Software: "Stopladder 1"}); err != nil {
		t.Fatal(err)
	}
	if err := pngwrite.File(filepath.Join(alone, "+1.png"), img, pngwrite.Meta{Software: "a scanner"}); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]int{alone: 1, filepath.Join(alone, "0.png"): 1} { // who names it means it
		job, err := load.Plan([]string{path}, load.Options{Own: pngwrite.Wrote})
		if err != nil || len(job.Roll.Frames) != want || (job.Own == "") != (path != alone) {
			t.Errorf("%s: %v, %v", filepath.Base(path), job, err)
		}
	}
	if err := os.Remove(filepath.Join(alone, "+1.png")); err != nil {
		t.Fatal(err)
	}
	if _, err := load.Plan([]string{alone}, load.Options{Own: pngwrite.Wrote}); err == nil || !strings.Contains(err.Error(), "only pictures that this program exported") {
		t.Errorf("a folder of exports alone: %v", err)
	}
}

func TestUnwritableFolderKeepsTheMarks(t *testing.T) {
	dir := folder(t, "0.tif", "+1.tif")
	w := open(t, Options{Paths: []string{dir}})
	settled(t, w)
	w.apply(session.SetVerdict{Frame: 0, Verdict: roll.Holds})
	w.saveTo(filepath.Join(dir, "no such folder", "a.stopladder"), func() { t.Error("went on as if saved") })
	if !w.state.Unsaved() || w.state.Roll().Path() != "" {
		t.Error("a failed save counts as saved")
	}
}

func TestExportsBesideTheScans(t *testing.T) {
	dir := folder(t, "-1.tif", "0.tif", "+1.tif")
	w := open(t, Options{Paths: []string{dir}})
	settled(t, w)
	for _, name := range []string{"out.json", "out.csv"} {
		w.exportReadings(filepath.Join(dir, name))
	}
	w.exportSheet(filepath.Join(dir, "out.png"), &publish.Sheet{Roll: w.state.Film(), Format: publish.FormatPNG, Options: plate.Options{Width: 1600}})
	end := time.Now().Add(60 * time.Second)
	for _, name := range []string{"out.json", "out.csv", "out.png"} {
		for {
			if st, err := os.Stat(filepath.Join(dir, name)); err == nil && st.Size() > 100 {
				break
			}
			if time.Now().After(end) {
				t.Fatalf("%s was not written", name)
			}
			pump(w)
		}
	}
	was, _ := os.ReadFile(filepath.Join(dir, "0.tif"))
	hard, beside := filepath.Join(dir, "hard.csv"), filepath.Join(dir, "p.ladderplan")
	if err := os.Link(filepath.Join(dir, "0.tif"), hard); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(beside, []byte("a plan"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{filepath.Join(dir, "0.tif"), hard, beside} {
		w.exportReadings(path)
		settled(t, w)
	}
	w.saveTo(hard, nil)
	for _, path := range []string{filepath.Join(dir, "0.tif"), hard} {
		if now, _ := os.ReadFile(path); string(now) != string(was) {
			t.Error("an export wrote over a scan")
		}
	}
	if now, _ := os.ReadFile(beside); string(now) != "a plan" {
		t.Error("an export wrote over the plan beside the scans")
	}
}

func TestEmptyWindowAndEveryCommand(t *testing.T) {
	w := open(t, Options{})
	for _, k := range []fyne.KeyName{fyne.KeyUp, fyne.KeyH, fyne.KeyO, fyne.Key2, fyne.Key3, fyne.KeyF, fyne.KeyA, fyne.KeyR, fyne.KeyReturn, fyne.KeyLeftBracket, fyne.KeyLeft} {
		w.typedKey(&fyne.KeyEvent{Name: k})
	}
	if !w.start.Object.Visible() || w.board.Visible() {
		t.Error("an empty window does not say what to do")
	}
	w.openDemo("negative")
	if w.start.Object.Visible() || !w.board.Visible() {
		t.Error("the start page lies over a roll")
	}
	w.apply(session.Close{})
	if !w.start.Object.Visible() {
		t.Error("a closed roll leaves no start page")
	}
}

func TestNothingHappensBehindADialog(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "0.tif", "+1.tif")}})
	settled(t, w)
	w.editRoll()
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyH})
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyUp})
	if w.state.Unsaved() || w.state.Marker() != 0 {
		t.Error("keys went to the window behind the dialog")
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if w.win.Canvas().Overlays().Top() != nil {
		t.Error("Escape did not close the dialog")
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyH})
	if w.state.Roll().Frames[0].Verdict != roll.Holds {
		t.Error("after the dialog the keys are dead")
	}
}

// The manual's table of keys is written by hand: no key may be missing from it.
func TestManualListsEveryKey(t *testing.T) {
	page := string(assets.ManualPage("keys"))
	table := page[strings.Index(page, "| key | does |"):]
	table = table[:strings.Index(table, "\n\n")]
	var keys string
	for _, line := range strings.Split(table, "\n") {
		if cells := strings.Split(line, "|"); len(cells) > 1 {
			keys += " " + strings.NewReplacer(",", " ", ";", " ", " or ", " ", " and ", " ").Replace(cells[1])
		}
	}
	listed := map[string]bool{}
	for _, k := range strings.Fields(keys) {
		listed[k] = true
	}
	w := open(t, Options{})
	n, bound := 0, map[string]bool{}
	for _, c := range w.cmds {
		for _, k := range c.Keys {
			n, bound[k.String()] = n+1, true
			if s := k.String(); !listed[s] && s != "Enter" && s != "Shift++" {
				t.Errorf("%s (%s) is not in assets/manual/keys.md", s, c.ID)
			}
		}
	}
	if n < 20 {
		t.Errorf("only %d keys were looked up", n)
	}
	for k := range listed {
		if !bound[k] && k != "key" && !strings.HasPrefix(k, "---") {
			t.Errorf("assets/manual/keys.md has %s, which does nothing", k)
		}
	}
}

func TestImageAreaByHand(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	before := w.state.Frame(0).Look.Hist.Pixels
	area := image.Rect(10, 20, 90, 80)
	var files []string
	for _, f := range w.state.Roll().Frames {
		files = append(files, f.File)
	}
	w.apply(session.SetArea{Files: files, Area: &area})
	settled(t, w)
	for i := range files {
		l := w.state.Frame(i).Look
		if l.Area != area || l.Hist.Pixels != uint64(area.Dx()*area.Dy()) {
			t.Errorf("frame %d: area %v, %d pixels counted", i, l.Area, l.Hist.Pixels)
		}
		if w.state.Frame(i).Relation == nil {
			t.Errorf("frame %d was not related again", i)
		}
	}
	// One frame alone found again follows the roll, as with the command: the others
	// say how large the picture is.
	w.apply(session.SetArea{Files: files[:1]})
	settled(t, w)
	if l := w.state.Frame(0).Look; l.Area.Size() != area.Size() || l.AreaFrom != measure.AreaAgreed {
		t.Errorf("one of three found again: %v, %v", l.Area, l.AreaFrom)
	}
	w.apply(session.SetArea{Files: files})
	settled(t, w)
	if l := w.state.Frame(0).Look; l.Hist.Pixels != before {
		t.Errorf("found again: %d pixels, were %d", l.Hist.Pixels, before)
	}
	if w.state.Undoes() != "image area" {
		t.Errorf("undo offers %q", w.state.Undoes())
	}
}

func TestPlacingByHand(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	w.apply(session.StartPlacing{}) // on the base frame: refused with a sentence
	if w.state.Placing() != nil {
		t.Fatal("the base frame is being placed on itself")
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	w.apply(session.Step{Frames: 1})
	w.apply(session.StartPlacing{})
	if w.state.Placing() == nil {
		t.Fatal("placing did not begin")
	}
	start := w.state.Placing().Put
	for _, k := range []fyne.KeyName{fyne.KeyRight, fyne.KeyRight, fyne.KeyUp, fyne.KeyComma} {
		w.typedKey(&fyne.KeyEvent{Name: k})
	}
	if w.state.Marker() != 1 {
		t.Error("the arrow keys moved the marker while placing")
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	settled(t, w)
	p := w.state.Roll().Frames[2].Placed
	if p == nil || p.DX != start.DX+0.5 || p.DY != start.DY-0.25 || p.Rotation != start.Rotation+0.01 {
		t.Fatalf("placed at %+v from %+v", p, start)
	}
	if g := w.state.Frame(2).Registration; g.DX != p.DX || !g.Reliable() {
		t.Errorf("registration is %+v, want what was set by hand", g)
	}
	if rel := w.state.Frame(2).Relation; rel == nil || !rel.Registered {
		t.Error("the bands are not read through the placement")
	}
	w.apply(session.StartPlacing{})
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyRight})
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if q := w.state.Roll().Frames[2].Placed; *q != *p {
		t.Error("Escape kept the nudge")
	}
}

// Taking back a change of the base frame must bring back its readings, too.
func TestUndoBringsBackTheReadings(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	top := w.state.Roll().Frames[2].File
	before := w.state.Frame(2).Relation.Bands
	w.apply(session.MakeBase{File: top})
	settled(t, w)
	w.cmds.Find("undo").Do()
	settled(t, w)
	if b := w.state.Base(); b != 1 {
		t.Fatalf("base is frame %d", b)
	}
	for k, r := range w.state.Frame(2).Relation.Bands {
		if (r == nil) != (before[k] == nil) || r != nil && *r != *before[k] {
			t.Errorf("band %d reads %+v, was %+v", k, r, before[k])
		}
	}
}

// The toolkit turns Ctrl+Z into a shortcut of its own.
func TestUndoKeyArrives(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "0.tif", "+1.tif")}})
	settled(t, w)
	w.apply(session.SetVerdict{Frame: 0, Verdict: roll.Holds})
	var asked int
	w.cmds.Bind(func(s fyne.Shortcut, do func(fyne.Shortcut)) {
		if s.ShortcutName() == (&fyne.ShortcutUndo{}).ShortcutName() {
			asked++
			do(s)
		}
	})
	if asked != 1 || w.state.Roll().Frames[0].Verdict != roll.Unjudged {
		t.Errorf("undo was bound %d times to the toolkit's shortcut, verdict is %q", asked, w.state.Roll().Frames[0].Verdict)
	}
}

// Hashes that become known after a mark survive taking the mark back.
func TestUndoKeepsHashes(t *testing.T) {
	dir := folder(t, "0.tif", "+1.tif")
	w := open(t, Options{Paths: []string{dir}})
	w.apply(session.SetVerdict{Frame: 0, Verdict: roll.Holds}) // while the scans are being read
	settled(t, w)
	w.cmds.Find("undo").Do()
	for _, f := range w.state.Roll().Frames {
		if f.SHA256 == "" {
			t.Errorf("%s has lost its hash", f.Name())
		}
	}
}

// A plan beside the scans labels them with their real stops; where the counts
// differ the window asks.
func TestPlanBesideTheScans(t *testing.T) {
	f, err := plan.New(plan.Form{Title: "Yard", Meter: "EV 12", ISO: "100", Camera: "electronic shutter 8 s - 1/1000, full stops", From: "-1", To: "+1", Step: "1", Order: "under-over"}, plan.Generic())
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Put(plan.Shot{Number: 3, State: plan.Done, Setting: f.Plan.Frames[2].Time.Seconds()}, 0); err != nil {
		t.Fatal(err)
	}
	dir := folder(t, "scan_0001.tif", "scan_0002.tif", "scan_0003.tif")
	if err := f.Save(filepath.Join(dir, "yard.ladderplan")); err != nil {
		t.Fatal(err)
	}
	w := open(t, Options{Paths: []string{dir}})
	settled(t, w)
	r := w.state.Roll()
	if len(r.Frames) != 3 || r.Frames[0].Origin != roll.FromPlan || r.Frames[1].Stop != 0 || r.Title != "Yard" {
		t.Fatalf("labelled %+v", r)
	}
	writeScan(t, filepath.Join(dir, "scan_0004.tif"), 9000) // another picture
	job, err := load.Plan([]string{dir}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(job.Offers) == 0 || job.Question == "" {
		t.Fatalf("with a scan too many nothing is asked: %+v", job)
	}
	var begun int
	w.labelled(job, func() { begun = len(job.Roll.Frames) })
	if w.win.Canvas().Overlays().Top() == nil {
		t.Fatal("the window does not ask")
	}
	tapFirst(t, w.win.Canvas().Overlays().Top(), "Ask at once")
	tapFirst(t, w.win.Canvas().Overlays().Top(), "This way")
	if begun != 3 {
		t.Errorf("after the answer the roll has %d frames", begun)
	}

	// Left to look, it finds the one that does not belong by how light it is.
	for i, level := range []uint16{20000, 60000, 9000, 40000} {
		writeScan(t, filepath.Join(dir, fmt.Sprintf("scan_000%d.tif", i+1)), level)
	}
	if job, err = load.Plan([]string{dir}, load.Options{}); err != nil {
		t.Fatal(err)
	}
	w.labelled(job, func() {})
	for end := time.Now().Add(30 * time.Second); ; pump(w) {
		if words := labelsBelow(w.win.Canvas().Overlays().Top()); strings.Contains(words, "comes first") {
			if !strings.Contains(words, "scan_0002.tif\" is another picture") {
				t.Errorf("offered: %s", words)
			}
			break
		}
		if time.Now().After(end) {
			t.Fatal("the scans were not looked at within half a minute")
		}
	}
}

// labelsBelow are the words of all labels below an object.
func labelsBelow(o fyne.CanvasObject) string {
	var b strings.Builder
	for _, x := range test.LaidOutObjects(o) {
		if l, ok := x.(*widget.Label); ok && l.Visible() {
			b.WriteString(l.Text + "\n")
		}
	}
	return b.String()
}

// tapFirst taps the first button with that text below an object.
func tapFirst(t *testing.T, o fyne.CanvasObject, text string) {
	t.Helper()
	var find func(o fyne.CanvasObject) bool
	find = func(o fyne.CanvasObject) bool {
		switch x := o.(type) {
		case *chip.Chip:
			if x.Text == text && !x.Off {
				x.Tapped(nil)
				return true
			}
		case *fyne.Container:
			for _, c := range x.Objects {
				if find(c) {
					return true
				}
			}
		case fyne.Widget:
			for _, c := range test.WidgetRenderer(x).Objects() {
				if find(c) {
					return true
				}
			}
		}
		return false
	}
	if !find(o) {
		t.Fatalf("no button %q", text)
	}
}

// The demo can be judged, saved and opened again.
func TestDemoRollIsSavedAndReopened(t *testing.T) {
	w := open(t, Options{Demo: "negative"})
	settled(t, w)
	w.apply(session.SetVerdict{Frame: 7, Verdict: roll.Breaks})
	path := filepath.Join(t.TempDir(), "demo.stopladder")
	w.saveTo(path, nil)
	again := open(t, Options{Paths: []string{path}})
	settled(t, again)
	for i, f := range again.state.Roll().Frames {
		if line := again.state.Rows()[i]; line.State != row.Ready {
			t.Errorf("%s: %s", f.File, line.Message)
		}
	}
	if again.state.Roll().Demo != "negative" || again.state.Roll().Frames[7].Verdict != roll.Breaks {
		t.Errorf("reopened as %q with %q", again.state.Roll().Demo, again.state.Roll().Frames[7].Verdict)
	}
}
