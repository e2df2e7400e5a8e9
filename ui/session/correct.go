package session

import (
	"encoding/json"
	"image"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
)

// SalvageOf returns the correction that brings the i-th frame towards the base frame
// at a grade; ok is false where there is none: the base frame itself, a frame
// that is not measured, and a frame without a correction by hand.
func (s *State) SalvageOf(i int, g criteria.Grade) (v correction.Settings, ok bool) {
	if i < 0 || i >= len(s.roll.Frames) || i == s.Base() {
		return v, false
	}
	if g != criteria.Hand {
		return s.film.Settings(i, g)
	}
	if h := s.roll.Frames[i].Hand; h != nil {
		return *h, true
	}
	return v, false
}

// HandSettings returns what the judge's hand begins with in the i-th frame: what was
// made of it already, else the salvage at the grade chosen last.
func (s *State) HandSettings(i int) correction.Settings {
	if v, ok := s.SalvageOf(i, criteria.Hand); ok {
		return v.Clone()
	}
	g := s.grade
	if g == criteria.Hand {
		g = criteria.Balance
	}
	v, _ := s.SalvageOf(i, g)
	return v.Clone()
}

// CorrectionKey returns a key that tells two corrections apart.
func CorrectionKey(salvage, all correction.Settings) string {
	b, err := json.Marshal([2]correction.Settings{salvage, all})
	if err != nil { // not a number: never equal to anything
		return ""
	}
	return string(b)
}

// Settings returns those that the page of corrections shows: of the frame under the
// marker by hand, or of all frames.
func (s *State) Settings() correction.Settings {
	switch i := s.Current(); {
	case s.byHand && i >= 0:
		return s.HandSettings(i)
	case !s.byHand && s.roll.View != nil:
		return s.roll.View.Clone()
	}
	return correction.Settings{}
}

// CorrectByHand turns the page of corrections to the frame under the marker alone, or to
// all frames.
type CorrectByHand struct{ On bool }

func (c CorrectByHand) apply(s *State) Effect {
	s.byHand = c.On
	s.history.End()
	return Effect{Redraw: View}
}

// Correct changes the correction that the page shows: of all frames alike, or of the
// frame under the marker by hand. All changes of one drag are one step of undo. What is
// corrected is looked at: no slide moves without effect.
type Correct struct {
	What string // which setting, in the words of the page
	Set  func(*correction.Settings)
	Done bool // the drag has ended
}

func (c Correct) apply(s *State) Effect {
	i := s.Current()
	if i < 0 || s.byHand && i == s.Base() {
		return Effect{}
	}
	s.holding = !c.Done
	now := s.Settings()
	c.Set(&now)
	key := "correction: " + c.What
	if s.byHand {
		s.salvaged, s.grade = true, criteria.Hand
		key += s.roll.Frames[i].File
	} else {
		s.corrected = true
	}
	s.drag("correction: "+c.What, key, c.Done, func(r *roll.Roll) {
		put := &now
		if now.IsZero() {
			put = nil
		}
		if s.byHand {
			r.Frames[i].Hand = put
		} else {
			r.View = put
		}
	})
	return Effect{Redraw: Marks | View}
}

// CopyHand gives the frame's correction by hand to every other frame but the base.
type CopyHand struct{}

func (CopyHand) apply(s *State) Effect {
	if s.Current() < 0 || !s.byHand {
		return Effect{Hint: "Only a correction of one frame by hand is copied; that of all frames is theirs already"}
	}
	now, b := s.Settings(), s.Base()
	e := s.edited(Marks|View, "copying a correction", func(r *roll.Roll) {
		for k := range r.Frames {
			if k != b {
				c := now.Clone()
				r.Frames[k].Hand = &c
			}
		}
	})
	e.Hint = "Every frame but the base has this correction by hand now; Ctrl+Z takes it back"
	return e
}

// GoOnByHand gives the frame under the marker the correction that it is shown with, to go
// on from by hand.
type GoOnByHand struct{}

func (GoOnByHand) apply(s *State) Effect {
	i := s.Current()
	if i < 0 || i == s.Base() {
		return Effect{Hint: "The base frame is what the others are brought to: it has no salvage"}
	}
	g := s.grade
	if g == criteria.Hand {
		g = criteria.Curves
	}
	v, ok := s.SalvageOf(i, g)
	if !ok {
		return Effect{Hint: "No salvage of this frame is measured yet; the correction page starts one from nothing"}
	}
	v = v.Clone()
	s.edit("salvage by hand", "", func(r *roll.Roll) { r.Frames[i].Hand = &v })
	s.salvaged, s.grade, s.panel, s.byHand = true, criteria.Hand, CorrectionPanel, true
	return Effect{Redraw: Marks | View}
}

// pickNeutral makes neutral what was clicked on in a picture.
func (s *State) pickNeutral(i int, at image.Point) Effect {
	l := s.Frame(i).Look
	if l == nil {
		return Effect{}
	}
	px, ok := measure.PixelAt(l, at.X, at.Y, 5)
	if !ok || px.Linear.R <= 0 || px.Linear.G <= 0 || px.Linear.B <= 0 || px.Blown > 0 || px.Blocked > 0 {
		return Effect{Hint: "Nothing can be told from this spot: it is clipped. Click on another grey."}
	}
	light := [3]float64{px.Linear.R, px.Linear.G, px.Linear.B}
	if own, _, _ := s.Look().Of(s.film, i); !s.byHand { // what is corrected for all is salvaged before
		for c := range light {
			light[c] = own.At(c, light[c])
		}
	}
	return Correct{What: "neutral picked", Done: true, Set: func(v *correction.Settings) { *v = v.NeutralAt(light) }}.apply(s)
}
