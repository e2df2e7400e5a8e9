package session

import (
	"stopladder/analysis/judge/blind"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
)

// BeginBlind begins a blind judging: every frame so many times, in an order that Seed draws.
type BeginBlind struct {
	Day   string         // ISO 8601
	Shown criteria.Grade // "" as scanned
	Times int
	Seed  uint64
}

func (c BeginBlind) apply(s *State) Effect {
	var err error
	e := s.edited(Marks, "blind judging", func(r *roll.Roll) { err = blind.Begin(r, c.Day, string(c.Shown), c.Times, c.Seed) })
	if err != nil {
		e.Refused = &Refusal{Title: "Not judged blind", Err: err}
	}
	return e
}

// MarkBlind gives the view that is shown a verdict; Back takes the last one away.
type MarkBlind struct {
	Verdict roll.Verdict
	Seconds float64
	Day     string
	Back    bool
}

func (c MarkBlind) apply(s *State) Effect {
	n := len(s.roll.Blind) - 1
	if n < 0 {
		return Effect{}
	}
	return s.edited(Marks, "blind verdict", func(r *roll.Roll) {
		b := &r.Blind[n]
		if c.Back {
			blind.Back(b)
		} else {
			blind.Mark(b, c.Verdict, c.Seconds, c.Day)
		}
	})
}

// Blind returns the latest blind judging, nil where there is none, and the frame of its next
// view, -1 when all have a verdict. Views of frames that the roll has no more are passed over.
func (s *State) Blind() (b *roll.Blind, next int) {
	n := len(s.roll.Blind) - 1
	if n < 0 {
		return nil, -1
	}
	b = &s.roll.Blind[n]
	for _, v := range b.Views {
		if v.Verdict != roll.Unjudged {
			continue
		}
		if i := blind.Frame(s.roll, v); i >= 0 {
			return b, i
		}
	}
	return b, -1
}

// PruneBlind takes the views to come away of frames that the roll has no more.
type PruneBlind struct{}

func (PruneBlind) apply(s *State) Effect {
	n := len(s.roll.Blind) - 1
	if n < 0 {
		return Effect{}
	}
	return s.edited(Marks, "blind judging", func(r *roll.Roll) { blind.Prune(r, &r.Blind[n]) })
}
