package session

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/headless"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/show/plate"
)

// randomEdit is an edit as a person may make it next.
func randomEdit(d *desk, rng *rand.Rand) Change {
	r := d.Roll()
	k := rng.IntN(len(r.Frames))
	file := r.Frames[k].File
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	switch rng.IntN(16) {
	case 0:
		l := d.Frame(k).Look
		if l == nil {
			return SetNote{File: file, Text: "not read yet"}
		}
		a := image.Rect(rng.IntN(l.Info.Width/8), rng.IntN(l.Info.Height/8), l.Info.Width-1-rng.IntN(l.Info.Width/8), l.Info.Height-1-rng.IntN(l.Info.Height/8))
		files := []string{file}
		if rng.IntN(2) == 0 {
			for _, f := range r.Frames {
				files = append(files, f.File)
			}
		}
		return SetArea{files, &a}
	case 1:
		return SetArea{[]string{file}, nil}
	case 2:
		return SetLabels{"labels", map[string]float64{file: stops.Quarter(r.Frames[k].Stop + between(-0.5, 0.5))}, roll.ByHand}
	case 3:
		return MakeBase{file}
	case 4:
		return SuggestPatches{}
	case 5:
		d.do(Pick{PickPatch})
		return Click{file, image.Pt(40+rng.IntN(300), 40+rng.IntN(200))}
	case 6:
		return RemovePatch{}
	case 7:
		d.do(CorrectByHand{rng.IntN(2) == 0})
		d.do(Go{k})
		return Correct{"Exposure", func(v *correction.Settings) { v.Exposure, v.Lift = between(-1, 1), between(0, 1) }, true}
	case 8:
		return SetLimit{criteria.Criterion(rng.IntN(int(criteria.Count))), rng.IntN(2) == 0, between(0.1, 5), true}
	case 9:
		return SetVerdict{k, []roll.Verdict{roll.Holds, roll.Strains, roll.Breaks}[rng.IntN(3)]}
	case 10:
		return SetRangeEnd{rng.IntN(2) == 0, between(-3, 4)}
	case 11:
		return SetNoisyLimit{between(0.5, 4), true}
	case 12:
		return SetNote{File: file, Text: fmt.Sprint("note ", k)}
	case 13:
		return Redo{}
	case 14:
		return Undo{}
	}
	d.do(Go{k})
	if d.do(StartPlacing{}); d.Placing() == nil {
		return ToggleNeutral{}
	}
	d.do(Nudge{between(-3, 3), between(-3, 3), between(-0.1, 0.1)})
	return EndPlacing{[]PlacingEnd{Keep, Keep, Unplace, Leave}[rng.IntN(4)]}
}

// Whatever a person does to a roll, and in whatever order: the readings and the sheet that
// the window exports are those that the command makes of the saved roll, to the byte.
func TestWindowAndCommandAgree(t *testing.T) {
	const edits = 20
	dir := demoFiles(t, "negative")
	for _, seed := range []uint64{2} {
		rng := rand.New(rand.NewPCG(seed, 14))
		d := demo(t, "negative")
		var made []string
		for range edits {
			c := randomEdit(d, rng)
			d.do(c)
			made = append(made, strings.TrimPrefix(fmt.Sprintf("%T", c), "session."))
			if rng.IntN(3) > 0 { // else the next one comes while this one is being measured
				d.settle()
			}
		}
		d.settle()
		path := filepath.Join(dir, fmt.Sprintf("parity %d.stopladder", seed))
		saved := d.Roll().Clone()
		if err := saved.Save(path); err != nil {
			t.Fatal(err)
		}
		d.do(Saved{saved})
		t.Log(strings.Join(made, " "))
		what := fmt.Sprintf("seed %d, %s", seed, strings.Join(made, " "))

		out := t.TempDir()
		command := func(args ...string) {
			t.Helper()
			if code := headless.Main(args, strings.NewReader(""), io.Discard, os.Stderr); code != 0 {
				t.Fatalf("%s: %v ended with %d", what, args, code)
			}
		}
		command("measure", path, "--json", filepath.Join(out, "a.json"), "--csv", filepath.Join(out, "a.csv"))
		looked := []string{"sheet", path, "-a", "record", "-o", filepath.Join(out, "a.png"), "--width", fmt.Sprint(plate.MinWidth)}
		if g := d.Look().Grade; g != "" { // a correction by hand is looked at as soon as it is made
			looked = append(looked, "--salvaged", string(g))
		}
		command(looked...)
		same := func(name string, write func(io.Writer) error) {
			t.Helper()
			var b bytes.Buffer
			if err := write(&b); err != nil {
				t.Fatal(err)
			}
			want, err := os.ReadFile(filepath.Join(out, name))
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(b.Bytes(), want) {
				t.Errorf("%s: the window's %s is another than the command's%s", what, name, firstDifference(b.String(), string(want)))
			}
		}
		doc := d.Report(headless.Version)
		same("a.json", doc.EncodeJSON)
		same("a.csv", doc.EncodeCSV)
		page := d.Sheet("Stopladder "+headless.Version, load.Opener(d.Roll(), load.Options{}))
		page.Options = plate.Options{Arrangement: plate.Record, Width: plate.MinWidth}
		same("a.png", func(w io.Writer) error { return page.Write(context.Background(), w) })
	}
}

// firstDifference is the first line in which two texts differ.
func firstDifference(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] && len(a[i]) < 400 && len(b[i]) < 400 {
			return fmt.Sprintf(":\nline %d: %s\nwanted:  %s", i+1, a[i], b[i])
		}
	}
	return ""
}
