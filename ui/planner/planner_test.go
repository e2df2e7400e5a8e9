package planner

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/plan"
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
	last, ok := q.shots.Objects[len(q.shots.Objects)-1].(*widget.Label)
	if !ok || !strings.Contains(last.Text, "Real stops that differ") {
		t.Errorf("under the log stands %+v", last)
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
