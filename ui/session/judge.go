package session

import (
	"fmt"
	"image"
	"slices"
	"strings"
	"time"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
)

// SetVerdict judges a frame; the verdict it already has takes it back.
type SetVerdict struct {
	Frame   int
	Verdict roll.Verdict
}

func (c SetVerdict) apply(s *State) Effect {
	if c.Frame < 0 || c.Frame >= len(s.roll.Frames) {
		return Effect{}
	}
	return s.edited(Marks, "verdict", func(r *roll.Roll) {
		f := &r.Frames[c.Frame]
		if f.Verdict == c.Verdict {
			c.Verdict = roll.Unjudged
		}
		f.Verdict = c.Verdict
	})
}

// SetNote changes the note of a frame. It is kept at every letter, as one step of undo
// for each stretch of writing: nothing is lost when the window dies in the middle of a
// note. (By file, not by index: an entry may deliver its text after the marker has moved
// on.)
type SetNote struct {
	File, Text string
	When       time.Time
}

func (c SetNote) apply(s *State) Effect {
	i := s.Index(c.File)
	if i < 0 {
		return Effect{}
	}
	if s.typing.file != c.File || c.When.Sub(s.typing.last) > typingRests {
		s.history.End()
	}
	s.typing = typing{c.File, c.When}
	if !s.edit("note", "note", func(r *roll.Roll) { r.Frames[i].Note = c.Text }) {
		return Effect{}
	}
	return Effect{Redraw: Marks}
}

// EndNote ends the writing of a note: what is written next is another step of undo.
type EndNote struct{}

func (EndNote) apply(s *State) Effect {
	s.history.End()
	s.typing = typing{}
	return Effect{}
}

// Range returns the judge's range, nil when none is marked.
func (s *State) Range() *roll.Range {
	if len(s.roll.Marks) == 0 {
		return nil
	}
	return s.roll.Marks[0].Range
}

// Judge returns the name of the judge, "" when none is given.
func (s *State) Judge() string {
	if len(s.roll.Marks) == 0 {
		return ""
	}
	return s.roll.Marks[0].Judge
}

// SetRange marks the judge's range in quarter stops; the ends may come in any order. nil
// takes the range away.
type SetRange struct{ Range *roll.Range }

func (c SetRange) apply(s *State) Effect {
	return s.edited(Marks, "range", func(r *roll.Roll) {
		if c.Range == nil {
			if len(r.Marks) > 0 {
				r.Marks[0].Range = nil
			}
			return
		}
		r.SetRange(c.Range.Lo, c.Range.Hi)
	})
}

// SetRangeEnd moves one end of the range to a stop. Where there is no range yet the other
// end is the roll's own; an end that is moved past the other pushes it.
type SetRangeEnd struct {
	Upper bool
	Stop  float64
}

func (c SetRangeEnd) apply(s *State) Effect {
	return SetRange{s.RangeWith(c.Upper, c.Stop)}.apply(s)
}

// RangeWith returns the range as it would be with one end at stop.
func (s *State) RangeWith(upper bool, stop float64) *roll.Range {
	lo, hi := s.Bounds()
	rg := roll.Range{Lo: lo, Hi: hi}
	if r := s.Range(); r != nil {
		rg = *r
	}
	stop = max(lo, min(hi, stops.Quarter(stop)))
	if upper {
		rg.Hi, rg.Lo = stop, min(rg.Lo, stop)
	} else {
		rg.Lo, rg.Hi = stop, max(rg.Hi, stop)
	}
	return &rg
}

// SetFinding writes what the roll comes to in the judge's own words; "" takes them away,
// and so do the measured words, which are nobody's own.
type SetFinding struct{ Text string }

func (c SetFinding) apply(s *State) Effect {
	text := strings.TrimSpace(c.Text)
	if text == s.MeasuredFinding() {
		text = ""
	}
	if old, _ := s.roll.OwnFinding(); old == text {
		return Effect{}
	}
	return s.edited(Marks, "finding", func(r *roll.Roll) { r.Judge().Finding = text })
}

// MeasuredFinding returns the measured finding as text, a paragraph for each of its parts.
func (s *State) MeasuredFinding() string {
	return strings.Join(s.film.Finding(s.film.Limits()), "\n")
}

// SetDetails writes the title block.
type SetDetails struct {
	Lines map[string]string // by the keys of roll.Block; a line that is left out stays
	Judge string
}

func (c SetDetails) apply(s *State) Effect {
	return s.edited(Marks, "roll details", func(r *roll.Roll) {
		for _, l := range r.Block() {
			if text, ok := c.Lines[l.Key]; ok {
				*l.Text = text
			}
		}
		if c.Judge != "" || len(r.Marks) > 0 {
			r.Judge().Judge = c.Judge
		}
	})
}

// SetLabels writes the stops of frames, by file; the base frame may become another.
type SetLabels struct {
	Name   string // of the step, as the menu shows it
	Stops  map[string]float64
	Origin roll.Origin
}

func (c SetLabels) apply(s *State) Effect {
	return s.edited(Frames|Marks, c.Name, func(r *roll.Roll) {
		for i := range r.Frames {
			if v, ok := c.Stops[r.Frames[i].File]; ok && v != r.Frames[i].Stop {
				r.Frames[i].Stop, r.Frames[i].Origin = v, c.Origin
			}
		}
	})
}

// MakeBase chooses the base frame by hand.
type MakeBase struct{ File string }

func (c MakeBase) apply(s *State) Effect {
	return s.edited(Frames|Marks, "base frame", func(r *roll.Roll) { r.BaseFile = c.File })
}

// LeaveOut takes a frame out of the roll; its scan stays where it is.
type LeaveOut struct{ File string }

func (c LeaveOut) apply(s *State) Effect {
	return s.edited(Frames|Marks, "leaving a frame out", func(r *roll.Roll) {
		r.Frames = slices.DeleteFunc(r.Frames, func(f roll.Frame) bool { return f.File == c.File })
	})
}

// MinArea is the least side of an image area in pixels.
const MinArea = 8

// SetArea sets the image area of frames, full-resolution pixels, or with nil lets the
// program find it. On scans of another size it is cut to fit.
type SetArea struct {
	Files []string
	Area  *image.Rectangle
}

func (c SetArea) apply(s *State) Effect {
	return s.edited(Frames|Marks, "image area", func(r *roll.Roll) {
		for i := range r.Frames {
			f := &r.Frames[i]
			if !slices.Contains(c.Files, f.File) {
				continue
			}
			f.Area = nil
			if c.Area == nil {
				continue
			}
			a := *c.Area
			if l := s.Frame(s.Index(f.File)).Look; l != nil {
				a = a.Intersect(image.Rect(0, 0, l.Info.Width, l.Info.Height))
			}
			if a.Dx() >= MinArea && a.Dy() >= MinArea {
				f.Area = &roll.Area{X: a.Min.X, Y: a.Min.Y, W: a.Dx(), H: a.Dy()}
			}
		}
	})
}

// AssumeProfile says how scans that carry no colour profile are encoded; "" is sRGB.
type AssumeProfile struct{ Name string }

func (c AssumeProfile) apply(s *State) Effect {
	return s.edited(Frames|Marks, "profile of scans without one", func(r *roll.Roll) { r.AssumedProfile = c.Name })
}

// SetLimit moves a limit of a criterion; a whole drag is one step of undo.
type SetLimit struct {
	Criterion criteria.Criterion
	Holds     bool // else the limit of strains
	Value     float64
	Done      bool // the drag has ended
}

func (c SetLimit) apply(s *State) Effect {
	set := s.roll.LimitSet().With(c.Criterion, c.Holds, c.Value)
	s.drag("limit", fmt.Sprint("limit ", c.Criterion, c.Holds), c.Done, func(r *roll.Roll) { r.Limits = &set })
	return Effect{Redraw: Marks, Hint: s.finding()}
}

// SetLimits holds the roll against another set of limits.
type SetLimits struct{ Set criteria.Set }

func (c SetLimits) apply(s *State) Effect {
	return s.edited(Marks, "limits", func(r *roll.Roll) { r.Limits = &c.Set })
}

// SetNoisyLimit sets the noise in L* units above which lifted shadows count as Noisy; the
// default is not written down. A whole drag is one step of undo.
type SetNoisyLimit struct {
	Limit float64
	Done  bool
}

func (c SetNoisyLimit) apply(s *State) Effect {
	s.drag("limit of Noisy", "noisy", c.Done, func(r *roll.Roll) {
		if r.NoisyLimit = c.Limit; c.Limit == measure.NoisyLimit {
			r.NoisyLimit = 0
		}
	})
	return Effect{Redraw: Marks | View}
}
