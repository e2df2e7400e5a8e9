package stops

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func codes(fs []Finding) []Code {
	var out []Code
	for _, f := range fs {
		out = append(out, f.Code)
	}
	return out
}

func TestAssign(t *testing.T) {
	nan := math.NaN() // stands for "not labelled" below
	for _, c := range []struct {
		about string
		names []string
		want  []float64
		base  int
		codes []Code
	}{
		{"nothing", nil, nil, -1, nil},
		{"plain bracket", []string{"-1.tif", "0.tif", "+1.tif"}, []float64{-1, 0, 1}, 1, nil},
		{"no signs over", []string{"-3.tif", "-2.tif", "-1.tif", "0.tif", "1.tif", "2.tif"}, []float64{-3, -2, -1, 0, 1, 2}, 3, []Code{ByContext}},
		{"hyphen is a minus beside a plus", []string{"wall-2.tif", "wall-1.tif", "wall0.tif", "wall+1.tif"}, []float64{-2, -1, 0, 1}, 2, []Code{ByContext}},
		{"the same after base", []string{"base-1.tif", "base.tif", "base+1.tif"}, []float64{-1, 0, 1}, 1, []Code{ByContext}},
		{"hyphens alone are a counter", []string{"scan-1.tif", "scan-2.tif"}, []float64{nan, nan}, -1, []Code{NoLabels}},
		{"another pattern does not lend its sign", []string{"wall+1.tif", "scan-1.tif", "base.tif"}, []float64{1, nan, 0}, 2, []Code{SomeMissing}},
		{"counter from 0", []string{"0.tif", "1.tif", "2.tif"}, []float64{nan, nan, nan}, -1, []Code{Counter, NoLabels}},
		{"pages", []string{"p1.tif", "p2.tif", "p3.tif"}, []float64{nan, nan, nan}, -1, []Code{Counter, NoLabels}},
		{"m and p", []string{"m1.tif", "base.tif", "p1.tif"}, []float64{-1, 0, 1}, 1, nil},
		{"stop and counter", []string{"-2_2.tif", "-1_3.tif", "0_4.tif", "+1_5.tif"}, []float64{nan, nan, nan, nan}, -1, []Code{Counter, NoLabels}},
		{"clash", []string{"0.tif", "+1.tif", "p1.tif"}, []float64{0, 1, 1}, 0, []Code{Clash}},
		{"no base", []string{"-1.tif", "+1.tif", "+2.tif"}, []float64{-1, 1, 2}, 1, []Code{NoBase}},
		{"one labelled", []string{"+1.tif"}, []float64{1}, 0, []Code{NoBase, Single}},
		{"one unlabelled", []string{"a.tif"}, []float64{nan}, -1, []Code{Single}},
		{"some missing", []string{"-1.tif", "0.tif", "wall.tif"}, []float64{-1, 0, nan}, 1, []Code{SomeMissing}},
	} {
		a := Assign(c.names)
		if !slices.Equal(codes(a.Findings), c.codes) {
			t.Errorf("%s: findings %v, want %v", c.about, a.Findings, c.codes)
		}
		if a.Base != c.base {
			t.Errorf("%s: base %d, want %d", c.about, a.Base, c.base)
		}
		for i, f := range a.Frames {
			if f.Known == math.IsNaN(c.want[i]) || f.Known && f.Stop != c.want[i] {
				t.Errorf("%s: %s is %v (known %v), want %v", c.about, f.Name, f.Stop, f.Known, c.want[i])
			}
		}
		for _, f := range a.Findings {
			if strings.Count(f.Text, ".tif") == 0 || !strings.HasSuffix(f.Text, ".") || len(f.Frames) == 0 {
				t.Errorf("%s: finding does not name its files: %q %v", c.about, f.Text, f.Frames)
			}
		}
	}
}

func TestProposal(t *testing.T) {
	a := Assign([]string{"s10.tif", "s9.tif", "s3.tif", "s4.tif", "s5.tif", "s6.tif", "s7.tif", "s8.tif"})
	if a.Proposal == nil {
		t.Fatal("no proposal for a roll without labels")
	}
	if want := []float64{4, 3, -3, -2, -1, 0, 1, 2}; !slices.Equal(a.Proposal.Stops, want) {
		t.Errorf("proposal %v, want %v", a.Proposal.Stops, want)
	}
	if want := []float64{-3, -2, 4, 3, 2, 1, 0, -1}; !slices.Equal(a.Proposal.Reverse, want) {
		t.Errorf("reverse %v, want %v", a.Proposal.Reverse, want)
	}
	if want := `8 scans without labels: is the first ("s3.tif") the most underexposed and the last ("s10.tif") the most overexposed, −3 to +4 in whole stops?`; a.Proposal.Question != want {
		t.Errorf("question %q", a.Proposal.Question)
	}
	if a := Assign(make([]string, 40)); a.Proposal != nil {
		t.Error("40 frames cannot stand a whole stop apart")
	}
}

func TestBase(t *testing.T) {
	for _, c := range []struct {
		labels []float64
		want   int
		exact  bool
	}{
		{nil, -1, false}, {[]float64{-1, 1}, 1, false}, {[]float64{1, -1}, 0, false}, {[]float64{-1, 0, 0}, 1, true}, {[]float64{-third, 0.5}, 0, false}, {[]float64{math.NaN()}, -1, false},
	} {
		if got, exact := Base(c.labels); got != c.want || exact != c.exact {
			t.Errorf("Base(%v) = %d, %v", c.labels, got, exact)
		}
	}
}

func TestNatural(t *testing.T) {
	sorted := []string{"", "1", "2", "10", "010a", "a", "a2", "a10", "B1", "scan 2.tif", "scan 10.tif", "é"}
	shuffled := slices.Clone(sorted)
	slices.Reverse(shuffled)
	slices.SortFunc(shuffled, Natural)
	if !slices.Equal(shuffled, sorted) {
		t.Errorf("sorted: %q", shuffled)
	}
	for _, a := range sorted {
		for _, b := range sorted {
			if Natural(a, b) != -Natural(b, a) || (Natural(a, b) == 0) != (a == b) {
				t.Errorf("Natural(%q, %q) = %d, and back %d", a, b, Natural(a, b), Natural(b, a))
			}
		}
	}
}

func FuzzAssign(f *testing.F) {
	f.Add("-1.tif\n0.tif\nwall+1.tif\nwall-2")
	f.Fuzz(func(t *testing.T, text string) {
		names := strings.Split(text, "\n")
		a := Assign(names)
		if len(a.Frames) != len(names) || a.Base < -1 || a.Base >= len(names) {
			t.Fatal("lost frames")
		}
		for _, fd := range a.Findings {
			for _, i := range fd.Frames {
				if i < 0 || i >= len(names) {
					t.Fatalf("finding about frame %d", i)
				}
			}
		}
	})
}

// One scan alone that is called 0 is the base: there is nothing else it could be.
func TestOneScanCalledZero(t *testing.T) {
	a := Assign([]string{"courtyard 0.tif"})
	if f := a.Frames[0]; !f.Known || f.Stop != 0 || a.Base != 0 || a.Proposal != nil {
		t.Errorf("%+v", a)
	}
}
