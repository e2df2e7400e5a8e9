package files

import (
	"slices"
	"testing"
)

// Bit 0 is drive A (Microsoft, GetLogicalDrives); every system has a root to begin at.
func TestDrives(t *testing.T) {
	if got := drives(1<<2 | 1<<3 | 1<<25); !slices.Equal(got, []root{{"Drive C", `C:\`}, {"Drive D", `D:\`}, {"Drive Z", `Z:\`}}) {
		t.Errorf("%v", got)
	}
	if len(roots()) == 0 {
		t.Error("no place to begin at")
	}
	for _, r := range roots() {
		if _, err := List(r.path, nil); err != nil && r.path == "/" {
			t.Error(err)
		}
	}
}
