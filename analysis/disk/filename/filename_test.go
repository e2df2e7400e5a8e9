package filename

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"
)

// The rules are Microsoft's, "Naming Files, Paths, and Namespaces": nine signs, the devices
// with and without an ending, no dot or space at the end.
func TestOf(t *testing.T) {
	for title, want := range map[string]string{
		"Courtyard, June":       "Courtyard, June",
		"6/7 at f/11: \"dusk\"": "6-7 at f-11- -dusk-",
		`a\b*c?d<e>f|g`:         "a-b-c-d-e-f-g",
		"tab\tand\nline\x7f":    "tab-and-line-",
		"Hof, Jänner ½":         "Hof, Jänner ½",
		"中庭":                    "中庭",
		" roll. . ":             "roll",
		"...":                   "",
		" ":                     "",
		"":                      "",
		"con":                   "con_",
		"NUL.2026":              "NUL_.2026",
		"Com1":                  "Com1_",
		"lpt³":                  "lpt³_",
		"COM0":                  "COM0",
		"aux .x":                "aux_.x",
		"conference":            "conference",
		"console.log":           "console.log",
		"bad\xff byte":          "bad- byte",
		".hidden":               ".hidden",
	} {
		if got := Of(title); got != want {
			t.Errorf("%q became %q, want %q", title, got, want)
		}
	}
}

// A name that is made can be written on this system, is found under it again, and passes
// the check itself, however long its title.
func TestMadeNamesAreNames(t *testing.T) {
	dir := t.TempDir()
	for _, title := range []string{"con", "NUL.txt", "a:b", "dots...", strings.Repeat("ä", 400), strings.Repeat("x", 179) + " . .y", "prn ", "é\u0301", "-3"} {
		name := Of(title)
		if err := Check(name); err != nil || len(name) > most || !utf8.ValidString(name) {
			t.Errorf("%q became %q: %v", title, name, err)
		}
		if again := Of(name); again != name {
			t.Errorf("%q became %q, and that %q", title, name, again)
		}
		if err := os.WriteFile(filepath.Join(dir, name+".stopladder"), nil, 0o600); err != nil {
			t.Error(err)
		}
	}
	found, err := os.ReadDir(dir)
	if err != nil || len(found) != 9 {
		t.Errorf("%d files, %v", len(found), err)
	}
}

func TestCheck(t *testing.T) {
	for _, name := range []string{"nul", "Con.png", "com¹.csv", "LPT9.a.b", "x.", "x ", "a:b.png", "a?.png", "a\tb", `a\b`} {
		if err := Check(name); err == nil || !strings.HasSuffix(err.Error(), "choose another name") {
			t.Errorf("%q: %v", name, err)
		}
	}
	for _, name := range []string{"sheet.png", "COM10.png", "nulls.csv", "+1⅓.tif", "a, b & c!.png", ".x"} {
		if err := Check(name); err != nil {
			t.Error(err)
		}
	}
}
