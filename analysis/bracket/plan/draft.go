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

func (s Store) draftPath() string { return filepath.Join(s.Dir, "plan-in-progress.json") }

// Draft returns what was being planned when the program last ended; nil when nothing
// was. A file that cannot be used is put aside, and the error says so.
func (s Store) Draft() (*Draft, error) {
	if s.Dir == "" {
		return nil, nil
	}
	text, err := readBounded(s.draftPath(), MaxFileBytes)
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
	aside := strings.TrimSuffix(s.draftPath(), ".json") + "-damaged.json"
	if moved := os.Rename(s.draftPath(), aside); moved != nil {
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

// KeepDraft keeps what is being planned, whole or not at all; nil forgets it.
// Without a folder it does nothing.
func (s Store) KeepDraft(d *Draft) error {
	if s.Dir == "" {
		return nil
	}
	if d == nil {
		if err := os.Remove(s.draftPath()); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return wholefile.Explain(s.draftPath(), err)
		}
		return nil
	}
	if err := os.MkdirAll(s.Dir, 0o700); err != nil {
		return wholefile.Explain(s.draftPath(), err)
	}
	text, err := json.MarshalIndent(draftFile{draftFormat, Version, *d}, "", "  ")
	if err != nil {
		return err
	}
	return wholefile.Write(s.draftPath(), func(w io.Writer) error {
		_, err := w.Write(append(text, '\n'))
		return err
	})
}
