package wholefile

import (
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"
)

func TestWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.csv")
	put := func(s string, fail error) error {
		return Write(path, func(w io.Writer) error {
			if _, err := io.WriteString(w, s); err != nil {
				return err
			}
			return fail
		})
	}
	if err := put("first", nil); err != nil {
		t.Fatal(err)
	}
	full := errors.New("no space left on device")
	err := put("second half", full)
	if !errors.Is(err, full) || !strings.Contains(err.Error(), "out.csv cannot be written") {
		t.Errorf("got %v", err)
	}
	if b, _ := os.ReadFile(path); string(b) != "first" {
		t.Errorf("after a failure the file holds %q", b)
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("%d files are left in the folder", len(left))
	}
}

func TestMissingFolderIsExplained(t *testing.T) {
	err := Write(filepath.Join(t.TempDir(), "gone", "a.png"), func(io.Writer) error { return nil })
	var e *Error
	if !errors.As(err, &e) || e.Name != "a.png" || !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}

// The umask of whoever runs the program does not narrow a file that others share.
func TestModeIsKept(t *testing.T) {
	unix(t)
	path := filepath.Join(t.TempDir(), "shared")
	for range 2 {
		if err := Write(path, func(io.Writer) error { return nil }); err != nil {
			t.Fatal(err)
		}
		if info, _ := os.Stat(path); info.Mode().Perm() == 0o666 {
			t.Skip("there is no umask here")
		}
	}
	os.Chmod(path, 0o666)
	if err := Write(path, func(io.Writer) error { return nil }); err != nil {
		t.Fatal(err)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o666 {
		t.Errorf("mode %v", info.Mode())
	}
}

// What is no file is never replaced by one, not even by a user who could: it takes what
// is written to it.
func TestDevicesAreWrittenThrough(t *testing.T) {
	unix(t)
	link := filepath.Join(t.TempDir(), "a.png")
	if err := os.Symlink(os.DevNull, link); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{link, os.DevNull} {
		if err := Write(path, hello); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
	for _, path := range []string{os.DevNull, "/dev/full"} {
		if info, err := os.Stat(path); err != nil || info.Mode()&os.ModeCharDevice == 0 {
			t.Errorf("the device is %v, %v", info, err)
		}
	}
	if err := Write("/dev/full", hello); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("a full device: %v", err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is %v, %v", info, err)
	}
	if err := Write(t.TempDir(), hello); err == nil || !strings.Contains(err.Error(), "no ordinary file") {
		t.Errorf("a folder: %v", err)
	}
}

func hello(w io.Writer) error {
	_, err := io.WriteString(w, "hello")
	return err
}

func unix(t *testing.T) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("devices, pipes and modes of Unix")
	}
}

func TestPipeIsWrittenThrough(t *testing.T) {
	unix(t)
	path := filepath.Join(t.TempDir(), "pipe")
	if out, err := exec.Command("mkfifo", path).CombinedOutput(); err != nil {
		t.Skip("no mkfifo here: ", string(out))
	}
	was := readerWait
	readerWait = 30 * time.Millisecond
	defer func() { readerWait = was }()
	if err := Write(path, hello); err == nil || !strings.Contains(err.Error(), "nobody reads from this pipe") {
		t.Errorf("without a reader: %v", err)
	}
	got := make(chan string)
	go func() { // its reader comes late
		time.Sleep(10 * time.Millisecond)
		b, _ := os.ReadFile(path)
		got <- string(b)
	}()
	readerWait = 5 * time.Second
	if err := Write(path, hello); err != nil {
		t.Fatal(err)
	}
	if s := <-got; s != "hello" {
		t.Errorf("the reader got %q", s)
	}
	if info, _ := os.Lstat(path); info.Mode()&os.ModeNamedPipe == 0 {
		t.Errorf("the pipe became %v", info.Mode())
	}
}

// A link stays a link, also one to what is not there yet; the file behind it is replaced.
func TestLinksAreFollowed(t *testing.T) {
	unix(t)
	dir := t.TempDir()
	os.Mkdir(filepath.Join(dir, "real"), 0o700)
	os.Symlink("real/b", filepath.Join(dir, "a"))
	os.Symlink("a", filepath.Join(dir, "first"))
	for range 2 { // new, and then over it
		if err := Write(filepath.Join(dir, "first"), hello); err != nil {
			t.Fatal(err)
		}
		for _, l := range []string{"a", "first"} {
			if info, err := os.Lstat(filepath.Join(dir, l)); err != nil || info.Mode()&os.ModeSymlink == 0 {
				t.Errorf("%s is %v, %v", l, info, err)
			}
		}
		if b, err := os.ReadFile(filepath.Join(dir, "real", "b")); string(b) != "hello" {
			t.Errorf("behind them stands %q, %v", b, err)
		}
	}
	os.Symlink("c", filepath.Join(dir, "c"))
	if err := Write(filepath.Join(dir, "c"), hello); err == nil {
		t.Error("a link to itself was written")
	}
}

func TestPrivateStaysPrivate(t *testing.T) {
	unix(t)
	path := filepath.Join(t.TempDir(), "mine")
	os.WriteFile(path, nil, 0o600)
	if err := Write(path, hello); err != nil {
		t.Fatal(err)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v", info.Mode())
	}
}

// What a kill leaves is swept by the next write, what somebody still writes is not.
func TestSweep(t *testing.T) {
	dir := t.TempDir()
	named := func(s string) string { return filepath.Join(dir, s) }
	dead, fresh, other := named(".stopladder-ABCDEFGHIJKLMNOP.part"), named(".stopladder-BBCDEFGHIJKLMNOP.part"), named(".other-ABCDEFGHIJKLMNOP.part")
	for _, p := range []string{dead, fresh, other} {
		os.WriteFile(p, []byte("half"), 0o600)
	}
	live, err := create(named("x"), 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer live.Close()
	then := time.Now().Add(-2 * idle)
	for _, p := range []string{dead, other, live.Name()} {
		os.Chtimes(p, then, then)
	}
	if err := Write(named("x"), hello); err != nil {
		t.Fatal(err)
	}
	for p, stays := range map[string]bool{dead: false, fresh: true, other: true, live.Name(): true} {
		if _, err := os.Stat(p); (err == nil) != stays {
			t.Errorf("%s: stays %v, wanted %v", filepath.Base(p), err == nil, stays)
		}
	}
}

// A format that goes back to its header may.
func TestWriteSeek(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.tif")
	err := WriteSeek(path, func(w io.WriteSeeker) error {
		io.WriteString(w, "??body")
		w.Seek(0, io.SeekStart)
		_, err := io.WriteString(w, "ok")
		return err
	})
	if b, _ := os.ReadFile(path); err != nil || string(b) != "okbody" {
		t.Errorf("%q, %v", b, err)
	}
}

// Where a file that another program has open cannot be replaced, a moment is waited; then
// it is as it was, nothing is left behind, and the sentence says what to do.
func TestAHeldFileIsWaitedForAndThenTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "roll.stopladder")
	if err := os.WriteFile(path, []byte("before"), 0o600); err != nil {
		t.Fatal(err)
	}
	inUse := errors.New("in use")
	tries, lets := 0, 3
	d := Real
	d.InUse = func(err error) bool { return errors.Is(err, inUse) }
	d.Rename = func(from, to string) error {
		if tries++; tries < lets {
			return &os.LinkError{Op: "rename", Old: from, New: to, Err: inUse}
		}
		return os.Rename(from, to)
	}
	if err := d.Replace(path, Options{}, func(w io.WriteSeeker) error { return hello(w) }); err != nil || tries != 3 {
		t.Fatalf("let go of at the third try: %v after %d", err, tries)
	}
	lets = 1 << 20
	err := Explain(path, d.Replace(path, Options{}, func(w io.WriteSeeker) error { return hello(w) }))
	held := (*HeldError)(nil)
	if !errors.As(err, &held) || !errors.Is(err, inUse) || !strings.Contains(err.Error(), "roll.stopladder cannot be replaced") || !strings.Contains(err.Error(), "close it there") {
		t.Errorf("held for ever: %v", err)
	}
	if b, err := os.ReadFile(path); err != nil || string(b) != "hello" {
		t.Errorf("%q, %v", b, err)
	}
	if left, _ := os.ReadDir(filepath.Dir(path)); len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
}

// The same with the system's own rules: Windows does not let a file be replaced that is
// open, other systems do, and on none is the old one damaged.
func TestAFileThatIsOpenIsReplacedOrTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "open.json")
	if err := os.WriteFile(path, []byte("before"), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	err = Write(path, hello)
	f.Close()
	b, _ := os.ReadFile(path)
	held := (*HeldError)(nil)
	if err == nil && string(b) != "hello" || err != nil && (!errors.As(err, &held) || string(b) != "before") {
		t.Errorf("%q, %v", b, err)
	}
	if runtime.GOOS != "windows" && err != nil {
		t.Error(err)
	}
	if err := Write(path, hello); err != nil {
		t.Errorf("after it was closed: %v", err)
	}
}
