package wholefile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
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
	if runtime.GOOS == "windows" {
		t.Skip("modes of Unix")
	}
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

// What is no file is never replaced by one, not even by a user who could.
func TestDeviceIsRefused(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("devices of Unix")
	}
	link := filepath.Join(t.TempDir(), "a.png")
	if err := os.Symlink(os.DevNull, link); err != nil {
		t.Fatal(err)
	}
	err := Write(link, func(io.Writer) error { return nil })
	if err == nil || !strings.Contains(err.Error(), "no ordinary file") {
		t.Errorf("got %v", err)
	}
	if info, err := os.Stat(os.DevNull); err != nil || info.Mode().IsRegular() {
		t.Errorf("the device is %v, %v", info, err)
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
