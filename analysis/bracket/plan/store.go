package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"stopladder/analysis/disk/filelock"
	"stopladder/analysis/disk/wholefile"
)

// Store keeps the user's own cameras in cameras.json of a folder.
type Store struct{ Dir string }

const (
	storeFormat = "stopladder cameras"
	maxCameras  = 200
)

func (s Store) path() string { return filepath.Join(s.Dir, "cameras.json") }

type cameraFile struct {
	Format  string   `json:"format"`
	Version int      `json:"version"`
	Cameras []Camera `json:"cameras"`
}

// Own returns the user's cameras; none when there is no file yet, or no folder. A file
// that cannot be used is an error and stays as it is.
func (s Store) Own() ([]Camera, error) {
	if s.Dir == "" {
		return nil, nil
	}
	bad := func(err error) ([]Camera, error) {
		return nil, fmt.Errorf("your cameras in %s cannot be used, %w: mend the file, or put it away and enter them again", quote(filepath.Base(s.path())), err)
	}
	text, err := readBounded(s.path(), MaxFileBytes)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return bad(err)
	}
	var file cameraFile
	if err := json.Unmarshal(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")), &file); err != nil {
		return bad(fmt.Errorf("it is damaged (%s)", short(err)))
	}
	switch {
	case file.Format != storeFormat:
		return bad(errors.New("it is no file of cameras"))
	case file.Version > Version:
		return bad(&NewerError{file.Version})
	case len(file.Cameras) > maxCameras:
		return bad(fmt.Errorf("it lists %d cameras and %d are the most", len(file.Cameras), maxCameras))
	}
	for _, c := range file.Cameras {
		if err := c.Validate(); err != nil {
			return bad(fmt.Errorf("%s: %w", quote(c.Name), err))
		}
	}
	return file.Cameras, nil
}

// All returns the user's cameras and those that are built in, own ones first. With an
// error the built-in ones still come.
func (s Store) All() ([]Camera, error) {
	own, err := s.Own()
	for _, c := range Generic() {
		if !slices.ContainsFunc(own, func(o Camera) bool { return word(o.Name) == word(c.Name) }) {
			own = append(own, c)
		}
	}
	return own, err
}

// Put keeps a camera, in the place of the one with its name. The error is Errors
// for a camera that cannot be.
func (s Store) Put(c Camera) error {
	c.Name = strings.Join(strings.Fields(c.Name), " ")
	if err := c.Validate(); err != nil {
		return err
	}
	if slices.ContainsFunc(Generic(), func(g Camera) bool { return word(g.Name) == word(c.Name) }) {
		return Errors{{FieldName, fmt.Sprintf("%s is built in and stays as it is: give your camera another name", quote(c.Name))}}
	}
	return s.change(func(own []Camera) ([]Camera, error) {
		at := slices.IndexFunc(own, func(o Camera) bool { return word(o.Name) == word(c.Name) })
		switch {
		case at >= 0:
			own[at] = c
		case len(own) >= maxCameras:
			return nil, Errors{{FieldName, fmt.Sprintf("there are %d cameras already, the most that are kept: remove one first", maxCameras)}}
		default:
			own = append(own, c)
		}
		return own, nil
	})
}

// Remove forgets one of the user's cameras.
func (s Store) Remove(name string) error {
	return s.change(func(own []Camera) ([]Camera, error) {
		left := slices.DeleteFunc(slices.Clone(own), func(c Camera) bool { return word(c.Name) == word(name) })
		if len(left) == len(own) {
			return nil, &FieldError{FieldName, fmt.Sprintf("there is no camera of yours called %s: its whole name is needed to remove it", quote(name))}
		}
		return left, nil
	})
}

// change reads the cameras, changes them and writes them back while no other program
// does.
func (s Store) change(change func(own []Camera) ([]Camera, error)) error {
	if s.Dir == "" {
		return errors.New("cameras cannot be kept, the system names no folder for settings: set STOPLADDER_HOME to one")
	}
	if err := os.MkdirAll(s.Dir, 0o700); err != nil {
		return wholefile.Explain(s.path(), err)
	}
	release, err := filelock.Take(s.path())
	if err != nil {
		return wholefile.Explain(s.path(), err)
	}
	defer release()
	own, err := s.Own()
	if err != nil {
		return err
	}
	if own, err = change(own); err != nil {
		return err
	}
	return s.write(own)
}

// write writes the cameras, with what a newer program left in the file and in each of
// them.
func (s Store) write(own []Camera) error {
	var all struct {
		Cameras []map[string]json.RawMessage `json:"cameras"`
	}
	file := map[string]json.RawMessage{}
	if old, err := readBounded(s.path(), MaxFileBytes); err == nil {
		old = bytes.TrimPrefix(old, []byte("\xef\xbb\xbf"))
		if json.Unmarshal(old, &all) != nil || json.Unmarshal(old, &file) != nil {
			all.Cameras, file = nil, map[string]json.RawMessage{}
		}
	}
	known := knownMembers(cameraFile{})
	text, err := json.Marshal(struct {
		Format  string            `json:"format"`
		Version int               `json:"version"`
		Cameras []json.RawMessage `json:"cameras"`
	}{storeFormat, Version, cameraTexts(own, all.Cameras)})
	if err != nil {
		return err
	}
	text = withMembers(text, file, known)
	var b bytes.Buffer
	if err := json.Indent(&b, text, "", "  "); err != nil {
		return err
	}
	b.WriteByte('\n')
	return wholefile.Write(s.path(), func(w io.Writer) error {
		_, err := w.Write(b.Bytes())
		return err
	})
}

// cameraTexts returns the JSON of cameras, each with the unknown members that it has in
// old.
func cameraTexts(own []Camera, old []map[string]json.RawMessage) []json.RawMessage {
	known := knownMembers(Camera{})
	out := []json.RawMessage{}
	for _, c := range own {
		text, err := json.Marshal(c)
		if err != nil {
			continue // a Camera has nothing that cannot be written
		}
		for _, o := range old {
			var name string
			if json.Unmarshal(o["name"], &name) == nil && word(name) == word(c.Name) {
				text = withMembers(text, o, known)
			}
		}
		out = append(out, text)
	}
	return out
}

// knownMembers returns the JSON names of a struct's fields, in lower case: encoding/json
// takes members in any case for its own.
func knownMembers(v any) map[string]bool {
	known := map[string]bool{}
	t := reflect.TypeOf(v)
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		known[strings.ToLower(name)] = true
	}
	return known
}

// withMembers adds to a JSON object what more has besides the known members.
func withMembers(text []byte, more map[string]json.RawMessage, known map[string]bool) []byte {
	for _, name := range slices.Sorted(maps.Keys(more)) {
		if known[strings.ToLower(name)] {
			continue
		}
		if key, err := json.Marshal(name); err == nil {
			text = slices.Concat(text[:len(text)-1], []byte(","), key, []byte(":"), more[name], []byte("}"))
		}
	}
	return text
}
