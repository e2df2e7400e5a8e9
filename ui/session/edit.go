package session

import (
	"encoding/json"
	"time"

	"stopladder/analysis/film"
	"stopladder/analysis/judge/roll"
)

// edit makes another roll of the open one as a step of undo, named as the menu shows it.
// Steps of one key that follow each other are one, as those of a drag are; "" is a step
// by itself. All changes that a person makes go through here, so that undo, the unsaved
// mark and the recovery copy cover them. It reports whether anything changed.
func (s *State) edit(name, key string, change func(*roll.Roll)) bool {
	before, was := s.roll, s.snapshot()
	s.roll = before.Clone()
	change(s.roll)
	s.roll.Sort()
	if string(was) == string(s.snapshot()) {
		s.roll = before
		return false
	}
	s.history.Keep(name, key, before)
	s.film = s.film.With(s.roll)
	return true
}

// edited does what edit does, for changes that touch nothing but the roll.
func (s *State) edited(p Parts, name string, change func(*roll.Roll)) Effect {
	if !s.edit(name, "", change) {
		return Effect{}
	}
	return Effect{Redraw: p}
}

// drag does what edit does, for one move of what is dragged; done: it was let go, and
// the next one is another step.
func (s *State) drag(name, key string, done bool, change func(*roll.Roll)) {
	s.edit(name, key, change)
	if done {
		s.history.End()
	}
}

// Undo takes the last edit back.
type Undo struct{}

func (Undo) apply(s *State) Effect {
	return s.went("Taken back: ", s.history.Undo)
}

// Redo does the last edit that was taken back again.
type Redo struct{}

func (Redo) apply(s *State) Effect {
	return s.went("Done again: ", s.history.Redo)
}

func (s *State) went(how string, step func(*roll.Roll) (*roll.Roll, string)) Effect {
	r, name := step(s.roll)
	if name == "" {
		return Effect{}
	}
	s.roll = withFound(r, s.roll)
	s.film = s.film.With(s.roll)
	s.patch = max(0, min(s.patch, len(s.roll.Patches)-1))
	return Effect{Redraw: Frames | Marks | View, Hint: how + name}
}

// Undoes and Redoes name the next step each way, "" when there is none.
func (s *State) Undoes() string { name, _ := s.history.Names(); return name }

// Redoes names the step that Redo would do.
func (s *State) Redoes() string { _, name := s.history.Names(); return name }

// withFound carries what is nobody's edit since a step was taken (content hashes, the roll
// file) over to the roll that takes the place of now.
func withFound(then, now *roll.Roll) *roll.Roll {
	out := then.StoredAs(now)
	keepOpinions(out, now)
	for i := range out.Frames {
		f := &out.Frames[i]
		for _, g := range now.Frames {
			if g.File == f.File && g.SHA256 != "" {
				f.SHA256, f.Bytes = g.SHA256, g.Bytes
			}
		}
	}
	return out
}

// fill completes the roll with what the program found out by itself (content hashes).
// That is nobody's work, so it is neither undone nor makes a saved roll count as unsaved.
func (s *State) fill(change func(*roll.Roll)) {
	clean := !s.Unsaved()
	s.roll = s.roll.Clone()
	change(s.roll)
	s.film = s.film.With(s.roll)
	if clean {
		s.saved = s.snapshot()
	}
}

// Unsaved reports whether the roll differs from the roll file.
func (s *State) Unsaved() bool { return string(s.snapshot()) != string(s.saved) }

// Saved notes that a roll was written to its file.
type Saved struct{ Roll *roll.Roll }

func (c Saved) apply(s *State) Effect {
	if s.reading.on {
		s.reading.savedTo = c.Roll.Path() // the hashes of its scans follow when they are known
	}
	s.roll, s.saved = s.roll.StoredAs(c.Roll), encoded(c.Roll)
	s.film = s.film.With(s.roll)
	return Effect{Redraw: Marks}
}

// Keeping returns a copy of the roll to be saved: with the readings that its file keeps,
// where it is measured as it is now.
func (s *State) Keeping() *roll.Roll {
	out := s.roll.Clone()
	if r := &s.reading; r.on || r.stopped || r.of == nil || !film.MeasuredAlike(r.of, s.roll) {
		return out
	}
	if k := s.film.Kept(s.opt.Program); k != nil {
		out.Readings = k
	}
	return out
}

// snap is the text of a roll.
type snap struct {
	of   *roll.Roll
	text []byte
}

func (s *State) snapshot() []byte {
	if s.text.of != s.roll {
		s.text = snap{s.roll, encoded(s.roll)}
	}
	return s.text.text
}

func encoded(r *roll.Roll) []byte {
	b, err := json.Marshal(r)
	if err != nil {
		panic("a roll must be encodable: " + err.Error())
	}
	return b
}

// typing is the note that is being written.
type typing struct {
	file string
	last time.Time
}

// typingRests is how long a rest in writing a note makes another step of undo of it.
const typingRests = 3 * time.Second
