package session

import (
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/ui/history"
)

// Opinions returns what the judges of the roll say beside each other; those of others are
// hidden until the roll's own marks are done. today is an ISO 8601 day.
func (s *State) Opinions(today string) *opinion.Side { return opinion.Beside(s.roll, today, false) }

// Judges returns how many judgings the roll carries: its own, and those that were given.
func (s *State) Judges() int { return max(1, len(s.roll.Marks)) }

// given makes a change of the opinions. It is no step of undo: an opinion that was given
// stays, and what was shown cannot be unseen.
func (s *State) given(change func(*roll.Roll)) Effect {
	s.history.End()
	s.roll = s.roll.Clone()
	change(s.roll)
	s.film = s.film.With(s.roll)
	return Effect{Redraw: Frames | Marks}
}

// EndSitting keeps the roll's own marks as an opinion of a day, and shows those of others.
// Nothing happens where nothing is judged.
type EndSitting struct{ Day string }

func (c EndSitting) apply(s *State) Effect {
	r := s.roll.Clone()
	if err := opinion.Done(r, c.Day); err != nil {
		return Effect{Hint: Sentence(err.Error())}
	}
	return s.given(func(to *roll.Roll) { to.Marks, to.Sitting = r.Marks, r.Sitting })
}

// BeginSitting keeps the roll's own marks as an opinion of the day Kept, and begins anew
// with all opinions hidden. What was marked before cannot be taken back into the new sitting:
// the steps of undo end here.
type BeginSitting struct{ Kept, Day string }

func (c BeginSitting) apply(s *State) Effect {
	r := s.roll.Clone()
	if err := opinion.Begin(r, c.Kept, c.Day); err != nil {
		return Effect{Hint: Sentence(err.Error())}
	}
	e := s.given(func(to *roll.Roll) { *to = *r })
	s.history = history.History[*roll.Roll]{}
	return e
}

// TakeIn adds opinions to the roll. What came of it is told by opinion.Merge on a copy
// before; nothing happens where they do not fit.
type TakeIn struct{ Opinions []roll.Marks }

func (c TakeIn) apply(s *State) Effect {
	r := s.roll.Clone()
	if out, err := opinion.Merge(r, c.Opinions); err != nil || len(out.Added) == 0 {
		return Effect{}
	}
	return s.given(func(to *roll.Roll) { to.Marks = r.Marks })
}

// keepOpinions carries the opinions and the sitting, which no step of undo touches, over to
// the roll that takes the place of now.
func keepOpinions(out, now *roll.Roll) {
	given := opinion.Given(now.Clone())
	if len(out.Marks) == 0 && len(given) > 0 {
		out.Marks = []roll.Marks{{}}
	}
	own := min(1, len(out.Marks))
	out.Marks = append(out.Marks[:own:own], given...)
	out.Sitting = now.Clone().Sitting
}
