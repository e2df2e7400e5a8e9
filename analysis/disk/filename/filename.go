// Package filename makes names of files out of titles, which hold on every system: a roll
// is saved on one and opened on another. The rules are those of Windows, which allows
// least (Microsoft, "Naming Files, Paths, and Namespaces").
package filename

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// most is how many bytes a name made here may have. File systems allow 255; an ending, a
// part of the program's own ("by somebody"), and a mark of who writes it come to it.
const most = 180

// Of makes a title fit for a file's name: what no system allows in one becomes a hyphen,
// dots and spaces at its end go, and the name of a device gets an underscore behind it.
// "" comes back where nothing is left.
func Of(title string) string {
	s := strings.Map(func(r rune) rune {
		switch {
		case r < ' ' || r == 0x7f || strings.ContainsRune(`/\:*?"<>|`, r):
			return '-'
		case r == utf8.RuneError:
			return '-'
		}
		return r
	}, title)
	s = trimmed(s)
	for len(s) > most {
		_, n := utf8.DecodeLastRuneInString(s)
		s = trimmed(s[:len(s)-n])
	}
	if strings.Trim(s, ".") == "" {
		return ""
	}
	if Device(s) {
		stem, rest, dot := strings.Cut(s, ".")
		s = strings.TrimRight(stem, " ") + "_"
		if dot {
			s += "." + rest
		}
	}
	return s
}

// trimmed is a name without what Windows drops in silence, and without spaces before it.
func trimmed(s string) string { return strings.TrimRight(strings.TrimSpace(s), ". ") }

// devices are the names that Windows keeps for devices; the digits 1 to 3 count in their
// raised spelling as well.
var devices = map[string]bool{"CON": true, "PRN": true, "AUX": true, "NUL": true, "CONIN$": true, "CONOUT$": true}

func init() {
	for _, port := range []string{"COM", "LPT"} {
		for _, d := range "123456789¹²³" {
			devices[port+string(d)] = true
		}
	}
}

// Device reports whether Windows takes a name for a device instead of a file, whatever
// folder it stands in and whatever ending it has.
func Device(name string) bool {
	stem, _, _ := strings.Cut(name, ".")
	return devices[strings.ToUpper(strings.TrimRight(stem, " "))]
}

// Check returns in one sentence why Windows would not write a file of this name, or would
// write another one; nil where it does. The name is without folder.
func Check(name string) error {
	switch {
	case Device(name):
		return fmt.Errorf("%s is a device to Windows and no file; choose another name", name)
	case strings.HasSuffix(name, ".") || strings.HasSuffix(name, " "):
		return fmt.Errorf("%q ends in a dot or a space, which Windows drops; choose another name", name)
	}
	for _, r := range name {
		if r < ' ' || strings.ContainsRune(`/\:*?"<>|`, r) {
			return fmt.Errorf("%q holds %q, which Windows allows in no name; choose another name", name, r)
		}
	}
	return nil
}
