package roll

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/assets"
)

// sample is a roll with every member set; its scans lie in dir/scans.
func sample(dir string) *Roll {
	file := func(n string) string { return filepath.Join(dir, "scans", n) }
	own := criteria.Default().With(criteria.Noise, true, 1.5)
	own.Name = "my own"
	return &Roll{
		Title: "Courtyard <sun> & shade", Stock: "Invented 100", Exposure: "f/11 1/125, incident", Date: "2026-05-01", AssumedProfile: "Display P3",
		NoisyLimit: 2.5, Surround: 114, BaseFile: file("base.tif"),
		Frames: []Frame{
			{File: file("-1.tif"), SHA256: strings.Repeat("ab", 32), Bytes: 12, Stop: -1, Origin: FromName, Verdict: Strains, Note: "thin\nand \"noisy\" ½"},
			{File: file("base.tif"), Stop: 0, Origin: FromOrder, Verdict: Holds, Area: &Area{1, 2, 300, 400}},
			{File: file("over third.tif"), Stop: 1.0 / 3, Origin: ByHand, Verdict: Breaks},
			{File: file("later.tif"), Stop: 2, Origin: ByHand, Hand: &correction.Settings{Exposure: -2, Curves: [3][]correction.Point{1: {{X: -4, Y: -3.5}}}}},
		},
		Patches: []Patch{{Name: "Grey card", X: 120.5, Y: 80, R: 12, Neutral: true}, {Name: "Wall", X: 30, Y: 40.5, R: 8}},
		Limits:  &own,
		View:    &correction.Settings{Exposure: 0.5, RG: 0.05, Lift: 1},
		Marks:   []Marks{{Judge: "A. Judge", Range: &Range{-0.75, 1.25}, Finding: "More light:\nit forgives \"+2½\"."}},
	}
}

func schema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(assets.Schema("roll-1")))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("roll-1.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("roll-1.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func conforms(t testing.TB, s *jsonschema.Schema, text []byte) {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Validate(doc); err != nil {
		t.Errorf("the file does not conform to its schema: %v\n%s", err, text)
	}
}

func TestSaveAndLoad(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "rolls", "test.stopladder")
	os.Mkdir(filepath.Dir(path), 0o777)
	r := sample(dir)
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	text, _ := os.ReadFile(path)
	conforms(t, schema(t), text)
	if !bytes.HasSuffix(text, []byte("}\n")) || !bytes.Contains(text, []byte("\n  \"title\": \"Courtyard <sun> & shade\",\n")) {
		t.Errorf("the file is not laid out for reading:\n%s", text)
	}
	if !bytes.Contains(text, []byte(`"file": "../scans/-1.tif"`)) || bytes.Contains(text, []byte(filepath.Base(dir))) {
		t.Errorf("paths are not relative to the roll file:\n%s", text)
	}
	got, problems, err := Load(path)
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	if !reflect.DeepEqual(got, r) {
		t.Errorf("loaded %+v\nsaved  %+v", got, r)
	}

	// Moved together, the roll still finds its scans.
	to := filepath.Join(t.TempDir(), "moved")
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	moved, _, err := Load(filepath.Join(to, "rolls", "test.stopladder"))
	if err != nil || moved.Frames[0].File != filepath.Join(to, "scans", "-1.tif") || moved.BaseFile != filepath.Join(to, "scans", "base.tif") {
		t.Errorf("after a move: %v, %+v", err, moved)
	}
}

func TestSaveWritesTheSameBytes(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	if err := sample(dir).Save(path); err != nil {
		t.Fatal(err)
	}
	one, _ := os.ReadFile(path)
	r, _, _ := Load(path)
	other := filepath.Join(dir, "b.stopladder")
	if err := r.Save(other); err != nil {
		t.Fatal(err)
	}
	if two, _ := os.ReadFile(other); !bytes.Equal(one, two) {
		t.Errorf("saved again:\n%s\nwas\n%s", two, one)
	}
}

// The example in the package's documentation is a roll file.
func TestDocumentedExample(t *testing.T) {
	source, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	var example []byte
	for line := range bytes.Lines(source) {
		if text, ok := bytes.CutPrefix(line, []byte("//\t")); ok {
			example = append(example, text...)
		}
	}
	conforms(t, schema(t), example)
	r, problems, err := decode(example, "/rolls")
	if err != nil || len(problems) > 0 || r.Frames[0].File != filepath.FromSlash("/rolls/scans/base.tif") || len(r.extra) > 0 {
		t.Errorf("%v, %v, %+v", err, problems, r)
	}
}

func TestDemoRollHasNoFiles(t *testing.T) {
	dir := t.TempDir()
	r := &Roll{Demo: "negative", BaseFile: "demo:negative/0", Frames: []Frame{{File: "demo:negative/0", Origin: FromDemo}, {File: "demo:negative/+1", Stop: 1, Origin: FromDemo}}}
	path := filepath.Join(dir, "d.stopladder")
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	text, _ := os.ReadFile(path)
	conforms(t, schema(t), text)
	got, problems, err := Load(path)
	if err != nil || len(problems) > 0 || !reflect.DeepEqual(got, r) {
		t.Errorf("loaded %+v, %v, %v", got, problems, err)
	}
	if ps := got.Check(t.Context(), true); len(ps) > 0 {
		t.Errorf("a demo roll is checked for files: %v", ps)
	}
}

func TestUnknownMembersSurvive(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "newer.stopladder")
	text := `{"format":"stopladder roll","version":1,"zoom":{"deep":[1,2.50,"x & y"]},"big":12345678901234567890,"Title":"not ours",
	"frames":[{"file":"a.tif","stop":0,"stopFrom":"name","verdict":"marvels","patches":[{"x":1}],"imageArea":{"x":0,"y":0,"w":5,"h":5,"angle":0.25}}],
	"marks":[{"judge":"A","range":{"lo":-1,"hi":1,"strict":true},"colour":"amber"}]}`
	os.WriteFile(path, []byte(text), 0o666)
	r, problems, err := Load(path)
	if err != nil || len(problems) != 1 || problems[0].Code != Damaged || problems[0].Frame != 0 {
		t.Fatalf("%v, %v", err, problems)
	}
	if r.Title != "" || r.Frames[0].Verdict != Unjudged {
		t.Errorf("taken for ours: %+v", r)
	}
	r = r.Clone()
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	saved, _ := os.ReadFile(path)
	var was, is any
	d1, d2 := json.NewDecoder(strings.NewReader(text)), json.NewDecoder(bytes.NewReader(saved))
	d1.UseNumber()
	d2.UseNumber()
	d1.Decode(&was)
	d2.Decode(&is)
	if !reflect.DeepEqual(was, is) {
		t.Errorf("something was lost:\n%s", saved)
	}
	r.Frames[0].Verdict = Holds
	r.Frames[0].Area = nil
	r.Save(path)
	saved, _ = os.ReadFile(path)
	if bytes.Contains(saved, []byte("marvels")) || bytes.Contains(saved, []byte("angle")) || bytes.Count(saved, []byte(`"verdict"`)) != 1 {
		t.Errorf("a new verdict does not replace the unknown one:\n%s", saved)
	}
}

func TestPaths(t *testing.T) {
	for _, c := range []struct{ file, dir, saved string }{
		{"/a/b/c.tif", "/a/b", "c.tif"}, {"/a/c.tif", "/a/b", "../c.tif"}, {"/a/b/c d/é.tif", "/a/b", "c d/é.tif"}, {`C:\scans\a.tif`, "/a", `C:\scans\a.tif`},
		{"/a/b/C:/x.tif", "/a/b", "./C:/x.tif"}, {"/x.tif", "/", "x.tif"},
	} {
		if filepath.Separator != '/' {
			t.Skip("paths of Unix")
		}
		if got := toSaved(c.file, c.dir); got != c.saved {
			t.Errorf("toSaved(%q, %q) = %q, want %q", c.file, c.dir, got, c.saved)
		}
		if got := toMemory(c.saved, c.dir); got != c.file {
			t.Errorf("toMemory(%q, %q) = %q, want %q", c.saved, c.dir, got, c.file)
		}
	}
	if got := (Frame{File: `D:\scans\-1.tif`}).Name(); got != "-1.tif" {
		t.Errorf("name of a scan on another system's drive: %q", got)
	}
}

func TestLoadRefuses(t *testing.T) {
	dir := t.TempDir()
	frames := func(n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, `,{"file":"%d.tif","stop":0,"stopFrom":"name"}`, i)
		}
		return `{"format":"stopladder roll","version":1,"frames":[` + strings.TrimPrefix(b.String(), ",") + `]}`
	}
	for name, text := range map[string]string{
		"empty": "", "binary": "II*\x00\x08\x00", "list": "[]", "null": "null", "other": `{"format":"x","version":1}`, "noversion": `{"format":"stopladder roll"}`, "zero": `{"format":"stopladder roll","version":0}`,
		"newer": `{"format":"stopladder roll","version":2,"frames":17}`, "cut": frames(3)[:90], "kind": `{"format":"stopladder roll","version":1,"frames":"all"}`,
		"infinite": `{"format":"stopladder roll","version":1,"frames":[{"file":"a","stop":1e999}]}`, "nan": `{"format":"stopladder roll","version":1,"frames":[{"file":"a","stop":NaN}]}`,
		"many": frames(MaxFrames + 1), "judges": `{"format":"stopladder roll","version":1,"marks":[` + strings.Repeat(`{},`, MaxMarks) + `{}]}`,
		"deep": strings.Repeat("[", 100_000), "huge": `{"format":"stopladder roll","version":1,"note":"` + strings.Repeat("x", MaxFileBytes) + `"}`,
	} {
		path := filepath.Join(dir, name+Ext)
		os.WriteFile(path, []byte(text), 0o666)
		_, _, err := Load(path)
		if err == nil {
			t.Errorf("%s: no error", name)
			continue
		}
		if s := err.Error(); !strings.Contains(s, name+Ext) || strings.Contains(s, "\n") || len(s) > 400 {
			t.Errorf("%s: no clear sentence: %s", name, s)
		}
		var newer *NewerError
		if errors.As(err, &newer) != (name == "newer") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, path := range []string{filepath.Join(dir, "none"+Ext), dir, filepath.Join(dir, "empty"+Ext, "below"+Ext)} {
		if _, _, err := Load(path); err == nil {
			t.Errorf("%s: no error", path)
		}
	}
	if r, problems, err := func() (*Roll, []Problem, error) {
		path := filepath.Join(dir, "most"+Ext)
		os.WriteFile(path, []byte("\xef\xbb\xbf"+frames(MaxFrames)), 0o666)
		return Load(path)
	}(); err != nil || len(problems) > 0 || len(r.Frames) != MaxFrames {
		t.Errorf("the largest roll: %v, %v", err, problems)
	}
}

func TestLoadLeavesOut(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "bad.stopladder")
	text := `{"format":"stopladder roll","version":1,"title":"a\u0007b","noisyLimit":-3,"baseFrame":"gone.tif","demo":"",
	"frames":[null,{"file":"","stop":0},{"file":"a\nb.tif","stop":0},{"file":"far.tif","stop":1e9},
	{"file":"ok.tif","stop":-1,"stopFrom":"name","sha256":"zz","note":"fine\nnote","bytes":-5},{"file":"./ok.tif","stop":2},
	{"file":"../../../outside.tif","stop":1,"stopFrom":"magic","imageArea":{"x":-1,"y":0,"w":1,"h":1}}],
	"marks":[{"range":{"lo":2,"hi":-1}},{"range":{"lo":-99,"hi":1}}]}`
	os.WriteFile(path, []byte(text), 0o666)
	r, problems, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Frames) != 2 || r.Frames[0].Name() != "ok.tif" || r.Frames[0].SHA256 != "" || r.Frames[0].Note != "fine\nnote" || r.Frames[1].Origin != ByHand || r.Frames[1].Area != nil {
		t.Errorf("frames %+v", r.Frames)
	}
	if r.Title != "a b" || r.NoisyLimit != 0 || r.BaseFile != "" || *r.Marks[0].Range != (Range{-1, 2}) || r.Marks[1].Range != nil {
		t.Errorf("roll %+v", r)
	}
	count := map[Code]int{}
	for _, p := range problems {
		count[p.Code]++
		if !strings.HasSuffix(p.Text, ".") || hasControl(p.Text, "") || !strings.Contains(p.Text, ":") {
			t.Errorf("no clear sentence: %q", p.Text)
		}
	}
	if count[LeftOut] != 5 || count[Damaged] != 7 {
		t.Errorf("problems %v: %v", count, problems)
	}
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	saved, _ := os.ReadFile(path)
	conforms(t, schema(t), saved)
	if was, _ := os.ReadFile(PreviousPath(path)); string(was) != text {
		t.Error("what was left out is not in the previous version")
	}
}

func TestValidate(t *testing.T) {
	for about, spoil := range map[string]func(r *Roll){
		"stop":       func(r *Roll) { r.Frames[0].Stop = math.NaN() },
		"far":        func(r *Roll) { r.Frames[0].Stop = 17 },
		"twice":      func(r *Roll) { r.Frames[1].File = r.Frames[0].File },
		"no path":    func(r *Roll) { r.Frames[0].File = "" },
		"control":    func(r *Roll) { r.Frames[0].File += "\n" },
		"not text":   func(r *Roll) { r.Frames[0].File += "\xff" },
		"turned":     func(r *Roll) { r.Frames[0].File += "\u202efit" },
		"verdict":    func(r *Roll) { r.Frames[0].Verdict = "nice" },
		"hash":       func(r *Roll) { r.Frames[0].SHA256 = "00" },
		"note":       func(r *Roll) { r.Frames[0].Note = strings.Repeat("x", MaxNote+1) },
		"area":       func(r *Roll) { r.Frames[0].Area = &Area{0, 0, 0, 5} },
		"range":      func(r *Roll) { r.Marks[0].Range = &Range{1, math.Inf(1)} },
		"turn range": func(r *Roll) { r.Marks[0].Range = &Range{1, -1} },
		"judge":      func(r *Roll) { r.Marks[0].Judge = "a\nb" },
		"finding":    func(r *Roll) { r.Marks[0].Finding = "a\u202eb" },
		"title":      func(r *Roll) { r.Title = strings.Repeat("é", MaxText+1) },
		"noisy":      func(r *Roll) { r.NoisyLimit = math.Inf(1) },
		"frames":     func(r *Roll) { r.Frames = make([]Frame, MaxFrames+1) },
		"marks":      func(r *Roll) { r.Marks = make([]Marks, MaxMarks+1) },
	} {
		dir := t.TempDir()
		r := sample(dir)
		if err := r.Validate(); err != nil {
			t.Fatal(err)
		}
		spoil(r)
		path := filepath.Join(dir, "x"+Ext)
		err := r.Save(path)
		if err == nil {
			t.Errorf("%s: saved", about)
		} else if hasControl(err.Error(), "") || !strings.Contains(err.Error(), ": ") {
			t.Errorf("%s: %q", about, err)
		}
		if _, err := os.Stat(path); err == nil {
			t.Errorf("%s: wrote a file", about)
		}
	}
}

func TestBaseAndSort(t *testing.T) {
	r := sample("/x")
	if i, note := r.Base(); i != 1 || note != "" {
		t.Errorf("base %d, %q", i, note)
	}
	r.BaseFile = r.Frames[2].File
	if i, note := r.Base(); i != 2 || note != `"over third.tif" at +⅓ was chosen by hand as the base frame.` {
		t.Errorf("base by hand %d, %q", i, note)
	}
	r.BaseFile = ""
	r.Frames[1].Stop = -0.5
	if i, note := r.Base(); i != 2 || note != `No frame stands at 0: "over third.tif" at +⅓, the nearest, is taken as the base.` {
		t.Errorf("base that stands in %d, %q", i, note)
	}
	if i, _ := (&Roll{}).Base(); i != -1 {
		t.Errorf("base of an empty roll %d", i)
	}
	r.Frames[0].Stop = 5
	r.Sort()
	for i, f := range r.Frames[1:] {
		if f.Stop < r.Frames[i].Stop {
			t.Errorf("not sorted: %+v", r.Frames)
		}
	}
	r.SetRange(2.1, -0.9)
	if *r.Judge().Range != (Range{-1, 2}) {
		t.Errorf("range %+v", *r.Judge().Range)
	}
	if g := r.Judge().Range; !g.Contains(2) || !g.Contains(-1) || g.Contains(2.01) || g.Contains(-1.25) {
		t.Error("the ends belong to the range and nothing outside")
	}
	if n := r.Judged(); n != 3 {
		t.Errorf("%d judged", n)
	}
}

func TestCloneSharesNothing(t *testing.T) {
	r := sample("/x")
	c := r.Clone()
	if !reflect.DeepEqual(r, c) {
		t.Fatal("the clone differs")
	}
	c.Frames[1].Area.X = 99
	c.Frames[0].Note = "other"
	c.Marks[0].Range.Lo = -9
	c.Marks[0].Judge = "other"
	if !reflect.DeepEqual(r, sample("/x")) {
		t.Error("a change of the clone reached the roll")
	}
}

func FuzzLoad(f *testing.F) {
	dir := f.TempDir()
	r := sample(dir)
	text, err := r.encode(dir)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"format":"stopladder roll","version":1,"x":1,"frames":[{"file":"a.tif","stop":0,"y":2,"verdict":"?"},null]}`))
	f.Add([]byte(`{"format":"stopladder roll","version":1,"demo":"negative","frames":[{"file":"demo:x","stop":1}],"marks":[{"range":{"lo":1,"hi":0}}]}`))
	s := schema(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		r, _, err := decode(text, "/dir")
		if err != nil {
			return
		}
		if r.Demo != "" && r.Demo != "negative" && r.Demo != "reversal" {
			return // told as a problem; the schema rightly has no such film
		}
		if err := r.Validate(); err != nil {
			t.Fatalf("what was loaded cannot be saved: %v\n%s", err, text)
		}
		again, err := r.encode("/dir")
		if err != nil {
			t.Fatal(err)
		}
		foreign := false
		for _, fr := range r.Frames {
			_, f := fr.extra["verdict"]
			foreign = foreign || f
		}
		if !foreign && len(r.extra) == 0 {
			conforms(t, s, again)
		}
		r2, problems, err := decode(again, "/dir")
		if err != nil {
			t.Fatalf("%v\n%s", err, again)
		}
		if !foreign && len(problems) > 0 {
			t.Fatalf("problems that saving did not mend: %v\n%s", problems, again)
		}
		third, err := r2.encode("/dir")
		if err != nil || !bytes.Equal(third, again) {
			t.Fatalf("not stable: %v\n%s\n%s", err, again, third)
		}
	})
}
func TestPlacementTravels(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.stopladder")
	put := &Placement{DX: 3.25, DY: -7, Rotation: 0.12, Scale: 1}
	r := &Roll{Frames: []Frame{{File: filepath.Join(dir, "0.tif"), Origin: ByHand, Placed: put}}}
	if c := r.Clone(); c.Frames[0].Placed == put {
		t.Error("a clone shares the placement")
	}
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	back, _, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	if p := back.Frames[0].Placed; p == nil || *p != *put {
		t.Errorf("placement came back as %+v", p)
	}
	r.Frames[0].Placed = &Placement{Scale: 9}
	if r.Save(path) == nil {
		t.Error("an impossible placement was saved")
	}
}

func TestDamagedCorrectionsAndPatchesAreLeftOut(t *testing.T) {
	text := `{"format":"stopladder roll","version":1,"viewCorrection":{"exposure":99},"limits":{"limits":{"noise":{"holds":9,"strains":2}}},
	"patches":[{"name":"a","x":1,"y":2,"r":0},{"name":"b","x":1,"y":2,"r":3}],
	"frames":[{"file":"a.tif","stop":0,"stopFrom":"name","salvageByHand":{"lift":-1}}]}`
	r, problems, err := decode([]byte(text), "/rolls")
	if err != nil {
		t.Fatal(err)
	}
	if r.View != nil || r.Frames[0].Hand != nil || len(r.Patches) != 1 || r.Patches[0].Name != "b" || len(problems) != 4 || r.Limits != nil {
		t.Errorf("%+v, %d problems: %v", r, len(problems), problems)
	}
	if err := r.Validate(); err != nil {
		t.Error(err)
	}
	r.Frames[0].Hand = &correction.Settings{Black: 2}
	if r.Validate() == nil {
		t.Error("an impossible salvage by hand can be saved")
	}
}
