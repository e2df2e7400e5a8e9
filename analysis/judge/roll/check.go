package roll

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Hash returns the SHA-256 (lower-case hex) and the size of a file.
func Hash(ctx context.Context, path string) (sum string, bytes int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil {
		return "", 0, err
	} else if !info.Mode().IsRegular() {
		return "", 0, &fs.PathError{Op: "read", Path: path, Err: errors.New("it is no ordinary file")}
	}
	h := sha256.New()
	buf := make([]byte, 1<<20)
	for {
		if err := ctx.Err(); err != nil {
			return "", 0, err
		}
		n, err := f.Read(buf)
		h.Write(buf[:n])
		bytes += int64(n)
		if err == io.EOF {
			return hex.EncodeToString(h.Sum(nil)), bytes, nil
		}
		if err != nil {
			return "", 0, err
		}
	}
}

// Check looks whether the scans are where the roll says and, as far as their size
// tells, what they were; with verify it reads every file whole and compares the
// hash. A missing scan is looked for beside the roll file. The roll is not
// changed. A roll of the demo has no files. When ctx ends, the problems found so
// far come back.
func (r *Roll) Check(ctx context.Context, verify bool) (problems []Problem) {
	if r.Demo != "" {
		return nil
	}
	var beside *finder
	for i, f := range r.Frames {
		if ctx.Err() != nil {
			return problems
		}
		say := func(code Code, found, format string, args ...any) {
			problems = append(problems, Problem{Code: code, Frame: i, Found: found, Text: fmt.Sprintf(format, args...)})
		}
		name := quote(f.Name())
		if f.Aside() {
			dir := filepath.Dir(r.path)
			say(Missing, "", "%s lies on %s by the roll file (%s) and was not looked for: if the roll file is to be trusted, open it with --elsewhere, or let the window look there; its verdict and note are kept.",
				name, elsewhere(f.elsewhere, dir), quote(f.elsewhere))
			continue
		}
		info, err := os.Stat(f.File)
		switch {
		case errors.Is(err, fs.ErrNotExist), isNotDir(err):
			if beside == nil && r.path != "" {
				beside = r.search(ctx, filepath.Dir(r.path), 0)
			}
			if found, _ := beside.find(ctx, f); found != "" {
				say(Missing, found, "%s is no longer in %s, but beside the roll file: confirm to use it from there.", name, quote(filepath.Dir(f.File)))
				continue
			}
			say(Missing, "", "%s is missing from %s: put it back, or name the folder where it is now; its verdict and note are kept.", name, quote(filepath.Dir(f.File)))
			continue
		case err != nil:
			say(Unreadable, "", "%s cannot be read: check that the file may be read; its verdict and note are kept.", name)
			continue
		case !info.Mode().IsRegular():
			say(Unreadable, "", "%s is no ordinary file: put the scan in its place.", name)
			continue
		}
		changed := f.Bytes > 0 && info.Size() != f.Bytes
		if !changed && verify && f.SHA256 != "" {
			sum, _, err := Hash(ctx, f.File)
			if ctx.Err() != nil {
				return problems
			}
			if err != nil {
				say(Unreadable, "", "%s cannot be read: check that the file may be read; its verdict and note are kept.", name)
				continue
			}
			changed = sum != f.SHA256
		}
		if changed {
			say(Changed, "", "%s has changed since it was judged: look whether its verdict still stands, or bring the old scan back.", name)
		}
	}
	return problems
}
