package session

import (
	"encoding/json"
	"math"

	"stopladder/analysis/judge/roll"
)

// maxUndo bounds the memory of a long session; a step is a few kilobytes.
const maxUndo = 200

// Edit changes the roll as one undoable step, named as the menu shows it. All
// changes that a person makes go through here, so that undo, the unsaved mark
// and the recovery copy cover them without further care.
func (s *Session) Edit(name string, change func(*roll.Roll)) {
	before := s.Roll.Clone()
	change(s.Roll)
	s.sortFrames()
	if string(snapshot(before)) == string(snapshot(s.Roll)) {
		return
	}
	s.undo = append(s.undo, step{name, before})
	if len(s.undo) > maxUndo {
		s.undo = s.undo[1:]
	}
	s.redo = nil
	s.Emit(RollChanged | MarksChanged)
}

// Undo takes the last edit back and returns its name, "" when there is none.
func (s *Session) Undo() string { return s.swap(&s.undo, &s.redo) }

// Redo does the last edit that was taken back again.
func (s *Session) Redo() string { return s.swap(&s.redo, &s.undo) }

func (s *Session) swap(from, to *[]step) string {
	if len(*from) == 0 {
		return ""
	}
	st := (*from)[len(*from)-1]
	*from = (*from)[:len(*from)-1]
	*to = append(*to, step{st.name, s.Roll})
	keepFound(st.roll, s.Roll)
	s.Roll = st.roll
	s.Emit(RollChanged | MarksChanged)
	return st.name
}

// CanUndo and CanRedo name the next step, "" when there is none.
func (s *Session) CanUndo() string { return last(s.undo) }

// CanRedo names the step that Redo would do.
func (s *Session) CanRedo() string { return last(s.redo) }

func last(steps []step) string {
	if len(steps) == 0 {
		return ""
	}
	return steps[len(steps)-1].name
}

// Unsaved says whether the roll differs from the roll file.
func (s *Session) Unsaved() bool { return string(snapshot(s.Roll)) != string(s.saved) }

// MarkSaved notes that the roll stands in the file at path.
func (s *Session) MarkSaved(path string) {
	s.Path = path
	s.saved = snapshot(s.Roll)
	s.Emit(MarksChanged)
}

// MarkUnsaved makes the roll count as unsaved, as recovered work does.
func (s *Session) MarkUnsaved() { s.saved = nil }

// SetVerdict judges the i-th frame; the verdict it already has takes it back.
func (s *Session) SetVerdict(i int, v roll.Verdict) {
	if i < 0 || i >= len(s.Roll.Frames) {
		return
	}
	if s.Roll.Frames[i].Verdict == v {
		v = roll.Unjudged
	}
	s.Edit("verdict", func(r *roll.Roll) { r.Frames[i].Verdict = v })
}

// SetNote changes the note of the frame with this file. (By file, not by index:
// an entry may deliver its text after the playhead has moved on.)
func (s *Session) SetNote(file, text string) {
	if i := s.Index(file); i >= 0 {
		s.Edit("note", func(r *roll.Roll) { r.Frames[i].Note = text })
	}
}

// Range is the judge's range, nil when none is marked.
func (s *Session) Range() *roll.Range {
	if len(s.Roll.Marks) == 0 {
		return nil
	}
	return s.Roll.Marks[0].Range
}

// Judge is the name of the judge, "" when none is given.
func (s *Session) Judge() string {
	if len(s.Roll.Marks) == 0 {
		return ""
	}
	return s.Roll.Marks[0].Judge
}

// SetRange marks the judge's range in quarter stops; the ends may come in any
// order. nil takes the range away.
func (s *Session) SetRange(rg *roll.Range) {
	s.Edit("range", func(r *roll.Roll) {
		if len(r.Marks) == 0 {
			r.Marks = []roll.Marks{{}}
		}
		if rg == nil {
			r.Marks[0].Range = nil
			return
		}
		lo, hi := Quarter(math.Min(rg.Lo, rg.Hi)), Quarter(math.Max(rg.Lo, rg.Hi))
		r.Marks[0].Range = &roll.Range{Lo: lo, Hi: hi}
	})
}

// SetRangeEnd moves one end of the range to stop. Where there is no range yet
// the other end is the roll's own; an end dragged past the other pushes it.
func (s *Session) SetRangeEnd(upper bool, stop float64) {
	s.SetRange(s.RangeWith(upper, stop))
}

// RangeWith is the range as it would be with one end at stop.
func (s *Session) RangeWith(upper bool, stop float64) *roll.Range {
	lo, hi := s.Bounds()
	rg := roll.Range{Lo: lo, Hi: hi}
	if r := s.Range(); r != nil {
		rg = *r
	}
	stop = math.Max(lo, math.Min(hi, Quarter(stop)))
	if upper {
		rg.Hi, rg.Lo = stop, math.Min(rg.Lo, stop)
	} else {
		rg.Lo, rg.Hi = stop, math.Max(rg.Hi, stop)
	}
	return &rg
}

// Quarter rounds to quarter stops, the steps in which a judge marks.
func Quarter(stop float64) float64 { return math.Round(stop*4) / 4 }

func snapshot(r *roll.Roll) []byte {
	b, err := json.Marshal(r)
	if err != nil {
		panic("a roll must be encodable: " + err.Error())
	}
	return b
}

// Amend changes the roll as part of the last edit: no new step of undo.
func (s *Session) Amend(change func(*roll.Roll)) {
	change(s.Roll)
	s.Emit(MarksChanged)
}

// keepFound carries what the program found out by itself since a step was taken
// (content hashes) over to the roll that takes the place of now.
func keepFound(then, now *roll.Roll) {
	for i := range then.Frames {
		f := &then.Frames[i]
		for _, g := range now.Frames {
			if g.File == f.File && g.SHA256 != "" {
				f.SHA256, f.Bytes = g.SHA256, g.Bytes
			}
		}
	}
}
