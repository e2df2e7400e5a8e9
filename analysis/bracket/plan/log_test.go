package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/assets"
)

func held(t *testing.T) *File {
	f := form()
	f.Hold, f.Format, f.BaseAgain = "f/16", "6x7", true
	f.Title, f.Stock = "Courtyard", "invented 100"
	return made(t, f)
}

func put(t *testing.T, f *File, shots ...Shot) {
	t.Helper()
	for _, s := range shots {
		if err := f.Put(s, 0); err != nil {
			t.Fatal(err)
		}
	}
}

func realStops(t *testing.T, f *File) (*Real, []float64) {
	t.Helper()
	r, err := f.Real()
	if err != nil {
		t.Fatal(err)
	}
	var out []float64
	for _, e := range r.Exposed {
		if !e.Test {
			out = append(out, math.NaN())
			continue
		}
		out = append(out, e.Stop)
	}
	return r, out
}

func same(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if math.IsNaN(a[i]) != math.IsNaN(b[i]) || math.Abs(a[i]-b[i]) > 1e-6 {
			return false
		}
	}
	return true
}

// What was really set becomes the real stop, against the base frame as it was
// exposed.
func TestRealStops(t *testing.T) {
	nan := math.NaN()
	f := held(t) // base, -3..-1, +1..+4, base: f/16 from 1/500 to 1/4, base 1/60
	if r, got := realStops(t, f); !same(got, []float64{0, -3, -2, -1, 1, 2, 3, 4, 0}) || r.Base != 0 || r.Drift != nil {
		t.Errorf("nothing logged: %v, %+v", got, r)
	}
	put(t, f, Shot{Number: 3, State: Done, Setting: "1/125"}, Shot{Number: 5, State: Missed}, Shot{Number: 6, State: Spoiled},
		Shot{Number: 7, State: Done, Setting: "f/22, 1/8"}, Shot{Number: 8, State: Done, Setting: "f/11"})
	if _, got := realStops(t, f); !same(got, []float64{0, -3, -1, -1, nan, 2, 5, 0}) {
		t.Errorf("%v", got)
	}
	if err := f.Put(Shot{State: Other}, 3); err != nil {
		t.Fatal(err)
	}
	if _, got := realStops(t, f); !same(got, []float64{0, -3, -1, nan, -1, nan, 2, 5, 0}) {
		t.Errorf("with another picture: %v", got)
	}
	// The base frame a third over: all others a third less, and it is told.
	put(t, f, Shot{Number: 1, State: Done, Setting: "1/50"})
	r, got := realStops(t, f)
	third := math.Log2(math.Exp2(-17./3) / math.Exp2(-6))
	near(t, "base offset", r.BaseOffset, third, 1e-9)
	near(t, "-3 against it", got[1], -3-third, 1e-6)
	if !strings.Contains(strings.Join(r.Notes, " "), "+0.33") {
		t.Errorf("the base frame's own deviation is not told: %v", r.Notes)
	}
	// Missed altogether: stops count from the meter.
	put(t, f, Shot{Number: 1, State: Missed}, Shot{Number: 9, State: Missed})
	if r, got := realStops(t, f); r.Base != -1 || math.Abs(got[0]+3) > 1e-9 {
		t.Errorf("without a base frame: %v %+v", got, r.Notes)
	}
}

// The light at the end is carried through: evenly over the frames, or by the clock.
func TestDrift(t *testing.T) {
	f := held(t)
	for n := 1; n <= 9; n++ {
		put(t, f, Shot{Number: n, State: Done})
	}
	// Planned at EV 14; EV 13.2 at the end is 0.8 stop less light, a tenth a frame.
	if err := f.SetLight(Light{Meter: "EV 13.2"}); err != nil {
		t.Fatal(err)
	}
	r, got := realStops(t, f)
	near(t, "drift", *r.Drift, -0.8, 1e-9)
	if !same(got, []float64{0, -3.1, -2.2, -1.3, 0.6, 1.5, 2.4, 3.3, -0.8}) {
		t.Errorf("%v", got)
	}
	// By the clock: nothing for the first eight at one minute, all of it for the last.
	for n := 1; n <= 9; n++ {
		clock := "23:55"
		if n == 9 {
			clock = "00:05"
		}
		put(t, f, Shot{Number: n, State: Done, Clock: clock})
	}
	if _, got := realStops(t, f); !same(got, []float64{0, -3, -2, -1, 1, 2, 3, 4, -0.8}) {
		t.Errorf("by the clock, past midnight: %v", got)
	}
	// The reading was later still: half of the change had come by the last frame.
	if err := f.SetLight(Light{Meter: "EV 13.2", Clock: "0:15"}); err != nil {
		t.Fatal(err)
	}
	if _, got := realStops(t, f); !same(got, []float64{0, -3, -2, -1, 1, 2, 3, 4, -0.4}) {
		t.Errorf("until the reading: %v", got)
	}
	// Over two midnights of the clock, by frames that stand hours apart.
	for n, clock := range []string{"7:05", "23:59", "0:01", "0:02", "0:03", "0:04", "0:05", "0:06", "0:07"} {
		put(t, f, Shot{Number: n + 1, State: Done, Clock: clock})
	}
	if err := f.SetLight(Light{Meter: "EV 13.2", Clock: "0:07"}); err != nil {
		t.Fatal(err)
	}
	_, got = realStops(t, f)
	near(t, "16 h 54 min of 17 h 2 min", got[1], -3-0.8*1014/1022, 1e-6)
	// Times of day that fall back cannot be: frame by frame, and told.
	put(t, f, Shot{Number: 4, State: Done, Clock: "21:30"})
	r, got = realStops(t, f)
	if !same(got, []float64{0, -3.1, -2.2, -1.3, 0.6, 1.5, 2.4, 3.3, -0.8}) || !strings.Contains(strings.Join(r.Notes, " "), "frame 4") {
		t.Errorf("%v %v", got, r.Notes)
	}
	if err := f.SetLight(Light{}); err != nil || f.Log.Light != nil {
		t.Errorf("the reading is not taken out: %v", err)
	}
	// A repeated base frame that measures as planned again has the same stop.
	if _, got := realStops(t, f); got[8] != 0 {
		t.Errorf("%v", got)
	}
}

// Reciprocity by the plan's figures is taken off.
func TestRealReciprocity(t *testing.T) {
	f := made(t, Form{Meter: "EV 6", ISO: "100", Camera: "electronic shutter 8 s", From: "-2", To: "2", Hold: "f/8", Reciprocity: "1.31", Order: "under-over"})
	_, got := realStops(t, f) // 1/4, 1/2, 1, 2, 4 s: above 1 s only log2(t)/1.31 counts
	if !same(got, []float64{-2, -1, 0, 1 / 1.31, 2 / 1.31}) {
		t.Errorf("%v", got)
	}
}

// A log entry that makes no sense is refused in one sentence, and changes nothing.
func TestLogRefuses(t *testing.T) {
	f := held(t)
	put(t, f, Shot{Number: 1, State: Done})
	before, _ := json.Marshal(f.Log)
	for name, s := range map[string]Shot{
		"no frame": {Number: 99, State: Done}, "no state": {Number: 2, State: "perhaps"}, "aperture 0": {Number: 2, State: Done, Setting: "f/0"},
		"clock": {Number: 2, State: Done, Clock: "25:99"}, "missed and set": {Number: 2, State: Missed, Setting: "f/8"}, "other with number": {Number: 2, State: Other},
		"f/8 or 8 s": {Number: 2, State: Done, Setting: "8"}, "f/0.5 or 0.5 s": {Number: 2, State: Done, Setting: " 0.5 "},
		"note": {Number: 2, State: Done, Note: "a\x1b[31m"},
	} {
		err := f.Put(s, 0)
		var fe *FieldError
		if !errors.As(err, &fe) || strings.Contains(fe.Text, "\n") || strings.Contains(fe.Text, "%!") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := f.Put(Shot{State: Other}, 7); err == nil {
		t.Error("another picture after a frame that is not logged is taken")
	}
	for _, l := range []Light{{Meter: "dark"}, {Meter: "EV 12 at ISO 0"}, {Meter: "EV 12", Clock: "late"}, {Meter: "EV 12", MeterSpeed: "x"}} {
		var fe *FieldError
		if err := f.SetLight(l); !errors.As(err, &fe) || fe.Field != FieldLight {
			t.Errorf("%+v: %v", l, err)
		}
	}
	// Another picture is taken out again, the one that was entered last.
	for _, note := range []string{"the dog", "the cat"} {
		if err := f.Put(Shot{State: Other, Note: note}, 1); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.RemoveOther(1); err != nil || len(f.Log.Shots) != 2 || f.Log.Shots[1].Note != "the dog" {
		t.Errorf("%v %+v", err, f.Log.Shots)
	}
	if err := f.RemoveOther(1); err != nil {
		t.Error(err)
	}
	var none *FieldError
	if err := f.RemoveOther(1); !errors.As(err, &none) {
		t.Errorf("there is none left: %v", err)
	}
	if after, _ := json.Marshal(f.Log); !bytes.Equal(before, after) {
		t.Errorf("the log was changed: %s", after)
	}
}

func schema(t *testing.T, text []byte) error {
	t.Helper()
	raw, err := jsonschema.UnmarshalJSON(bytes.NewReader(assets.Schema("plan-1")))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("plan-1.json", raw); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("plan-1.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return s.Validate(doc)
}

// A plan comes back from its file as it was, follows the schema, and keeps what a
// newer program wrote into it.
func TestFileRoundTrip(t *testing.T) {
	f := held(t)
	put(t, f, Shot{Number: 1, State: Done, Setting: "1/50", Clock: "9:05", Note: "two\nlines"}, Shot{Number: 2, State: Missed}, Shot{Number: 3, State: Spoiled})
	if err := f.Put(Shot{State: Other, Note: "the dog"}, 3); err != nil {
		t.Fatal(err)
	}
	if err := f.SetLight(Light{Meter: "EV 13", Clock: "10:00"}); err != nil {
		t.Fatal(err)
	}
	f.Log.Note = "windy"
	path := filepath.Join(t.TempDir(), "a"+Ext)
	if err := f.Save(path); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := schema(t, text); err != nil {
		t.Errorf("the file is not as its schema says: %v", err)
	}
	more := bytes.Replace(text, []byte(`"version": 1,`), []byte(`"version": 1, "weather": {"wind": 3},`), 1)
	if err := os.WriteFile(path, more, 0o600); err != nil {
		t.Fatal(err)
	}
	g, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := g.Encode(&b); err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(b.Bytes(), []byte(`"wind": 3`)) {
		t.Error("what a newer program wrote is lost")
	}
	g.more = nil
	b.Reset()
	if err := g.Encode(&b); err != nil || !bytes.Equal(b.Bytes(), text) {
		t.Errorf("the plan comes back changed: %v\n%s\n%s", err, b.Bytes(), text)
	}
	// The schema can say no.
	if err := schema(t, bytes.Replace(text, []byte(`"exposed"`), []byte(`"perhaps"`), 1)); err == nil {
		t.Error("the schema takes anything")
	}
}

func TestLoadRefuses(t *testing.T) {
	dir := t.TempDir()
	var whole bytes.Buffer
	if err := held(t).Encode(&whole); err != nil {
		t.Fatal(err)
	}
	swap := func(old, new string) string {
		s := strings.Replace(whole.String(), old, new, 1)
		if s == whole.String() {
			t.Fatalf("%s is not in the file", old)
		}
		return s
	}
	for name, text := range map[string]string{
		"empty": "", "half": whole.String()[:200], "list": "[]", "another": `{"format":"stopladder roll","version":1}`, "no version": `{"format":"stopladder plan"}`,
		"newer": swap(`"version": 1`, `"version": 9`), "no frames": `{"format":"stopladder plan","version":1}`,
		"zero aperture": swap(`"exact": 16`, `"exact": 0`), "other EV": swap(`"ev": 17`, `"ev": 3`), "numbers": swap(`"number": 2`, `"number": 1`),
		"control": swap(`"Courtyard"`, `"Court\u001b[31m"`), "direction": swap(`"Courtyard"`, `"Court\u202eyard"`), "kind": swap(`"number": 2`, `"number": "2"`),
		"camera": swap(`"times": [`, `"times": [ "0",`), "reciprocity": swap(`"title":`, `"reciprocity": "fast", "title":`),
	} {
		path := filepath.Join(dir, "p"+Ext)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		f, err := Load(path)
		if err == nil {
			t.Errorf("%s: opened as %+v", name, f.Form)
			continue
		}
		if s := err.Error(); !strings.Contains(s, "p"+Ext) || strings.Contains(s, "\n") || strings.Contains(s, "%!") || strings.Contains(s, dir) {
			t.Errorf("%s: %v", name, err)
		}
		var newer *NewerError
		if errors.As(err, &newer) != (name == "newer") {
			t.Errorf("%s: %T", name, err)
		}
	}
	if _, err := Load(filepath.Join(dir, "none"+Ext)); err == nil || !strings.Contains(err.Error(), "there is none") {
		t.Error(err)
	}
	if _, err := Load(dir); err == nil {
		t.Error("a folder is opened as a plan")
	}
}

func FuzzDecode(f *testing.F) {
	file, err := New(form(), Generic())
	if err != nil {
		f.Fatal(err)
	}
	var b bytes.Buffer
	if err := file.Encode(&b); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	_ = file.Put(Shot{Number: 1, State: Done, Setting: "1/50 f/8", Clock: "10:00"}, 0)
	_ = file.SetLight(Light{Meter: "EV 12"})
	b.Reset()
	if err := file.Encode(&b); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Decode(text)
		if err != nil {
			return
		}
		r, err := p.Real()
		if err != nil {
			t.Fatalf("a plan that opens has no real stops: %v", err)
		}
		for _, e := range r.Exposed {
			if math.IsNaN(e.Stop) || math.IsInf(e.Stop, 0) {
				t.Fatalf("a real stop is %v", e.Stop)
			}
		}
		if _, err := Match(p, []string{"a_1.tif", "a_2.tif"}, []float64{0, 1}); err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if err := p.Encode(&out); err != nil {
			t.Fatalf("a plan that opens cannot be saved: %v", err)
		}
		if _, err := Decode(out.Bytes()); err != nil {
			t.Fatalf("what was saved does not open: %v", err)
		}
	})
}

// The store keeps the user's cameras, and loses none to a damaged file.
func TestStore(t *testing.T) {
	s := Store{Dir: filepath.Join(t.TempDir(), "new")}
	mine := Camera{Name: " My  camera ", Times: []string{"1/500=1/410", "1/250"}, Apertures: []string{"3.5", "5.6"}, ApertureClicks: Halves, Bulb: true}
	if all, err := s.All(); err != nil || len(all) != len(Generic()) {
		t.Fatalf("%d, %v", len(all), err)
	}
	if err := s.Put(mine); err != nil {
		t.Fatal(err)
	}
	mine.Bulb = false
	if err := s.Put(mine); err != nil {
		t.Fatal(err)
	}
	all, err := s.All()
	if err != nil || len(all) != len(Generic())+1 || all[0].Name != "My camera" || all[0].Bulb || all[0].Times[0] != "1/500=1/410" {
		t.Fatalf("%+v, %v", all[0], err)
	}
	for name, c := range map[string]Camera{"built in": Generic()[0], "bad": {Name: "x"}} {
		if err := s.Put(c); len(Fields(err)) == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := s.Remove("another"); err == nil {
		t.Error("what is not there is removed")
	}
	if err := os.WriteFile(s.path(), []byte(`{"format":"stopladder cameras","version":1,"cameras":[{`), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := s.Put(mine); err == nil || !strings.Contains(err.Error(), "cameras.json") {
		t.Errorf("a damaged file is written over: %v", err)
	}
	if all, err := s.All(); err == nil || len(all) != len(Generic()) {
		t.Errorf("%d cameras beside a damaged file, %v", len(all), err)
	}
	if text, _ := os.ReadFile(s.path()); !bytes.HasSuffix(text, []byte("[{")) {
		t.Error("the damaged file was changed")
	}
}
