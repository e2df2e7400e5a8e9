package session

import (
	"math"
	"slices"

	"stopladder/analysis/film/between"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
)

// Fitted is what all frames together told: the response, the measured stops and
// whether the scans are fixed. It stands in the order in which it was fitted,
// which may no longer be the roll's.
type Fitted struct {
	Result *response.Result
	Frames []response.Frame
	Files  []string
	// Headroom of the base frame's tonal bands.
	Headroom [measure.Bands]*response.Headroom
	glide    *between.Roll
}

// NewFitted keeps a result with the files that its frames are of.
func NewFitted(res *response.Result, frames []response.Frame, files []string) *Fitted {
	f := &Fitted{Result: res, Frames: frames, Files: files}
	if res != nil && res.Curve != nil {
		f.glide = between.New(res, frames)
	}
	return f
}

// Reading is what the fit says of a file's frame, nil when it took no part.
func (f *Fitted) Reading(file string) *response.Reading {
	if f == nil || f.Result == nil {
		return nil
	}
	if i := slices.Index(f.Files, file); i >= 0 && i < len(f.Result.Frames) {
		return &f.Result.Frames[i]
	}
	return nil
}

// SetFitted takes what the roll as a whole told.
func (s *Session) SetFitted(f *Fitted) {
	s.Fitted = f
	s.Emit(FrameChanged)
}

// ResponseInOrder is the result with its readings in the order of the roll, nil
// when there is none.
func (s *Session) ResponseInOrder() *response.Result {
	if s.Fitted == nil || s.Fitted.Result == nil {
		return nil
	}
	res := *s.Fitted.Result
	place := map[string]int{}
	res.Frames = make([]response.Reading, len(s.Roll.Frames))
	for i, f := range s.Roll.Frames {
		place[f.File] = i
		if r := s.Fitted.Reading(f.File); r != nil {
			res.Frames[i] = *r
		} else {
			res.Frames[i].Reason = "the frame was not part of the roll when it was measured"
		}
	}
	to := func(frame int) int {
		if frame >= 0 && frame < len(s.Fitted.Files) {
			if i, ok := place[s.Fitted.Files[frame]]; ok {
				return i
			}
		}
		return -1
	}
	res.Base = to(res.Base)
	res.Scan.Gains = slices.Clone(res.Scan.Gains)
	for i := range res.Scan.Gains {
		res.Scan.Gains[i].Frame = to(res.Scan.Gains[i].Frame)
	}
	return &res
}

// FlatCodes are the code values of a file's frame from which on the film no
// longer separates tones; ok is false where that is not known.
func (s *Session) FlatCodes(file string) (light, dark [3]int, ok bool) {
	if s.Fitted == nil || s.Fitted.Result == nil {
		return light, dark, false
	}
	i := slices.Index(s.Fitted.Files, file)
	if i < 0 {
		return light, dark, false
	}
	return s.Fitted.Result.FlatCodes(i)
}

// Glide is the picture between two rungs at the playhead.
type Glide struct {
	Lower, Upper string // files
	Mix          *between.Picture
}

// onRung is how near to a rung the playhead is taken to stand on it, in stops.
const onRung = 0.02

// Glides says whether the playhead may rest between rungs: there is a response
// to make pictures with, and the labels are those that it was fitted to.
func (s *Session) Glides() bool {
	if s.Fitted == nil || s.Fitted.glide == nil || len(s.Fitted.Files) != len(s.Roll.Frames) {
		return false
	}
	for i, file := range s.Fitted.Files {
		k := s.Index(file)
		if k < 0 || s.Roll.Frames[k].Stop != s.Fitted.Frames[i].Stop {
			return false
		}
	}
	return true
}

// Gliding gives the picture at a playhead that stands between two rungs; ok is
// false on a rung and where no such picture can be made.
func (s *Session) Gliding() (g Glide, ok bool) {
	if s.Empty() || !s.Glides() {
		return g, false
	}
	if at := s.Roll.Frames[nearest(s.Roll.Frames, s.playhead)].Stop; !s.sliding && math.Abs(at-s.playhead) < onRung {
		return g, false
	}
	m, ok := s.Fitted.glide.At(s.playhead)
	if !ok || m.Exact {
		return g, false
	}
	return Glide{s.Fitted.Files[m.Lower], s.Fitted.Files[m.Upper], m}, true
}

// Slide is MovePlayhead for a playhead that is dragged: it passes the rungs as it
// passes what lies between them, until Settle. To show a frame's own picture takes
// long enough to hold up those that follow.
func (s *Session) Slide(stop float64) {
	s.sliding = true
	s.MovePlayhead(stop)
}

// Settle puts the playhead onto the rung that it all but stands on, or where
// nothing can be shown between the rungs onto the nearest one.
func (s *Session) Settle() {
	if s.sliding {
		s.sliding = false
		s.Emit(PlayheadMoved)
	}
	i := s.Current()
	if i < 0 {
		return
	}
	if !s.Glides() || math.Abs(s.Roll.Frames[i].Stop-s.playhead) < 0.08 {
		s.Go(i)
	}
}
