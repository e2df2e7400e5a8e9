// Package filelock lets one process at a time change a file that is read, changed
// and written whole: the log of a plan, the user's cameras, a roll. The system lets
// go of what a process held when it ends, however it ends.
package filelock

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"stopladder/analysis/numeric/syserror"
)

// What a lock's file is called: the name of what is locked between the two.
const (
	Prefix = ".stopladder-"
	Suffix = ".lock"
)

// patience is how long Take waits for others: a change takes milliseconds.
const patience = 20 * time.Second

// Take waits until nobody else has path, and gives it to the caller until release is
// called. What is locked is a file beside path, since a file that is replaced is
// another one afterwards. path itself need not be there; its folder must. The error
// is the system's, or one sentence when others do not let go.
func Take(path string) (release func(), err error) {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	return take(path, patience)
}

func take(path string, patience time.Duration) (release func(), err error) {
	name := filepath.Join(filepath.Dir(path), Prefix+filepath.Base(path)+Suffix)
	for end := time.Now().Add(patience); ; time.Sleep(5 * time.Millisecond) {
		release, err := once(name)
		if release != nil || err != nil {
			return release, err
		}
		if time.Now().After(end) {
			return nil, fmt.Errorf("%s is being changed by another program and was left as it is; wait for that to end, then try again", filepath.Base(path))
		}
	}
}

// once tries to take the lock; both results are nil when somebody else has it.
func once(name string) (release func(), err error) {
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o666)
	if syserror.InUse(err) {
		return nil, nil
	}
	if errors.Is(err, fs.ErrPermission) {
		// Windows says either of a file that its owner is just removing. A folder that
		// really takes no files lets nothing be changed either: that is said then.
		if info, e := os.Stat(name); e == nil && info.Mode().IsRegular() {
			return nil, nil
		}
	}
	if err != nil {
		return nil, err
	}
	taken, err := Hold(f, false)
	if err != nil {
		// A file system without locks: what is left is the comparison before a change.
		taken = true
	}
	if !taken {
		f.Close()
		return nil, nil
	}
	// Who had it before may have removed the file meanwhile: then this one is nobody's.
	mine, err := f.Stat()
	if err == nil {
		var now fs.FileInfo
		if now, err = os.Lstat(name); err == nil && !os.SameFile(mine, now) {
			err = fs.ErrNotExist
		}
	}
	if err != nil {
		f.Close()
		return nil, nil
	}
	return func() {
		removed := os.Remove(name) == nil
		f.Close()
		if !removed {
			os.Remove(name) // where an open file cannot be removed; it fails while another has it
		}
	}, nil
}
