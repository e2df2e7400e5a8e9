package shelf

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
	"stopladder/assets"
)

const program = "1.2.3"

func is(v float64) *float64 { return &v }

// write makes a roll of eight frames with scans of a few bytes and fresh readings, as large
// as those of a real roll, and saves it.
func write(t testing.TB, path string, change func(r *roll.Roll)) *roll.Roll {
	t.Helper()
	dir := strings.TrimSuffix(path, roll.Ext) + " scans"
	if err := os.MkdirAll(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	r := &roll.Roll{Stock: "invented 100"}
	k := &kept.Readings{Program: program, Viewing: 2048, Limits: criteria.Default(), Finding: []string{"It holds."},
		Response: &kept.Response{MidGrey: "metered", First: -2.4, Step: 0.04},
		Noise:    &kept.Noise{},
		Costs:    &kept.Costs{Values: map[string]kept.Samples{}, Errors: map[string]kept.Samples{}},
		Range: kept.Range{Holds: &kept.Ends{Lo: kept.End{Stop: -1.2, Error: 0.1, By: "noise"}, Hi: kept.End{Stop: 2, Open: true}},
			Strains: &kept.Ends{Lo: kept.End{Stop: -2.2, Error: 0.1, By: "noise"}, Hi: kept.End{Stop: 4, Open: true}}}}
	for c := range 3 {
		for i := range 120 {
			k.Response.Density[c] = append(k.Response.Density[c], is(3-0.0213*float64(i)))
			k.Response.Error[c] = append(k.Response.Error[c], is(0.0123))
		}
	}
	for i := range 25 {
		k.Noise.Stops, k.Noise.L, k.Noise.Error = append(k.Noise.Stops, float64(i)/2-6), append(k.Noise.L, 1.2345), append(k.Noise.Error, 0.0456)
	}
	for i := range 29 {
		k.Costs.Stops = append(k.Costs.Stops, float64(i)/4-3)
		for _, c := range criteria.All() {
			k.Costs.Values[c.Key()] = append(k.Costs.Values[c.Key()], is(0.12345))
			k.Costs.Errors[c.Key()] = append(k.Costs.Errors[c.Key()], is(0.01234))
		}
	}
	for s := -3; s <= 4; s++ {
		file := filepath.Join(dir, fmt.Sprintf("%+d.tif", s))
		if err := os.WriteFile(file, []byte(file), 0o666); err != nil {
			t.Fatal(err)
		}
		sum, n, err := roll.Hash(context.Background(), file)
		if err != nil {
			t.Fatal(err)
		}
		info, _ := os.Stat(file)
		r.Frames = append(r.Frames, roll.Frame{File: file, SHA256: sum, Bytes: n, Stop: float64(s), Origin: roll.FromName})
		cost := &kept.Cost{LostArea: is(0.01234), DeltaE: is(1.234), P95: is(2.345), Noise: is(1.234), Crossover: is(0.123), ContrastKept: is(1.0123)}
		k.Frames = append(k.Frames, kept.Frame{File: filepath.Base(file), SHA256: sum, Bytes: n, Time: info.ModTime().UTC().Format(time.RFC3339Nano), Stop: is(float64(s)),
			Measured: is(float64(s)), MeasuredError: is(0.02), Blown: is(0.01), Blocked: is(0.01), Exposure: cost, Balance: cost, Curves: cost})
	}
	k.Basis = r.Basis()
	r.Readings = k
	if change != nil {
		change(r)
	}
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	return r
}

func gather(t testing.TB, dir string) *Shelf {
	t.Helper()
	s, err := Gather(context.Background(), dir, program)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func names(entries []*Entry) (out []string) {
	for _, e := range entries {
		out = append(out, e.Name)
	}
	return out
}

func TestGather(t *testing.T) {
	dir := t.TempDir()
	for _, d := range []string{"2025", "2026/may", ".hidden", "1/2/3/4/5/6/7/8/9"} {
		os.MkdirAll(filepath.Join(dir, d), 0o777)
	}
	write(t, filepath.Join(dir, "a.stopladder"), nil)
	write(t, filepath.Join(dir, "2025", "b.stopladder"), nil)
	write(t, filepath.Join(dir, "2025", "b.other 2.stopladder"), nil)
	write(t, filepath.Join(dir, "2026", "may", "c.stopladder"), nil)
	write(t, filepath.Join(dir, ".hidden", "d.stopladder"), nil)
	write(t, filepath.Join(dir, "1/2/3/4/5/6/7/8/9", "deep.stopladder"), nil)
	r := write(t, filepath.Join(dir, "2025", "dotted.name.stopladder"), nil)
	r.Title = "Another"
	r.Save(r.Path()) // now there is a previous one
	os.WriteFile(filepath.Join(dir, "2025", "torn.stopladder"), []byte(`{"format": "stopladder roll", "ver`), 0o666)
	os.WriteFile(filepath.Join(dir, "2025", "newer.stopladder"), []byte(`{"format": "stopladder roll", "version": 99}`), 0o666)
	os.WriteFile(filepath.Join(dir, "2025", "readme.txt"), []byte("no roll"), 0o666)

	s := gather(t, dir)
	Sort(s.Rolls, ByName)
	want := []string{"2025/b", "2025/dotted.name", "2025/newer", "2025/torn", "2026/may/c", "a"}
	if got := names(s.Rolls); !slices.Equal(got, want) {
		t.Errorf("found %v, want %v", got, want)
	}
	if len(s.Notes) != 1 || !strings.Contains(s.Notes[0], "deep") {
		t.Errorf("what was not looked into is not told: %v", s.Notes)
	}
	for _, e := range s.Rolls {
		broken := e.Name == "2025/torn" || e.Name == "2025/newer"
		if (e.Err != nil) != broken || !broken && (e.Stale != "" || len(e.Problems) > 0 || e.Holds() == nil) {
			t.Errorf("%s: error %v, stale %q, problems %v", e.Name, e.Err, e.Stale, e.Problems)
		}
	}
	for _, bad := range []string{filepath.Join(dir, "gone"), filepath.Join(dir, "a.stopladder")} {
		if _, err := Gather(context.Background(), bad, program); err == nil {
			t.Errorf("%s is a shelf", bad)
		}
	}
}

// What has happened to the scans since is told, and never read off the roll file alone.
func TestScansOutside(t *testing.T) {
	for what, c := range map[string]struct {
		do    func(r *roll.Roll)
		check func(e *Entry) bool
	}{
		"nothing": {func(*roll.Roll) {}, func(e *Entry) bool { return e.Stale == "" && len(e.Problems) == 0 }},
		"removed": {func(r *roll.Roll) { os.Remove(r.Frames[0].File) }, func(e *Entry) bool {
			return slices.Equal(e.Missing, []string{"-3.tif"}) && e.Stale == "" && len(e.Problems) == 1
		}},
		"all gone": {func(r *roll.Roll) { os.RemoveAll(filepath.Dir(r.Frames[0].File)) }, func(e *Entry) bool { return len(e.Missing) == 8 && e.Holds() != nil }},
		"moved": {func(r *roll.Roll) { os.Rename(r.Frames[0].File, filepath.Join(filepath.Dir(r.Path()), "-3.tif")) },
			func(e *Entry) bool { return len(e.Found) == 1 && strings.Contains(e.Problems[0], "beside") }},
		"longer": {func(r *roll.Roll) {
			os.WriteFile(r.Frames[0].File, []byte("another picture of another length than before"), 0o666)
		}, func(e *Entry) bool { return len(e.Changed) == 1 && e.Stale != "" }},
		"rewritten": {func(r *roll.Roll) {
			b, _ := os.ReadFile(r.Frames[0].File)
			b[0]++
			os.WriteFile(r.Frames[0].File, b, 0o666)
			os.Chtimes(r.Frames[0].File, time.Time{}, time.Now().Add(time.Hour))
		}, func(e *Entry) bool { return len(e.Touched) == 1 && e.Stale != "" }},
		"copied back": {func(r *roll.Roll) { os.Chtimes(r.Frames[0].File, time.Time{}, time.Now().Add(-time.Hour)) }, func(e *Entry) bool { return e.Stale == "" && len(e.Changed) == 0 }},
	} {
		path := filepath.Join(t.TempDir(), "a.stopladder")
		c.do(write(t, path, nil))
		if e := Read(path, program); !c.check(e) {
			t.Errorf("%s: missing %v, changed %v, stale %q, problems %v", what, e.Missing, e.Changed, e.Stale, e.Problems)
		}
	}
}

func TestStaleReadingsAreShownAndTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.stopladder")
	write(t, path, func(r *roll.Roll) { r.Readings.Program = "1.0.0" })
	if e := Read(path, program); !strings.Contains(e.Stale, "1.0.0") || e.Holds() == nil {
		t.Errorf("%q, %v", e.Stale, e.Holds())
	}
	write(t, path, func(r *roll.Roll) { r.Readings = nil })
	if e := Read(path, program); e.Stale == "" || e.Holds() != nil {
		t.Errorf("%q, %v", e.Stale, e.Holds())
	}
}

func TestSortAndChoose(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		name, stock, lab, date string
		lo, hi                 float64
	}{{"a", "slide 100", "North", "2026-03-01", -1, 2}, {"b", "Negative 400", "south", "2025-01-01", -2, 3}, {"c", "", "", "", 0, 0}, {"d 10", "slide 100", "South", "2026-01-01", -0.5, 2.5}, {"d 9", "slide 100", "South", "2026-01-01", -0.5, 2.5}} {
		write(t, filepath.Join(dir, c.name+roll.Ext), func(r *roll.Roll) {
			r.Stock, r.Lab, r.Date = c.stock, c.lab, c.date
			r.Readings.Range.Holds.Lo.Stop, r.Readings.Range.Holds.Hi.Stop = c.lo, c.hi
			if c.stock == "" {
				r.Readings = nil
				r.SetRange(-1, 1)
			}
		})
	}
	for key, want := range map[Key]string{
		ByName: "a b c d 9 d 10", ByStock: "b a d 9 d 10 c", ByLab: "a b d 9 d 10 c", ByDate: "b d 9 d 10 a c",
		ByUnder: "b a d 9 d 10 c", ByOver: "b d 9 d 10 a c", ByJudged: "c a b d 9 d 10",
	} {
		s := gather(t, dir)
		slices.Reverse(s.Rolls)
		Sort(s.Rolls, key)
		if got := strings.Join(names(s.Rolls), " "); got != want {
			t.Errorf("by %s: %s, want %s", key, got, want)
		}
	}
	s := gather(t, dir)
	for _, c := range []struct {
		f    Filter
		want string
	}{{Filter{}, "a b c d 10 d 9"}, {Filter{Stock: "SLIDE"}, "a d 10 d 9"}, {Filter{Lab: "south"}, "b d 10 d 9"}, {Filter{Words: "slide 2026-03"}, "a"},
		{Filter{Stale: true}, "c"}, {Filter{Words: "nothing"}, ""}, {Filter{Trouble: true}, ""}} {
		if got := strings.Join(names(Choose(s.Rolls, c.f)), " "); got != c.want {
			t.Errorf("%+v: %s, want %s", c.f, got, c.want)
		}
	}
	if _, err := KeyOf("colour"); err == nil {
		t.Error("rolls are sorted by colour")
	}
}

func TestDocumentConforms(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "a.stopladder"), func(r *roll.Roll) { r.SetRange(-1, 2); r.Lab = "<lab> & \"co\"" })
	write(t, filepath.Join(dir, "b.stopladder"), func(r *roll.Roll) { r.Readings = nil })
	os.WriteFile(filepath.Join(dir, "torn.stopladder"), []byte("x"), 0o666)
	s := gather(t, dir)
	var b bytes.Buffer
	d := s.Documented(s.Rolls, program)
	if err := d.EncodeJSON(&b); err != nil {
		t.Fatal(err)
	}
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(assets.Schema("shelf-1")))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("shelf-1.json", schema); err != nil {
		t.Fatal(err)
	}
	sch, err := c.Compile("shelf-1.json")
	if err != nil {
		t.Fatal(err)
	}
	var doc any
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	if err := sch.Validate(doc); err != nil {
		t.Errorf("%v\n%s", err, b.Bytes())
	}
	b.Reset()
	if err := d.EncodeCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 4 {
		t.Errorf("%v, %d rows", err, len(rows))
	}
}

// BenchmarkGather opens a shelf of 200 rolls with 1600 scans; it is to take less than two
// seconds.
func BenchmarkGather(b *testing.B) {
	dir := b.TempDir()
	for i := range 200 {
		at := filepath.Join(dir, fmt.Sprint(2000+i/20))
		os.MkdirAll(at, 0o777)
		write(b, filepath.Join(at, fmt.Sprintf("roll %d.stopladder", i)), nil)
	}
	b.ResetTimer()
	for range b.N {
		s := gather(b, dir)
		if len(s.Rolls) != 200 || s.Rolls[17].Stale != "" {
			b.Fatal("the rolls are not all there")
		}
		Sort(s.Rolls, ByOver)
	}
}
