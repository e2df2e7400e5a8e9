package stops

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	for text, want := range map[string]float64{
		"0": 0, "base": 0, " Base ": 0, "1": 1, "+1": 1, "-3": -3, "−3": -3, "1.5": 1.5, "1,5": 1.5, "-.7": -2 * third, "+0.3": third, "0.30": 0.3, "0.70": 0.7,
		"1/2": 0.5, "+1/2": 0.5, "-1 1/3": -1 - third, "−1⅓": -1 - third, "½": 0.5, "m2": -2, "P1.5": 1.5, "2 under": -2, "2under": -2, "under 2": -2, "over 1.5": 1.5,
		"+1 stop": 1, "2 stops under": -2, "-1 ev": -1, "±0": 0, "-1 under": -1, "+16": 16, "- 2": -2, "-0": 0,
	} {
		got, err := Parse(text)
		if err != nil || math.Abs(got-want) > 1e-12 || math.Signbit(got) && got == 0 {
			t.Errorf("Parse(%q) = %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "  ", "x", "1-2", "1 2", "+1_5", "-1 over", "+1 under", "±1", "17", "-99", "1/0", "0/2", "3/2", "1/7", "1e3", "NaN", "Inf", "1.2.3", "++1", "1 over 2", "\x00", strings.Repeat("9", 5000)} {
		got, err := Parse(text)
		if err == nil {
			t.Errorf("Parse(%q) = %v; want an error", text, got)
		} else if len(err.Error()) > 200 || strings.ContainsAny(err.Error(), "\n\x00") {
			t.Errorf("Parse(%q): message is not one short sentence: %q", text, err)
		}
	}
}

func TestParseList(t *testing.T) {
	eight := []float64{-3, -2, -1, 0, 1, 2, 3, 4}
	for text, want := range map[string][]float64{
		"-3,-2,-1,0,+1,+2,+3,+4": eight, "-3..+4": eight, " -3 .. 4 ": eight, "−3…+4": eight,
		"+1..-1": {1, 0, -1}, "-1..+1/0.5": {-1, -0.5, 0, 0.5, 1}, "-1..0/1/3": {-1, -2 * third, -third, 0}, "0..+1/.3": {0, third, 2 * third, 1},
		"-1,5;0;+1,5": {-1.5, 0, 1.5}, "-3..-1,0,+1/2": {-3, -2, -1, 0, 0.5}, "-1/2..+1/2/1/2": {-0.5, 0, 0.5}, "-1/2..+1/2/1": {-0.5, 0.5}, "-0.5..+0.5/0.5": {-0.5, 0, 0.5},
		"0": {0}, "base,1 over": {0, 1}, "2..2": {2}, "0,0,+1": {0, 0, 1}, "-½..½/½": {-0.5, 0, 0.5},
	} {
		got, err := ParseList(text)
		if err != nil || !slices.EqualFunc(got, want, func(a, b float64) bool { return math.Abs(a-b) < 1e-12 }) {
			t.Errorf("ParseList(%q) = %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", ",", "-3,,1", "-3..", "..4", "-3..+4/0", "-3..+4/-1", "-3..+4/2", "-1/2..+1/2", "-3..x", "0..16/1/10,0..16/1/10", "-3...+4/0.01", "-3,x", strings.Repeat("0,", 300) + "0"} {
		if got, err := ParseList(text); err == nil {
			t.Errorf("ParseList(%q) = %v; want an error", text, got)
		}
	}
}

func TestLabel(t *testing.T) {
	for _, c := range []struct {
		stop         float64
		label, ascii string
	}{
		{0, "0", "0"}, {math.Copysign(0, -1), "0", "0"}, {-0.004, "0", "0"}, {1, "+1", "+1"}, {-3, "−3", "-3"}, {1 + third, "+1⅓", "+1 1/3"}, {-0.5, "−½", "-1/2"},
		{2 * third, "+⅔", "+2/3"}, {-1.75, "−1¾", "-1 3/4"}, {0.25, "+¼", "+1/4"}, {0.4, "+0.40", "+0.40"}, {-1.9, "−1.90", "-1.90"}, {0.9999, "+1", "+1"}, {0.66, "+0.660", "+0.660"},
		{math.NaN(), "?", "?"}, {math.Inf(1), "?", "?"},
	} {
		if got := Label(c.stop); got != c.label {
			t.Errorf("Label(%v) = %q, want %q", c.stop, got, c.label)
		}
		if got := ASCII(c.stop); got != c.ascii {
			t.Errorf("ASCII(%v) = %q, want %q", c.stop, got, c.ascii)
		}
	}
}

// Every label that is written is read back, typed and (with the division slash)
// as a file's name.
func TestLabelParsesBack(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	for i := range 200_000 {
		stop := r.Float64()*2*Limit - Limit
		if i%3 == 0 {
			stop = math.Round(stop*12) / 12
		}
		for _, text := range []string{Label(stop), ASCII(stop)} {
			got, err := Parse(text)
			if err != nil || math.Abs(got-stop) > Near+1e-12 {
				t.Fatalf("Parse(%q) = %v, %v; was written for %v", text, got, err, stop)
			}
			name := strings.ReplaceAll(text, "/", "∕") + ".tif"
			if got, ok := fromName(name); !ok || math.Abs(got-stop) > Near+1e-12 {
				t.Fatalf("fromName(%q) = %v, %v; was written for %v", name, got, ok, stop)
			}
		}
	}
}

func TestQuarter(t *testing.T) {
	for in, want := range map[float64]float64{0: 0, 0.1: 0, 0.125: 0.25, -0.125: -0.25, third: 0.25, -2 * third: -0.75, 3.9: 4, -0.1: 0} {
		if got := Quarter(in); got != want || math.Signbit(got) != math.Signbit(want) {
			t.Errorf("Quarter(%v) = %v, want %v", in, got, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"-1 1/3", "2 under", "+0.3", "−1⅓", "1,5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := Parse(text)
		if err != nil {
			return
		}
		if math.IsNaN(v) || math.Abs(v) > Limit {
			t.Fatalf("Parse(%q) = %v", text, v)
		}
		if back, err := Parse(ASCII(v)); err != nil || math.Abs(back-v) > Near+1e-12 {
			t.Errorf("Parse(ASCII(%v)) = %v, %v", v, back, err)
		}
	})
}

func FuzzParseList(f *testing.F) {
	for _, s := range []string{"-3..+4", "-3,-2,0", "-1..0/1/3", "-1,5;0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		vs, err := ParseList(text)
		if err == nil && (len(vs) == 0 || len(vs) > MaxList) {
			t.Fatalf("ParseList(%q) gives %d stops", text, len(vs))
		}
		for _, v := range vs {
			if err == nil && (math.IsNaN(v) || math.Abs(v) > Limit) {
				t.Fatalf("ParseList(%q) holds %v", text, v)
			}
		}
	})
}
