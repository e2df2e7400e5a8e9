package session

import (
	"testing"

	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
)

// An opinion stays whatever is taken back, and what was shown stays shown.
func TestOpinionsAreNotUndone(t *testing.T) {
	s := New(load.Options{})
	r := &roll.Roll{}
	for _, f := range []string{"/x/-1.tif", "/x/0.tif"} {
		r.Frames = append(r.Frames, roll.Frame{File: f, Origin: roll.ByHand})
	}
	r.Frames[0].Stop = -1
	s.roll, s.film = r, s.film.With(r)
	if e := (EndSitting{Day: "2026-11-30"}).apply(s); e.Hint == "" || len(opinion.Given(s.roll)) != 0 {
		t.Error("done with nothing judged")
	}
	SetVerdict{Frame: 0, Verdict: roll.Breaks}.apply(s)
	b := roll.Marks{Judge: "B", Session: "00112233445566aa", Verdicts: []roll.Said{{Name: "-1.tif", Stop: -1, Verdict: roll.Holds}}}
	TakeIn{[]roll.Marks{b}}.apply(s)
	if side := s.Opinions("2026-11-30"); side.Hidden != 1 || !s.Unsaved() {
		t.Fatalf("%+v", side)
	}
	SetVerdict{Frame: 1, Verdict: roll.Holds}.apply(s)
	EndSitting{Day: "2026-11-30"}.apply(s)
	for range 5 {
		Undo{}.apply(s)
	}
	if got := opinion.Given(s.roll); len(got) != 2 || len(got[1].Verdicts) != 2 || opinion.Hidden(s.roll) || s.roll.Judged() != 0 {
		t.Errorf("%+v", s.roll)
	}
	for range 5 {
		Redo{}.apply(s)
	}
	if s.roll.Judged() != 2 || len(opinion.Given(s.roll)) != 2 || opinion.Changed(s.roll) {
		t.Errorf("%+v", s.roll)
	}
	BeginSitting{Kept: "2026-11-30", Day: "2026-12-30"}.apply(s)
	if s.roll.Judged() != 0 || !opinion.Hidden(s.roll) || s.Undoes() != "" || len(opinion.Given(s.roll)) != 2 {
		t.Errorf("%+v", s.roll)
	}
}
