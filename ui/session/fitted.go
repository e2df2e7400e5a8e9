package session

import (
	"slices"

	"stopladder/analysis/measure"
	"stopladder/analysis/response"
	"stopladder/analysis/rung"
)

// Fitted is what all frames together told: the response, the measured stops and
// whether the scans are fixed. It stands in the order in which it was fitted,
// which may no longer be the roll's.
type Fitted struct {
	Result *response.Result
	Frames []response.Frame
	Files  []string
	// Headroom of the base frame's tonal bands.
	Headroom [measure.Bands]*rung.Headroom
}

// NewFitted keeps a result with the files that its frames are of.
func NewFitted(res *response.Result, frames []response.Frame, files []string) *Fitted {
	return &Fitted{Result: res, Frames: frames, Files: files}
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
