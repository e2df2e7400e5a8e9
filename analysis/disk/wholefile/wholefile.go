// Package wholefile writes a file whole or not at all: into a new file beside
// it, which takes its name when everything is on the disk. A reader sees the old
// file or the new one, never half of it, and a failure leaves nothing behind.
package wholefile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// Write writes path with what write produces. The error is one sentence that
// names the file and says what to look at; it wraps the cause.
func Write(path string, write func(io.Writer) error) (err error) {
	tmp, err := Beside(path)
	if err != nil {
		return Explain(path, err)
	}
	defer func() {
		if err != nil {
			tmp.Close()
			os.Remove(tmp.Name())
			err = Explain(path, err)
		}
	}()
	if err := write(tmp); err != nil {
		return err
	}
	if err := tmp.Sync(); err != nil {
		return err
	}
	if err := tmp.Close(); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}

// Beside creates a new, empty file in path's folder. Unlike os.CreateTemp it
// leaves the permissions to the user's umask: a result is not a secret.
func Beside(path string) (*os.File, error) {
	name := fmt.Sprintf(".stopladder-%016x", rand.Uint64())
	return os.OpenFile(filepath.Join(filepath.Dir(path), name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
}

// Explain turns a system error of writing path into one sentence. The folder's
// own name is left out: what matters is the file that the user named.
func Explain(path string, err error) error {
	if already := (*Error)(nil); errors.As(err, &already) {
		return err
	}
	cause := err
	var pe *fs.PathError
	if errors.As(err, &pe) {
		cause = pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		cause = le.Err
	}
	return &Error{Name: filepath.Base(path), Err: cause}
}

// Error says that a file could not be written.
type Error struct {
	Name string // without folder
	Err  error  // the cause
}

func (e *Error) Error() string {
	return fmt.Sprintf("%s cannot be written (%v); check that its folder is there, may be written to and has room", e.Name, e.Err)
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }
