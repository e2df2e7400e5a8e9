package scan

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// ChangedError says that a file was replaced or written to after it was opened: what was
// read before and what would be read now may be of two pictures.
type ChangedError struct{ Path string }

func (e *ChangedError) Error() string {
	return fmt.Sprintf("%s was changed while it was measured; measure it again when nothing writes to it any more.", filepath.Base(e.Path))
}

// identity is what a file on the disk was when it was opened: which file, how large, and
// when it was last written to.
type identity struct {
	path string
	was  fs.FileInfo
}

// is reports whether a file is the same, unchanged.
func (i identity) is(now fs.FileInfo) bool {
	return os.SameFile(i.was, now) && i.was.Size() == now.Size() && i.was.ModTime().Equal(now.ModTime())
}

// check returns a *ChangedError where the name stands for something else by now. A file
// that is gone is left to the reading itself to tell.
func (i identity) check() error {
	if i.was == nil {
		return nil
	}
	if now, err := os.Stat(i.path); err == nil && !i.is(now) {
		return &ChangedError{i.path}
	}
	return nil
}

// during runs a reading between two looks at the file; a change goes before whatever else
// went wrong with it.
func (i identity) during(read func() error) error {
	if err := i.check(); err != nil {
		return err
	}
	err := read()
	if changed := i.check(); changed != nil {
		return changed
	}
	return err
}

// Fingerprinter is what a Source offers besides when it is a file.
type Fingerprinter interface {
	// Fingerprint returns the SHA-256 (lower-case hex) and the size of the file, which
	// is the very file that the readings are of: else a *ChangedError comes.
	Fingerprint(ctx context.Context) (sum string, bytes int64, err error)
	// Unchanged returns a *ChangedError where the file is not what it was when the Source
	// was opened: a fingerprint of before is then not that of what was read since.
	Unchanged() error
}

// Unchanged is described at Fingerprinter.
func (s *source) Unchanged() error { return s.id.check() }

// Fingerprint is described at Fingerprinter.
func (s *source) Fingerprint(ctx context.Context) (sum string, bytes int64, err error) {
	err = s.id.during(func() error {
		f, err := os.Open(s.id.path)
		if err != nil {
			return &fileError{s.id.path, err}
		}
		defer f.Close()
		if now, err := f.Stat(); err != nil || !s.id.is(now) {
			return &ChangedError{s.id.path}
		}
		h := sha256.New()
		if bytes, err = io.CopyBuffer(struct{ io.Writer }{h}, &cancelReader{ctx, f}, make([]byte, 1<<20)); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return &fileError{s.id.path, err}
		}
		sum = hex.EncodeToString(h.Sum(nil))
		return nil
	})
	if err != nil {
		return "", 0, err
	}
	return sum, bytes, nil
}
