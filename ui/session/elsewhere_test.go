package session

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
)

func has(s *State, id string) bool {
	return slices.ContainsFunc(s.Notices(), func(n Notice) bool { return n.ID == id })
}

// What is not about the open roll is still told when another one is opened.
func TestLastingNotices(t *testing.T) {
	s := New(load.Options{})
	s.Apply(Notify{Notice{ID: "roll's", Text: "x."}})
	s.Apply(Notify{Notice{ID: "journal", Text: "Recovery copies cannot be kept.", Lasting: true}})
	if s.Notices()[0].ID != "journal" {
		t.Error("it does not stand first")
	}
	s.Apply(Open{Job: load.Of(&roll.Roll{})})
	if !has(s, "journal") || has(s, "roll's") {
		t.Errorf("after opening a roll: %+v", s.Notices())
	}
	s.Apply(Close{})
	s.Apply(CloseNotice{ID: "journal"})
	if has(s, "journal") {
		t.Error("closed, and still there")
	}
}

// Scans on other machines are asked about, and looked for once the person says so.
func TestElsewhereIsAsked(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	write(t, path, `{"format":"stopladder roll","version":1,"frames":[{"file":"//host/share/x.tif","stop":0}]}`)
	job, err := load.Plan([]string{path}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := New(load.Options{})
	s.Apply(Open{Job: job})
	if !has(s, elsewhereID) || s.Unsaved() {
		t.Fatalf("%+v", s.Notices())
	}
	s.Apply(LookElsewhere{})
	if has(s, elsewhereID) || s.Roll().Frames[0].File != filepath.Clean("/host/share/x.tif") || s.Unsaved() {
		t.Errorf("%s, unsaved %v", s.Roll().Frames[0].File, s.Unsaved())
	}
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// The hashes that the program adds to a saved roll by itself are no reason to write over
// what another program saved, nor to stop the judge with an error.
func TestHashesDoNotWriteOverOthers(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.stopladder")
	mine := &roll.Roll{Title: "mine", Frames: []roll.Frame{}}
	if err := mine.Save(path); err != nil {
		t.Fatal(err)
	}
	other, _, err := roll.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	other.Title = "theirs"
	if err := other.Save(path); err != nil {
		t.Fatal(err)
	}
	mine.Date = "2026"
	c, err := save(mine).Do(t.Context(), nil)
	if n, ok := c.(Notify); err != nil || !ok || !strings.Contains(n.Text, "changed by another program") {
		t.Errorf("%+v, %v", c, err)
	}
	if now, _, err := roll.Load(path); err != nil || now.Title != "theirs" {
		t.Error("written over", err)
	}
}
