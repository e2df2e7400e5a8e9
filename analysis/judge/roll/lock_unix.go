//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package roll

import (
	"errors"
	"os"
	"syscall"
)

// lock takes f for this session until it is closed or the process ends; taken is
// false when another session has it and wait is not set.
func lock(f *os.File, wait bool) (taken bool, err error) {
	how := syscall.LOCK_EX
	if !wait {
		how |= syscall.LOCK_NB
	}
	for {
		err = syscall.Flock(int(f.Fd()), how)
		if !errors.Is(err, syscall.EINTR) {
			break
		}
	}
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return false, nil
	}
	return err == nil, err
}
