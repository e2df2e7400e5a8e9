package load_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/film"
	"stopladder/analysis/load"
	"stopladder/analysis/scan/tiffwrite"
	"stopladder/analysis/show/report"
)

// grey writes a scan of slowly rising codes.
func grey(t *testing.T, path string, from uint16) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	const w, h = 120, 80
	tw, err := tiffwrite.NewWriter(f, tiffwrite.Options{Width: w, Height: h})
	if err != nil {
		t.Fatal(err)
	}
	row := make([]uint16, 3*w)
	for y := range h {
		for i := range row {
			row[i] = from + uint16(i*97+y*y*3)%20000
		}
		if err := tw.WriteRows(row); err != nil {
			t.Fatal(err)
		}
	}
	if err := tw.Close(); err != nil {
		t.Fatal(err)
	}
}

// The readings and the hash beside them are of one file: a scan that is replaced or
// written to during the run is an error of that frame, in one sentence, whenever it
// happens, and takes nothing else with it.
func TestReplacedDuringTheRun(t *testing.T) {
	replace := func(t *testing.T, path string) {
		other := path + ".new"
		grey(t, other, 9000)
		if err := os.Rename(other, path); err != nil {
			t.Fatal(err)
		}
	}
	over := func(t *testing.T, path string) { // the same file, another size
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
		if err != nil {
			t.Fatal(err)
		}
		f.Write([]byte("more"))
		f.Close()
	}
	for _, when := range []load.Kind{load.Opened, load.Looked, load.Compared} {
		for name, change := range map[string]func(*testing.T, string){"replaced": replace, "written to": over} {
			dir := t.TempDir()
			for i, n := range []string{"-1.tif", "0.tif", "+1.tif"} {
				grey(t, filepath.Join(dir, n), uint16(5000+3000*i))
			}
			job, err := load.Plan([]string{dir}, load.Options{})
			if err != nil {
				t.Fatal(err)
			}
			done := false
			r, err := load.Measure(context.Background(), job, nil, load.Options{}, func(e load.Event) {
				if e.Kind == when && !done && (e.Frame < 0 || job.Roll.Frames[e.Frame].Stop == 1) {
					done = true
					change(t, filepath.Join(dir, "+1.tif"))
				}
			})
			if err != nil {
				t.Fatal(err)
			}
			if !done {
				t.Fatalf("%v never came", when)
			}
			failures := r.Failures()
			if len(failures) != 1 || !strings.Contains(failures[0].Error(), "+1.tif was changed while it was measured") {
				t.Errorf("%s at %v: the failures are %v", name, when, failures)
			}
			doc := report.Build(r, report.Options{})
			for i, f := range r.Frames {
				if filepath.Base(f.File) == "+1.tif" {
					if f.SHA256 != "" || doc.Frames[i].SHA256 != nil || doc.Frames[i].Error == nil {
						t.Errorf("%s at %v: a hash is given, or no error", name, when)
					}
					continue
				}
				whole(t, f)
			}
		}
	}
}

func whole(t *testing.T, f film.Frame) {
	t.Helper()
	b, err := os.ReadFile(f.File)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(b)
	if f.Look == nil || f.SHA256 != hex.EncodeToString(sum[:]) {
		t.Errorf("%s: read %v, hash %s", filepath.Base(f.File), f.Look != nil, f.SHA256)
	}
}
