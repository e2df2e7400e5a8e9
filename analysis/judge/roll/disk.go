package roll

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"stopladder/analysis/disk/wholefile"
)

// text returns what writes b.
func text(b []byte) func(io.WriteSeeker) error {
	return func(w io.WriteSeeker) error {
		_, err := w.Write(b)
		return err
	}
}

// same reports whether path holds exactly text.
func same(path string, text []byte) bool {
	info, err := os.Stat(path)
	if err != nil || info.Size() != int64(len(text)) {
		return false
	}
	have, err := wholefile.ReadFile(path)
	return err == nil && bytes.Equal(have, text)
}

// saveError turns a failure to write into one sentence.
func saveError(path string, err error) error {
	name, dir := quote(filepath.Base(path)), quote(filepath.Dir(path))
	held := (*wholefile.HeldError)(nil)
	switch {
	case errors.As(err, &held):
		return fmt.Errorf("cannot save %s, another program has it open, or it is set read-only: close it there, or save under another name; what was saved before is untouched: %w", name, held.Err)
	case errors.Is(err, syscall.ENOSPC):
		return fmt.Errorf("cannot save %s, the disk is full: make room or save it elsewhere; what was saved before is untouched: %w", name, err)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("cannot save %s, the folder %s cannot be written: save it elsewhere: %w", name, dir, err)
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return fmt.Errorf("cannot save %s, there is no folder %s: choose another: %w", name, dir, err)
	}
	return fmt.Errorf("cannot save %s in %s: save it elsewhere; what was saved before is untouched: %w", name, dir, err)
}
