package session

import (
	"slices"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/show/row"
)

// Park takes the open roll aside, with all that the judge made of it and all that was read
// so far, and shows none. What is being measured is ended: it goes on, without the scans
// that are read already, when Show brings the roll back.
type Park struct{ Into *State }

func (c Park) apply(s *State) Effect {
	if s.reading.on {
		s.reading.end()
		s.reading.of, s.reading.seen = nil, nil
	}
	s.held = NotHeld
	*c.Into = *s
	c.Into.parked = true
	lasting := s.lasting()
	*s = *New(s.opt)
	s.notices = lasting
	return Effect{Redraw: All, Stop: []string{measuring}}
}

// Show shows a roll that was parked; From is of no use afterwards.
type Show struct{ From *State }

func (c Show) apply(s *State) Effect {
	lasting := s.lasting()
	*s = *c.From
	s.parked = false
	s.notices = slices.Concat(lasting, slices.DeleteFunc(slices.Clone(s.notices), func(n Notice) bool { return n.Lasting }))
	return Effect{Redraw: All}
}

// lasting are the notices that are not about the open roll.
func (s *State) lasting() []Notice {
	return slices.DeleteFunc(slices.Clone(s.notices), func(n Notice) bool { return !n.Lasting })
}

// Release lets go of all that was read of a roll that is parked: previews, masks, what was
// drawn. It is read again when the roll is shown. What the judge made stays.
func (s *State) Release() {
	s.film = film.New(s.roll)
	s.reading = reading{}
	s.drawn, s.rows = map[*measure.Look]*row.Data{}, rows{}
	s.handCosts, s.costing, s.tone, s.steps = map[string]handCost{}, false, tone{}, stepCosts{}
}

// Measured reports whether anything that was read of the roll is kept.
func (s *State) Measured() bool {
	for _, f := range s.film.Frames {
		if f.Look != nil {
			return true
		}
	}
	return s.reading.have != nil
}
