//go:build !(darwin || dragonfly || freebsd || linux || netbsd || openbsd || windows)

package filelock

import "os"

// Hold on a system without file locks: a process always gets its own new file
// (wait), and nobody can tell that another has died, so nothing is taken.
func Hold(_ *os.File, wait bool) (taken bool, err error) { return wait, nil }
