package roll

import (
	"crypto/sha256"
	"encoding/hex"
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

// Load reads a roll file. Frames come back with absolute paths, in the order of
// the file; whether the scans are there is Check's to say. Problems tell what in
// the file was unusable and left out or replaced; saving then writes the roll
// without it (the file as it was stays as PreviousPath). The error, one sentence,
// is for a file of which nothing can be used; a newer version is refused with a
// *NewerError in its chain.
func Load(path string) (*Roll, []Problem, error) {
	refuse := func(err error, do string) (*Roll, []Problem, error) {
		return nil, nil, fmt.Errorf("cannot open the roll file %s, %w: %s", quote(path), err, do)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return refuse(err, "give its whole path")
	}
	info, err := os.Stat(abs)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return refuse(errors.New("there is none"), "check the name, or open the scans instead")
	case err != nil:
		return refuse(err, "check that it may be read")
	case !info.Mode().IsRegular():
		return refuse(errors.New("it is no ordinary file"), "choose another")
	case info.Size() > MaxFileBytes:
		return refuse(fmt.Errorf("it has %d bytes and a roll file at most %d", info.Size(), MaxFileBytes), "choose another")
	}
	f, err := wholefile.Open(abs)
	if err != nil {
		return refuse(err, "check that it may be read")
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, MaxFileBytes+1))
	switch {
	case err != nil:
		return refuse(err, "check the disk, or try "+quote(filepath.Base(PreviousPath(abs))))
	case len(text) > MaxFileBytes:
		return refuse(fmt.Errorf("it is larger than %d bytes", MaxFileBytes), "choose another")
	}
	r, problems, err := decode(text, filepath.Dir(abs))
	var newer *NewerError
	switch {
	case errors.As(err, &newer):
		return refuse(err, "open it with that version")
	case err != nil:
		do := "choose another"
		if _, err := os.Stat(PreviousPath(abs)); err == nil {
			do = "the version before it is kept as " + quote(filepath.Base(PreviousPath(abs))) + ", open that"
		}
		return refuse(err, do)
	}
	r.path, r.disk = abs, digest(text)
	return r, problems, nil
}

func digest(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// PreviousPath returns where Save keeps the version before: beside "NAME.stopladder"
// stands "NAME.previous.stopladder".
func PreviousPath(path string) string {
	base := strings.TrimSuffix(path, Ext)
	return base + ".previous" + Ext
}

// OtherPath returns where a version of the roll file at path that another program wrote
// is kept: beside "NAME.stopladder" stands "NAME.other.stopladder", and "NAME.other
// 2.stopladder" where that is taken. Nothing of this program ever writes over those.
func OtherPath(path string) string {
	base := strings.TrimSuffix(path, Ext) + ".other"
	for n := 1; ; n++ {
		name := base + Ext
		if n > 1 {
			name = fmt.Sprintf("%s %d%s", base, n, Ext)
		}
		if _, err := os.Lstat(name); err != nil {
			return name
		}
	}
}

// ChangedError says that the roll file is another than the one that was read or written
// last: another program, or another window, has saved it meanwhile. Nothing was written.
type ChangedError struct {
	Path   string
	Theirs *Roll // what stands in the file now; nil where it cannot be read
	Err    error // why not
}

func (e *ChangedError) Error() string {
	return fmt.Sprintf("%s was changed by another program since it was opened, and was left as it is: open it anew, or save under another name", quote(filepath.Base(e.Path)))
}

// Save writes the roll file at path: validated, with paths relative to its
// folder, atomically, the version before kept as PreviousPath. A file that holds
// the same already is left alone, so that the previous version stays a different
// one. Where path is the roll's own file and another program has changed it, the error
// is a *ChangedError. After an error, one sentence, the file is what it was.
func (r *Roll) Save(path string) error { return r.save(path, wholefile.Real, false) }

// SaveOver is Save over what another program wrote, which is kept as OtherPath.
func (r *Roll) SaveOver(path string) error { return r.save(path, wholefile.Real, true) }

func (r *Roll) save(path string, d wholefile.Disk, over bool) error {
	abs, err := filepath.Abs(path)
	if err != nil {
		return saveError(path, err)
	}
	if err := r.Validate(); err != nil {
		return fmt.Errorf("cannot save %s: %w", quote(filepath.Base(path)), err)
	}
	b, err := r.encode(filepath.Dir(abs))
	if r.Readings != nil && (err != nil || len(b) > MaxFileBytes) { // readings are taken again, marks are not
		bare := r.Clone()
		bare.Readings = nil
		b, err = bare.encode(filepath.Dir(abs))
	}
	if err != nil {
		return saveError(abs, err)
	}
	if len(b) > MaxFileBytes {
		return fmt.Errorf("cannot save %s, it would have %d bytes and a roll file at most %d: shorten the notes", quote(filepath.Base(path)), len(b), MaxFileBytes)
	}
	release, err := filelock.Take(abs) // between looking and writing nobody else writes
	if err != nil {
		return saveError(abs, err)
	}
	defer release()
	if !same(abs, b) {
		opt := wholefile.Options{Previous: PreviousPath(abs)}
		if r.foreign(abs) {
			if !over {
				theirs, _, err := Load(abs)
				return &ChangedError{abs, theirs, err}
			}
			opt.Previous = OtherPath(abs)
		}
		if err := d.Replace(abs, opt, text(b)); err != nil {
			return saveError(abs, err)
		}
	}
	r.path, r.disk = abs, digest(b)
	return nil
}

// foreign reports whether path is the roll's own file and holds another version than the
// roll was read from or written to.
func (r *Roll) foreign(path string) bool {
	if r.disk == "" || r.path != path {
		return false
	}
	info, err := os.Stat(path)
	if err != nil {
		return false // it is gone: there is nothing to lose
	}
	if !info.Mode().IsRegular() || info.Size() > 2*MaxFileBytes {
		return true
	}
	now, err := wholefile.ReadFile(path)
	return err != nil || digest(now) != r.disk
}
