package main

import (
	"fmt"
	"syscall"
)

// small mounts a disk of so many bytes at dir; root alone may.
func small(dir string, bytes int) (undo func(), err error) {
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%d", bytes)); err != nil {
		return nil, err
	}
	return func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) }, nil
}
