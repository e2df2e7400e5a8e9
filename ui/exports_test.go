package ui

import (
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/stills"
	"stopladder/analysis/show/webreport"
	"stopladder/ui/ask"
	"stopladder/ui/clip"
	"stopladder/ui/session"
)

// actionsOf are the words of what a notice offers.
func actionsOf(w *Window, id string) (out []string) {
	for _, n := range w.state.Notices() {
		if n.ID == id {
			for _, a := range n.Actions {
				out = append(out, a.Words)
			}
		}
	}
	return out
}

// Stills and the page for browsers are written from the window, and what comes next is
// offered; a picture of somebody else stays, and then nothing is written.
func TestStillsAndReportFromTheWindow(t *testing.T) {
	dir := folder(t, "-1.tif", "0.tif", "+1.tif")
	w := open(t, Options{Paths: []string{dir}})
	settled(t, w)
	set, err := w.state.Stills(stills.Options{W: 640, H: 360, Grades: []criteria.Grade{"", criteria.Curves}})
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "new", "stills")
	w.exportStills(set, to)
	settled(t, w)
	if got := len(names(t, to)); got != 6 {
		t.Fatalf("%d files of 6 stills: %v", got, names(t, to))
	}
	if a := strings.Join(actionsOf(w, "exported stills"), ", "); a != "Show folder" {
		t.Errorf("after the stills: %q", a)
	}
	first := filepath.Join(to, set.List()[0].Name)
	text, err := os.ReadFile(filepath.Join(dir, "0.tif"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(first, text, 0o600); err != nil {
		t.Fatal(err)
	}
	w.exportStills(set, to)
	settled(t, w)
	if now, _ := os.ReadFile(first); string(now) != string(text) {
		t.Error("a picture of somebody else was written over")
	}
	page := filepath.Join(dir, "page.html")
	w.exportReport(page, webreport.Options{Version: "1"})
	settled(t, w)
	if text, err := os.ReadFile(page); err != nil || !strings.HasPrefix(string(text), "<!DOCTYPE html>") {
		t.Error("no page", err)
	}
	if a := strings.Join(actionsOf(w, "exported report"), ", "); a != "Open, Show folder" {
		t.Errorf("after the report: %q", a)
	}
	w.exported("sheet", filepath.Join(dir, "x.PNG"), false)
	if a := strings.Join(actionsOf(w, "exported sheet"), ", "); a != "Open, Copy picture, Show folder" {
		t.Errorf("after a picture: %q", a)
	}
	seen := &openedBy{App: w.app}
	w.app = seen
	for _, n := range w.state.Notices() {
		if n.ID == "exported sheet" {
			for _, a := range n.Actions {
				a.Run()
			}
		}
	}
	settled(t, w)
	if want := "file://" + filepath.ToSlash(dir); len(seen.urls) != 2 || seen.urls[0] != want+"/x.PNG" || seen.urls[1] != want {
		t.Errorf("opened %v", seen.urls)
	}
	told := ""
	for _, o := range test.LaidOutObjects(w.win.Canvas().Overlays().Top()) {
		if l, ok := o.(*widget.Label); ok {
			told += l.Text
		}
	}
	if !strings.Contains(told, "x.PNG") { // which is not there
		t.Errorf("of the picture to be copied it says %q", told)
	}
	if err := clip.File(filepath.Join(dir, "none.png")); err == nil {
		t.Error("a picture that is not there was copied")
	}
}

// openedBy notes what is given to the system to be opened.
type openedBy struct {
	fyne.App
	urls []string
}

func (o *openedBy) OpenURL(u *url.URL) error {
	o.urls = append(o.urls, u.String())
	return nil
}

func names(t *testing.T, dir string) (out []string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		out = append(out, e.Name())
	}
	return out
}

// What the stills will be is told while it is chosen.
func TestStillFormTells(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	f := w.newStillForm()
	if !strings.HasPrefix(f.count.Text, "12 stills.") || !strings.Contains(f.count.Text, "smaller") {
		t.Errorf("it tells %q", f.count.Text)
	}
	for _, c := range f.shown {
		c.SetChecked(false)
	}
	if !strings.Contains(f.count.Text, "choose how") || len(f.grades()) != 0 {
		t.Errorf("of nothing it tells %q", f.count.Text)
	}
}

// The finding begins as it was measured, and what the judge makes of it is kept and undone.
func TestFindingInTheJudgesWords(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	settled(t, w)
	measured := w.state.MeasuredFinding()
	if measured == "" {
		t.Fatal("nothing was measured")
	}
	w.editFinding()
	words, ok := w.win.Canvas().Focused().(*ask.Entry)
	if !ok || words.Text != measured {
		t.Fatalf("the card has %v", w.win.Canvas().Focused())
	}
	words.SetText("")
	test.Type(words, "More light")
	words.TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn}) // a new line, not the answer
	test.Type(words, "always.")
	words.OnKeep()
	if text, _ := w.state.Roll().OwnFinding(); text != "More light\nalways." {
		t.Errorf("kept %q", text)
	}
	w.apply(session.Undo{})
	if text, _ := w.state.Roll().OwnFinding(); text != "" {
		t.Errorf("undone it is %q", text)
	}
	w.apply(session.SetFinding{Text: measured + "\n"})
	if text, _ := w.state.Roll().OwnFinding(); text != "" || w.state.Redoes() == "" {
		t.Errorf("the measured words are nobody's: %q", text)
	}
}
