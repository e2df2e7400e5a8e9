package roll

import (
	"fmt"
	"path/filepath"
	"runtime"
	"strings"

	"stopladder/analysis/disk/filename"
)

// A roll file may come from a stranger. A scan that it says lies on another machine or on
// a device is not so much as looked for before the person says so: looking would open a
// connection to a machine of the stranger's choice, or wake a device. Such a frame's File
// is a place where nothing is, and what the roll file says is kept and saved again.

// elsewhere returns what a path in a roll file in dir leads to that must not be asked:
// another machine or a device; "" for a place on this machine's disks, or on the machine
// that the roll file itself was opened from.
func elsewhere(saved, dir string) string {
	slashed := strings.ReplaceAll(saved, `\`, "/")
	if strings.HasPrefix(slashed, "//") {
		if host := share(slashed); host != "" && share(strings.ReplaceAll(dir, `\`, "/")) == host {
			return ""
		}
		if strings.HasPrefix(slashed, "//./") || strings.HasPrefix(slashed, "//?/") {
			return "a device"
		}
		return "another machine"
	}
	path := filepath.ToSlash(toMemory(saved, dir))
	if runtime.GOOS == "windows" {
		for _, part := range strings.Split(path, "/") {
			if filename.Device(part) {
				return "a device"
			}
		}
		return ""
	}
	for _, root := range []struct {
		at, is string
		deep   int // names below at that are one machine
	}{{"/dev/", "a device", 0}, {"/proc/", "a device", 0}, {"/sys/", "a device", 0}, {"/net/", "another machine", 1}, {"/afs/", "another machine", 1}} {
		if strings.HasPrefix(path, root.at) && (root.deep == 0 || below(path, root.at) != below(filepath.ToSlash(dir)+"/", root.at)) {
			return root.is
		}
	}
	if strings.HasPrefix(path, "/run/user/") && strings.Contains(path, "/gvfs/") && !strings.Contains(filepath.ToSlash(dir), "/gvfs/") {
		return "another machine"
	}
	return ""
}

// share returns host and share of "//host/share/...", "" for another path.
func share(slashed string) string {
	rest, ok := strings.CutPrefix(slashed, "//")
	if !ok {
		return ""
	}
	parts := strings.SplitN(rest, "/", 3)
	if len(parts) < 2 || parts[0] == "" || parts[0] == "." || parts[0] == "?" || parts[1] == "" {
		return ""
	}
	return strings.ToLower(parts[0] + "/" + parts[1])
}

// below returns the first name of path below at, "" where it is not there.
func below(path, at string) string {
	rest, ok := strings.CutPrefix(path, at)
	if !ok {
		return ""
	}
	name, _, _ := strings.Cut(rest, "/")
	return name
}

// setAside gives a frame of the roll file in dir whose scan is not to be looked for a
// place where nothing is.
func (f *Frame) setAside(i int, dir string) {
	at := filepath.Join(dir, fmt.Sprintf(".not looked for %d", i+1), f.Name())
	if abs, err := filepath.Abs(at); err == nil {
		at = abs
	}
	f.elsewhere, f.stands, f.File = f.File, at, at
}

// Aside reports whether the frame's scan is not to be looked for.
func (f *Frame) Aside() bool { return f.elsewhere != "" && f.File == f.stands }

// Elsewhere names the scans that the roll file says lie on other machines or devices and
// that were not looked for.
func (r *Roll) Elsewhere() (names []string) {
	for i := range r.Frames {
		if r.Frames[i].Aside() {
			names = append(names, r.Frames[i].elsewhere)
		}
	}
	return names
}

// LookElsewhere has the scans looked for where the roll file says: the person said so.
func (r *Roll) LookElsewhere() {
	for i := range r.Frames {
		f := &r.Frames[i]
		if !f.Aside() {
			continue
		}
		at := toMemory(f.elsewhere, filepath.Dir(r.path))
		if r.BaseFile == f.File {
			r.BaseFile = at
		}
		f.File, f.elsewhere, f.stands = at, "", ""
	}
}
