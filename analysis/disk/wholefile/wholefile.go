// Package wholefile writes a file whole or not at all: into a new file beside
// it, which takes its name when everything is on the disk. A reader sees the old
// file or the new one, never half of it, even if the program or the machine
// stops, and a failure leaves nothing behind. What is no file, but takes what is
// written to it (a pipe, a terminal, /dev/null), is written through and stays what it
// is.
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

	"stopladder/analysis/disk/filelock"
	"stopladder/analysis/numeric/syserror"
)

// Write writes path with what write produces. A file that is replaced keeps its
// mode (and its owner, where root writes), and a link is followed and stays. The error is one sentence that names the file and
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
	InUse  func(err error) bool // besides what the system says so of; nil for nothing
}

// Real is the disk as it is.
var Real = Disk{Write: (*os.File).Write, Rename: os.Rename, Link: os.Link}

// What a program that was killed left unfinished is removed by a later write into the
// same folder. The owner of a temporary file holds a lock on it while it lives: who can
// take the lock has found a dead one's, once nothing was written to it for idle (there
// are file systems whose locks other machines do not see). Where there are no locks, age
// alone tells, after StaleAfter.
const (
	tempPrefix = ".stopladder-"
	tempSuffix = ".part"
	StaleAfter = 24 * time.Hour
	idle       = time.Minute
)

// Replace is Write with options; its error is the system's or that of write.
func (d Disk) Replace(path string, opt Options, write func(io.WriteSeeker) error) error {
	if through, err := d.through(path, write); through || err != nil {
		return err
	}
	path, err := Target(path) // the file behind a link is replaced, not the link
	if err != nil {
		return err
	}
	old, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		old = nil
	case err != nil:
		return err
	case !old.Mode().IsRegular():
		return notOrdinary(path)
	}
	temp, err := d.temp(path, old, opt.Mode, write)
	if err != nil {
		return err
	}
	defer func() {
		os.Remove(temp.Name()) // gone already when all went well
		temp.Close()           // and with it its lock
		os.Remove(temp.Name()) // where an open file cannot be removed
	}()
	if old != nil && opt.Previous != "" {
		if err := d.keep(path, old, opt.Previous); err != nil {
			return err
		}
	}
	if err := d.put(temp, path); err != nil {
		return err
	}
	Sweep(filepath.Dir(path))
	return syncDir(filepath.Dir(path))
}

// put gives a flushed file its name. An open file cannot be renamed everywhere, nor can
// one that another program has open be replaced.
func (d Disk) put(temp *os.File, path string) error {
	if runtime.GOOS == "windows" {
		if err := temp.Close(); err != nil {
			return err
		}
	}
	return d.replace(temp.Name(), path)
}

// Where a file that others have open cannot be replaced, those who look into every new file
// (virus scanners, indexes) let go of it after a moment.
const (
	moment = 5 * time.Millisecond
	turns  = 400
)

// replace renames, and waits a moment for who has path open. What then stands in the way is
// a *HeldError.
func (d Disk) replace(from, path string) error {
	for turn := 1; ; turn++ {
		err := d.Rename(from, path)
		if err == nil || !d.held(err, path) {
			return err
		}
		if turn == turns {
			return &HeldError{filepath.Base(path), err}
		}
		time.Sleep(moment)
	}
}

// held reports whether a rename failed because path is open elsewhere. Windows then says
// that access is denied, as it does of a file that is set read-only.
func (d Disk) held(err error, path string) bool {
	if syserror.InUse(err) || d.InUse != nil && d.InUse(err) {
		return true
	}
	if runtime.GOOS != "windows" || !errors.Is(err, fs.ErrPermission) {
		return false
	}
	info, gone := os.Lstat(path)
	return gone == nil && info.Mode().IsRegular()
}

// HeldError reports that a file could not be replaced because another program has it open.
// The file is as it was.
type HeldError struct {
	Name string // without folder
	Err  error  // the system's
}

func (e *HeldError) Error() string {
	return fmt.Sprintf("%s cannot be replaced and is as it was: another program has it open, or it is set read-only; close it there, then try again, or choose another name", e.Name)
}

// Unwrap returns the system's error.
func (e *HeldError) Unwrap() error { return e.Err }

func notOrdinary(path string) error {
	return &fs.PathError{Op: "write", Path: path, Err: errors.New("there is something that is no ordinary file")}
}

// mostLinks is how many links may lead from one to the next, as on Linux.
const mostLinks = 40

// Target returns the file that a write to path replaces: what its links lead to, whether
// or not there is anything yet.
func Target(path string) (string, error) {
	for range mostLinks {
		if real, err := filepath.EvalSymlinks(path); err == nil {
			return real, nil
		}
		to, err := os.Readlink(path)
		if err != nil {
			return path, nil // nothing there, or nothing that can be looked at: the write will say
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	return "", &fs.PathError{Op: "write", Path: path, Err: errors.New("its links lead in a circle")}
}

// tempName makes up a name beside path.
func tempName(path string) string {
	return filepath.Join(filepath.Dir(path), tempPrefix+rand.Text()[:16]+tempSuffix)
}

// Room reports why path could not be written, nil when nothing is against it: what is
// there can be replaced or written through, and its folder takes a new file.
func Room(path string) error {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		if !passes(info) {
			return Explain(path, notOrdinary(path))
		}
		return nil
	}
	path, err := Target(path)
	if err != nil {
		return Explain(path, err)
	}
	f, err := create(path, 0o600)
	if err != nil {
		return Explain(path, err)
	}
	f.Close()
	return os.Remove(f.Name())
}

// create makes a new, empty file in path's folder and holds it. Unlike os.CreateTemp it
// leaves the permissions to the user's umask: a result is not a secret.
func create(path string, mode fs.FileMode) (*os.File, error) {
	f, err := os.OpenFile(tempName(path), os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err == nil {
		_, _ = filelock.Hold(f, false) // without it, its age protects it
	}
	return f, err
}

// temp writes a flushed file beside path, with mode and owner of old where there is one.
func (d Disk) temp(path string, old fs.FileInfo, mode fs.FileMode, write func(io.WriteSeeker) error) (f *os.File, err error) {
	if mode == 0 {
		mode = 0o666
	}
	if old != nil {
		mode = old.Mode().Perm()
	}
	made, err := create(path, mode)
	if err != nil {
		return nil, err
	}
	defer func() {
		if f := made; err != nil {
			os.Remove(f.Name())
			f.Close()
			os.Remove(f.Name()) // where an open file cannot be removed
		}
	}()
	if err := write(writer{made, d.Write}); err != nil {
		return nil, err
	}
	if old != nil {
		keepOwner(made, old)
		if now, err := made.Stat(); err == nil && now.Mode().Perm() != mode { // the umask took something away
			made.Chmod(mode) // as far as the file system knows modes
		}
	}
	return made, made.Sync()
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
		copied, err := d.temp(previous, old, 0, func(w io.WriteSeeker) error {
			_, err := io.Copy(w, from)
			return err
		})
		if err != nil {
			return err
		}
		temp = copied.Name()
		if err := copied.Close(); err != nil {
			os.Remove(temp)
			return err
		}
	}
	defer os.Remove(temp)
	return d.replace(temp, previous)
}

// Sweep removes what killed programs left in dir, and nothing that is not this
// program's or that may still be written.
func Sweep(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		n := e.Name()
		if !strings.HasPrefix(n, tempPrefix) || !strings.HasSuffix(n, tempSuffix) && !strings.HasSuffix(n, filelock.Suffix) {
			continue
		}
		info, err := os.Lstat(filepath.Join(dir, n)) // what a listing tells need not tell which file it is
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		if age := time.Since(info.ModTime()); age > StaleAfter && strings.HasSuffix(n, tempSuffix) {
			os.Remove(filepath.Join(dir, n))
		} else if age > idle {
			sweepOrphan(filepath.Join(dir, n), info)
		}
	}
}

// sweepOrphan removes a temporary file or a lock that nobody holds any more.
func sweepOrphan(path string, info fs.FileInfo) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return
	}
	taken, err := filelock.Hold(f, false)
	now, gone := os.Lstat(path) // once it is held: before, it may have gone and come again
	held, _ := f.Stat()
	ours := taken && err == nil && gone == nil && held != nil && os.SameFile(now, held) && os.SameFile(held, info)
	removed := ours && os.Remove(path) == nil
	f.Close()
	if ours && !removed {
		os.Remove(path) // where an open file cannot be removed; it fails while another has it
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
	if already, held := (*Error)(nil), (*HeldError)(nil); errors.As(err, &already) || errors.As(err, &held) {
		return err
	}
	return &Error{Name: filepath.Base(path), Err: syserror.Cause(err)}
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
