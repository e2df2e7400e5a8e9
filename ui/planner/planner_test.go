package planner

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	_ "stopladder/ui/early"
)

func shown(t *testing.T) *Planner {
	t.Helper()
	test.NewTempApp(t)
	p := New(fyne.CurrentApp(), t.TempDir(), t.TempDir())
	p.Show()
	return p
}

func TestWrongFieldsAreToldInPlaceAndLoseNothing(t *testing.T) {
	p := shown(t)
	if p.file == nil || len(p.file.Plan.Frames) != 8 {
		t.Fatal("the first form makes no plan of eight frames")
	}
	for _, c := range []struct {
		field plan.Field
		text  string
	}{{plan.FieldISO, "0"}, {plan.FieldMeter, "f/0 1/60"}, {plan.FieldFrom, "a lot"}} {
		f := p.fields[c.field]
		was := f.entry.Text
		f.entry.SetText(c.text)
		if !f.wrong.Visible() || len(f.wrong.Text) < 10 {
			t.Errorf("%s = %q: nothing is said at the field (%q)", c.field, c.text, f.wrong.Text)
		}
		if f.entry.Text != c.text || p.file == nil || len(p.file.Plan.Frames) != 8 {
			t.Errorf("%s = %q: what was typed or planned is gone", c.field, c.text)
		}
		f.entry.SetText(was)
		if f.wrong.Visible() {
			t.Errorf("%s: still wrong after it was put right: %s", c.field, f.wrong.Text)
		}
	}
}

func TestLogSurvivesTheFormAndTheFile(t *testing.T) {
	p := shown(t)
	if err := p.file.Put(plan.Shot{Number: 2, State: plan.Done, Setting: "1/250"}, 0); err != nil {
		t.Fatal(err)
	}
	p.log = p.file.Log
	p.fields[plan.FieldTitle].entry.SetText("Yard")
	if s := p.file.Shot(2); s == nil || s.Setting != "1/250" {
		t.Fatalf("after a change of the form the log has %+v", s)
	}
	path := filepath.Join(t.TempDir(), "yard.ladderplan")
	p.save(path)
	if p.now() != p.saved {
		t.Error("a saved plan counts as unsaved")
	}
	q := shown(t)
	q.open(path)
	if s := q.file.Shot(2); s == nil || s.Setting != "1/250" || q.form().Title != "Yard" {
		t.Errorf("reopened: %+v, %+v", s, q.form())
	}
	last := q.real
	if !strings.Contains(last.Text, "Real stops that differ") {
		t.Errorf("under the log stands %+v", last)
	}
}

// What somebody else logged meanwhile is not written over unasked, and lost in no case.
func TestPlanChangedOnDisk(t *testing.T) {
	for _, keep := range []int{0, 1} {
		p := shown(t)
		path := filepath.Join(t.TempDir(), "yard.ladderplan")
		p.save(path)
		if _, err := plan.Change(path, func(f *plan.File) error { return f.SetNote("their note") }); err != nil {
			t.Fatal(err)
		}
		p.fields[plan.FieldTitle].entry.SetText("Mine")
		p.save(path)
		if f, err := plan.Load(path); err != nil || f.Log == nil || f.Log.Note != "their note" {
			t.Fatal("written over unasked", err)
		}
		if p.answers == nil {
			t.Fatal("nothing was asked")
		}
		test.Tap(p.answers[keep])
		f, err := plan.Load(path)
		if err != nil {
			t.Fatal(err)
		}
		if mine := f.Form.Title == "Mine"; mine != (keep == 1) {
			t.Errorf("answer %d: the file has %q", keep, f.Form.Title)
		}
		if other, err := plan.Load(path + ".other"); err != nil || (other.Form.Title == "Mine") == (keep == 1) {
			t.Errorf("answer %d: the other version is gone: %v", keep, err)
		}
		if p.now() != p.saved {
			t.Error("counts as unsaved")
		}
	}
}

func TestCardsAreWritten(t *testing.T) {
	p := shown(t)
	dir := t.TempDir()
	for _, name := range []string{"c.pdf", "c.png", "c.txt"} {
		p.card(filepath.Join(dir, name), "A5")
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || len(b) < 200 {
			t.Errorf("%s: %d bytes, %v", name, len(b), err)
		}
	}
	if b, _ := os.ReadFile(filepath.Join(dir, "c.pdf")); !strings.HasPrefix(string(b), "%PDF-") {
		t.Error("c.pdf is no PDF")
	}
}

func TestOwnCamerasAreKept(t *testing.T) {
	p := shown(t)
	e := newCameraForm(p.camera())
	e.name.SetText("Field camera")
	e.times.SetText("1, 1/2, 1/0")
	if p.keepCamera(e) {
		t.Fatal("a camera with 1/0 was kept")
	}
	if w := e.wrong[plan.FieldTimes]; !w.Visible() || len(w.Text) < 10 {
		t.Errorf("nothing is said at the times: %q", w.Text)
	}
	e.times.SetText("1, 1/2, 1/4, 1/8, 1/15, 1/30, 1/60, 1/125, 1/250=1/210")
	e.apertures.SetText("5.6, 8, 11, 16, 22, 32")
	if !p.keepCamera(e) {
		t.Fatalf("not kept: %q %q", e.wrong[plan.FieldTimes].Text, e.wrong[plan.FieldApertures].Text)
	}
	if p.camera().Name != "Field camera" || p.form().Camera != "Field camera" {
		t.Errorf("chosen is %q", p.form().Camera)
	}
	own, err := p.store.Own()
	if err != nil || len(own) != 1 || own[0].Times[8] != "1/250=1/210" {
		t.Errorf("kept: %+v, %v", own, err)
	}
}

func TestOtherPicturesAndSpoiledFramesAreLogged(t *testing.T) {
	p := shown(t)
	if err := p.file.Put(plan.Shot{Number: 3, State: plan.Spoiled}, 0); err != nil {
		t.Fatal(err)
	}
	p.addOther(0)
	p.addOther(2)
	p.addOther(2)
	real, err := p.file.Real()
	if err != nil {
		t.Fatal(err)
	}
	var film []string
	for _, x := range real.Exposed {
		switch {
		case x.Test:
			film = append(film, "t")
		case x.Number > 0:
			film = append(film, "s")
		default:
			film = append(film, "o")
		}
	}
	if got := strings.Join(film, ""); got != "ottoosttttt" {
		t.Errorf("the film is %s, want ottoosttttt", got)
	}
	if n := len(p.otherRows(2)); n != 2 || len(p.otherRows(0)) != 1 || len(p.otherRows(3)) != 0 {
		t.Errorf("%d rows after frame 2, %d before all", n, len(p.otherRows(0)))
	}
}

func TestUnsavedPlanIsBackAfterTheEnd(t *testing.T) {
	test.NewTempApp(t)
	home, dir := t.TempDir(), t.TempDir()
	p := New(fyne.CurrentApp(), home, dir)
	p.fields[plan.FieldTitle].entry.SetText("Yard")
	if err := p.file.Put(plan.Shot{Number: 2, State: plan.Done, Setting: "1/250", Clock: "14:35"}, 0); err != nil {
		t.Fatal(err)
	}
	p.logged()
	p.fields[plan.FieldTo].entry.SetText("+4.") // and half typed
	p.Flush()                                   // as the timer does; the program is killed then
	p.keeper.drafts.Close()

	q := New(fyne.CurrentApp(), home, dir)
	if f := q.form(); f.Title != "Yard" || f.To != "+4." || !q.fields[plan.FieldTo].wrong.Visible() {
		t.Fatalf("back is %+v", f)
	}
	q.fields[plan.FieldTo].entry.SetText("+4")
	if s := q.file.Shot(2); s == nil || s.Setting != "1/250" || s.Clock != "14:35" {
		t.Fatalf("the log came back as %+v", s)
	}
	if q.now() == q.saved {
		t.Error("what came back counts as saved")
	}
	q.save(filepath.Join(dir, "yard.ladderplan"))
	q.Flush()
	if n := inProgress(t, home); n != 0 {
		t.Error("saved, and still in progress")
	}
	q.keeper.drafts.Close()
	if f := New(fyne.CurrentApp(), home, dir).form(); f.Title != "" {
		t.Errorf("a saved plan came back as unsaved: %+v", f)
	}
}

// inProgress returns how many plans that are not saved are kept in a settings folder.
func inProgress(t *testing.T, home string) int {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(home, "plan-in-progress*.json"))
	if err != nil {
		t.Fatal(err)
	}
	return len(found)
}

// Two programs that plan at the same time: neither's plan is lost when both are killed.
func TestTwoPlannersKeepTheirPlansApart(t *testing.T) {
	test.NewTempApp(t)
	home, dir := t.TempDir(), t.TempDir()
	p, q := New(fyne.CurrentApp(), home, dir), New(fyne.CurrentApp(), home, dir)
	p.fields[plan.FieldTitle].entry.SetText("Yard")
	p.Flush()
	q.fields[plan.FieldTitle].entry.SetText("Roof")
	q.Flush()
	for _, w := range []*Planner{p, q} {
		w.keeper.drafts.Close() // killed
	}
	titles := map[string]bool{}
	for i := range 2 {
		w := New(fyne.CurrentApp(), home, dir)
		titles[w.form().Title] = true
		if says := strings.Contains(w.status.Text, "Another plan"); says != (i == 0) {
			t.Errorf("window %d says %q", i, w.status.Text)
		}
		w.settled() // saved
		w.win.Close()
	}
	if !titles["Yard"] || !titles["Roof"] {
		t.Errorf("back came %v", titles)
	}
	if n := inProgress(t, home); n != 0 {
		t.Errorf("%d plans are still in progress", n)
	}
}

func TestWhatTheFormDoesNotMakeIsNotSaved(t *testing.T) {
	p := shown(t)
	p.fields[plan.FieldTo].entry.SetText("a lot")
	p.askSave()
	top := p.win.Canvas().Overlays().Top()
	if top == nil || p.wrong != 1 {
		t.Fatalf("%d wrong; a plan that is not the form's could be saved", p.wrong)
	}
	var words strings.Builder
	for _, o := range test.LaidOutObjects(top) {
		if l, ok := o.(*widget.Label); ok {
			words.WriteString(l.Text + "\n")
		}
	}
	if !strings.Contains(words.String(), "one field cannot be used yet") {
		t.Errorf("told: %s", words.String())
	}
}

func TestLoggedFramesThatAreNotPlannedAnyMore(t *testing.T) {
	p := shown(t)
	if err := p.file.Put(plan.Shot{Number: 8, State: plan.Done, Setting: "1/2"}, 0); err != nil {
		t.Fatal(err)
	}
	p.logged()
	p.fields[plan.FieldTo].entry.SetText("+2") // six frames are left
	if n := len(p.orphanRows()); n != 1 {
		t.Fatalf("%d rows of frames that are not planned", n)
	}
	path := filepath.Join(t.TempDir(), "a.ladderplan")
	p.save(path)
	if _, err := os.Stat(path); err == nil {
		t.Error("a plan was saved whose log it contradicts")
	}
	p.fields[plan.FieldTo].entry.SetText("+4")
	if s := p.file.Shot(8); s == nil || s.Setting != "1/2" || len(p.orphanRows()) != 0 {
		t.Errorf("the entry did not come back with its frame: %+v", s)
	}
}

func TestPlanOfAnUnknownCameraKeepsItsExposures(t *testing.T) {
	p := shown(t)
	own := plan.Camera{Name: "Borrowed", Times: []string{"1", "1/2", "1/5", "1/10", "1/25", "1/50", "1/100", "1/300"}, Apertures: []string{"4.5", "6.3", "9", "12.5", "18", "25"}}
	f, err := plan.New(plan.Form{Meter: "EV 12", ISO: "100", Camera: "Borrowed", From: "-2", To: "+2", Step: "1"}, []plan.Camera{own})
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "b.ladderplan")
	if err := f.Save(path); err != nil {
		t.Fatal(err)
	}
	p.open(path)
	if p.wrong > 0 || len(p.file.Plan.Frames) != 5 || p.file.Plan.Frames[1].Exact() != f.Plan.Frames[1].Exact() || p.form().Camera != "Borrowed" {
		t.Errorf("%d wrong, camera %q, %+v", p.wrong, p.form().Camera, p.file.Plan.Frames)
	}
	if p.now() != p.saved {
		t.Error("a plan that was just opened counts as unsaved")
	}
}

func TestTimesAndTheLightAtTheEndAreLogged(t *testing.T) {
	p := shown(t)
	p.showLog()
	find := func(hint string, nth int) *entry {
		t.Helper()
		for _, o := range test.LaidOutObjects(p.shots) {
			if e, ok := o.(*entry); ok && e.PlaceHolder == hint {
				if nth--; nth < 0 {
					return e
				}
			}
		}
		t.Fatalf("no field %q", hint)
		return nil
	}
	find("14:35", 2).SetText("25:00")
	if s := p.file.Shot(3); s != nil && s.Clock != "" {
		t.Errorf("25:00 was taken: %+v", s)
	}
	find("14:35", 2).SetText("14:40")
	if s := p.file.Shot(3); s == nil || s.Clock != "14:40" || s.State != plan.Done {
		t.Errorf("%+v", s)
	}
	find("the meter once more, after the last frame", 0).SetText("EV 14")
	find("14:50", 0).SetText("15:02")
	find("weather, focus, whatever the pictures will not say", 0).SetText("haze")
	last := p.real
	if !strings.Contains(last.Text, "changed by \u22121.00 stop") || strings.Contains(last.Text, " -1") {
		t.Errorf("under the log stands %q", last.Text)
	}
	if l := p.file.Log; l.Light == nil || l.Light.Meter != "EV 14" || l.Light.Clock != "15:02" || l.Note != "haze" {
		t.Errorf("%+v", l)
	}
}

// What was only looked at, or opened and left as it is, is not in progress.
func TestNothingTypedIsNothingKept(t *testing.T) {
	test.NewTempApp(t)
	home, dir := t.TempDir(), t.TempDir()
	p := New(fyne.CurrentApp(), home, dir)
	kept := func(when string) {
		t.Helper()
		p.Flush()
		if n := inProgress(t, home); n != 0 {
			t.Errorf("%s: a plan is in progress", when)
		}
	}
	kept("after the window was opened")
	path := filepath.Join(dir, "a.ladderplan")
	p.fields[plan.FieldTitle].entry.SetText("Yard")
	p.save(path)
	kept("after saving")
	p.startNew()
	kept("after a new plan was begun")
	p.open(path)
	kept("after a plan was opened")
	p.fields[plan.FieldTitle].entry.SetText("Yards")
	p.fields[plan.FieldTitle].entry.SetText("Yard")
	kept("after a change was taken back")
}

// Everything that is planned and logged is taken back and done again, a stretch of typing
// at a time, from the keys of an entry as well; saving forgets no step, another plan does.
func TestPlansAreTakenBack(t *testing.T) {
	p := shown(t)
	if p.undo(); p.form().Title != "" || !p.undoButton.Disabled() {
		t.Error("there is something to take back at first")
	}
	title := p.fields[plan.FieldTitle].entry
	for _, s := range []string{"Y", "Ya", "Yard"} {
		title.SetText(s)
	}
	p.fields[plan.FieldStep].pick.SetSelected("1/2")
	frames := len(p.file.Plan.Frames)
	p.base.SetChecked(true)
	if err := p.file.Put(plan.Shot{Number: 2, State: plan.Done, Setting: "1/250"}, 0); err != nil {
		t.Fatal(err)
	}
	p.logged()
	p.addOther(2)
	p.fields[plan.FieldTo].entry.SetText("nowhere") // the form makes no plan
	p.save(filepath.Join(t.TempDir(), "a.ladderplan"))
	for i, want := range []func() bool{
		func() bool { return p.form().To == "+4" && p.wrong == 0 },
		func() bool { return len(p.file.Log.Shots) == 1 && p.otherRows(2) == nil },
		func() bool { return p.file.Log == nil || len(p.file.Log.Shots) == 0 },
		func() bool { return !p.form().BaseAgain && p.file.Log == nil },
		func() bool { return p.form().Step == "1" && len(p.file.Plan.Frames) < frames },
		func() bool { return p.form().Title == "" && p.undoButton.Disabled() },
	} {
		title.TypedShortcut(&fyne.ShortcutUndo{})
		if !want() {
			t.Errorf("step %d back: %+v, log %+v", i+1, p.form(), p.file.Log)
		}
	}
	for range 6 {
		title.TypedShortcut(redoKey)
	}
	if f := p.form(); f.Title != "Yard" || f.Step != "1/2" || f.To != "nowhere" || len(p.log.Shots) != 2 || !p.redoButton.Disabled() {
		t.Errorf("done again: %+v, log %+v", f, p.log)
	}
	p.undo()
	if p.wrong != 0 || p.file.Shot(2) == nil {
		t.Errorf("back at a plan: %d wrong, %+v", p.wrong, p.file.Log)
	}
	p.settled()
	p.startNew()
	if p.undo(); p.form().Title != "" {
		t.Error("a new plan goes back to the one before")
	}
}
