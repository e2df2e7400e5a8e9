package headless

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// An interrupt ends with status 1, one sentence, and nothing written.
func TestInterrupt(t *testing.T) {
	dir := t.TempDir()
	scan := filepath.Join(dir, "0.png")
	if err := os.WriteFile(scan, tinyPNG(t), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, args := range [][]string{
		{"measure", scan, "--json", filepath.Join(dir, "out.png")},
		{"sheet", scan, "-o", filepath.Join(dir, "out.png")},
		{"demo", filepath.Join(dir, "out.png")},
	} {
		var out, errs bytes.Buffer
		if got := run(ctx, args, streams{strings.NewReader(""), &out, &errs}); got != CouldNot {
			t.Errorf("%s: status %d", args[0], got)
		}
		if want := "stopladder: stopped before it was done; nothing was written.\n"; errs.String() != want || out.Len() > 0 {
			t.Errorf("%s: said %q and wrote %d bytes", args[0], errs.String(), out.Len())
		}
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != 1 {
		t.Errorf("%d files are left, want the scan alone", len(entries))
	}
}

// What a file name or a note holds must not steer the terminal.
func TestSay(t *testing.T) {
	var errs bytes.Buffer
	say(streams{err: &errs}, errors.New("a\x1b[2Jb\nc."))
	if got, want := errs.String(), "stopladder: a\\x1b[2Jb c.\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestScansNotFlags(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("-3.tif", nil, 0o600); err != nil {
		t.Fatal(err)
	}
	got := scansNotFlags([]string{"measure", "-3.tif", "-4.tif", "--stops", "-3,-2", "--json", "-", "-h", "--stops"})
	want := "measure ./-3.tif -4.tif --stops=-3,-2 --json - -h --stops"
	if strings.Join(got, " ") != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func tinyPNG(t *testing.T) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray16(image.Rect(0, 0, 64, 48))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestPercent(t *testing.T) {
	for v, want := range map[float64]string{0: "0.00 %", 1e-9: "<0.01 %", 0.00004: "<0.01 %", 0.00006: "0.01 %", 0.5: "50.00 %", 1: "100.00 %"} {
		if got := percent(&v); got != want {
			t.Errorf("%g is written %q, want %q", v, got, want)
		}
	}
	if got := percent(nil); got != dash {
		t.Errorf("what is not known is written %q", got)
	}
}
