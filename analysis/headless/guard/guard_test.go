package guard

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestOneFileIsOneOutput(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	if err := os.Mkdir("d", 0o700); err != nil {
		t.Fatal(err)
	}
	pairs := [][2]string{{"d/x", "d/../d/x"}, {"d/x", filepath.Join(dir, "d", "x")}}
	if runtime.GOOS == "windows" { // where few may make links, and the case of a name is none
		pairs = append(pairs, [2]string{"d/x", `D\X`})
	} else {
		os.Symlink("d", "e")
		os.Symlink("d/new", "l") // to what is not there yet
		pairs = append(pairs, [2]string{"d/x", "e/x"}, [2]string{"l", "d/new"})
	}
	for _, two := range pairs {
		var g Guard
		if err := g.Writes(two[0]); err != nil {
			t.Fatal(err)
		}
		if err := g.Writes(two[1]); err == nil || !strings.Contains(err.Error(), "twice") {
			t.Errorf("%v: %v", two, err)
		}
	}
	var g Guard
	for _, p := range []string{"d/x", "d/y", "x", os.DevNull, os.DevNull, ""} {
		if err := g.Writes(p); err != nil {
			t.Errorf("%q: %v", p, err)
		}
	}
}

// An output that becomes another name of a scan while the work is done is noticed.
func TestStill(t *testing.T) {
	t.Chdir(t.TempDir())
	os.WriteFile("a.tif", []byte("II*\x00"), 0o600)
	var g Guard
	g.Reads("a.tif")
	if err := g.Writes("out"); err != nil {
		t.Fatal(err)
	}
	if err := os.Link("a.tif", "out"); err != nil {
		t.Skip(err)
	}
	if err := g.Still("out"); err == nil || !strings.Contains(err.Error(), "read") {
		t.Error(err)
	}
}
