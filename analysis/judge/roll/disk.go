package roll

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"
)

// disk is how files are written; the tests put failures in.
type disk struct {
	write  func(f *os.File, text []byte) error
	rename func(from, to string) error
	link   func(from, to string) error
}

var realDisk = disk{
	write: func(f *os.File, text []byte) error {
		_, err := f.Write(text)
		return err
	},
	rename: os.Rename,
	link:   os.Link,
}

// tempSuffix ends the names of files that are being written. One that a killed
// program left is removed by a later save, after staleAfter.
const (
	tempSuffix = ".saving"
	staleAfter = 24 * time.Hour
)

// put writes text to path so that path holds the old or the new text whole at
// every moment, even if the program or the machine stops: a file beside it is
// written and flushed, then renamed over path. With previous not "", the version
// before is kept there first, by the same rule.
func (d disk) put(path, previous string, text []byte, mode fs.FileMode) error {
	// A link is followed: the file behind it is replaced, not the link.
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	old, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		old = nil
	case err != nil:
		return err
	case !old.Mode().IsRegular():
		return &fs.PathError{Op: "save", Path: path, Err: errors.New("there is something that is no ordinary file")}
	default:
		mode = old.Mode().Perm()
	}
	dir := filepath.Dir(path)
	temp, err := d.temp(dir, filepath.Base(path), text, mode)
	if err != nil {
		return err
	}
	defer os.Remove(temp) // gone already when all went well
	if old != nil && previous != "" {
		if err := d.keep(path, previous, mode); err != nil {
			return err
		}
	}
	if err := d.rename(temp, path); err != nil {
		return err
	}
	sweep(dir, filepath.Base(path))
	return syncDir(dir)
}

// temp writes a flushed file of its own name in dir.
func (d disk) temp(dir, base string, text []byte, mode fs.FileMode) (path string, err error) {
	temp := filepath.Join(dir, "."+base+"."+rand.Text()[:10]+tempSuffix)
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return "", err
	}
	if err = d.write(f, text); err == nil {
		err = f.Sync()
	}
	if err2 := f.Close(); err == nil {
		err = err2
	}
	if err != nil {
		os.Remove(temp)
		return "", err
	}
	return temp, nil
}

// keep makes previous the file that path is now.
func (d disk) keep(path, previous string, mode fs.FileMode) error {
	temp := filepath.Join(filepath.Dir(previous), "."+filepath.Base(previous)+"."+rand.Text()[:10]+tempSuffix)
	if err := d.link(path, temp); err != nil {
		// Some file systems have no links: copy.
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if temp, err = d.temp(filepath.Dir(previous), filepath.Base(previous), text, mode); err != nil {
			return err
		}
	}
	defer os.Remove(temp)
	return d.rename(temp, previous)
}

// sweep removes what killed programs left while saving base in dir.
func sweep(dir, base string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		n := e.Name()
		if !strings.HasPrefix(n, "."+base+".") || !strings.HasSuffix(n, tempSuffix) {
			continue
		}
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() && time.Since(info.ModTime()) > staleAfter {
			os.Remove(filepath.Join(dir, n))
		}
	}
}

// syncDir flushes a folder, so that a renamed file is found after a power cut.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil // a folder cannot be flushed there
	}
	f, err := os.Open(dir)
	if err != nil {
		return nil // writable and not readable: the rename has happened
	}
	defer f.Close()
	if err := f.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

// same says whether path holds exactly text.
func same(path string, text []byte) bool {
	info, err := os.Stat(path)
	if err != nil || info.Size() != int64(len(text)) {
		return false
	}
	have, err := os.ReadFile(path)
	return err == nil && bytes.Equal(have, text)
}

// saveError turns a failure to write into one sentence.
func saveError(path string, err error) error {
	name, dir := quote(filepath.Base(path)), quote(filepath.Dir(path))
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return fmt.Errorf("cannot save %s, the disk is full: make room or save it elsewhere; what was saved before is untouched: %w", name, err)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("cannot save %s, the folder %s cannot be written: save it elsewhere: %w", name, dir, err)
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return fmt.Errorf("cannot save %s, there is no folder %s: choose another: %w", name, dir, err)
	}
	return fmt.Errorf("cannot save %s in %s: save it elsewhere; what was saved before is untouched: %w", name, dir, err)
}
