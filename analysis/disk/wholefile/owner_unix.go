//go:build unix

package wholefile

import (
	"io/fs"
	"os"
	"syscall"
)

// keepOwner gives f the owner and the group of the file that it takes the place of, as
// far as the system allows: root does not take a user's file away.
func keepOwner(f *os.File, old fs.FileInfo) {
	if st, ok := old.Sys().(*syscall.Stat_t); ok && (int(st.Uid) != os.Geteuid() || int(st.Gid) != os.Getegid()) {
		_ = f.Chown(int(st.Uid), int(st.Gid))
	}
}
