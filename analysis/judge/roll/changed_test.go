package roll

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Two judges have one roll file open. The second who saves is told, nothing is written,
// and whichever version is kept, the other's stays in a file that no later save removes.
func TestChangedOnDisk(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a"+Ext)
	first := &Roll{Title: "yard", Frames: []Frame{{File: filepath.Join(dir, "0.tif"), Origin: ByHand}}}
	if err := first.Save(path); err != nil {
		t.Fatal(err)
	}
	open := func() *Roll {
		r, _, err := Load(path)
		if err != nil {
			t.Fatal(err)
		}
		return r.Clone() // as the window does
	}
	a, b := open(), open()
	a.Frames[0].Verdict, a.Frames[0].Note = Breaks, "mud"
	b.Frames[0].Verdict = Holds
	b.SetRange(-1, 2)
	if err := a.Save(path); err != nil {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(path)
	var changed *ChangedError
	if err := b.Save(path); !errors.As(err, &changed) || changed.Theirs == nil || !strings.Contains(err.Error(), "changed by another program") {
		t.Fatalf("the second save: %v", err)
	}
	if now, _ := os.ReadFile(path); string(now) != string(before) {
		t.Fatal("the first judge's work was written over")
	}
	diff := Differences(changed.Theirs, b)
	if len(diff) != 2 || !strings.Contains(diff[0].Theirs, "Breaks, mud") || !strings.Contains(diff[0].Mine, "Holds") || diff[1].Mine == "" || diff[1].Theirs != "" {
		t.Errorf("side by side: %+v", diff)
	}
	if err := b.SaveOver(path); err != nil {
		t.Fatal(err)
	}
	for range 3 { // later saves leave the other judge's work alone
		b.Frames[0].Note += "!"
		if err := b.Save(path); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(filepath.Join(dir, "a.other"+Ext))
	if err != nil || string(kept) != string(before) {
		t.Errorf("the other judge's work is gone: %v", err)
	}
	a.Frames[0].Note = "still mud"
	if err := a.Save(path); !errors.As(err, &changed) {
		t.Errorf("the first judge saves again: %v", err)
	}
	if err := a.SaveOver(path); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "a.other 2"+Ext)); err != nil {
		t.Error(err)
	}
	os.Remove(path)
	if err := a.Save(path); err != nil {
		t.Errorf("a file that was removed is written anew: %v", err)
	}
}

// What another program saved after a crash is not written over by recovered work either.
func TestRecoveredKnowsItsVersion(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a"+Ext)
	r := &Roll{Title: "yard", Frames: []Frame{{File: filepath.Join(dir, "0.tif"), Origin: ByHand}}}
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	j, err := OpenJournal(filepath.Join(dir, "recovery"))
	if err != nil {
		t.Fatal(err)
	}
	r.Title = "yard, again"
	if err := j.Keep(r, path); err != nil {
		t.Fatal(err)
	}
	j.lockFile.Close() // it dies
	other, _, _ := Load(path)
	other.Title = "somebody else's"
	if err := other.Save(path); err != nil {
		t.Fatal(err)
	}
	next, err := OpenJournal(filepath.Join(dir, "recovery"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { next.Close() })
	found := orphans(t, next, 1)
	var changed *ChangedError
	if err := found[0].Roll.Save(found[0].SavedAs); !errors.As(err, &changed) {
		t.Errorf("recovered work: %v", err)
	}
}
