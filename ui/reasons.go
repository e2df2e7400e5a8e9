package ui

import (
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/opinion"
	"stopladder/ui/commands"
	"stopladder/ui/session"
)

// alone are the commands that need no roll.
var alone = map[string]bool{"open": true, "open-roll": true, "plan": true, "shelf": true, "demo-reversal": true, "demo-negative": true,
	"palette": true, "keys": true, "manual": true, "tour": true, "about": true, "undo": true, "redo": true, "next-roll": true, "last-roll": true}

// giveReasons has every command say why it cannot be done, and those of which nothing would
// be seen why not: a key that does nothing without a word is taken for a broken program.
func (t *actions) giveReasons() {
	why, unseen := t.reasons(), t.unseen()
	for _, c := range t.table {
		if c.Why == nil {
			more := why[c.ID]
			if needs := !alone[c.ID]; needs || more != nil {
				c.Why = func() string {
					if needs && t.w.state.Empty() {
						return commands.NoRoll
					}
					if more != nil {
						return more()
					}
					return ""
				}
			}
		}
		if c.Unseen == nil {
			c.Unseen = unseen[c.ID]
		}
	}
}

// onBase reports that the marker stands on the base frame.
func (t *actions) onBase() bool { s := t.w.state; return s.Current() == s.Base() }

// reasons say of commands why they cannot be done while a roll is open, "" when they can.
func (t *actions) reasons() map[string]func() string {
	s := t.w.state
	end := func(step int, words string) func() string {
		return func() string {
			if i := s.Current() + step; i < 0 || i >= len(s.Roll().Frames) {
				return words
			}
			return ""
		}
	}
	when := func(is func() bool, words string) func() string {
		return func() string {
			if is() {
				return words
			}
			return ""
		}
	}
	glide := when(func() bool { return !s.Glides() }, "pictures between the frames need a measured response; wait until the frames are compared")
	left := when(func() bool { return s.Layout() != session.Pair && s.Layout() != session.Edge }, "there is no left picture; show two pictures first (2), or an edge between them (5)")
	single := when(func() bool { return len(t.w.tabs.all) < 2 }, "no other roll is open")
	lonely := when(func() bool { return len(s.Roll().Frames) < 2 }, "the roll has one frame alone, and nothing to lay beside it")
	return map[string]func() string{
		"pair":       lonely,
		"edge":       lonely,
		"edge-turn":  lonely,
		"next-roll":  single,
		"last-roll":  single,
		"up":         end(1, "this is the frame with the most exposure"),
		"down":       end(-1, "this is the frame with the least exposure"),
		"glide-up":   glide,
		"glide-down": glide,
		"other-up":   left,
		"other-down": left,
		"base":       when(func() bool { return t.onBase() && !t.between() }, "this is the base frame"),
		"pictures":   when(func() bool { return s.Panel() == session.NoPanel && !s.Curve() }, "no page is open"),
		"undo":       when(func() bool { return s.Undoes() == "" }, "nothing was changed that could be taken back"),
		"redo":       when(func() bool { return s.Redoes() == "" }, "nothing was taken back"),
		"done": when(func() bool { r := s.Roll(); return r.Sitting != nil && r.Sitting.Done != "" && !opinion.Changed(r) },
			"your marks are kept as an opinion already, and the others are shown"),
		"no-range":     when(func() bool { return s.Range() == nil }, "no range is marked"),
		"blind-result": when(func() bool { return len(s.Roll().Blind) == 0 }, "the roll was not judged blind yet"),
		"find":         when(func() bool { return s.Roll().Demo != "" }, "the sample roll is made by the program and has no files"),
		"area": func() string {
			if i := s.Current(); i >= 0 && s.Frame(i).Look == nil {
				return "this scan is not read yet"
			}
			return ""
		},
		"place": when(t.onBase, "this is the base frame, on which the others are laid"),
	}
}

// between reports that the marker stands between two frames.
func (t *actions) between() bool {
	s := t.w.state
	i := s.Current()
	return i >= 0 && s.Roll().Frames[i].Stop != s.Marker()
}

// unseen say of switches that were just turned on why nothing of it is seen on the frame at
// the marker.
func (t *actions) unseen() map[string]func() string {
	s := t.w.state
	compared := func(id string) func() string {
		return func() string {
			if t.table.Find(id).Checked() && s.Film().Comparison == nil {
				return "the frames are not compared yet; it is seen when they are"
			}
			return ""
		}
	}
	against := func(id, what string) func() string {
		first := compared(id)
		return func() string {
			switch why := first(); {
			case why != "":
				return why
			case t.table.Find(id).Checked() && t.onBase() && s.Layout() == session.One:
				return "this is the base frame, " + what
			}
			return ""
		}
	}
	twice := func() string {
		if i := s.Current(); (s.Layout() == session.Pair || s.Layout() == session.Edge) && i >= 0 && s.OtherIndex() == i {
			return "both pictures are of this frame; move the marker with Up and Down, or the left picture with Left and Right"
		}
		return ""
	}
	return map[string]func() string{
		"pair":              twice,
		"edge":              twice,
		"lost":              against("lost", "which has lost nothing against itself"),
		"noisy":             compared("noisy"),
		"dust":              compared("dust"),
		"salvaged":          against("salvaged", "which salvage leaves as it is"),
		"difference":        against("difference", "which does not differ from itself"),
		"difference-colour": against("difference-colour", "which does not differ from itself"),
		"corrected": func() string {
			if v := s.Roll().View; v == nil || v.IsZero() {
				return "no correction of all frames is set; set one on the page of corrections (E)"
			}
			return ""
		},
		"grade": func() string {
			if on, g := s.Salvaged(); on && g == criteria.Hand && s.Current() >= 0 {
				if _, ok := s.SalvageOf(s.Current(), criteria.Hand); !ok {
					return "this frame has no correction by hand"
				}
			}
			return ""
		},
	}
}
