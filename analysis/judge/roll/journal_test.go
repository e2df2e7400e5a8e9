package roll

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"syscall"
	"testing"
	"time"

	"stopladder/analysis/disk/wholefile"
)

func open(t *testing.T, dir string) *Journal {
	t.Helper()
	j, err := OpenJournal(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	return j
}

func orphans(t *testing.T, j *Journal, want int) []*Recovered {
	t.Helper()
	rs, err := j.Orphans()
	if err != nil {
		t.Fatal(err)
	}
	if len(rs) != want {
		t.Fatalf("%d orphans, want %d", len(rs), want)
	}
	t.Cleanup(func() { // where an open file cannot be removed, nor can its folder
		for _, r := range rs {
			r.release()
		}
	})
	return rs
}

// release leaves the copy for another time.
func (r *Recovered) release() error {
	if r.lockFile == nil {
		return nil
	}
	err := r.lockFile.Close()
	r.lockFile = nil
	return err
}

func TestWorkSurvivesAKill(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "recovery")
	killed(t, "with work", dir)
	one, two := open(t, dir), open(t, dir)
	rs := orphans(t, one, 1)
	if rs[0].Roll.Title != "unsaved" || rs[0].SavedAs != filepath.Join(dir, "a"+Ext) || time.Since(rs[0].When) > time.Minute {
		t.Errorf("recovered %+v", rs[0])
	}
	orphans(t, two, 0) // reserved to the first window
	if err := rs[0].release(); err != nil {
		t.Fatal(err)
	}
	rs = orphans(t, two, 1)
	orphans(t, one, 0)
	if err := rs[0].Discard(); err != nil {
		t.Fatal(err)
	}
	orphans(t, one, 0)
	one.Close()
	two.Close()
	if l := leftovers(t, dir); len(l) > 0 {
		t.Errorf("left %v", l)
	}
}

func TestRunningSessionsKeepTheirWork(t *testing.T) {
	dir := t.TempDir()
	one, two := open(t, dir), open(t, dir)
	r := sample(t.TempDir())
	for range 3 {
		if err := one.Keep(r, ""); err != nil {
			t.Fatal(err)
		}
	}
	orphans(t, two, 0)
	orphans(t, one, 0)
	one.Close() // a session that ends with a copy not cleared
	rs := orphans(t, two, 1)
	if !reflect.DeepEqual(rs[0].Roll, r) {
		t.Errorf("recovered %+v\nkept %+v", rs[0].Roll, r)
	}
	if err := two.Keep(rs[0].Roll, rs[0].SavedAs); err != nil {
		t.Fatal(err)
	}
	rs[0].Discard()
	if err := two.Clear(); err != nil {
		t.Fatal(err)
	}
	if err := two.Clear(); err != nil {
		t.Fatal(err)
	}
	two.Close()
	if l := leftovers(t, dir); len(l) > 0 {
		t.Errorf("left %v", l)
	}
	if err := two.Keep(r, ""); err == nil {
		t.Error("a closed journal keeps")
	}
}

func TestKeepFailsClearly(t *testing.T) {
	dir := t.TempDir()
	j := open(t, dir)
	if err := j.Keep(titled("first"), ""); err != nil {
		t.Fatal(err)
	}
	full := wholefile.Disk{Write: func(*os.File, []byte) (int, error) { return 0, fmt.Errorf("write: %w", syscall.ENOSPC) }, Rename: os.Rename, Link: os.Link}
	if err := j.keep(titled("second"), "", full); err == nil || !strings.Contains(err.Error(), "save the roll now") {
		t.Errorf("%v", err)
	}
	j.Close()
	if rs := orphans(t, open(t, dir), 1); rs[0].Roll.Title != "first" {
		t.Errorf("recovered %q", rs[0].Roll.Title)
	} else {
		rs[0].release()
	}
	file := filepath.Join(t.TempDir(), "file")
	os.WriteFile(file, nil, 0o666)
	if _, err := OpenJournal(filepath.Join(file, "recovery")); err == nil {
		t.Error("a journal below a file")
	}
}

func TestDamagedCopiesAreKept(t *testing.T) {
	dir := t.TempDir()
	for i, text := range []string{"", "{", `{"format":"other"}`, `{"format":"stopladder recovery","version":9}`, `{"format":"stopladder recovery","version":1,"roll":{}}`, `{"format":"stopladder recovery","version":1}`} {
		os.WriteFile(filepath.Join(dir, fmt.Sprintf("session-%d-1.recovery", i)), []byte(text), 0o600)
	}
	os.WriteFile(filepath.Join(dir, "readme.recovery"), nil, 0o600) // nobody's session
	killed(t, "with work", dir)
	j := open(t, dir)
	rs, err := j.Orphans()
	if len(rs) != 1 || err == nil || strings.Count(err.Error(), ".damaged") != 6 {
		t.Fatalf("%d orphans, %v", len(rs), err)
	}
	rs[0].release()
	orphans(t, j, 1) // and nothing is told again
	if got, _ := filepath.Glob(filepath.Join(dir, "*.damaged")); len(got) != 6 {
		t.Errorf("kept %v", got)
	}
}

func TestOldLocksAreSwept(t *testing.T) {
	dir := t.TempDir()
	lock := filepath.Join(dir, "session-1-1.lock")
	os.WriteFile(lock, nil, 0o600)
	j, other := open(t, dir), open(t, dir)
	past := time.Now().Add(-2 * wholefile.StaleAfter)
	orphans(t, j, 0)
	if _, err := os.Stat(lock); err != nil {
		t.Error("a session that may be just beginning lost its lock")
	}
	os.Chtimes(lock, past, past)
	os.Chtimes(other.lockFile.Name(), past, past)
	orphans(t, j, 0)
	if _, err := os.Stat(lock); err == nil {
		t.Error("the lock of a dead session stays")
	}
	if _, err := os.Stat(other.lockFile.Name()); err != nil {
		t.Error("a long session lost its lock")
	}
}
