package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"stopladder/analysis/disk/filelock"
	"stopladder/analysis/disk/wholefile"
)

// Draft is a plan that somebody works on and has not saved: what is typed, whether
// or not it makes a plan, and what is logged.
type Draft struct {
	Form   Form   `json:"form"`
	Camera Camera `json:"camera"` // that Form names, as it was then
	Log    *Log   `json:"log,omitempty"`
	Path   string `json:"path,omitempty"` // plan file that it came from, "" where none
	Disk   string `json:"disk,omitempty"` // which version of that file, as File.Stored
}

const draftFormat = "stopladder plan in progress"

type draftFile struct {
	Format  string `json:"format"`
	Version int    `json:"version"`
	Draft
}

// Drafts keeps the plan in progress of one planning window in the settings folder. Each
// window that is open at the same time has a file of its own there, held by a lock that
// the system lets go of when the program ends, however it ends: so two never write over
// each other, and what one left behind comes back with the next that is opened. Not safe
// for concurrent use.
type Drafts struct {
	dir  string // "": nothing is kept
	path string // "" where no file could be had
	lock *os.File
}

const (
	draftName  = "plan-in-progress"
	draftExt   = ".json"
	draftLock  = ".lock"
	mostDrafts = 64 // windows at the same time
)

// OpenDrafts begins to keep a window's plan, and returns what was being planned when
// another ended that had not saved it; nil when nothing was. more is how many such plans
// are left for other windows. A file that cannot be used is put aside, and the error says
// so; the Drafts is of use all the same, and is never nil.
func (s Store) OpenDrafts() (k *Drafts, d *Draft, more int, err error) {
	k = &Drafts{dir: s.Dir}
	if s.Dir == "" {
		return k, nil, 0, nil
	}
	if err := os.MkdirAll(s.Dir, 0o700); err != nil {
		return k, nil, 0, nil // nothing is there, and Keep will say why
	}
	var damaged []error
	free := ""
	for n := 1; n <= mostDrafts; n++ {
		path := filepath.Join(s.Dir, draftName+draftExt)
		if n > 1 {
			path = filepath.Join(s.Dir, fmt.Sprintf("%s-%d%s", draftName, n, draftExt))
		}
		_, gone := os.Lstat(path)
		if errors.Is(gone, fs.ErrNotExist) {
			if free == "" && k.lock == nil && k.hold(path) {
				free = path
			}
			continue
		}
		if d != nil {
			if other := (&Drafts{}); other.hold(path) {
				other.release()
				more++
			}
			continue
		}
		mine := &Drafts{dir: s.Dir}
		if !mine.hold(path) {
			continue // of a window that is open
		}
		switch found, err := readDraft(path); {
		case err != nil:
			damaged = append(damaged, err)
			mine.release()
		case found == nil: // its window has just saved it
			mine.release()
		default:
			k.release()
			k, d = mine, found
		}
	}
	return k, d, more, errors.Join(damaged...)
}

// hold takes the file of a draft for this window; false where another has it. Where files
// cannot be locked the first one is taken by all.
func (k *Drafts) hold(path string) bool {
	f, err := os.OpenFile(strings.TrimSuffix(path, draftExt)+draftLock, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		k.path = path
		return true
	}
	taken, err := filelock.Hold(f, false)
	if err != nil {
		f.Close()
		k.path = path
		return true
	}
	if !taken {
		f.Close()
		return false
	}
	k.path, k.lock = path, f
	return true
}

// release lets go of the file. That of the lock stays, empty: one that is removed could be
// held by one window and made anew by the next.
func (k *Drafts) release() {
	if k.lock != nil {
		k.lock.Close()
	}
	k.path, k.lock = "", nil
}

// Close lets another window take up what is kept, if anything.
func (k *Drafts) Close() { k.release() }

// readDraft reads a draft, nil where there is none; one that cannot be used is put aside.
func readDraft(path string) (*Draft, error) {
	text, err := readBounded(path, MaxFileBytes)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var f draftFile
	if err == nil {
		f, err = decodeDraft(text)
	}
	if err == nil {
		return &f.Draft, nil
	}
	aside := strings.TrimSuffix(path, draftExt) + "-damaged" + draftExt
	if moved := os.Rename(path, aside); moved != nil {
		return nil, fmt.Errorf("the plan that was not saved last time cannot be read, %w", err)
	}
	return nil, fmt.Errorf("the plan that was not saved last time cannot be read, %w; it is kept as %s in the settings folder", err, quote(filepath.Base(aside)))
}

// decodeDraft reads a draft's text, which is not trusted. The form may hold anything
// that can be typed; the log is held against a plan once there is one.
func decodeDraft(text []byte) (f draftFile, err error) {
	if err := json.Unmarshal(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")), &f); err != nil {
		return f, fmt.Errorf("it is damaged (%s)", short(err))
	}
	switch {
	case f.Format != draftFormat:
		return f, errors.New("it is none")
	case f.Version > Version:
		return f, &NewerError{f.Version}
	case f.Log != nil && len(f.Log.Shots) > 10*MaxFrames:
		return f, errors.New("its log is longer than a roll")
	}
	d := &f.Draft
	texts := (&File{Form: d.Form}).texts()
	if d.Log != nil {
		texts = append(texts, strings.NewReplacer("\n", "", "\t", "").Replace(d.Log.Note))
		for _, s := range d.Log.Shots {
			texts = append(texts, string(s.State), s.Setting, s.Clock, strings.NewReplacer("\n", "", "\t", "").Replace(s.Note))
		}
		if l := d.Log.Light; l != nil {
			texts = append(texts, l.Meter, l.MeterSpeed, l.Clock)
		}
	}
	for _, t := range append(texts, d.Path, d.Disk) {
		if len([]rune(t)) > 2*MaxNote || controlled(t) {
			return f, errors.New("a text is too long or holds control characters")
		}
	}
	if d.Camera.Name != "" && d.Camera.Validate() != nil {
		d.Camera = Camera{} // its name in the form is looked up as ever
	}
	return f, nil
}

// Keep keeps what is being planned, whole or not at all; nil forgets it. Without a folder
// it does nothing.
func (k *Drafts) Keep(d *Draft) error {
	if k.dir == "" {
		return nil
	}
	if k.path == "" {
		return fmt.Errorf("the plan in progress cannot be kept in %s: check that the folder can be written", quote(k.dir))
	}
	if d == nil {
		if err := os.Remove(k.path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return wholefile.Explain(k.path, err)
		}
		return nil
	}
	text, err := json.MarshalIndent(draftFile{draftFormat, Version, *d}, "", "  ")
	if err != nil {
		return err
	}
	return wholefile.Write(k.path, func(w io.Writer) error {
		_, err := w.Write(append(text, '\n'))
		return err
	})
}
