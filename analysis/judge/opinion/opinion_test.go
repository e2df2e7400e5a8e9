package opinion

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/judge/roll"
)

// hash of an invented scan.
func hash(n int) string { return fmt.Sprintf("%064x", n+1) }

// invented returns a roll of frames at -2, 0 and +2 with verdicts, one letter each (h, s, b,
// - for none).
func invented(judge, verdicts string) *roll.Roll {
	r := &roll.Roll{}
	for i, v := range verdicts {
		f := roll.Frame{File: fmt.Sprintf("/scans/%d.tif", i), SHA256: hash(i), Stop: float64(2*i - 2), Origin: roll.ByHand}
		f.Verdict = map[rune]roll.Verdict{'h': roll.Holds, 's': roll.Strains, 'b': roll.Breaks, '-': roll.Unjudged}[v]
		r.Frames = append(r.Frames, f)
	}
	r.Judge().Judge = judge
	return r
}

// given returns an opinion.
func given(t *testing.T, judge, verdicts, day string) roll.Marks {
	t.Helper()
	r := invented(judge, verdicts)
	if err := Done(r, day); err != nil {
		t.Fatal(err)
	}
	return Given(r)[0]
}

func column(j Judgement) string {
	out := ""
	for _, v := range j.Frames {
		switch {
		case v.Changed:
			out += "!"
		case v.Verdict == "":
			out += "-"
		default:
			out += string(v.Verdict[0])
		}
	}
	return out
}

func TestOthersAreHiddenUntilDone(t *testing.T) {
	r := invented("A", "bh-")
	if Hidden(r) {
		t.Error("there is nothing to hide")
	}
	if _, err := Merge(r, []roll.Marks{given(t, "B", "shs", "2026-10-30")}); err != nil {
		t.Fatal(err)
	}
	s := Beside(r, "2026-11-30", false)
	if !Hidden(r) || s.Hidden != 1 || len(s.Judgements) != 1 || s.Verdicts != nil || s.Ranges != nil {
		t.Fatalf("%+v", s)
	}
	for _, say := range s.Says() {
		if strings.Contains(say, "Strains") || strings.Contains(say, "B ") {
			t.Error(say)
		}
	}
	r.Frames[2].Verdict = roll.Strains
	if err := Done(r, "2026-11-30"); err != nil {
		t.Fatal(err)
	}
	s = Beside(r, "2026-12-01", false)
	if s.Hidden != 0 || len(s.Judgements) != 2 || column(s.Judgements[0]) != "shs" || column(s.Judgements[1]) != "bhs" || !s.Judgements[1].Mine || s.Judgements[1].Date != "2026-11-30" {
		t.Fatalf("%+v", s)
	}
	if v := s.Verdicts; v == nil || v.Judges != 2 || v.Frames != 3 {
		t.Errorf("%+v", v)
	}

	// What is changed in knowledge of the others is shown, and does not count.
	r.Frames[0].Verdict = roll.Strains
	s = Beside(r, "2026-12-01", false)
	if len(s.Judgements) != 3 || !s.Judgements[0].Knowing || s.Verdicts.Share != 2./3 {
		t.Errorf("%+v", s)
	}
	if err := Done(r, "2026-12-01"); err != nil {
		t.Fatal(err)
	}
	if g := Given(r); len(g) != 3 || !g[2].Knowing || g[1].Verdicts[0].Verdict != roll.Breaks {
		t.Errorf("%+v", g)
	}
	if s := Beside(r, "2026-12-01", false); len(s.Judgements) != 3 || s.Verdicts.Judges != 2 {
		t.Errorf("%+v", s)
	}
}

func TestJudgedAMonthLater(t *testing.T) {
	r := invented("A", "bhs")
	r.Frames[0].Note = "sky gone"
	r.SetRange(-1, 1)
	if err := Begin(r, "2026-10-30", "2026-11-30"); err != nil {
		t.Fatal(err)
	}
	if r.Judged() != 0 || r.Frames[0].Note != "" || r.Marks[0].Range != nil || r.Marks[0].Judge != "A" || !Hidden(r) {
		t.Fatalf("%+v", r)
	}
	if err := Done(r, "2026-11-30"); err == nil {
		t.Error("done with nothing")
	}
	for i, v := range []roll.Verdict{roll.Breaks, roll.Holds, roll.Breaks} {
		r.Frames[i].Verdict = v
	}
	if err := Done(r, "2026-11-30"); err != nil {
		t.Fatal(err)
	}
	s := Beside(r, "", false)
	if len(s.Judgements) != 2 || column(s.Judgements[0]) != "bhs" || s.Judgements[0].Date != "2026-10-30" || s.Judgements[0].Frames[0].Note != "sky gone" ||
		column(s.Judgements[1]) != "bhb" || !s.Judgements[0].Mine || s.Judgements[0].Range.Hi != 1 {
		t.Fatalf("%+v", s)
	}
	if err := Begin(r, "2026-11-30", "2026-12-30"); err != nil || len(Given(r)) != 2 {
		t.Error("what was done already is kept once", err, len(Given(r)))
	}
}

func TestNoneOverwritesAnother(t *testing.T) {
	r := invented("A", "bhs")
	first := given(t, "B", "shs", "2026-10-30")
	second := first
	second.Verdicts = append([]roll.Said{}, first.Verdicts...)
	second.Verdicts[0].Verdict = roll.Holds // the same session, and other words
	out, err := Merge(r, []roll.Marks{first, first, second})
	if err != nil || len(out.Added) != 2 || out.Had != 1 || len(out.Problems) != 1 {
		t.Fatalf("%+v %v", out, err)
	}
	if g := Given(r); g[0].Verdicts[0].Verdict != roll.Strains || g[1].Verdicts[0].Verdict != roll.Holds {
		t.Errorf("%+v", g)
	}
	if r.Judged() != 3 || r.Frames[0].Verdict != roll.Breaks || r.Marks[0].Judge != "A" {
		t.Errorf("the roll's own marks changed: %+v", r)
	}

	path := filepath.Join(t.TempDir(), "a.stopladder")
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
	again, problems, err := roll.Load(path)
	if err != nil || len(problems) != 0 || len(Given(again)) != 2 || !same(Given(again)[1], second) {
		t.Errorf("%v %v %+v", err, problems, again)
	}
}

func TestChangedScanIsNoticed(t *testing.T) {
	r := invented("A", "bhs")
	b := given(t, "B", "shs", "2026-10-30")
	r.Frames[2].SHA256 = hash(77)
	out, err := Merge(r, []roll.Marks{b})
	if err != nil || len(out.Problems) != 1 || !strings.Contains(out.Problems[0], "2.tif at +2, which has changed") {
		t.Fatalf("%+v %v", out, err)
	}
	s := Beside(r, "", true)
	if column(s.Judgements[1]) != "sh!" || s.Verdicts.Frames != 2 || s.Verdicts.LeftOut != 1 {
		t.Errorf("%+v", s)
	}
	// A renamed scan of the same content is the same.
	r.Frames[0].File = "/elsewhere/other.tif"
	if s := Beside(r, "", true); column(s.Judgements[1]) != "sh!" {
		t.Error(column(s.Judgements[1]))
	}
}

func TestAnotherRoll(t *testing.T) {
	r := invented("A", "bhs")
	b := given(t, "B", "shs", "2026-10-30")
	for i := range b.Verdicts {
		b.Verdicts[i].SHA256, b.Verdicts[i].Name = hash(500+i), "x.tif"
	}
	good := given(t, "C", "hhh", "2026-10-30")
	if _, err := Merge(r, []roll.Marks{good, b}); err == nil || len(Given(r)) != 0 {
		t.Error("marks of another roll", err, len(Given(r)))
	}
}

func TestFull(t *testing.T) {
	r := invented("A", "bhs")
	for i := range roll.MaxMarks {
		_, err := Merge(r, []roll.Marks{given(t, fmt.Sprint("B", i), "shs", "2026-10-30")})
		if (err != nil) != (i >= roll.MaxMarks-1) {
			t.Fatal(i, err)
		}
	}
	if err := Begin(r, "", ""); err == nil || r.Judged() != 3 {
		t.Error("a sitting began and what was judged has no place")
	}
}

func TestSays(t *testing.T) {
	r := invented("A", "bhs")
	r.SetRange(-1, 1)
	b := given(t, "B", "shs", "2026-10-30")
	b.Range = &roll.Range{Lo: -2, Hi: 0.75}
	if _, err := Merge(r, []roll.Marks{b}); err != nil {
		t.Fatal(err)
	}
	words := strings.Join(Beside(r, "", true).Says(), "\n")
	for _, w := range []string{"Two judgings, three frames: 67 %", "can be chance", "by one step at −2", "Both accept −1 to +¾", "1 stop apart", "¼ stop"} {
		if !strings.Contains(words, w) {
			t.Errorf("%q is not in\n%s", w, words)
		}
	}
}
