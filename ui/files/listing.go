// Package files asks for files: one dialog that opens several scans at once or
// a whole folder, opens a roll file, and names a file to save. The toolkit's
// own dialog opens a single file only, and native ones need a desktop service
// that is not on every machine.
package files

import (
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/syserror"
)

// Entry is a line of a listing.
type Entry struct {
	Name    string
	Dir     bool
	Size    int64 // bytes; files only
	Changed time.Time
}

// List returns what stands in a folder: folders first, then the files with one
// of the extensions (lower case, with dot; none means all). Hidden entries are
// left out. The error is one sentence.
func List(dir string, exts []string) ([]Entry, error) {
	des, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("the folder %s cannot be read (%s); choose another", filepath.Base(dir), reason(err))
	}
	var out []Entry
	for _, de := range des {
		if strings.HasPrefix(de.Name(), ".") {
			continue
		}
		info, err := os.Stat(filepath.Join(dir, de.Name())) // follows links
		if err != nil {
			continue
		}
		if info.IsDir() {
			out = append(out, Entry{Name: de.Name(), Dir: true, Changed: info.ModTime()})
		} else if Matches(de.Name(), exts) {
			out = append(out, Entry{Name: de.Name(), Size: info.Size(), Changed: info.ModTime()})
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].Dir != out[j].Dir {
			return out[i].Dir
		}
		return stops.Natural(out[i].Name, out[j].Name) < 0
	})
	return out, nil
}

// Matches reports whether a name ends in one of the extensions.
func Matches(name string, exts []string) bool {
	if len(exts) == 0 {
		return true
	}
	low := strings.ToLower(name)
	for _, e := range exts {
		if strings.HasSuffix(low, e) {
			return true
		}
	}
	return false
}

// Bytes writes a file size as people read it.
func Bytes(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.1f GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.0f MB", float64(n)/1e6)
	case n >= 1e3:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%d B", n)
}

func reason(err error) string {
	switch {
	case os.IsPermission(err):
		return "no permission"
	case os.IsNotExist(err):
		return "it is not there"
	}
	return syserror.Cause(err).Error()
}
