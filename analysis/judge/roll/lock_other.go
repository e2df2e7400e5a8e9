//go:build !(darwin || dragonfly || freebsd || linux || netbsd || openbsd || windows)

package roll

import "os"

// lock on a system without file locks: a session always gets its own new file
// (wait), and nobody can tell that another session has died, so nothing is taken.
func lock(_ *os.File, wait bool) (taken bool, err error) { return wait, nil }
