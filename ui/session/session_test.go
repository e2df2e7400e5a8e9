package session

import (
	"testing"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/row"
)

func bracket() *Session {
	r := &roll.Roll{Title: "Yard"}
	for _, f := range []struct {
		name string
		stop float64
	}{{"p2.tif", 2}, {"m1.tif", -1}, {"base.tif", 0}, {"p1.tif", 1}, {"m2.tif", -2}} {
		r.Frames = append(r.Frames, roll.Frame{File: "/scans/" + f.name, Stop: f.stop, Origin: roll.FromName})
	}
	return New(r, "")
}

func TestStartsOnTheBaseAndStepsAlongTheLadder(t *testing.T) {
	s := bracket()
	if got := s.Roll.Frames[s.Current()].File; got != "/scans/base.tif" {
		t.Fatalf("starts on %s", got)
	}
	for _, want := range []float64{1, 2, 2} {
		s.Step(1)
		if s.Playhead() != want {
			t.Errorf("playhead at %v, want %v", s.Playhead(), want)
		}
	}
	s.MovePlayhead(-9)
	if s.Playhead() != -2 {
		t.Errorf("the playhead left the ladder: %v", s.Playhead())
	}
	s.MovePlayhead(0.4)
	if got := s.Roll.Frames[s.Current()].Stop; got != 0 {
		t.Errorf("at +0.4 the frame at %v is shown", got)
	}
}

func TestEveryEditCanBeTakenBack(t *testing.T) {
	s := bracket()
	if s.Unsaved() {
		t.Fatal("a roll that was only opened counts as unsaved")
	}
	i := s.Index("/scans/p1.tif")
	s.SetVerdict(i, roll.Strains)
	s.SetNote("/scans/p1.tif", "sky thin")
	s.SetRangeEnd(true, 1.13)
	s.Edit("labels", func(r *roll.Roll) { r.Frames[i].Stop = -3 })
	if got := s.Roll.Frames[0].File; got != "/scans/p1.tif" {
		t.Errorf("after relabelling the lowest rung is %s", got)
	}
	if rg := s.Range(); rg == nil || rg.Hi != 1.25 || rg.Lo != -2 {
		t.Errorf("range %+v, want -2 .. 1.25 in quarter stops", rg)
	}
	names := []string{"labels", "range", "note", "verdict"}
	for _, want := range names {
		if got := s.Undo(); got != want {
			t.Errorf("undid %q, want %q", got, want)
		}
	}
	if s.Unsaved() || s.Undo() != "" {
		t.Error("with everything taken back the roll is not as it was opened")
	}
	for range names {
		s.Redo()
	}
	if f := s.Roll.Frames[0]; f.Note != "sky thin" || f.Verdict != roll.Strains || f.Stop != -3 {
		t.Errorf("redone frame is %+v", f)
	}
}

func TestTheSameVerdictAgainTakesItBack(t *testing.T) {
	s := bracket()
	s.SetVerdict(0, roll.Breaks)
	s.SetVerdict(0, roll.Breaks)
	if v := s.Roll.Frames[0].Verdict; v != roll.Unjudged {
		t.Errorf("verdict is %q", v)
	}
	s.SetVerdict(99, roll.Holds) // no such frame: nothing happens
}

func TestAPostPushesTheOther(t *testing.T) {
	s := bracket()
	s.SetRange(&roll.Range{Lo: -1, Hi: 1})
	s.SetRangeEnd(false, 1.5)
	if r := s.Range(); *r != (roll.Range{Lo: 1.5, Hi: 1.5}) {
		t.Errorf("range %+v", r)
	}
	s.SetRangeEnd(true, -7)
	if r := s.Range(); *r != (roll.Range{Lo: -2, Hi: -2}) {
		t.Errorf("range %+v, want it held at the lowest frame", r)
	}
	s.SetRange(nil)
	if s.Range() != nil {
		t.Error("the range was not taken away")
	}
}

func TestRowsKnowTheJudge(t *testing.T) {
	s := bracket()
	s.SetRange(&roll.Range{Lo: -1, Hi: 1})
	s.SetVerdict(0, roll.Breaks)
	rows := s.Rows()
	var in []float64
	for _, d := range rows {
		if d.InRange {
			in = append(in, d.Stop)
		}
	}
	if len(in) != 3 || in[0] != -1 || in[2] != 1 {
		t.Errorf("in range: %v", in)
	}
	if rows[0].Verdict != roll.Breaks || !rows[2].Base || !rows[2].Current || rows[2].File != "base.tif" {
		t.Errorf("rows %+v %+v", rows[0], rows[2])
	}
}

func TestReadingsStayWithTheirScan(t *testing.T) {
	s := bracket()
	var told Changed
	s.Listen(func(c Changed) { told |= c })
	s.Update("/scans/m1.tif", func(f *Frame) { f.Row.State = row.Ready })
	if told != FrameChanged {
		t.Errorf("told %b", told)
	}
	s.Edit("labels", func(r *roll.Roll) { r.Frames[s.Index("/scans/m1.tif")].Stop = 5 })
	if top := len(s.Roll.Frames) - 1; s.Frame(top).Row.State != row.Ready {
		t.Error("the readings did not follow the scan to its new rung")
	}
	s.Stopped("/scans/m1.tif", "no")
	s.Stopped("/scans/p1.tif", "stopped")
	if done, all := s.Read(); done != 2 || all != 5 {
		t.Errorf("read %d of %d", done, all)
	}
}

func TestHashesAreNobodysWork(t *testing.T) {
	s := bracket()
	s.Fill(func(r *roll.Roll) { r.Frames[0].SHA256 = "00" })
	if s.Unsaved() || s.CanUndo() != "" {
		t.Error("filling in a hash made the roll unsaved or undoable")
	}
	s.SetNote("/scans/p1.tif", "x")
	s.Fill(func(r *roll.Roll) { r.Frames[1].SHA256 = "01" })
	if !s.Unsaved() {
		t.Error("filling in a hash hid unsaved work")
	}
}

func TestEmptyRoll(t *testing.T) {
	s := New(&roll.Roll{}, "")
	s.Step(1)
	s.StepOther(1)
	s.MovePlayhead(3)
	s.Go(2)
	if s.Current() != -1 || s.Base() != -1 || s.OtherIndex() != -1 || len(s.Rows()) != 0 {
		t.Error("an empty roll has a current frame")
	}
}

func TestEveryFrameOfAStopCanBeReached(t *testing.T) {
	s := bracket()
	s.Edit("frame", func(r *roll.Roll) {
		r.Frames = append(r.Frames, roll.Frame{File: "/scans/base again.tif", Stop: 0, Origin: roll.FromName})
	})
	s.Go(0)
	var seen []string
	for range s.Roll.Frames {
		seen = append(seen, s.Roll.Frames[s.Current()].File)
		s.Step(1)
	}
	for i, f := range s.Roll.Frames {
		if seen[i] != f.File {
			t.Errorf("step %d shows %s, want %s", i, seen[i], f.File)
		}
	}
}
