// Package legible makes text from strangers (file names, titles, notes, what a scan says
// of itself) safe to show: what would steer a terminal, turn the direction of writing or
// hide is shown as an escape instead of being sent, and cells of a table are no formulas.
package legible

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// Line returns s as it is shown in one line: tabs and line ends become spaces; other
// control characters, marks that turn the direction of writing, invisible marks and
// bytes that are no UTF-8 are written as escapes, for example \u202e or \x1b.
func Line(s string) string { return shown(s, false) }

// Text is Line of a text that may have several lines: tabs and line ends stay.
func Text(s string) string { return shown(s, true) }

func shown(s string, lines bool) string {
	plain := true
	for i := 0; i < len(s) && plain; i++ {
		plain = s[i] >= ' ' && s[i] < 0x7f
	}
	if plain {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == '\n' || r == '\t':
			if !lines {
				r = ' '
			}
			b.WriteRune(r)
		case r == utf8.RuneError && !strings.HasPrefix(s[i:], "\uFFFD"):
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case !steers(r):
			b.WriteRune(r)
		default:
			b.WriteString(Code(r))
		}
	}
	return b.String()
}

// Code returns the escape of a character.
func Code(r rune) string {
	switch {
	case r < 0x100:
		return fmt.Sprintf(`\x%02x`, r)
	case r < 0x10000:
		return fmt.Sprintf(`\u%04x`, r)
	}
	return fmt.Sprintf(`\U%08x`, r)
}

// steers reports whether a character does something else than stand there. The joiners
// U+200C and U+200D stay: words of several scripts are spelt with them.
func steers(r rune) bool {
	switch {
	case unicode.IsControl(r):
		return true
	case r == 0x061C, r == 0x200E, r == 0x200F, r >= 0x202A && r <= 0x202E, r >= 0x2066 && r <= 0x2069: // direction: Unicode Standard Annex 9
		return true
	case r == 0x2028, r == 0x2029: // ends of lines and paragraphs
		return true
	case r == 0x00AD, r == 0x180E, r == 0x200B, r >= 0x2060 && r <= 0x2064, r >= 0x206A && r <= 0x206F, r == 0xFEFF, r >= 0xFFF9 && r <= 0xFFFB, r >= 0xE0000 && r <= 0xE007F: // unseen
		return true
	}
	return false
}

// JSON returns a JSON text in which the characters that Line would show as escapes are
// written as JSON's own escapes: it says the same, and can be looked at.
func JSON(text []byte) []byte {
	if !strings.ContainsFunc(string(text), func(r rune) bool { return r >= 0x7f && steers(r) }) {
		return text
	}
	var b strings.Builder
	for _, r := range string(text) {
		switch {
		case r < 0x7f || !steers(r):
			b.WriteRune(r)
		case r < 0x10000:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			hi, lo := utf16.EncodeRune(r)
			fmt.Fprintf(&b, `\u%04x\u%04x`, hi, lo)
		}
	}
	return []byte(b.String())
}

var number = regexp.MustCompile(`^[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?$`)

// Cell returns s as a cell of a CSV table: as Text, and with an apostrophe before what a
// spreadsheet would calculate, which is what begins with = + - @, a tab or the end of a
// line and is not a number. (OWASP, "CSV Injection", from memory; the characters' wide
// forms are treated alike.)
func Cell(s string) string {
	s = strings.ReplaceAll(s, "\r\n", "\n")
	if s == "" || number.MatchString(s) {
		return s
	}
	risky := strings.ContainsRune("=+-@\t\r\n＝＋－＠", []rune(s)[0])
	s = Text(s)
	if risky {
		return "'" + s
	}
	return s
}

// Cells returns Cell of each.
func Cells(row []string) []string {
	out := make([]string, len(row))
	for i, s := range row {
		out[i] = Cell(s)
	}
	return out
}
