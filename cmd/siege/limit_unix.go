//go:build linux || darwin

package main

import (
	"os"
	"os/signal"
	"syscall"
)

// limitMemory holds this process to so many bytes of memory that may be written to.
func limitMemory(bytes uint64) {
	_ = syscall.Setrlimit(syscall.RLIMIT_DATA, &syscall.Rlimit{Cur: bytes, Max: bytes})
}

// limitFile lets no file of this process grow beyond so many bytes: writing more fails as
// on a full disk.
func limitFile(bytes uint64) {
	signal.Ignore(syscall.SIGXFSZ)
	_ = syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: bytes, Max: bytes})
}

// nobody has a command run without the rights of root, which may write anywhere.
func nobody() *syscall.SysProcAttr {
	if os.Geteuid() != 0 {
		return nil
	}
	return &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
}
