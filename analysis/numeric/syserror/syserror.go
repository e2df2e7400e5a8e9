// Package syserror puts what the system says of a file into a sentence of ours: without
// the operation and the path, which the sentence names, and as a clause. Windows speaks in
// sentences of its own ("Access is denied."), which would stand inside ours.
package syserror

import (
	"errors"
	"io/fs"
	"os"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Cause returns the system's own error out of err, in words that fit into a sentence;
// errors.Is sees through it. What is no error of the system comes back as it is.
func Cause(err error) error {
	var pe *fs.PathError
	var le *os.LinkError
	switch {
	case errors.As(err, &pe):
		err = pe.Err
	case errors.As(err, &le):
		err = le.Err
	default:
		return err
	}
	if text := words(err); text != err.Error() {
		return &cause{text, err}
	}
	return err
}

// cause is an error of the system in other words.
type cause struct {
	text string
	err  error
}

func (c *cause) Error() string { return c.text }
func (c *cause) Unwrap() error { return c.err }

// clause makes a sentence a clause: no full stop, and no capital but of a name that has
// more of them.
func clause(s string) string {
	s = strings.TrimRight(strings.TrimSpace(s), ".")
	first, n := utf8.DecodeRuneInString(s)
	if second, _ := utf8.DecodeRuneInString(s[n:]); unicode.IsUpper(first) && (unicode.IsLower(second) || second == ' ') {
		s = string(unicode.ToLower(first)) + s[n:]
	}
	return s
}
