package pack

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
)

// Member is one that goes into a pack.
type Member struct {
	Name string
	Put  func(w io.Writer) error
	Want string // SHA-256 that it must come to; "" any
}

// Write writes a pack: the members in their order, then what it says of itself. The error is
// ctx's, the writer's or a member's, or says which member came to be another than was
// measured.
func Write(ctx context.Context, w io.Writer, m Manifest, members []Member) error {
	z := zip.NewWriter(w)
	m.Format, m.Version, m.Files = Format, Version, nil
	for _, one := range members {
		if err := ctx.Err(); err != nil {
			return err
		}
		f, err := put(ctx, z, one)
		if err != nil {
			return err
		}
		m.Files = append(m.Files, f)
	}
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	if _, err := parse(text); err != nil { // what this program would not open is not written
		return fmt.Errorf("the pack would be none, %w", err)
	}
	if _, err := put(ctx, z, Member{Name: ManifestName, Put: Text(append(text, '\n'))}); err != nil {
		return err
	}
	return z.Close()
}

func put(ctx context.Context, z *zip.Writer, one Member) (f File, err error) {
	out, err := z.CreateHeader(&zip.FileHeader{Name: one.Name, Method: zip.Store})
	if err != nil {
		return f, err
	}
	h := sha256.New()
	n := &counted{ctx: ctx, w: io.MultiWriter(out, h)}
	if err := one.Put(n); err != nil {
		return f, err
	}
	f = File{one.Name, n.n, hex.EncodeToString(h.Sum(nil))}
	if one.Want != "" && one.Want != f.SHA256 {
		return f, fmt.Errorf("the scan for %s was changed while it was packed: pack again once nothing writes to it", one.Name)
	}
	return f, nil
}

// counted counts what is written, and ends with ctx.
type counted struct {
	ctx context.Context
	w   io.Writer
	n   int64
}

func (c *counted) Write(b []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := c.w.Write(b)
	c.n += int64(n)
	return n, err
}

// RollText returns the text of a roll whose frames' files are names in the pack. The
// judge's blind judgings stay at home: they would tell a friend what to see.
func RollText(r *roll.Roll) ([]byte, error) {
	root, err := filepath.Abs("pack") // any place: the text has what is below it
	if err != nil {
		return nil, err
	}
	c := under(r, root)
	c.Blind = nil
	return c.Text(root)
}

// under returns a copy of a roll whose frames' files lie below a folder.
func under(r *roll.Roll, dir string) *roll.Roll {
	c := r.Clone()
	for i := range c.Frames {
		f := &c.Frames[i]
		at := filepath.Join(dir, filepath.FromSlash(f.File))
		if c.BaseFile == f.File {
			c.BaseFile = at
		}
		f.File = at
	}
	return c
}

// Text returns what puts a text.
func Text(text []byte) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	}
}

// Reply returns the answer to the pack that a roll came in: the opinions that were done
// here. The error says in one sentence what is missing.
func Reply(r *roll.Roll, program, day string) (Manifest, []Member, error) {
	var m Manifest
	s := r.Sitting
	switch {
	case s == nil || s.Pack == "":
		return m, nil, errors.New("the roll did not come in a pack, so there is nobody to answer")
	case s.Done == "":
		return m, nil, errors.New("you are not done yet: judge the frames, and say that you are done, before the answer goes back")
	}
	var list []roll.Marks
	name := ""
	for _, o := range opinion.Given(r) {
		for _, id := range s.Mine {
			if o.Session == id {
				list = append(list, o)
				name = o.Judge
			}
		}
	}
	if len(list) == 0 {
		return m, nil, errors.New("no marks of yours are kept in the roll: say that you are done first")
	}
	if name == "" {
		return m, nil, errors.New("the marks have no name: say who judges, and that you are done again, so that the answer can be told from others")
	}
	answer := &roll.Roll{Title: r.Title, Frames: []roll.Frame{}, Marks: append([]roll.Marks{{}}, list...)}
	text, err := RollText(answer)
	if err != nil {
		return m, nil, err
	}
	m = Manifest{Kind: Answer, Program: program, ID: s.Pack, Made: day, From: name, Title: r.Title}
	return m, []Member{{Name: RollName, Put: Text(text)}}, nil
}
