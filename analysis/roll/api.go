package roll

import (
	"context"
	"errors"
	"time"
)

var errUnbuilt = errors.New("not built yet")

// Load reads a roll file.
func Load(path string) (*Roll, []Problem, error) { return nil, nil, errUnbuilt }

// Save writes the roll file atomically and keeps the version before it.
func (r *Roll) Save(path string) error { return errUnbuilt }

// Problem is one thing that is wrong with a roll while the rest stays usable.
type Problem struct {
	Code  Code
	Frame int    // index into Frames; -1: the roll
	Text  string // one sentence: what, which file, what to do
	Found string // where a missing scan seems to be now; "" unknown
}

// Code names a kind of problem.
type Code string

// Check looks whether the scans are there, and with verify whether they are unchanged.
func (r *Roll) Check(ctx context.Context, verify bool) []Problem { return nil }

// Relocate looks for missing scans in dir and below.
func (r *Roll) Relocate(ctx context.Context, dir string) (moved []int, problems []Problem) {
	return nil, nil
}

// Hash returns the SHA-256 (hex) and size of a file.
func Hash(ctx context.Context, path string) (sum string, bytes int64, err error) {
	return "", 0, errUnbuilt
}

// Validate says what keeps the roll from being saved.
func (r *Roll) Validate() error { return nil }

// Base returns the index of the base frame (-1: no frames) and a note when no frame stands at 0.
func (r *Roll) Base() (index int, note string) { return -1, "" }

// Sort orders the frames by stop, under first.
func (r *Roll) Sort() {}

// Clone returns a copy that shares nothing.
func (r *Roll) Clone() *Roll { c := *r; return &c }

// Path of the roll file; "" while never saved.
func (r *Roll) Path() string { return r.path }

// Judge returns the one judge's marks, adding them when there are none.
func (r *Roll) Judge() *Marks { return nil }

// Journal keeps a recovery copy of unsaved work.
type Journal struct{}

// RecoveryDir is the default folder of recovery copies.
func RecoveryDir() (string, error) { return "", errUnbuilt }

// OpenJournal starts this session's journal in dir.
func OpenJournal(dir string) (*Journal, error) { return nil, errUnbuilt }

// Keep writes a recovery copy; savedAs is the roll file it belongs to, "" for none.
func (j *Journal) Keep(r *Roll, savedAs string) error { return errUnbuilt }

// Clear removes the recovery copy: everything is saved.
func (j *Journal) Clear() error { return errUnbuilt }

// Close ends the session.
func (j *Journal) Close() error { return errUnbuilt }

// Orphans gives the work of sessions that died. Each stays reserved to this
// session until Discard or Release.
func (j *Journal) Orphans() ([]*Recovered, error) { return nil, errUnbuilt }

// Recovered is unsaved work of a session that died.
type Recovered struct {
	Roll    *Roll
	SavedAs string
	When    time.Time
}

// Discard deletes the copy.
func (r *Recovered) Discard() error { return errUnbuilt }

// Release leaves the copy for another time.
func (r *Recovered) Release() error { return errUnbuilt }
