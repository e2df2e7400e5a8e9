package criteria

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// MaxFileBytes bounds a limits file; a real one has a hundredth of it.
const MaxFileBytes = 64 << 10

// maxName is the longest name of a set, in characters.
const maxName = 200

// file is the JSON form of a set:
//
//	{"name": "mine", "grade": "balance",
//	 "limits": {"lostArea": {"holds": 0.02, "strains": 0.1}, ...}}
type file struct {
	Name   string          `json:"name,omitempty"`
	Grade  Grade           `json:"grade,omitempty"`
	Limits map[string]Pair `json:"limits,omitempty"`
}

// MarshalJSON writes the set; shares are 0..1.
func (s Set) MarshalJSON() ([]byte, error) {
	f := file{Name: s.Name, Grade: s.Grade, Limits: map[string]Pair{}}
	for _, c := range All() {
		f.Limits[c.Key()] = s.Limits[c]
	}
	return json.Marshal(f)
}

// UnmarshalJSON reads a set. A criterion that is not there has the limits of the
// named set with that name, else those of the default set; so has the grade. The
// error is one sentence.
func (s *Set) UnmarshalJSON(text []byte) error {
	var f file
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return plainError(err)
	}
	base, ok := ByName(f.Name)
	if !ok {
		base = Default()
	}
	base.Name = f.Name
	if f.Grade != "" {
		base.Grade = f.Grade
	}
	for key, p := range f.Limits {
		c, ok := ByKey(key)
		if !ok {
			return fmt.Errorf("the limits name %q, and the criteria are lostArea, deltaE, noise, crossover and contrastKept", clip(key))
		}
		base.Limits[c] = p
	}
	if utf8.RuneCountInString(base.Name) > maxName || strings.ContainsFunc(base.Name, unicode.IsControl) {
		return errors.New("the name of the limits is too long or holds control characters")
	}
	if err := base.Validate(); err != nil {
		return err
	}
	*s = base
	return nil
}

// plainError takes encoding/json's words apart for somebody who wrote the file by
// hand.
func plainError(err error) error {
	var kind *json.UnmarshalTypeError
	var syntax *json.SyntaxError
	switch {
	case errors.As(err, &kind):
		return fmt.Errorf("the limits have a %s where %q wants a number or an object", kind.Value, kind.Field)
	case errors.As(err, &syntax) && strings.Contains(syntax.Error(), "unexpected end"):
		return errors.New("the limits end in the middle")
	case errors.As(err, &syntax):
		return fmt.Errorf("the limits are no JSON from byte %d on", syntax.Offset)
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return errors.New("the limits end in the middle")
	}
	if _, field, ok := strings.Cut(err.Error(), "unknown field "); ok {
		return fmt.Errorf("the limits hold the member %s, and the members are name, grade and limits (each with holds and strains)", clip(field))
	}
	return fmt.Errorf("the limits cannot be read (%s)", clip(err.Error()))
}

func clip(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}

// Parse reads a limits file. The error is one sentence without the file's name.
func Parse(text []byte) (Set, error) {
	var s Set
	if len(text) > MaxFileBytes {
		return s, fmt.Errorf("a limits file has at most %d bytes, and this has %d", MaxFileBytes, len(text))
	}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	if !json.Valid(text) {
		var v any
		return s, plainError(json.Unmarshal(text, &v))
	}
	if trimmed := bytes.TrimSpace(text); len(trimmed) == 0 || trimmed[0] != '{' {
		return s, errors.New("a limits file is a JSON object with name, grade and limits")
	}
	err := json.Unmarshal(text, &s)
	return s, err
}

// Encode writes a limits file.
func (s Set) Encode(w io.Writer) error {
	b, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	_, err = w.Write(append(b, '\n'))
	return err
}
