package roll

import (
	"bytes"
	"encoding/json"
	"fmt"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
)

// format is the first member of every roll file.
const format = "stopladder roll"

// extra holds the members of a JSON object that this program does not know. They
// are written back, so that a newer program of the same file version loses nothing
// when an older one saves.
type extra map[string]json.RawMessage

// envelope is the roll file.
type envelope struct {
	Format  string `json:"format"`
	Version int    `json:"version"`
	*plainRoll
}

// The plain types have the fields and not the methods, which ends the recursion.
type (
	plainRoll  Roll
	plainFrame Frame
	plainMarks Marks
)

// encode writes the roll file's text for a roll file in dir; with dir "" the
// paths stay absolute.
func (r *Roll) encode(dir string) ([]byte, error) {
	out := *r
	out.Frames = make([]Frame, len(r.Frames))
	for i, f := range r.Frames {
		saved := f.elsewhere
		if !f.Aside() {
			saved = toSaved(f.File, dir)
		}
		if r.Demo == "" {
			if r.BaseFile == f.File {
				out.BaseFile = saved
			}
			f.File = saved
		}
		out.Frames[i] = f
	}
	if r.BaseFile != "" && r.Demo == "" && out.BaseFile == r.BaseFile {
		out.BaseFile = toSaved(r.BaseFile, dir)
	}
	known, err := compact(envelope{format, Version, (*plainRoll)(&out)})
	if err != nil {
		return nil, err
	}
	text, err := join(known, r.extra)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := json.Indent(&b, text, "", "  "); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return numbers.ReplaceAllFunc(b.Bytes(), func(list []byte) []byte {
		inside := bytes.Join(bytes.Fields(list[1:len(list)-1]), []byte(" "))
		return slices.Concat([]byte("["), inside, []byte("]"))
	}), nil
}

// numbers matches a list of nothing but numbers, laid out on many lines: it is written in
// one. No text of the file matches, since line breaks in texts are written otherwise.
var numbers = regexp.MustCompile(`\[\n\s+(?:(?:[-+.0-9eE]+|null),?\s+)+\]`)

// decode reads a roll file's text; its paths are relative to dir.
func decode(text []byte, dir string) (*Roll, []Problem, error) {
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	var head struct {
		Format  string `json:"format"`
		Version *int   `json:"version"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return nil, nil, fmt.Errorf("it is damaged or no roll file (%s)", short(err))
	}
	switch {
	case head.Format != format:
		return nil, nil, fmt.Errorf("it is no roll file")
	case head.Version == nil || *head.Version < 1:
		return nil, nil, fmt.Errorf("it does not say its version")
	case *head.Version > Version:
		return nil, nil, &NewerError{Version: *head.Version}
	}
	r := &Roll{}
	text, spoiled := withoutSpoiled(text, "limits", new(criteria.Set))
	text, readings, unread := withoutReadings(text)
	text, unseen := withoutSpoiled(text, "blind", new([]Blind))
	e := envelope{plainRoll: (*plainRoll)(r)}
	x, err := split(text, &e)
	if err != nil {
		return nil, nil, fmt.Errorf("it is damaged (%s)", short(err))
	}
	r.extra, r.Readings = x, readings
	problems, err := r.clean(dir)
	if spoiled != nil {
		problems = append(problems, Problem{Code: Damaged, Frame: -1,
			Text: fmt.Sprintf("The limits in the roll file cannot be used (%v): the default set is taken, set them again.", spoiled)})
	}
	if unseen != nil {
		problems = append(problems, Problem{Code: Damaged, Frame: -1,
			Text: fmt.Sprintf("The blind judgings in the roll file cannot be used (%s): judge blind anew; the other marks are all there.", short(unseen))})
	}
	if unread != nil {
		problems = append(problems, Problem{Code: Damaged, Frame: -1,
			Text: fmt.Sprintf("The readings that the roll file keeps cannot be used (%s): measure the roll again and save it; the marks are all there.", short(unread))})
	}
	return r, problems, err
}

// withoutSpoiled takes a member that cannot be used out of a roll file's text: it must
// not cost the judge the rest. as is what it is read into.
func withoutSpoiled(text []byte, key string, as any) ([]byte, error) {
	var all map[string]json.RawMessage
	if json.Unmarshal(text, &all) != nil || all[key] == nil {
		return text, nil
	}
	err := json.Unmarshal(all[key], as)
	if err == nil {
		return text, nil
	}
	delete(all, key)
	rest, again := json.Marshal(all)
	if again != nil {
		return text, nil
	}
	return rest, err
}

// withoutReadings takes the readings out of a roll file's text, which is most of it: they
// are read once, by themselves. The error says why they cannot be used.
func withoutReadings(text []byte) (rest []byte, r *kept.Readings, err error) {
	var all map[string]json.RawMessage
	if json.Unmarshal(text, &all) != nil || all["readings"] == nil {
		return text, nil, nil
	}
	if err = json.Unmarshal(all["readings"], &r); err != nil {
		r = nil
	}
	delete(all, "readings")
	if rest, again := compact(all); again == nil {
		return rest, r, err
	}
	return text, nil, err
}

// NewerError says that a roll file was written by a newer program.
type NewerError struct{ Version int }

func (e *NewerError) Error() string {
	return fmt.Sprintf("it was written by a newer Stopladder (file version %d, this program reads up to %d)", e.Version, Version)
}

// short returns an error of encoding/json in few words, without what the file holds.
func short(err error) string {
	switch e := err.(type) {
	case *json.SyntaxError:
		return fmt.Sprintf("at byte %d", e.Offset)
	case *json.UnmarshalTypeError:
		return fmt.Sprintf("%q has the wrong kind of value", e.Field)
	}
	if s := err.Error(); len(s) < 80 && !hasControl(s, "") {
		return s
	}
	return "not readable"
}

// MarshalJSON writes the known members in their order, then the unknown ones.
func (f Frame) MarshalJSON() ([]byte, error) {
	v := struct {
		plainFrame
		Area json.RawMessage `json:"imageArea,omitempty"`
	}{plainFrame: plainFrame(f)}
	if f.Area != nil {
		area, err := compactJoin(f.Area, f.areaExtra)
		if err != nil {
			return nil, err
		}
		v.Area = area
	}
	return compactJoin(v, f.extra)
}

// UnmarshalJSON keeps the members that it does not know.
func (f *Frame) UnmarshalJSON(text []byte) (err error) {
	*f = Frame{}
	var v plainFrame
	x, err := split(text, &v)
	if err != nil {
		return err
	}
	*f = Frame(v)
	f.extra = x
	if f.Area != nil {
		f.areaExtra, err = inner(text, "imageArea", &Area{})
	}
	return err
}

// MarshalJSON writes the known members in their order, then the unknown ones.
func (m Marks) MarshalJSON() ([]byte, error) {
	v := struct {
		plainMarks
		Range json.RawMessage `json:"range,omitempty"`
	}{plainMarks: plainMarks(m)}
	if m.Range != nil {
		rg, err := compactJoin(m.Range, m.rangeExtra)
		if err != nil {
			return nil, err
		}
		v.Range = rg
	}
	return compactJoin(v, m.extra)
}

// UnmarshalJSON keeps the members that it does not know.
func (m *Marks) UnmarshalJSON(text []byte) (err error) {
	*m = Marks{}
	var v plainMarks
	x, err := split(text, &v)
	if err != nil {
		return err
	}
	*m = Marks(v)
	m.extra = x
	if m.Range != nil {
		m.rangeExtra, err = inner(text, "range", &Range{})
	}
	return err
}

// inner returns the unknown members of the object that is member key of text.
func inner(text []byte, key string, known any) (extra, error) {
	var all map[string]json.RawMessage
	if err := json.Unmarshal(text, &all); err != nil {
		return nil, err
	}
	return split(all[key], known)
}

// split decodes the members that dst knows, by their exact names, and returns the
// others.
func split(text []byte, dst any) (extra, error) {
	var all map[string]json.RawMessage
	if err := json.Unmarshal(text, &all); err != nil {
		return nil, err
	}
	known := map[string]json.RawMessage{}
	for _, key := range keys(reflect.TypeOf(dst).Elem()) {
		if v, ok := all[key]; ok {
			known[key] = v
			delete(all, key)
		}
	}
	again, err := compact(known) // readings are kept as they are spelled
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(again, dst); err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, nil
	}
	return all, nil
}

// keys returns the JSON names of a struct's fields.
func keys(t reflect.Type) (out []string) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			out = append(out, keys(f.Type.Elem())...)
			continue
		}
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" {
			out = append(out, name)
		}
	}
	return out
}

func compactJoin(known any, more extra) ([]byte, error) {
	text, err := compact(known)
	if err != nil {
		return nil, err
	}
	return join(text, more)
}

// compact returns json.Marshal that leaves &, < and > readable.
func compact(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

// join appends the members of more that the object does not have, sorted.
func join(object []byte, more extra) ([]byte, error) {
	if len(more) == 0 {
		return object, nil
	}
	var have map[string]json.RawMessage
	if err := json.Unmarshal(object, &have); err != nil {
		return nil, err
	}
	names := make([]string, 0, len(more))
	for name := range more {
		if _, ok := have[name]; !ok {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	out := bytes.TrimSuffix(object, []byte("}"))
	for i, name := range names {
		if len(have) > 0 || i > 0 {
			out = append(out, ',')
		}
		key, err := compact(name)
		if err != nil {
			return nil, err
		}
		out = append(append(append(out, key...), ':'), more[name]...)
	}
	return append(out, '}'), nil
}

// drive matches an absolute path of Windows with forward or backward slashes.
var drive = regexp.MustCompile(`^[A-Za-z]:[\\/]`)

// toSaved returns a path as the file in dir holds it: relative to dir with forward
// slashes; absolute where no relative path leads there (another drive).
func toSaved(file, dir string) string {
	if drive.MatchString(file) && filepath.VolumeName(file) == "" {
		return file // of another system: this one cannot relate it
	}
	abs, err := filepath.Abs(file)
	if err != nil {
		abs = file
	}
	if dir == "" {
		return filepath.ToSlash(abs)
	}
	rel, err := filepath.Rel(dir, abs)
	if err != nil {
		return filepath.ToSlash(abs)
	}
	rel = filepath.ToSlash(rel)
	if drive.MatchString(rel) {
		rel = "./" + rel // a folder that is called "c:"
	}
	return rel
}

// toMemory returns a path of a file in dir as this system opens it.
func toMemory(saved, dir string) string {
	if drive.MatchString(saved) && filepath.VolumeName(saved) == "" {
		return saved
	}
	if drive.MatchString(saved) || strings.HasPrefix(saved, "/") || dir == "" {
		return filepath.Clean(filepath.FromSlash(saved))
	}
	return filepath.Join(dir, filepath.FromSlash(saved))
}
