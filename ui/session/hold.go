package session

// Held is what is looked at in the place of the pictures for as long as a key or a button
// is held.
type Held int

// What may be held.
const (
	NotHeld  Held = iota
	HeldBase      // the base frame, in the same place
	HeldScan      // the frame as it was scanned: no correction, salvage, mask or difference
)

// Held returns what is looked at while something is held.
func (s *State) Held() Held { return s.held }

// Hold shows something in the picture's place until Release. Where it is what stands there
// already, the effect's hint says so.
type Hold struct{ What Held }

func (c Hold) apply(s *State) Effect {
	if s.Empty() || s.curve || c.What == s.held {
		return Effect{}
	}
	was := s.held
	s.held = c.What
	e := Effect{Redraw: Holding}
	_, glides := s.Gliding()
	switch {
	case c.What == NotHeld:
		if was == NotHeld {
			return Effect{}
		}
	case c.What == HeldBase && s.Current() == s.Base() && !glides:
		e.Hint = "This is the base frame"
	case c.What == HeldScan && glides:
		s.held = was
		return Effect{Hint: "This picture is interpolated: there is no scan of it"}
	case c.What == HeldScan && !s.Dressed():
		e.Hint = "This is the scan: no correction, salvage, mask or difference is on"
	}
	return e
}

// Dressed reports whether the picture of the frame under the marker is shown as anything
// but its scan: corrected, salvaged, as a difference, or under a mask.
func (s *State) Dressed() bool {
	i := s.Current()
	if i < 0 {
		return false
	}
	for _, on := range s.masks {
		if on {
			return true
		}
	}
	own, all, _ := s.Look().Of(s.film, i)
	return !own.IsZero() || !all.IsZero() || s.Difference() != NoDifference && i != s.Base()
}
