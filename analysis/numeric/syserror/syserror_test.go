package syserror

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// Windows' own sentences, as its English edition has them (from memory).
func TestClause(t *testing.T) {
	for said, want := range map[string]string{
		"The process cannot access the file because it is being used by another process.": "the process cannot access the file because it is being used by another process",
		"Access is denied.":         "access is denied",
		"I/O error.":                "I/O error",
		"no such file or directory": "no such file or directory",
		"CRC error":                 "CRC error",
		"":                          "",
		"Ärger. ":                   "ärger",
	} {
		if got := clause(said); got != want {
			t.Errorf("%q became %q", said, got)
		}
	}
}

// A file that is not there is told alike everywhere, without its path, and is still known
// for what it is.
func TestCause(t *testing.T) {
	_, err := os.Open(filepath.Join(t.TempDir(), "none"))
	got := Cause(err)
	if got.Error() != "no such file or directory" || !errors.Is(got, fs.ErrNotExist) {
		t.Errorf("%v", got)
	}
	err = os.Rename(filepath.Join(t.TempDir(), "none"), filepath.Join(t.TempDir(), "other"))
	if got := Cause(err); got.Error() != "no such file or directory" || !errors.Is(got, fs.ErrNotExist) {
		t.Errorf("%v", got)
	}
	own := errors.New("The film is torn.")
	if Cause(own) != own {
		t.Error("an error that is not the system's was changed")
	}
}
