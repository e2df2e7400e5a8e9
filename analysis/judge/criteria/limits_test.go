package criteria

import (
	"bytes"
	"math"
	"strings"
	"testing"
)

func TestNamedSetsAreSound(t *testing.T) {
	seen := map[string]bool{}
	var was *Set
	for _, s := range Named() {
		if err := s.Validate(); err != nil {
			t.Errorf("%s: %v", s.Name, err)
		}
		if Reason(s.Name) == "" || seen[s.Name] || s.Title() != s.Name {
			t.Errorf("%s: reason %q, title %q", s.Name, Reason(s.Name), s.Title())
		}
		seen[s.Name] = true
		// Each asks for more than the one before it.
		for _, c := range All() {
			if was != nil && (!c.Within(s.Limits[c].Holds, was.Limits[c].Holds) || s.Limits[c] == was.Limits[c]) {
				t.Errorf("%s is not stricter than %s in %s", s.Name, was.Name, c.Key())
			}
		}
		was = &s
	}
	if len(seen) != 3 {
		t.Errorf("%d sets", len(seen))
	}
}

// The anchors in the named sets, from their sources: noise in L* at a
// signal-to-noise ratio, at 18 % grey. dL*/dY * Y = 116/3 * cbrt(Y) (CIE 15).
func TestNoiseAnchorsOfISO12232(t *testing.T) {
	noise := func(snr float64) float64 { return 116.0 / 3 * math.Cbrt(0.18) / snr }
	for _, c := range []struct{ got, snr float64 }{
		{2.2, 10}, {0.55, 40}, {1.1, 20},
	} {
		if d := math.Abs(noise(c.snr) - c.got); d > 0.05 {
			t.Errorf("S/N %g is %.3f L*, the sets take %g", c.snr, noise(c.snr), c.got)
		}
	}
	p, _ := ByName("print")
	a, _ := ByName("archive")
	if p.Limits[Noise].Holds != 2.2 || a.Limits[Noise] != (Pair{1.1, 2.2}) {
		t.Error("the sets do not hold what their reasons say")
	}
}

func TestWithin(t *testing.T) {
	for _, c := range []struct {
		c        Criterion
		v, limit float64
		want     bool
	}{{LostArea, 0.02, 0.02, true}, {LostArea, 0.021, 0.02, false}, {ContrastKept, 0.8, 0.8, true}, {ContrastKept, 0.79, 0.8, false}, {Noise, math.NaN(), 3, false}} {
		if got := c.c.Within(c.v, c.limit); got != c.want {
			t.Errorf("%s %g within %g: %v", c.c.Key(), c.v, c.limit, got)
		}
	}
}

func TestMovedLimitsStayInOrder(t *testing.T) {
	s := Default()
	s = s.With(LostArea, true, 0.5)
	if s.Limits[LostArea] != (Pair{0.5, 0.5}) {
		t.Errorf("%+v", s.Limits[LostArea])
	}
	s = s.With(ContrastKept, false, 0.9)
	if s.Limits[ContrastKept] != (Pair{0.9, 0.9}) {
		t.Errorf("%+v", s.Limits[ContrastKept])
	}
	s = s.With(Noise, false, -4).With(DeltaE, true, math.NaN()).With(Criterion(17), true, 1)
	if s.Limits[Noise] != (Pair{0, 0}) || s.Limits[DeltaE] != Default().Limits[DeltaE] {
		t.Errorf("%+v", s.Limits)
	}
	if err := s.Validate(); err != nil || s.Title() != "own limits" {
		t.Errorf("%v, %s", err, s.Title())
	}
}

func TestFile(t *testing.T) {
	s, _ := ByName("print")
	s = s.With(Noise, true, 1.7)
	s.Name = "Mine, for the series"
	var b bytes.Buffer
	if err := s.Encode(&b); err != nil {
		t.Fatal(err)
	}
	got, err := Parse(b.Bytes())
	if err != nil || got != s {
		t.Errorf("%+v, %v", got, err)
	}
	part, err := Parse([]byte(`{"name":"archive","limits":{"noise":{"holds":1,"strains":2}}}`))
	want, _ := ByName("archive")
	want.Limits[Noise] = Pair{1, 2}
	if err != nil || part != want {
		t.Errorf("%+v, %v", part, err)
	}
	for text, says := range map[string]string{
		``:                                   "end in the middle",
		`{`:                                  "end in the middle",
		`[1]`:                                "JSON object",
		`{"limits":{"colour":{"holds":1}}}`:  "criteria are",
		`{"limts":{}}`:                       "members are",
		`{"limits":{"noise":{"hold":1}}}`:    "members are",
		`{"limits":{"noise":7}}`:             "wants",
		`{"limits":{"noise":{"holds":"1"}}}`: "wants",
		`{"limits":{"noise":{"holds":3,"strains":2}}}`:  "strain before it breaks",
		`{"limits":{"noise":{"holds":-1,"strains":2}}}`: "must be 0 to",
		`{"grade":"magic"}`:                             "there are exposure",
		"{\"name\":\"a\\u0007\"}":                       "control",
		strings.Repeat(" ", MaxFileBytes+1):             "at most",
		`{"limits":{"noise":{"holds":1e999}}}`:          "",
	} {
		_, err := Parse([]byte(text))
		if err == nil || !strings.Contains(err.Error(), says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%.60s: %v", text, err)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(`{"name":"archive","grade":"curves","limits":{"noise":{"holds":1,"strains":2}}}`))
	f.Add([]byte(`{"limits":{"contrastKept":{"holds":1,"strains":0}}}`))
	f.Add([]byte("\xef\xbb\xbf{}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := Parse(text)
		if err != nil {
			return
		}
		if err := s.Validate(); err != nil {
			t.Fatalf("parsed limits are not valid: %v", err)
		}
		var b bytes.Buffer
		if err := s.Encode(&b); err != nil {
			t.Fatal(err)
		}
		if back, err := Parse(b.Bytes()); err != nil || back != s {
			t.Fatalf("%+v came back as %+v (%v)", s, back, err)
		}
	})
}

func TestWords(t *testing.T) {
	for _, c := range []struct {
		c    Criterion
		v    float64
		want string
	}{{LostArea, 0.0002, "<0.1 %"}, {LostArea, 0.0314, "3.1 %"}, {LostArea, 0.42, "42 %"}, {LostArea, 0, "0.0 %"}, {DeltaE, 2.25, "2.2 ΔE00"}, {Noise, 3, "3.0 L*"},
		{ContrastKept, 0.874, "87 %"}, {Crossover, math.NaN(), "–"}} {
		if got := c.c.Words(c.v); got != c.want {
			t.Errorf("%s %g: %q, want %q", c.c.Key(), c.v, got, c.want)
		}
	}
}
