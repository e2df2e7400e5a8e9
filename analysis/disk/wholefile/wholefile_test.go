package wholefile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
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
