package plan

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/bracket/exposure"
	"stopladder/analysis/disk/filelock"
	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/syserror"
)

// Ext is the plan file's extension.
const Ext = ".ladderplan"

// Version of the plan file that this program writes.
const Version = 1

// format is the first member of every plan file.
const format = "stopladder plan"

// MaxFileBytes bounds a plan file; a real one has a hundredth of it.
const MaxFileBytes = 2 << 20

// File is a plan with what led to it and what became of it: the plan file.
type File struct {
	Form   Form   `json:"form"`
	Camera Camera `json:"cameraUsed"`
	Plan   Plan   `json:"plan"`
	Log    *Log   `json:"log,omitempty"`

	more map[string]json.RawMessage // members of a newer program of the same version
	disk string                     // SHA-256 of the file's text as it was last read or written; "" not known
}

type plainFile File

type envelope struct {
	Format  string `json:"format"`
	Version int    `json:"version"`
	*plainFile
	Real *realJSON `json:"real,omitempty"` // written for other programs, never read
}

type realJSON struct {
	BaseOffset float64         `json:"baseOffset"`
	Drift      *float64        `json:"drift,omitempty"`
	Frames     []realFrameJSON `json:"frames"`
	Notes      []string        `json:"notes,omitempty"`
}

type realFrameJSON struct {
	Number int      `json:"number,omitempty"`
	State  State    `json:"state"`
	Wanted *float64 `json:"wanted,omitempty"`
	Stop   *float64 `json:"stop,omitempty"`
	Light  float64  `json:"light"`
	Loss   float64  `json:"loss"`
	Ticked bool     `json:"ticked"`
}

// realFor returns what became of the plan, for the file; nil while nothing is logged.
func (f *File) realFor() (*realJSON, error) {
	if f.Log == nil {
		return nil, nil
	}
	r, err := f.Real()
	if err != nil {
		return nil, err
	}
	out := &realJSON{BaseOffset: tidy(r.BaseOffset), Notes: r.Notes, Frames: []realFrameJSON{}}
	if r.Drift != nil {
		d := tidy(*r.Drift)
		out.Drift = &d
	}
	for _, e := range r.Exposed {
		j := realFrameJSON{Number: e.Number, State: Other, Light: tidy(e.Light), Loss: tidy(e.Loss), Ticked: e.Ticked}
		switch stop := tidy(e.Stop); {
		case e.Test:
			j.State, j.Wanted, j.Stop = Done, &e.Wanted, &stop
		case e.Frame >= 0:
			j.State = Spoiled
		}
		out.Frames = append(out.Frames, j)
	}
	return out, nil
}

// Inherit takes over what a newer program left in the file that f comes from, and which
// version of it that was.
func (f *File) Inherit(from *File) {
	if from != nil {
		f.more, f.disk = from.more, from.disk
	}
}

// Encode writes the plan file's text.
func (f *File) Encode(w io.Writer) error {
	if err := f.check(); err != nil {
		return err
	}
	real, err := f.realFor()
	if err != nil {
		return err
	}
	text, err := json.Marshal(envelope{format, Version, (*plainFile)(f), real})
	if err != nil {
		return err
	}
	text = withMembers(text, f.more, nil)
	var b bytes.Buffer
	if err := json.Indent(&b, text, "", "  "); err != nil {
		return err
	}
	b.WriteByte('\n')
	_, err = w.Write(b.Bytes())
	return err
}

// Save writes the plan file whole or not at all.
func (f *File) Save(path string) error {
	if err := f.check(); err != nil {
		return fmt.Errorf("cannot save %s: %w", quote(filepath.Base(path)), err)
	}
	var text bytes.Buffer
	if err := f.Encode(&text); err != nil {
		return err
	}
	if err := wholefile.Write(path, func(w io.Writer) error { _, err := w.Write(text.Bytes()); return err }); err != nil {
		return err
	}
	f.disk = digest(text.Bytes())
	return nil
}

func digest(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// Stored returns which version of its file a plan was read from or written to last, ""
// for none, to be given to StoredAs.
func (f *File) Stored() string {
	if f == nil {
		return ""
	}
	return f.disk
}

// StoredAs notes which version of its file a plan comes from.
func (f *File) StoredAs(version string) {
	if f != nil {
		f.disk = version
	}
}

// ChangedError says that a plan file is another than the one that was read or written
// last. Nothing was written.
type ChangedError struct{ Path string }

func (e *ChangedError) Error() string {
	return fmt.Sprintf("%s was changed by another program since it was opened, and was left as it is: open it anew, or save under another name", quote(filepath.Base(e.Path)))
}

// SaveBack saves a plan into the file that it was read from or written to last. Where
// another program has changed that meanwhile the error is a *ChangedError; with over it
// is written all the same, and the other version kept as OtherPath.
func (f *File) SaveBack(path string, over bool) error {
	release, err := filelock.Take(path)
	if err != nil {
		return wholefile.Explain(path, err)
	}
	defer release()
	if now, err := readBounded(path, MaxFileBytes); err == nil && f.disk != "" && digest(now) != f.disk {
		if !over {
			return &ChangedError{path}
		}
		if err := wholefile.Write(OtherPath(path), func(w io.Writer) error { _, err := w.Write(now); return err }); err != nil {
			return err
		}
	}
	return f.Save(path)
}

// OtherPath returns where a version of the plan at path that another program wrote is
// kept: "NAME.ladderplan.other", or with a number where that is taken. It ends otherwise
// than a plan, so that it labels no scans.
func OtherPath(path string) string {
	for n := 1; ; n++ {
		name := path + ".other"
		if n > 1 {
			name += fmt.Sprint(" ", n)
		}
		if _, err := os.Lstat(name); err != nil {
			return name
		}
	}
}

// Change reads the plan file at path, changes it and writes it back, while no other
// program does: what another one entered a moment ago is not lost. Nothing is written
// where change fails; its error is returned. f is the plan as it was written.
func Change(path string, change func(f *File) error) (f *File, err error) {
	release, err := filelock.Take(path)
	if err != nil {
		return nil, wholefile.Explain(path, err)
	}
	defer release()
	if f, err = Load(path); err != nil {
		return nil, err
	}
	if err := change(f); err != nil {
		return nil, err
	}
	return f, f.Save(path)
}

// Load reads a plan file. The error is one sentence that names the file.
func Load(path string) (*File, error) {
	refuse := func(err error, do string) (*File, error) {
		return nil, fmt.Errorf("cannot open the plan %s, %w: %s", quote(filepath.Base(path)), err, do)
	}
	text, err := readBounded(path, MaxFileBytes)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return refuse(errors.New("there is none"), "check the name")
	case err != nil:
		return refuse(err, "check that it may be read, or choose another")
	}
	f, err := Decode(text)
	var newer *NewerError
	switch {
	case errors.As(err, &newer):
		return refuse(err, "open it with that version")
	case err != nil:
		return refuse(err, "choose another")
	}
	f.disk = digest(text)
	return f, nil
}

func readBounded(path string, most int64) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, syserror.Cause(err)
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("it is no ordinary file")
	}
	file, err := wholefile.Open(path)
	if err != nil {
		return nil, syserror.Cause(err)
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, most+1))
	if err != nil {
		return nil, syserror.Cause(err)
	}
	if int64(len(text)) > most {
		return nil, fmt.Errorf("it is larger than any plan (%d MB)", most>>20)
	}
	return text, nil
}

// NewerError says that a plan file was written by a newer program.
type NewerError struct{ Version int }

func (e *NewerError) Error() string {
	return fmt.Sprintf("it was written by a newer Stopladder (file version %d, this program reads up to %d)", e.Version, Version)
}

// Decode reads a plan file's text, which is not trusted: every figure and text is
// held against the bounds of what a person may enter.
func Decode(text []byte) (*File, error) {
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	var head struct {
		Format  string `json:"format"`
		Version *int   `json:"version"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return nil, fmt.Errorf("it is damaged or no plan (%s)", short(err))
	}
	switch {
	case head.Format != format:
		return nil, errors.New("it is no plan")
	case head.Version == nil || *head.Version < 1:
		return nil, errors.New("it does not say its version")
	case *head.Version > Version:
		return nil, &NewerError{*head.Version}
	}
	f := &File{}
	if err := json.Unmarshal(text, (*plainFile)(f)); err != nil {
		return nil, fmt.Errorf("it is damaged (%s)", short(err))
	}
	if err := json.Unmarshal(text, &f.more); err != nil {
		return nil, fmt.Errorf("it is damaged (%s)", short(err))
	}
	for name := range f.more {
		// encoding/json takes members in any case for its own.
		switch strings.ToLower(name) {
		case "format", "version", "form", "cameraused", "plan", "log", "real":
			delete(f.more, name)
		}
	}
	if err := f.check(); err != nil {
		return nil, fmt.Errorf("it is damaged (%w)", err)
	}
	return f, nil
}

// short returns an error of encoding/json in few words, without what the file holds.
func short(err error) string {
	switch e := err.(type) {
	case *json.SyntaxError:
		return fmt.Sprintf("at byte %d", e.Offset)
	case *json.UnmarshalTypeError:
		return fmt.Sprintf("%s has the wrong kind of value", quote(e.Field))
	}
	return "not readable"
}

// check returns what in a file cannot be, in one sentence; nil when nothing.
func (f *File) check() error {
	if err := f.Camera.Validate(); err != nil {
		return err
	}
	if err := f.Plan.check(); err != nil {
		return err
	}
	for _, s := range f.texts() {
		if len([]rune(s)) > MaxNote || controlled(s) {
			return errors.New("a text is too long or holds control characters")
		}
	}
	if f.Log != nil {
		if err := f.checkLog(); err != nil {
			return err
		}
	}
	_, err := f.Real()
	return err
}

// mostNotes is how many notes of one kind a plan may have.
const mostNotes = 100

// check returns what in a plan cannot be.
func (p *Plan) check() error {
	if len(p.Frames) == 0 || len(p.Frames) > MaxFrames {
		return fmt.Errorf("it has %d frames and a plan has 1 to %d", len(p.Frames), MaxFrames)
	}
	darkest, brightest := minEV+math.Log2(minSpeed/100)-maxFilter, maxEV+math.Log2(maxSpeed/100)
	if !within(p.EV, darkest-0.01, brightest+0.01) || !within(p.ISO, minSpeed, maxSpeed) || !(math.Abs(p.BaseOffset) < 100) || !(p.Seconds >= 0 && p.Seconds < 1e9) {
		return errors.New("its base exposure or film speed cannot be")
	}
	before := 0
	for i := range p.Frames {
		if err := p.Frames[i].check(i+1, before); err != nil {
			return err
		}
		before = p.Frames[i].Number
	}
	if len(p.Warnings) > mostNotes || len(p.Cautions) > mostNotes || len(p.Assumptions) > mostNotes {
		return errors.New("it has more than a hundred notes")
	}
	for _, w := range p.Warnings {
		for _, k := range w.Frames {
			if k < 0 || k >= len(p.Frames) {
				return errors.New("a warning names a frame that is not there")
			}
		}
	}
	return nil
}

// check returns what in the frame at place at, counted from 1, cannot be; before is
// the number of the frame before it.
func (f *Frame) check(at, before int) error {
	possible := func(number, seconds float64) bool {
		return within(number, minNumber, maxNumber) && within(seconds, minTime/2, 2*maxTime)
	}
	a, t := f.Aperture, f.Time
	if !possible(a.Exact, t.Exact) || !possible(a.Nominal, t.Nominal) || !(math.Abs(f.Stop) <= stops.Limit) {
		return fmt.Errorf("the exposure of its frame %d cannot be", at)
	}
	if !(math.Abs(f.EV-exposure.EV(a.Exact, t.Exact)) < 0.01 && math.Abs(f.Deviation) < 100 && math.Abs(f.Literal) < 100 && math.Abs(f.Loss) < 100) {
		return fmt.Errorf("the figures of its frame %d contradict each other", at)
	}
	if f.Number <= before || f.Number > maxNumberOnRoll {
		return errors.New("the numbers of its frames do not rise")
	}
	return nil
}

// within reports whether a number lies from lo to hi; NaN does not.
func within(v, lo, hi float64) bool { return v >= lo && v <= hi }

// maxNumberOnRoll is the highest number that a frame may bear.
const maxNumberOnRoll = 2000

// checkLog returns what in the log cannot be.
func (f *File) checkLog() error {
	if len(f.Log.Shots) > 10*MaxFrames {
		return errors.New("its log is longer than a roll")
	}
	seen := map[int]bool{}
	for _, s := range f.Log.Shots {
		if err := f.checkShot(s); err != nil {
			return err
		}
		if s.State != Other && seen[s.Number] {
			return fmt.Errorf("frame %d stands twice in the log", s.Number)
		}
		seen[s.Number] = true
	}
	if err := f.SetNote(f.Log.Note); err != nil {
		return err
	}
	if f.Log.Light != nil {
		if _, err := f.reading(*f.Log.Light); err != nil {
			return err
		}
	}
	return nil
}

// texts returns the lines of a plan that go to terminals and cards.
func (f *File) texts() []string {
	p := &f.Plan
	out := []string{f.Form.Title, f.Form.Stock, f.Form.Meter, f.Form.MeterSpeed, f.Form.Filter, f.Form.ISO, f.Form.Camera, f.Form.Vary, f.Form.Hold,
		f.Form.From, f.Form.To, f.Form.Step, f.Form.Format, f.Form.Frames, f.Form.First, f.Form.Order, f.Form.Reciprocity, p.Meter, p.Held, p.HeldBy}
	for _, fr := range p.Frames {
		out = append(out, fr.Time.Text, fr.Time.Between, fr.Aperture.Text, fr.Aperture.Between)
	}
	for _, w := range p.Warnings {
		out = append(out, w.Text, string(w.Code))
	}
	return slices.Concat(out, p.Cautions, p.Assumptions)
}
