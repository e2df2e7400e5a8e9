package session

import (
	"math"

	"stopladder/analysis/film/between"
)

// Marker returns the stop on the axis that is looked at.
func (s *State) Marker() float64 { return s.marker }

func (s *State) moveTo(stop float64) Effect {
	lo, hi := s.Bounds()
	stop = math.Max(lo, math.Min(hi, stop))
	if stop == s.marker || s.Empty() {
		return Effect{}
	}
	s.marker = stop
	return Effect{Redraw: Marker}
}

// MoveTo sets the marker within the bounds of the roll.
type MoveTo struct{ Stop float64 }

func (c MoveTo) apply(s *State) Effect { return s.moveTo(c.Stop) }

// Slide is MoveTo for a marker that is dragged: it passes the frames as it passes what
// lies between them, until Settle. To show a frame's own picture takes long enough to
// hold up those that follow.
type Slide struct{ Stop float64 }

func (c Slide) apply(s *State) Effect {
	s.sliding = true
	return s.moveTo(c.Stop)
}

// Settle puts the marker onto the frame that it all but stands on, or where nothing can
// be shown between the frames onto the nearest one.
type Settle struct{}

func (Settle) apply(s *State) (e Effect) {
	if s.sliding {
		s.sliding = false
		e.Redraw = Marker
	}
	if i := s.Current(); i >= 0 && (!s.Glides() || math.Abs(s.roll.Frames[i].Stop-s.marker) < 0.08) {
		return s.goTo(i).and(e.Redraw)
	}
	return e
}

// Glide moves the marker by a part of a stop, where there are pictures between the
// frames.
type Glide struct{ Stops float64 }

func (c Glide) apply(s *State) Effect {
	if !s.Glides() {
		return Effect{Hint: "Pictures between the frames need a measured response: wait until the frames are compared"}
	}
	return s.moveTo(math.Round((s.marker+c.Stops)*10) / 10)
}

// Go moves the marker onto a frame.
type Go struct{ Frame int }

func (c Go) apply(s *State) Effect { return s.goTo(c.Frame) }

func (s *State) goTo(i int) Effect {
	if i < 0 || i >= len(s.roll.Frames) {
		return Effect{}
	}
	f := s.roll.Frames[i]
	if s.marker == f.Stop && s.Current() == i {
		return Effect{}
	}
	s.marker, s.picked = f.Stop, f.File
	return Effect{Redraw: Marker}
}

// Step moves the marker by frames, up towards more exposure.
type Step struct{ Frames int }

func (c Step) apply(s *State) Effect {
	if s.Empty() {
		return Effect{}
	}
	return s.goTo(clamp(s.Current()+c.Frames, 0, len(s.roll.Frames)-1))
}

// OtherIndex returns the frame that Pair shows on the left: the one chosen, else the
// base. It may be the current frame.
func (s *State) OtherIndex() int {
	if i := s.Index(s.other); s.other != "" && i >= 0 {
		return i
	}
	return s.Base()
}

// StepOther moves the left picture of Pair by frames.
type StepOther struct{ Frames int }

func (c StepOther) apply(s *State) Effect {
	if s.Empty() {
		return Effect{}
	}
	s.other = s.roll.Frames[clamp(s.OtherIndex()+c.Frames, 0, len(s.roll.Frames)-1)].File
	return Effect{Redraw: View}
}

// ShowLeft shows a frame on the left of two.
type ShowLeft struct{ File string }

func (c ShowLeft) apply(s *State) Effect {
	if s.other = c.File; s.layout != Edge {
		s.layout = Pair
	}
	return Effect{Redraw: View}
}

// onFrame is how near to a frame the marker is taken to stand on it, in stops.
const onFrame = 0.02

// Glides reports whether the marker may rest between frames: there is a response to make
// pictures with.
func (s *State) Glides() bool { return s.film.Between() != nil }

// Gliding returns the picture at a marker that stands between two frames; ok is false on
// a frame and where no such picture can be made.
func (s *State) Gliding() (m *between.Picture, ok bool) {
	if s.Empty() || !s.Glides() {
		return nil, false
	}
	if at := s.roll.Frames[nearest(s.roll.Frames, s.marker)].Stop; !s.sliding && math.Abs(at-s.marker) < onFrame {
		return nil, false
	}
	m, ok = s.film.Between().At(s.marker)
	return m, ok && !m.Exact
}
