package syserror

import (
	"errors"
	"io/fs"

	"golang.org/x/sys/windows"
)

// InUse reports whether another program keeps a file from being read or replaced.
func InUse(err error) bool {
	return errors.Is(err, windows.ERROR_SHARING_VIOLATION) || errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_USER_MAPPED_FILE)
}

// words says the commonest as on other systems: what is written about a message is then
// found by it.
func words(err error) string {
	switch {
	case InUse(err):
		return "another program has it open"
	case errors.Is(err, fs.ErrNotExist):
		return "no such file or directory"
	case errors.Is(err, fs.ErrPermission):
		return "permission denied"
	case errors.Is(err, windows.ERROR_DISK_FULL) || errors.Is(err, windows.ERROR_HANDLE_DISK_FULL):
		return "no space left on device"
	case errors.Is(err, windows.ERROR_INVALID_NAME):
		return "Windows allows no such name"
	}
	return clause(err.Error())
}
