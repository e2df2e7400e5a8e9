// Package shelf gathers the roll files of a folder, as a photographer keeps them by the
// year: stocks, labs, scanners, developments. The roll files are the truth; nothing else
// is kept. Scans are looked at from outside alone (is the file there, how large is it, when
// was it written to) and never opened.
package shelf

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/parallel"
)

// How far a folder is gone through.
const (
	MaxDepth = 8      // folders below the one that is named
	MaxNames = 50_000 // names that are looked at
	MaxRolls = 2000
)

// Shelf is what a folder holds of rolls.
type Shelf struct {
	Folder string   // absolute
	Rolls  []*Entry // as they were found: folder by folder, by name
	Notes  []string // what was not looked at, one sentence each
}

// Entry is one roll file.
type Entry struct {
	Path string     // absolute
	Name string     // relative to the shelf's folder, without the ending, with forward slashes
	Roll *roll.Roll // nil: Err says why
	Err  error

	Problems []string // of the roll file and of its scans, one sentence each
	Missing  []string // scans that are not where the roll file says, by name
	Found    []string // of these, where some seem to be now, absolute
	Changed  []string // scans that have another size than when they were measured
	Touched  []string // scans that were written to since, and have the same size: perhaps copies
	Stale    string   // why the roll is to be measured anew, one clause; "" when its readings are fresh
}

// Readings are those that can be shown, nil where the roll keeps none. They are shown
// though they are stale, which Stale says.
func (e *Entry) Readings() *kept.Readings {
	if e.Roll == nil {
		return nil
	}
	return e.Roll.Readings
}

// Called is what the roll is called: its title, else its file.
func (e *Entry) Called() string {
	if e.Roll != nil {
		return e.Roll.Called()
	}
	return strings.TrimSuffix(filepath.Base(e.Path), roll.Ext)
}

// Judged returns the judge's range and name; nil where none is marked.
func (e *Entry) Judged() (*roll.Range, string) {
	if e.Roll == nil || len(e.Roll.Marks) == 0 {
		return nil, ""
	}
	return e.Roll.Marks[0].Range, e.Roll.Marks[0].Judge
}

// Holds returns the measured range that the roll holds; nil where there is none.
func (e *Entry) Holds() *kept.Ends {
	if r := e.Readings(); r != nil {
		return r.Range.Holds
	}
	return nil
}

// Gather reads the roll files in a folder and below it. Versions that stand beside a roll
// file (.previous, .other) are left out, and so are folders that are hidden or linked to.
// program is the version whose readings count as fresh.
func Gather(ctx context.Context, folder, program string) (*Shelf, error) {
	abs, err := filepath.Abs(folder)
	if err != nil {
		return nil, err
	}
	switch info, err := os.Stat(abs); {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("there is no folder %s: name the folder that the roll files are in", quote(abs))
	case err != nil:
		return nil, fmt.Errorf("the folder %s cannot be read: check that it may be", quote(abs))
	case !info.IsDir():
		return nil, fmt.Errorf("%s is no folder: name the folder that the roll files are in", quote(abs))
	}
	s := &Shelf{Folder: abs}
	paths, err := s.find(ctx)
	if err != nil {
		return nil, err
	}
	s.Rolls = make([]*Entry, len(paths))
	err = parallel.Each(ctx, 0, len(paths), func(_, i int) error {
		s.Rolls[i] = Read(paths[i], program)
		if rel, err := filepath.Rel(abs, paths[i]); err == nil {
			s.Rolls[i].Name = strings.TrimSuffix(filepath.ToSlash(rel), roll.Ext)
		}
		return ctx.Err()
	})
	return s, err
}

// find returns the roll files of the folder.
func (s *Shelf) find(ctx context.Context) (paths []string, err error) {
	names, closed, deep := 0, 0, 0
	cut := false
	err = filepath.WalkDir(s.Folder, func(path string, d fs.DirEntry, err error) error {
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			closed++
			if d != nil && d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if names++; names > MaxNames || len(paths) >= MaxRolls {
			cut = true
			return fs.SkipAll
		}
		if d.IsDir() {
			rel, _ := filepath.Rel(s.Folder, path)
			switch {
			case path == s.Folder:
			case strings.HasPrefix(d.Name(), "."):
				return fs.SkipDir
			case strings.Count(filepath.ToSlash(rel), "/") >= MaxDepth:
				deep++
				return fs.SkipDir
			}
			return nil
		}
		if d.Type().IsRegular() && strings.EqualFold(filepath.Ext(d.Name()), roll.Ext) && !aside(d.Name()) {
			paths = append(paths, path)
		}
		return nil
	})
	if cut {
		s.Notes = append(s.Notes, fmt.Sprintf("The folder is too large to be gone through whole: after %d names or %d rolls nothing more was looked at; name a folder further down.", MaxNames, MaxRolls))
	}
	if deep > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("Folders more than %d deep were not looked into: %d of them; name a folder further down.", MaxDepth, deep))
	}
	if closed > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("Parts of the folder could not be read (%d): rolls in them are not listed.", closed))
	}
	return paths, err
}

// aside reports whether a roll file is a version that was kept beside another.
func aside(name string) bool {
	base := strings.TrimSuffix(name, filepath.Ext(name))
	i := strings.LastIndex(base, ".")
	if i < 0 {
		return false
	}
	kind, _, _ := strings.Cut(base[i+1:], " ")
	return kind == "previous" || kind == "other"
}

// Read reads one roll file and looks whether its scans are there.
func Read(path, program string) *Entry {
	abs, err := filepath.Abs(path)
	if err != nil {
		abs = path
	}
	e := &Entry{Path: abs, Name: strings.TrimSuffix(filepath.Base(abs), roll.Ext)}
	r, problems, err := roll.Load(abs)
	if err != nil {
		e.Err = err
		return e
	}
	e.Roll = r
	for _, p := range problems {
		e.Problems = append(e.Problems, p.Text)
	}
	e.Stale = r.Stale(program)
	if r.Demo == "" {
		e.scans()
	}
	return e
}

// scans looks at the scans from outside.
func (e *Entry) scans() {
	var aside []string
	for _, f := range e.Roll.Frames {
		if f.Aside() { // on another machine, or a device: not so much as looked for
			aside = append(aside, f.Name())
			continue
		}
		info, err := os.Stat(f.File)
		switch {
		case err != nil:
			e.Missing = append(e.Missing, f.Name())
			beside := filepath.Join(filepath.Dir(e.Path), f.Name())
			if now, err := os.Stat(beside); err == nil && now.Mode().IsRegular() && (f.Bytes == 0 || now.Size() == f.Bytes) {
				e.Found = append(e.Found, beside)
			}
		case f.Bytes > 0 && info.Size() != f.Bytes:
			e.Changed = append(e.Changed, f.Name())
		case e.written(f, info.ModTime()):
			e.Touched = append(e.Touched, f.Name())
		}
	}
	if n := len(e.Missing); n > 0 {
		text := fmt.Sprintf("%s where the roll file says: put them back, or open the roll and let it find them.", are(e.Missing, "is not", "are not"))
		if len(e.Found) == n {
			text = fmt.Sprintf("%s where the roll file says, but beside it: open the roll and let it find them.", are(e.Missing, "is not", "are not"))
		}
		e.Problems = append(e.Problems, text)
	}
	switch {
	case e.Stale != "":
	case len(e.Changed) > 0:
		e.Stale = many(e.Changed, "is", "are") + " of another size than was measured"
	case len(e.Touched) > 0:
		e.Stale = many(e.Touched, "has", "have") + " a newer time than when measured"
	}
	if len(aside) > 0 {
		e.Problems = append(e.Problems, are(aside, "lies", "lie")+" on another machine or a device by the roll file, and was not looked for.")
	}
}

// written reports whether a scan was written to since it was measured: its time is later
// than that of the scan whose readings are kept. A copy, whose time is as it was or
// earlier, counts as the same where its size is.
func (e *Entry) written(f roll.Frame, now time.Time) bool {
	k := e.Roll.Readings
	if k == nil {
		return false
	}
	for i := range k.Frames {
		if q := &k.Frames[i]; q.File == f.Name() && q.SHA256 == f.SHA256 && q.Time != "" {
			was, err := time.Parse(time.RFC3339Nano, q.Time)
			return err == nil && now.Sub(was) > 2*time.Second // what some file systems round times to
		}
	}
	return false
}

// are names some files with a verb for one and for several: "a.tif is not", "3 scans (a.tif,
// ...) are not".
func are(names []string, one, several string) string {
	switch n := len(names); {
	case n == 1:
		return names[0] + " " + one
	case n <= 3:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1] + " " + several
	default:
		return fmt.Sprintf("%d scans (%s, ...) %s", n, names[0], several)
	}
}

// many is are without names but one.
func many(names []string, one, several string) string {
	if len(names) == 1 {
		return names[0] + " " + one
	}
	return fmt.Sprintf("%d scans %s", len(names), several)
}

func quote(path string) string { return fmt.Sprintf("%q", filepath.ToSlash(path)) }

// Span returns the stops that a common axis for entries shows, whole ones: those of all
// frames and ranges.
func Span(entries []*Entry) (lo, hi float64) {
	lo, hi = -1, 1
	take := func(v float64) { lo, hi = min(lo, v), max(hi, v) }
	for _, e := range entries {
		if e.Roll == nil {
			continue
		}
		for _, f := range e.Roll.Frames {
			take(f.Stop)
		}
		if g, _ := e.Judged(); g != nil {
			take(g.Lo)
			take(g.Hi)
		}
	}
	return max(-stops.Limit, floor(lo)), min(stops.Limit, -floor(-hi))
}

func floor(v float64) float64 {
	f := float64(int(v))
	if f > v {
		f--
	}
	return f
}
