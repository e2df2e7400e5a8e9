package pack

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
	"strings"
	"time"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/syserror"
)

// parts is what the folder is called in which members stand until all are there.
const parts = ".stopladder-pack-*.part"

// Folder is where a pack is unpacked unless another place is said: beside it, under its name.
func Folder(path string) string { return strings.TrimSuffix(path, filepath.Ext(path)) }

// ThereError says that a folder in whose place a pack should be unpacked is something else.
type ThereError struct{ Dir string }

func (e *ThereError) Error() string {
	return fmt.Sprintf("%q is there already and is not this pack: name a folder that is not there yet", filepath.Base(e.Dir))
}

// Unpack takes a pack out into a folder that is not there yet: all of it, held against its
// hashes, or nothing. A folder into which this pack was taken out before is left as it is,
// with what was judged in it. It returns the roll file. progress, which may be nil, gets the
// share that is done. The error is one sentence, or ctx's.
func (p *Pack) Unpack(ctx context.Context, dir, today string, progress func(float64)) (rollFile string, err error) {
	if dir, err = filepath.Abs(dir); err != nil {
		return "", fmt.Errorf("there is no such place as %q: name another", dir)
	}
	if p.Kind != Whole {
		return "", fmt.Errorf("%q is the answer of %q to a pack: open the roll that was packed, and take it in there", filepath.Base(p.path), p.From)
	}
	rollFile = filepath.Join(dir, RollName)
	if _, err := os.Lstat(dir); !errors.Is(err, fs.ErrNotExist) {
		if r, _, err := roll.Load(rollFile); err == nil && r.Sitting != nil && r.Sitting.Pack == p.ID {
			return rollFile, nil
		}
		return "", &ThereError{dir}
	}
	above := filepath.Dir(dir)
	sweep(above)
	temp, err := os.MkdirTemp(above, parts)
	if err != nil {
		return "", fmt.Errorf("the pack cannot be unpacked into %q: %w", filepath.Base(above), syserror.Cause(err))
	}
	defer os.RemoveAll(temp)
	if err := os.Chmod(temp, 0o755); err != nil {
		return "", fmt.Errorf("the pack cannot be unpacked into %q: %w", filepath.Base(above), syserror.Cause(err))
	}
	var done, all int64
	for _, f := range p.Files {
		all += f.Bytes
	}
	for _, f := range p.Files {
		if f.Name == RollName {
			continue // it is written for this judge
		}
		err := p.takeOut(ctx, f, filepath.Join(temp, filepath.FromSlash(f.Name)), func(n int64) {
			if done += n; progress != nil && all > 0 {
				progress(float64(done) / float64(all))
			}
		})
		if err != nil {
			return "", err
		}
	}
	if err := p.forJudge(temp, dir, today); err != nil {
		return "", err
	}
	if err := os.Rename(temp, dir); err != nil {
		return "", fmt.Errorf("the pack cannot be put into %q: %w", filepath.Base(dir), syserror.Cause(err))
	}
	return rollFile, nil
}

// forJudge writes the roll file as its new judge finds it: nothing judged, the opinions in
// it hidden, and a sitting of its own, whatever the sender wrote of that.
func (p *Pack) forJudge(temp, dir, today string) error {
	r := under(p.Roll, dir)
	for i := range r.Frames {
		f := &r.Frames[i]
		f.Verdict, f.Note, f.Hand = roll.Unjudged, "", nil
	}
	r.Marks = append([]roll.Marks{{}}, opinion.Given(r)...)
	r.Blind, r.Readings = nil, nil // of the sender's own eye, and of scans that are elsewhere
	r.Sitting = &roll.Sitting{Session: opinion.NewID(), Begun: today, Pack: p.ID, From: p.From}
	text, err := r.Text(dir)
	if err == nil {
		err = wholefile.Write(filepath.Join(temp, RollName), Text(text))
	}
	if err != nil {
		return fmt.Errorf("the roll of the pack cannot be written: %w", err)
	}
	return nil
}

// takeOut writes one member as a new file.
func (p *Pack) takeOut(ctx context.Context, f File, path string, more func(int64)) (err error) {
	damaged := fmt.Errorf("%s in the pack %q is damaged, and nothing was unpacked: ask for the pack again", f.Name, filepath.Base(p.path))
	failed := func(err error) error {
		return fmt.Errorf("the pack cannot be unpacked, %s could not be written: %w", f.Name, syserror.Cause(err))
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return failed(err)
	}
	in, err := p.members[f.Name].Open()
	if err != nil {
		return damaged
	}
	defer in.Close()
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return failed(err)
	}
	h := sha256.New()
	buf := make([]byte, 1<<20)
	for {
		if err := ctx.Err(); err != nil {
			out.Close()
			return err
		}
		n, readErr := in.Read(buf)
		h.Write(buf[:n])
		if _, err := out.Write(buf[:n]); err != nil {
			out.Close()
			return failed(err)
		}
		more(int64(n))
		if readErr == io.EOF {
			break
		}
		if readErr != nil {
			out.Close()
			return damaged
		}
	}
	if hex.EncodeToString(h.Sum(nil)) != f.SHA256 {
		out.Close()
		return damaged
	}
	if err := errors.Join(out.Sync(), out.Close()); err != nil {
		return failed(err)
	}
	return nil
}

// sweep removes what a killed program left half unpacked.
func sweep(dir string) {
	left, _ := filepath.Glob(filepath.Join(dir, parts))
	for _, p := range left {
		if st, err := os.Lstat(p); err == nil && st.IsDir() && time.Since(st.ModTime()) > wholefile.StaleAfter {
			os.RemoveAll(p)
		}
	}
}
