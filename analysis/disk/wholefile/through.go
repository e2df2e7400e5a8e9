package wholefile

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"syscall"
	"time"
)

// passes reports whether what is at a name is written through: a pipe, or a device that
// takes characters. A whole disk is none, nor is a folder or a socket.
func passes(info fs.FileInfo) bool {
	m := info.Mode()
	return m&fs.ModeNamedPipe != 0 || m&fs.ModeCharDevice != 0
}

// Stream returns the program's own output that path is another name of (/dev/stdout, or
// the file that it was sent to), nil for none: a file that is being written to already
// cannot be replaced under it.
func Stream(path string) *os.File {
	info, err := os.Stat(path)
	if err != nil || isNull(info) {
		return nil
	}
	for _, f := range []*os.File{os.Stdout, os.Stderr} {
		if own, err := f.Stat(); err == nil && os.SameFile(own, info) {
			return f
		}
	}
	return nil
}

// IsNull reports whether path is where everything vanishes, which any number of results
// may be sent to.
func IsNull(path string) bool {
	info, err := os.Stat(path)
	return err == nil && isNull(info)
}

func isNull(info fs.FileInfo) bool {
	null, err := os.Stat(os.DevNull)
	return err == nil && os.SameFile(null, info)
}

// through writes to what is no file. It returns false where path is to be replaced.
func (d Disk) through(path string, write func(io.WriteSeeker) error) (bool, error) {
	info, err := os.Stat(path)
	if err != nil {
		return false, nil
	}
	if f := Stream(path); f != nil {
		return true, write(writer{f, d.Write})
	}
	switch {
	case info.Mode().IsRegular():
		return false, nil
	case !passes(info):
		return false, notOrdinary(path)
	}
	f, err := openThrough(path)
	if err != nil {
		return true, err
	}
	if now, e := f.Stat(); e != nil || !passes(now) { // it was put in its place a moment ago
		f.Close()
		return true, notOrdinary(path)
	}
	err = write(writer{f, d.Write})
	return true, errors.Join(err, f.Close())
}

// readerWait is how long a pipe that nobody reads from is waited for.
var readerWait = 10 * time.Second

// openThrough opens a pipe or a device for writing. A pipe that nobody reads would stop
// the program for ever: it is asked without waiting, for a while.
func openThrough(path string) (*os.File, error) {
	for end := time.Now().Add(readerWait); ; time.Sleep(20 * time.Millisecond) {
		f, err := os.OpenFile(path, os.O_WRONLY|syscall.O_NONBLOCK, 0)
		if !errors.Is(err, syscall.ENXIO) {
			return f, err
		}
		if time.Now().After(end) {
			return nil, &fs.PathError{Op: "write", Path: path, Err: errors.New("nobody reads from this pipe")}
		}
	}
}
