package roll

import (
	"context"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// shelf is a saved roll with four scans in dir/scans, hashes taken.
func shelf(t *testing.T) (dir string, r *Roll) {
	t.Helper()
	dir = t.TempDir()
	os.Mkdir(filepath.Join(dir, "scans"), 0o777)
	r = &Roll{}
	for i, n := range []string{"-1.tif", "0.tif", "+1.tif", "+2.tif"} {
		f := Frame{File: filepath.Join(dir, "scans", n), Stop: float64(i - 1), Origin: FromName, Verdict: Holds}
		os.WriteFile(f.File, []byte("pixels of "+n), 0o666)
		var err error
		if f.SHA256, f.Bytes, err = Hash(t.Context(), f.File); err != nil {
			t.Fatal(err)
		}
		r.Frames = append(r.Frames, f)
	}
	r.BaseFile = r.Frames[1].File
	if err := r.Save(filepath.Join(dir, "roll"+Ext)); err != nil {
		t.Fatal(err)
	}
	return dir, r
}

func problemCodes(ps []Problem) (out []Code) {
	for _, p := range ps {
		out = append(out, p.Code)
	}
	return out
}

// The digest of "abc" is the example of FIPS 180-4 (SHA-256 example, NIST).
func TestHash(t *testing.T) {
	path := filepath.Join(t.TempDir(), "abc")
	os.WriteFile(path, []byte("abc"), 0o666)
	sum, n, err := Hash(t.Context(), path)
	if err != nil || n != 3 || sum != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Errorf("%s, %d, %v", sum, n, err)
	}
	if _, _, err := Hash(t.Context(), filepath.Dir(path)); err == nil {
		t.Error("a folder has no hash")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := Hash(ctx, path); err != context.Canceled {
		t.Errorf("cancelled: %v", err)
	}
}

func TestCheck(t *testing.T) {
	dir, r := shelf(t)
	if ps := r.Check(t.Context(), true); len(ps) > 0 {
		t.Fatalf("nothing is wrong: %v", ps)
	}
	f := r.Frames
	os.WriteFile(f[0].File, []byte("pixels of -X.tif"), 0o666) // as long as before
	os.Remove(f[1].File)
	os.Rename(f[2].File, filepath.Join(dir, "renamed.tif")) // beside the roll file
	os.WriteFile(f[3].File, []byte("longer pixels than before"), 0o666)
	before := r.Clone()
	quick := r.Check(t.Context(), false)
	if got := problemCodes(quick); !slices.Equal(got, []Code{Missing, Missing, Changed}) {
		t.Errorf("quick check: %v", quick)
	}
	ps := r.Check(t.Context(), true)
	if got := problemCodes(ps); !slices.Equal(got, []Code{Changed, Missing, Missing, Changed}) {
		t.Fatalf("check: %v", ps)
	}
	for i, p := range ps {
		if p.Frame != i || !strings.Contains(p.Text, f[i].Name()) || !strings.HasSuffix(p.Text, ".") {
			t.Errorf("problem %d: %+v", i, p)
		}
	}
	if ps[1].Found != "" || ps[2].Found != filepath.Join(dir, "renamed.tif") {
		t.Errorf("found %q and %q", ps[1].Found, ps[2].Found)
	}
	if !reflect.DeepEqual(r.Frames, before.Frames) {
		t.Error("the check changed the roll")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if ps := r.Check(ctx, true); len(ps) > 0 {
		t.Errorf("after the end of ctx: %v", ps)
	}
}

func TestRelocate(t *testing.T) {
	_, r := shelf(t)
	elsewhere := t.TempDir()
	deep := filepath.Join(elsewhere, "lab", "order 7")
	os.MkdirAll(deep, 0o777)
	f := slices.Clone(r.Frames)
	os.Rename(f[0].File, filepath.Join(deep, "-1.TIF"))
	os.Rename(f[1].File, filepath.Join(deep, "frame 4.tif"))
	os.Remove(f[2].File)
	os.WriteFile(filepath.Join(deep, "+1.tif"), []byte("another picture"), 0o666)
	moved, problems := r.Relocate(t.Context(), elsewhere)
	if len(moved) != 2 || moved[0].To != filepath.Join(deep, "-1.TIF") || moved[1].To != filepath.Join(deep, "frame 4.tif") {
		t.Errorf("moved %+v", moved)
	}
	if r.Frames[0].File != moved[0].To || r.BaseFile != moved[1].To || r.Frames[1].Verdict != Holds {
		t.Errorf("roll %+v", r)
	}
	if len(problems) != 1 || problems[0].Code != Changed || problems[0].Frame != 2 || r.Frames[2].File != f[2].File {
		t.Errorf("the wrong picture of the right name: %v", problems)
	}

	// Without a hash the name decides, when there is one such file.
	r.Frames[2].SHA256 = ""
	os.MkdirAll(filepath.Join(elsewhere, "old"), 0o777)
	os.WriteFile(filepath.Join(elsewhere, "old", "+1.tif"), []byte("yet another"), 0o666)
	if moved, problems := r.Relocate(t.Context(), elsewhere); len(moved) != 0 || len(problems) != 1 || problems[0].Code != Ambiguous {
		t.Errorf("two of one name: %v, %v", moved, problems)
	}
	if moved, problems := r.Relocate(t.Context(), deep); len(moved) != 1 || len(problems) != 0 {
		t.Errorf("one of the name: %v, %v", moved, problems)
	}
	os.Remove(r.Frames[3].File)
	if moved, problems := r.Relocate(t.Context(), filepath.Join(elsewhere, "none")); len(moved) != 0 || !slices.Equal(problemCodes(problems), []Code{NotAllSeen}) {
		t.Errorf("no such folder: %v, %v", moved, problems)
	}
}

// Two missing frames never become one file.
func TestRelocateTakesAFileOnce(t *testing.T) {
	dir := t.TempDir()
	r := &Roll{Frames: []Frame{{File: filepath.Join(dir, "a", "x.tif")}, {File: filepath.Join(dir, "b", "x.tif")}}}
	os.MkdirAll(filepath.Join(dir, "c"), 0o777)
	os.WriteFile(filepath.Join(dir, "c", "x.tif"), nil, 0o666)
	if moved, _ := r.Relocate(t.Context(), filepath.Join(dir, "c")); len(moved) != 1 {
		t.Errorf("moved %v", moved)
	}
}
