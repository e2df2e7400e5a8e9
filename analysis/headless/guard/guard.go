// Package guard keeps what is written from landing on what is needed: the files that a
// call reads, its other outputs, scans, rolls and logs. Files are compared by what they
// are on the disk, so that links, other spellings and other cases of a name count.
package guard

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"unicode"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/disk/filename"
	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/pngwrite"
)

// Standard is the name that means standard output.
const Standard = "-"

// Guard knows the files of one call, or of one export of the window. The zero value is
// ready to use.
type Guard struct {
	read    []string
	written []string
}

// Reads names files that are read.
func (g *Guard) Reads(paths ...string) { g.read = append(g.read, paths...) }

// Roll names all that a job reads: the scans, the roll file and the one before it, the
// plan beside the scans.
func (g *Guard) Roll(job *load.Job) {
	g.Judged(job.Roll)
	if job.PlanFile != "" {
		g.Reads(job.PlanFile)
	}
}

// Judged names the files of a roll: its scans, the roll file and the one before it.
func (g *Guard) Judged(r *roll.Roll) {
	if r.Demo == "" {
		for _, f := range r.Frames {
			g.Reads(filepath.FromSlash(f.File))
		}
	}
	if p := r.Path(); p != "" {
		g.Reads(p, roll.PreviousPath(p))
	}
}

func refuse(format string, args ...any) error {
	return &load.CallError{Text: fmt.Sprintf(format, args...)}
}

// Writes takes up an output and finds early, before minutes of work, what would make
// writing it fail or do harm. "" is no output. The error is a *load.CallError, or says
// in one sentence why the file cannot be written.
func (g *Guard) Writes(path string) error {
	if path == "" || path != Standard && wholefile.IsNull(path) {
		return nil
	}
	for _, before := range g.written {
		switch {
		case !sameOutput(before, path):
		case stream(path) != nil:
			return refuse("standard output takes one thing at a time; name a file for the other")
		default:
			return refuse("%s would be written twice; give each output a name of its own", filepath.Base(path))
		}
	}
	g.written = append(g.written, path)
	if stream(path) != nil {
		return nil
	}
	if runtime.GOOS == "windows" { // elsewhere these are names like others
		if err := filename.Check(filepath.Base(path)); err != nil {
			return refuse("%v", err)
		}
	}
	if err := g.Still(path); err != nil {
		return err
	}
	return wholefile.Room(path)
}

// Still looks once more, when the work is done, whether an output lands on nothing that
// is needed: a name may be another file's by then.
func (g *Guard) Still(path string) error {
	st, err := os.Stat(path)
	if path == "" || stream(path) != nil || err != nil {
		return nil
	}
	if st.IsDir() {
		return refuse("%s is a folder; name the file to write", filepath.Base(path))
	}
	if err := g.Reading(path); err != nil {
		return err
	}
	if st.Mode().IsRegular() {
		return needed(path)
	}
	return nil
}

// Reading refuses a path that is one of the files that are read.
func (g *Guard) Reading(path string) error {
	st, err := os.Stat(path)
	if err != nil {
		return nil
	}
	for _, p := range g.read {
		if in, err := os.Stat(p); err == nil && os.SameFile(st, in) {
			return refuse("%s is one of the files that are read and is not written over; choose another name for the output", filepath.Base(path))
		}
	}
	return nil
}

// stream returns the program's own output that path is, nil for none.
func stream(path string) *os.File {
	if path == Standard {
		return os.Stdout
	}
	return wholefile.Stream(path)
}

// sameOutput reports whether two outputs are one file, or would be one.
func sameOutput(a, b string) bool {
	x, y := stream(a), stream(b)
	if x != nil || y != nil {
		return x == y
	}
	p, err := os.Stat(a)
	q, errB := os.Stat(b)
	if err == nil && errB == nil {
		return os.SameFile(p, q)
	}
	if !errors.Is(err, fs.ErrNotExist) || !errors.Is(errB, fs.ErrNotExist) {
		return false // one of them is there, the other is not
	}
	a, errA := wholefile.Target(a)
	if b, errB = wholefile.Target(b); errA != nil || errB != nil {
		return false // neither can be written, which is said elsewhere
	}
	p, err = os.Stat(filepath.Dir(a))
	q, errB = os.Stat(filepath.Dir(b))
	if err != nil || errB != nil || !os.SameFile(p, q) {
		return false
	}
	a, b, dir := filepath.Base(a), filepath.Base(b), filepath.Dir(a)
	return a == b || strings.EqualFold(a, b) && ignoresCase(dir, p)
}

// ignoresCase reports whether a folder is found under its own name in the other case:
// whether the file system is one to which "A" and "a" are one name.
func ignoresCase(dir string, is fs.FileInfo) bool {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return true // the careful answer
	}
	other, err := os.Stat(filepath.Join(filepath.Dir(abs), strings.Map(func(r rune) rune {
		if unicode.IsUpper(r) {
			return unicode.ToLower(r)
		}
		return unicode.ToUpper(r)
	}, filepath.Base(abs))))
	return err == nil && os.SameFile(other, is)
}

// ownText finds what a JSON file of this program says of itself. What it writes for
// other programs says "schema" instead.
var ownText = regexp.MustCompile(`^\s*(?:\x{FEFF}\s*)?\{\s*"format"\s*:\s*"stopladder ([a-z ]+)"`)

// needed refuses to write over what is nobody's result: a scan or another picture that
// this program did not write, a roll file, a plan with a log, the program's own files.
func needed(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return nil // what cannot be read can still be replaced by whoever may
	}
	defer f.Close()
	head := make([]byte, 1<<16)
	n, _ := f.ReadAt(head, 0)
	head = head[:n]
	name := filepath.Base(path)
	if scan.Format(head) != "" && !pngwrite.Wrote(head) {
		return refuse("%s is a picture that this program did not write, and is not written over; choose another name for the output", name)
	}
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return refuse("%s is a pack or another archive, which may hold somebody's marks, and is not written over; choose another name for the output", name)
	}
	m := ownText.FindSubmatch(head)
	if m == nil {
		return nil
	}
	if string(m[1]) != "plan" {
		return refuse("%s is a file of Stopladder (%s), which would be lost; choose another name for the output", name, m[1])
	}
	if old, err := plan.Load(path); err != nil || old.Log != nil {
		return refuse("%s has a log, which would be lost; choose another name for the output", name)
	}
	return nil
}
