package roll

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"stopladder/analysis/disk/filelock"
	"stopladder/analysis/disk/wholefile"
)

// Journal keeps a recovery copy of one session's unsaved work. Each session has
// two files: NAME.lock, locked by the system while the session lives, and
// NAME.recovery, the copy. A session whose lock can be taken has died. A Journal is
// safe for use by one goroutine at a time.
type Journal struct {
	dir, name string
	lockFile  *os.File
}

const (
	lockSuffix     = ".lock"
	recoverySuffix = ".recovery"
	recoveryFormat = "stopladder recovery"
)

// snapshot is the text of a recovery copy.
type snapshot struct {
	Format  string          `json:"format"`
	Version int             `json:"version"`
	When    time.Time       `json:"when"`
	SavedAs string          `json:"savedAs,omitempty"`
	Disk    string          `json:"disk,omitempty"` // SHA-256 of the roll file as it was then
	Roll    json.RawMessage `json:"roll"`           // a roll file's text with absolute paths
}

// OpenJournal begins this session's journal in dir, which is made when it is not
// there. The error is one sentence; the program can go on without a journal.
func OpenJournal(dir string) (*Journal, error) {
	fail := func(err error) (*Journal, error) {
		return nil, fmt.Errorf("unsaved work cannot be kept in %s: save often, and check that the folder can be written: %w", quote(dir), err)
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fail(err)
	}
	name := fmt.Sprintf("session-%d-%d", os.Getpid(), time.Now().UnixNano())
	f, err := os.OpenFile(filepath.Join(dir, name+lockSuffix), os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fail(err)
	}
	if _, err := filelock.Hold(f, true); err != nil {
		f.Close()
		os.Remove(f.Name())
		return fail(err)
	}
	return &Journal{dir: dir, name: name, lockFile: f}, nil
}

func (j *Journal) path() string { return filepath.Join(j.dir, j.name+recoverySuffix) }

// Keep writes a recovery copy of r in place of the one before, atomically;
// savedAs is the roll file that r belongs to, "" for none. After an error the copy
// before is still there.
func (j *Journal) Keep(r *Roll, savedAs string) error { return j.keep(r, savedAs, wholefile.Real) }

func (j *Journal) keep(r *Roll, savedAs string, d wholefile.Disk) error {
	fail := func(err error) error {
		return fmt.Errorf("unsaved work cannot be kept in %s: save the roll now, and check the folder: %w", quote(j.dir), err)
	}
	if j.lockFile == nil {
		return fail(errors.New("the journal is closed"))
	}
	b, err := r.encode("")
	if err != nil {
		return fail(err)
	}
	if savedAs != "" {
		if abs, err := filepath.Abs(savedAs); err == nil {
			savedAs = abs
		}
	}
	b, err = compact(snapshot{recoveryFormat, Version, time.Now().UTC(), savedAs, r.disk, b})
	if err != nil {
		return fail(err)
	}
	if err := d.Replace(j.path(), wholefile.Options{Mode: 0o600}, text(append(b, '\n'))); err != nil {
		return fail(err)
	}
	return nil
}

// Clear removes the recovery copy: everything is saved, or thrown away on
// purpose.
func (j *Journal) Clear() error {
	if err := os.Remove(j.path()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("the recovery copy in %s cannot be removed: remove %s by hand: %w", quote(j.dir), quote(filepath.Base(j.path())), err)
	}
	return nil
}

// Close ends the session. A recovery copy that was not cleared stays and is
// offered next time, as after a crash.
func (j *Journal) Close() error {
	if j.lockFile == nil {
		return nil
	}
	if _, err := os.Stat(j.path()); errors.Is(err, fs.ErrNotExist) {
		os.Remove(j.lockFile.Name())
	}
	err := j.lockFile.Close()
	if _, gone := os.Stat(j.path()); errors.Is(gone, fs.ErrNotExist) {
		os.Remove(j.lockFile.Name()) // where an open file cannot be removed
	}
	j.lockFile = nil
	return err
}

// Recovered is unsaved work of a session that died. It stays reserved to the
// session that found it, so that no second window offers it, until Discard or
// Release.
type Recovered struct {
	Roll     *Roll
	SavedAs  string    // the roll file it belongs to, absolute; "" was never saved
	When     time.Time // when the copy was written, UTC
	Problems []Problem // as of Load

	path     string
	lockFile *os.File
}

// Orphans finds the unsaved work of sessions that died. Copies that cannot be
// read are renamed to NAME.recovery.damaged, kept, and told in the error; the
// others are returned all the same.
func (j *Journal) Orphans() ([]*Recovered, error) {
	entries, err := os.ReadDir(j.dir)
	if err != nil {
		return nil, fmt.Errorf("the recovery copies in %s cannot be listed: check the folder: %w", quote(j.dir), err)
	}
	var out []*Recovered
	var errs []error
	for _, e := range entries {
		name, isCopy := strings.CutSuffix(e.Name(), recoverySuffix)
		if !isCopy {
			name, isCopy = strings.CutSuffix(e.Name(), lockSuffix)
			if isCopy && name != j.name {
				j.dropEmpty(name)
			}
			continue
		}
		if name == j.name || !strings.HasPrefix(name, "session-") {
			continue
		}
		// Created again when it was lost: then nobody can hold it.
		f, err := os.OpenFile(filepath.Join(j.dir, name+lockSuffix), os.O_RDWR|os.O_CREATE, 0o600)
		if err != nil {
			continue
		}
		if taken, err := filelock.Hold(f, false); err != nil || !taken {
			f.Close()
			continue
		}
		path := filepath.Join(j.dir, e.Name())
		r, err := readSnapshot(path)
		switch {
		case errors.Is(err, fs.ErrNotExist): // another window dealt with it
			os.Remove(f.Name())
			f.Close()
		case err != nil:
			errs = append(errs, fmt.Errorf("a recovery copy cannot be read and is kept as %s: send or delete it by hand: %w", quote(e.Name()+".damaged"), err))
			os.Rename(path, path+".damaged")
			os.Remove(f.Name())
			f.Close()
		default:
			r.path, r.lockFile = path, f
			out = append(out, r)
		}
	}
	return out, errors.Join(errs...)
}

// dropEmpty removes the lock of a session that died without a copy. A session
// that is just beginning is told from it by age.
func (j *Journal) dropEmpty(name string) {
	path := filepath.Join(j.dir, name+lockSuffix)
	if info, err := os.Stat(path); err != nil || time.Since(info.ModTime()) < wholefile.StaleAfter || !strings.HasPrefix(name, "session-") {
		return
	}
	if _, err := os.Stat(filepath.Join(j.dir, name+recoverySuffix)); !errors.Is(err, fs.ErrNotExist) {
		return
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0o600)
	if err != nil {
		return
	}
	taken, err := filelock.Hold(f, false)
	dead := err == nil && taken
	removed := dead && os.Remove(path) == nil
	f.Close()
	if dead && !removed {
		os.Remove(path) // where an open file cannot be removed
	}
}

func readSnapshot(path string) (*Recovered, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	const most = 2*MaxFileBytes + 1<<16
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return nil, err
	}
	if len(text) > most {
		return nil, fmt.Errorf("it is larger than %d bytes", most)
	}
	var s snapshot
	if err := json.Unmarshal(text, &s); err != nil {
		return nil, fmt.Errorf("it is damaged (%s)", short(err))
	}
	if s.Format != recoveryFormat {
		return nil, errors.New("it is no recovery copy")
	}
	if s.Version > Version {
		return nil, &NewerError{Version: s.Version}
	}
	r, problems, err := decode(s.Roll, "")
	if err != nil {
		return nil, err
	}
	if badPath(s.SavedAs) == "" {
		r.path, r.disk = s.SavedAs, s.Disk
	}
	return &Recovered{Roll: r, SavedAs: r.path, When: s.When, Problems: problems}, nil
}

// Discard deletes the copy: call it when the work is saved, kept in this
// session's own journal, or not wanted.
func (r *Recovered) Discard() error {
	err := os.Remove(r.path)
	if errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	if r.lockFile != nil {
		os.Remove(r.lockFile.Name())
		r.lockFile.Close()
		os.Remove(r.lockFile.Name()) // where an open file cannot be removed
		r.lockFile = nil
	}
	if err != nil {
		return fmt.Errorf("the recovery copy %s cannot be removed: remove it by hand: %w", quote(r.path), err)
	}
	return nil
}
