package roll

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
)

func figure(v float64) *float64 { return &v }

// measured returns readings of the frames of sample.
func measured(r *Roll) *kept.Readings {
	k := &kept.Readings{Program: "1.2.3", Basis: r.Basis(), Viewing: 2048, Limits: r.LimitSet(),
		Response: &kept.Response{MidGrey: "metered", First: -0.04, Step: 0.04,
			Density: [3]kept.Samples{{figure(1.5), figure(1.25), nil}, {figure(1.5), nil, nil}, {figure(1.5), nil, nil}},
			Error:   [3]kept.Samples{{figure(0.01), figure(0.02), nil}, {figure(0.01), nil, nil}, {figure(0.01), nil, nil}}},
		Noise: &kept.Noise{Stops: []float64{-1, 0}, L: []float64{2, 1}, Error: []float64{0.1, 0.1}},
		Costs: &kept.Costs{Stops: []float64{-1, 0}, Values: map[string]kept.Samples{"noise": {figure(2), nil}}, Errors: map[string]kept.Samples{"noise": {figure(0.1), nil}}},
		Range: kept.Range{Holds: &kept.Ends{Lo: kept.End{Stop: -1.2, Error: 0.1, By: "noise"}, Hi: kept.End{Stop: 2, Open: true}}, Reasons: []string{"No <strain> & no more."}}}
	for _, f := range r.Frames {
		k.Frames = append(k.Frames, kept.Frame{File: f.Name(), SHA256: f.SHA256, Bytes: f.Bytes, Time: "2026-05-01T10:00:00Z", Stop: figure(f.Stop), Measured: figure(f.Stop + 0.01), Blown: figure(0.5)})
	}
	return k
}

func TestReadingsAreKept(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	r := sample(dir)
	r.Lab, r.Scanner, r.Development, r.Scene, r.Metering = "A", "B", "+1", "yard", "incident"
	r.Readings = measured(r)
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	text, _ := os.ReadFile(path)
	conforms(t, schema(t), text)
	if !bytes.Contains(text, []byte("[-1, 0]")) {
		t.Errorf("figures stand on lines of their own:\n%s", text)
	}
	got, problems, err := Load(path)
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	if why := got.Stale("1.2.3"); why != "" {
		t.Errorf("fresh readings are stale: %s", why)
	}
	if !reflect.DeepEqual(got.Readings.Response, r.Readings.Response) || got.Lab != "A" || got.Scene != "yard" {
		t.Errorf("read %+v", got.Readings)
	}
	again := filepath.Join(dir, "b.stopladder")
	if err := got.Save(again); err != nil {
		t.Fatal(err)
	}
	if two, _ := os.ReadFile(again); !bytes.Equal(text, two) {
		t.Errorf("saved again:\n%s\nwas\n%s", two, text)
	}
}

// Members of a newer program survive, wherever in the readings they stand.
func TestReadingsOfNewerProgramsSurvive(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	r := sample(dir)
	r.Readings = measured(r)
	r.Save(path)
	text, _ := os.ReadFile(path)
	text = bytes.Replace(text, []byte(`"viewingSide": 2048,`), []byte(`"viewingSide": 2048, "spectra": {"new": [1, "a & b"]},`), 1)
	text = bytes.Replace(text, []byte(`"measuredStop": -0.99,`), []byte(`"measuredStop": -0.99, "halation": 0.25,`), 1)
	os.WriteFile(path, text, 0o666)
	got, problems, err := Load(path)
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	got.Frames[0].Note = "another"
	if err := got.Save(path); err != nil {
		t.Fatal(err)
	}
	text, _ = os.ReadFile(path)
	for _, want := range []string{`"halation": 0.25`, `"a & b"`} {
		if !bytes.Contains(text, []byte(want)) {
			t.Errorf("%s was lost:\n%s", want, text)
		}
	}
}

// Damage to the readings never costs a mark.
func TestDamagedReadingsAreDropped(t *testing.T) {
	for what, change := range map[string][2]string{
		"kind":     {`"program": "1.2.3"`, `"program": 7`},
		"version":  {`"program": "1.2.3"`, `"program": ""`},
		"share":    {`"blown": 0.5`, `"blown": 50`},
		"range":    {`"stop": -1.2`, `"stop": 12`},
		"lengths":  {`"noiseL": [2, 1]`, `"noiseL": [2]`},
		"time":     {`2026-05-01T10:00:00Z`, `yesterday`},
		"costs":    {`"stops": [-1, 0]`, `"stops": [0, 0]`},
		"response": {`"step": 0.04`, `"step": 0`},
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "a.stopladder")
		r := sample(dir)
		r.Readings = measured(r)
		r.Save(path)
		text, _ := os.ReadFile(path)
		bad := bytes.Replace(text, []byte(change[0]), []byte(change[1]), -1)
		if bytes.Equal(bad, text) {
			t.Fatalf("%s: nothing was damaged:\n%s", what, text)
		}
		os.WriteFile(path, bad, 0o666)
		got, problems, err := Load(path)
		if err != nil || got.Readings != nil {
			t.Errorf("%s: %v, readings %v", what, err, got)
			continue
		}
		if len(problems) != 1 || problems[0].Code != Damaged || !strings.Contains(problems[0].Text, "readings") {
			t.Errorf("%s: problems %v", what, problems)
		}
		want := sample(dir)
		if !reflect.DeepEqual(got.Marks, want.Marks) || got.Frames[0].Note != want.Frames[0].Note || got.Frames[2].Verdict != Breaks {
			t.Errorf("%s: marks were lost: %+v", what, got)
		}
		if got.Stale("1.2.3") == "" {
			t.Errorf("%s: without readings the roll counts as measured", what)
		}
	}
}

// Readings that would make a roll file too large are left out before a mark is.
func TestReadingsMakeRoomForMarks(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	r := sample(dir)
	r.Readings = measured(r)
	r.Readings.Finding = []string{strings.Repeat("x", MaxFileBytes)}
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	got, _, err := Load(path)
	if err != nil || got.Readings != nil || got.Frames[0].Note == "" {
		t.Errorf("%v %+v", err, got)
	}
}

func TestStale(t *testing.T) {
	fresh := func() *Roll {
		r := sample(t.TempDir())
		r.Readings = measured(r)
		return r
	}
	if why := fresh().Stale("1.2.3"); why != "" {
		t.Fatal(why)
	}
	for what, change := range map[string]func(r *Roll){
		"scan":    func(r *Roll) { r.Frames[0].SHA256 = strings.Repeat("cd", 32) },
		"label":   func(r *Roll) { r.Frames[1].Stop = 0.5 },
		"fewer":   func(r *Roll) { r.Frames = r.Frames[1:] },
		"more":    func(r *Roll) { r.Frames = append(r.Frames, Frame{File: "/x/new.tif"}) },
		"renamed": func(r *Roll) { r.Frames[0].File = "/x/other.tif" },
		"area":    func(r *Roll) { r.Frames[0].Area = &Area{1, 2, 3, 4} },
		"placed":  func(r *Roll) { r.Frames[0].Placed = &Placement{DX: 1, Scale: 1} },
		"profile": func(r *Roll) { r.AssumedProfile = "Adobe RGB (1998)" },
		"base":    func(r *Roll) { r.BaseFile = r.Frames[0].File },
		"limits":  func(r *Roll) { s, _ := criteria.ByName("archive"); r.Limits = &s },
		"none":    func(r *Roll) { r.Readings = nil },
	} {
		r := fresh()
		change(r)
		if r.Stale("1.2.3") == "" {
			t.Errorf("%s: still fresh", what)
		}
	}
	if fresh().Stale("1.2.4") == "" {
		t.Error("another version: still fresh")
	}
}
