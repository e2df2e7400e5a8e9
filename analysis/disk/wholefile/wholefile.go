// Package wholefile writes a file whole or not at all: into a new file beside
// it, which takes its name when everything is on the disk. A reader sees the old
// file or the new one, never half of it, even if the program or the machine
// stops, and a failure leaves nothing behind.
package wholefile

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"
)

// Write writes path with what write produces. A file that is replaced keeps its
// mode, and a link is followed. The error is one sentence that names the file and
// says what to look at; it wraps the cause.
func Write(path string, write func(io.Writer) error) error {
	return WriteSeek(path, func(w io.WriteSeeker) error { return write(w) })
}

// WriteSeek is Write for formats that go back to their header.
func WriteSeek(path string, write func(io.WriteSeeker) error) error {
	if err := Real.Replace(path, Options{}, write); err != nil {
		return Explain(path, err)
	}
	return nil
}

// Options of Replace.
type Options struct {
	Mode     fs.FileMode // of a new file, less the umask; 0 is 0o666
	Previous string      // where the version before is kept, by the same rule; "" is nowhere
}

// Disk is what this package asks of the file system; tests put failures in.
type Disk struct {
	Write  func(f *os.File, p []byte) (int, error)
	Rename func(from, to string) error
	Link   func(from, to string) error
}

// Real is the disk as it is.
var Real = Disk{(*os.File).Write, os.Rename, os.Link}

// A file that a killed program left unfinished is removed by a later write into
// the same folder, after StaleAfter.
const (
	tempPrefix = ".stopladder-"
	tempSuffix = ".part"
	StaleAfter = 24 * time.Hour
)

// Replace is Write with options; its error is the system's or that of write.
func (d Disk) Replace(path string, opt Options, write func(io.WriteSeeker) error) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // the file behind a link is replaced, not the link
	}
	old, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		old = nil
	case err != nil:
		return err
	case !old.Mode().IsRegular():
		return &fs.PathError{Op: "write", Path: path, Err: errors.New("there is something that is no ordinary file")}
	}
	temp, err := d.temp(path, old, opt.Mode, write)
	if err != nil {
		return err
	}
	defer os.Remove(temp) // gone already when all went well
	if old != nil && opt.Previous != "" {
		if err := d.keep(path, old, opt.Previous); err != nil {
			return err
		}
	}
	if err := d.Rename(temp, path); err != nil {
		return err
	}
	sweep(filepath.Dir(path))
	return syncDir(filepath.Dir(path))
}

// tempName makes up a name beside path.
func tempName(path string) string {
	return filepath.Join(filepath.Dir(path), tempPrefix+rand.Text()[:16]+tempSuffix)
}

// Beside creates a new, empty file in path's folder. Unlike os.CreateTemp it
// leaves the permissions to the user's umask: a result is not a secret.
func Beside(path string) (*os.File, error) { return create(path, 0o666) }

func create(path string, mode fs.FileMode) (*os.File, error) {
	return os.OpenFile(tempName(path), os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
}

// temp writes a flushed file beside path, with the mode of old where there is one.
func (d Disk) temp(path string, old fs.FileInfo, mode fs.FileMode, write func(io.WriteSeeker) error) (name string, err error) {
	if mode == 0 {
		mode = 0o666
	}
	if old != nil {
		mode = old.Mode().Perm()
	}
	f, err := create(path, mode)
	if err != nil {
		return "", err
	}
	defer func() {
		if closed := f.Close(); err == nil {
			err = closed
		}
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	if err := write(writer{f, d.Write}); err != nil {
		return "", err
	}
	if old != nil {
		if now, err := f.Stat(); err == nil && now.Mode().Perm() != mode { // the umask took something away
			f.Chmod(mode) // as far as the file system knows modes
		}
	}
	return f.Name(), f.Sync()
}

// writer is a file whose writing goes through a Disk; only what io.WriteSeeker
// asks for is reachable, so that nothing goes around it.
type writer struct {
	f     *os.File
	write func(f *os.File, p []byte) (int, error)
}

func (w writer) Write(p []byte) (int, error)                  { return w.write(w.f, p) }
func (w writer) Seek(offset int64, whence int) (int64, error) { return w.f.Seek(offset, whence) }

// keep makes previous the file that path is now.
func (d Disk) keep(path string, old fs.FileInfo, previous string) error {
	temp := tempName(previous)
	if err := d.Link(path, temp); err != nil {
		// Some file systems have no links: copy.
		from, err := os.Open(path)
		if err != nil {
			return err
		}
		defer from.Close()
		temp, err = d.temp(previous, old, 0, func(w io.WriteSeeker) error {
			_, err := io.Copy(w, from)
			return err
		})
		if err != nil {
			return err
		}
	}
	defer os.Remove(temp)
	return d.Rename(temp, previous)
}

// sweep removes what killed programs left in dir.
func sweep(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		n := e.Name()
		if !strings.HasPrefix(n, tempPrefix) || !strings.HasSuffix(n, tempSuffix) {
			continue
		}
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() && time.Since(info.ModTime()) > StaleAfter {
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

// Explain turns a system error of writing path into one sentence. The folder's
// own name is left out: what matters is the file that the user named.
func Explain(path string, err error) error {
	if already := (*Error)(nil); errors.As(err, &already) {
		return err
	}
	return &Error{Name: filepath.Base(path), Err: Cause(err)}
}

// Cause returns the reason in a system error, without the operation and the
// path, which may be that of the file beside.
func Cause(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		return le.Err
	}
	return err
}

// Error reports that a file could not be written.
type Error struct {
	Name string // without folder
	Err  error  // the cause
}

func (e *Error) Error() string {
	return fmt.Sprintf("%s cannot be written (%v); check that its folder is there, may be written to and has room", e.Name, e.Err)
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }
