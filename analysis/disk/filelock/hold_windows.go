package filelock

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// Hold takes f for this process until it is closed or the process ends; taken is
// false when another process has it and wait is not set.
func Hold(f *os.File, wait bool) (taken bool, err error) {
	flags := uint32(windows.LOCKFILE_EXCLUSIVE_LOCK)
	if !wait {
		flags |= windows.LOCKFILE_FAIL_IMMEDIATELY
	}
	err = windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, new(windows.Overlapped))
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return false, nil
	}
	return err == nil, err
}
