package roll

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"stopladder/analysis/disk/wholefile"
)

// leftovers lists what is in dir beside the named files.
func leftovers(t *testing.T, dir string, known ...string) (out []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
next:
	for _, e := range entries {
		for _, k := range known {
			if e.Name() == k {
				continue next
			}
		}
		out = append(out, e.Name())
	}
	return out
}

func titled(title string) *Roll {
	return &Roll{Title: title, Frames: []Frame{}}
}

func titleOf(t *testing.T, path string) string {
	t.Helper()
	r, problems, err := Load(path)
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	return r.Title
}

// noLink is a file system without hard links.
func noLink(_, _ string) error { return syscall.EPERM }

func TestPreviousVersionIsKept(t *testing.T) {
	for name, d := range map[string]wholefile.Disk{
		"links":    wholefile.Real,
		"no links": {Write: wholefile.Real.Write, Rename: os.Rename, Link: noLink},
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "a.stopladder")
		for _, title := range []string{"one", "two", "two", "three"} {
			if err := titled(title).save(path, d, false); err != nil {
				t.Fatal(name, err)
			}
			if title == "two" {
				if was := titleOf(t, PreviousPath(path)); was != "one" {
					t.Errorf("%s: previous is %q after saving two, twice", name, was)
				}
			}
		}
		if is, was := titleOf(t, path), titleOf(t, PreviousPath(path)); is != "three" || was != "two" {
			t.Errorf("%s: file %q, previous %q", name, is, was)
		}
		if l := leftovers(t, dir, "a.stopladder", "a.previous.stopladder"); len(l) > 0 {
			t.Errorf("%s: left %v", name, l)
		}
	}
}

func TestFailedSaveLeavesTheFile(t *testing.T) {
	full := fmt.Errorf("write: %w", syscall.ENOSPC)
	for name, c := range map[string]struct {
		d    wholefile.Disk
		says string
	}{
		"disk full": {wholefile.Disk{Write: func(f *os.File, text []byte) (int, error) {
			n, _ := f.Write(text[:len(text)/2])
			return n, full
		}, Rename: os.Rename, Link: os.Link}, "the disk is full"},
		"rename": {wholefile.Disk{Write: wholefile.Real.Write, Rename: func(_, _ string) error { return syscall.EACCES }, Link: os.Link}, "cannot be written"},
		"held": {wholefile.Disk{Write: wholefile.Real.Write, Rename: func(_, _ string) error { return syscall.EBUSY }, Link: os.Link,
			InUse: func(err error) bool { return errors.Is(err, syscall.EBUSY) }}, "another program has it open"},
		"no room for the previous version": {wholefile.Disk{Write: func() func(f *os.File, text []byte) (int, error) {
			n := 0
			return func(f *os.File, text []byte) (int, error) {
				if n++; n > 1 {
					return 0, full
				}
				return wholefile.Real.Write(f, text)
			}
		}(), Rename: os.Rename, Link: noLink}, "the disk is full"},
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "a.stopladder")
		if err := titled("old").Save(path); err != nil {
			t.Fatal(err)
		}
		r := titled("new")
		err := r.save(path, c.d, false)
		if err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "a.stopladder") {
			t.Errorf("%s: %v", name, err)
		}
		if got := titleOf(t, path); got != "old" {
			t.Errorf("%s: the file is %q", name, got)
		}
		if l := leftovers(t, dir, "a.stopladder"); len(l) > 0 {
			t.Errorf("%s: left %v", name, l)
		}
		if r.Path() != "" {
			t.Errorf("%s: the roll thinks that it was saved", name)
		}
		if err := r.Save(path); err != nil {
			t.Errorf("%s: saving again: %v", name, err)
		}
	}
}

func TestSaveWhereNothingCanBeWritten(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	os.WriteFile(file, nil, 0o666)
	os.Mkdir(filepath.Join(dir, "folder"+Ext), 0o777)
	paths := map[string]string{
		"below a file": filepath.Join(file, "a"+Ext), "no folder": filepath.Join(dir, "none", "a"+Ext), "a folder": filepath.Join(dir, "folder"+Ext),
	}
	if runtime.GOOS == "linux" {
		paths["read-only file system"] = "/sys/kernel/a" + Ext // not even root writes there
	}
	if os.Geteuid() > 0 {
		locked := filepath.Join(dir, "locked")
		os.Mkdir(locked, 0o555)
		paths["read-only folder"] = filepath.Join(locked, "a"+Ext)
	}
	for name, path := range paths {
		err := titled("x").Save(path)
		if err == nil || !strings.Contains(err.Error(), filepath.Base(path)) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSaveFollowsALink(t *testing.T) {
	dir := t.TempDir()
	real, link := filepath.Join(dir, "real"+Ext), filepath.Join(dir, "link"+Ext)
	if err := titled("old").Save(real); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(real, link); err != nil {
		t.Skip(err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Skip("the system says that it made a link, and did not") // Wine 8
	}
	if err := titled("new").Save(link); err != nil {
		t.Fatal(err)
	}
	if got := titleOf(t, real); got != "new" {
		t.Errorf("behind the link is %q", got)
	}
	if info, _ := os.Lstat(link); info.Mode()&os.ModeSymlink == 0 {
		t.Error("the link was replaced")
	}
}

func TestSaveKeepsTheMode(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("modes of Unix")
	}
	path := filepath.Join(t.TempDir(), "a"+Ext)
	titled("one").Save(path)
	os.Chmod(path, 0o640)
	titled("two").Save(path)
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o640 {
		t.Errorf("mode %v", info.Mode())
	}
}

func TestConcurrentSaves(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	long := strings.Repeat("note ", 2000)
	if err := titled("0").Save(path); err != nil {
		t.Fatal(err)
	}
	var saving sync.WaitGroup
	for n := range 8 {
		saving.Go(func() {
			for i := range 10 {
				r := &Roll{Title: fmt.Sprint(n), Frames: []Frame{{File: filepath.Join(dir, fmt.Sprint(n, i)), Note: long, Origin: ByHand}}}
				if err := r.Save(path); err != nil {
					t.Error(err)
				}
			}
		})
	}
	stop := make(chan struct{})
	var reading sync.WaitGroup
	reading.Go(func() {
		for {
			select {
			case <-stop:
				return
			default:
			}
			if _, problems, err := Load(path); err != nil || len(problems) > 0 {
				t.Errorf("read while saving: %v %v", err, problems)
				return
			}
		}
	})
	saving.Wait()
	close(stop)
	reading.Wait()
	titleOf(t, path)
	titleOf(t, PreviousPath(path))
	if l := leftovers(t, dir, "a.stopladder", "a.previous.stopladder"); len(l) > 0 {
		t.Errorf("left %v", l)
	}
}

func TestOldLeftoversAreSwept(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	old, fresh, foreign := ".stopladder-OLD.part", ".stopladder-NEW.part", ".other-OLD.part"
	for _, n := range []string{old, fresh, foreign} {
		os.WriteFile(filepath.Join(dir, n), nil, 0o666)
		if n != fresh {
			past := time.Now().Add(-2 * wholefile.StaleAfter)
			os.Chtimes(filepath.Join(dir, n), past, past)
		}
	}
	if err := titled("x").Save(path); err != nil {
		t.Fatal(err)
	}
	if l := leftovers(t, dir, "a.stopladder"); strings.Join(l, " ") != foreign+" "+fresh {
		t.Errorf("left %v", l)
	}
}

// TestMain lets the tests kill a program of their own: with the variable set, the
// test binary does one thing and dies.
func TestMain(m *testing.M) {
	die := func() {
		p, err := os.FindProcess(os.Getpid())
		if err == nil {
			p.Kill()
		}
		select {}
	}
	arg := os.Getenv("ROLL_TEST_ARG")
	switch os.Getenv("ROLL_TEST_DIE") {
	case "":
		os.Exit(m.Run())
	case "before rename":
		d := wholefile.Real
		d.Rename = func(from, to string) error {
			if to == arg {
				die()
			}
			return os.Rename(from, to)
		}
		titled("new").save(arg, d, false)
	case "with work":
		j, err := OpenJournal(arg)
		if err == nil {
			err = j.Keep(titled("unsaved"), filepath.Join(arg, "a"+Ext))
		}
		if err == nil {
			die()
		}
		fmt.Fprintln(os.Stderr, err)
	}
	os.Exit(3)
}

// killed runs the test binary until it kills itself.
func killed(t *testing.T, how, arg string) {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "ROLL_TEST_DIE="+how, "ROLL_TEST_ARG="+arg)
	out, err := c.CombinedOutput()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() == 3 {
		t.Fatalf("did not die as meant: %v %s", err, out)
	}
}

func TestKilledBetweenWriteAndRename(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	if err := titled("old").Save(path); err != nil {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(path)
	killed(t, "before rename", path)
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Errorf("the file changed:\n%s", after)
	}
	if l := leftovers(t, dir, "a.stopladder", "a.previous.stopladder", ".stopladder-a.stopladder.lock"); len(l) != 1 || !strings.HasSuffix(l[0], ".part") {
		t.Errorf("left %v; the file that was being written should be there, or nothing was tested", l)
	}
	if err := titled("newer").Save(path); err != nil {
		t.Fatal(err)
	}
	if is, was := titleOf(t, path), titleOf(t, PreviousPath(path)); is != "newer" || was != "old" {
		t.Errorf("file %q, previous %q", is, was)
	}
}
