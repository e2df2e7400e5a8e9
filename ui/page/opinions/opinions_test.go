package opinions

import (
	"strings"
	"testing"

	"stopladder/analysis/judge/roll"
	"stopladder/ui/page/pagetest"
	"stopladder/ui/session"
)

// The judge's own marks stand on it at once, those of others when the own are done.
func TestOpinions(t *testing.T) {
	b := pagetest.Open(t, "../../../testdata/rolls/hand-held")
	p := New(b.State, b.Host, nil)
	p.today = func() string { return "2026-11-30" }
	b.Lay(p)
	if !strings.Contains(p.head.Text, "Nobody has judged") {
		t.Errorf("at first: %q", p.head.Text)
	}
	b.Apply(session.SetVerdict{Frame: 0, Verdict: roll.Strains})
	b.Apply(session.SetRange{Range: &roll.Range{Lo: -1, Hi: 1}})
	b.Draw()
	if !strings.Contains(p.head.Text, "One judging") || len(p.side.Judgements) != 1 {
		t.Errorf("after a verdict: %q, %d judgings", p.head.Text, len(p.side.Judgements))
	}
	k := p.plot.Scale()
	under := float64(headHigh) + float64(rowHigh)*(float64(len(b.State.Roll().Frames))-0.5) // the frame with the least exposure
	if words := p.at((stopWide+20)*k, under*k, true); !strings.Contains(words, "Strains") {
		t.Errorf("over the verdict: %q", words)
	}
	if words := p.at((stopWide+20)*k, 10*k, true); !strings.Contains(words, "range") {
		t.Errorf("over the head: %q", words)
	}
	p.plot.OnHover((stopWide+20)*k, under*k, true)
	if c := b.Card(); c.Title != "Second opinions" || len(c.Text) != 3 || !strings.Contains(c.Text[2], "Strains") {
		t.Errorf("its card: %q", c)
	}
	p.plot.OnHover(0, 0, false)
	if words := p.at(2, under*k, true); words != "" {
		t.Errorf("beside it: %q", words)
	}
	b.Apply(session.BeginSitting{Kept: "2026-11-30", Day: "2026-12-01"})
	b.Draw()
	if p.side.Hidden != 1 || !strings.Contains(p.head.Text, "once you are done") {
		t.Errorf("in another sitting %d are hidden: %q", p.side.Hidden, p.head.Text)
	}
	if b.State.Judges() != 2 {
		t.Errorf("%d judgings", b.State.Judges())
	}
}
