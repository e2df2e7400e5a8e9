package session

import (
	"image"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/render"
)

// view is what is looked at and how.
type view struct {
	layout     Layout
	other      string // file of the frame that Pair shows beside the marker's; "" is the base
	masks      [masks]bool
	panel      Panel
	salvaged   bool           // frames are shown salvaged at grade
	grade      criteria.Grade // chosen last
	corrected  bool           // the correction of all frames is shown; it changes no reading
	byHand     bool           // the page of corrections is of the frame under the marker alone
	difference Difference
	curve      bool // the response stands in the pictures' place
	onLadder   bool // the ladder shows what salvage costs

	held   Held         // what is looked at while a key is held
	detail *image.Point // of the scene that the ladder shows of every frame, base pixels; nil: none

	patch        int    // index of the chosen patch
	patchReading string // short name of the reading that is plotted, "" for the first
	patchSort    sorting
}

// Layout of the picture side.
type Layout int

// One frame, the frame beside another, all of them, the base frame beside the frame as it
// was scanned and as it is corrected, or two frames in one picture with an edge between
// them that is moved by hand.
const (
	One Layout = iota
	Pair
	Grid
	Beside
	Edge
)

// Panel is a page beside the pictures.
type Panel string

// What can stand beside the pictures.
const (
	NoPanel         Panel = ""
	ReadingsPanel   Panel = "readings"   // histogram and figures of a frame
	BandsPanel      Panel = "bands"      // casts in the a*b* plane and in words, noise, detail
	PatchesPanel    Panel = "patches"    // named places of the scene, read in every frame
	CorrectionPanel Panel = "correction" // the correction of all frames, or of one by hand
	SalvagePanel    Panel = "salvage"    // what it costs to bring the frame to the base's look
	OpinionsPanel   Panel = "opinions"   // all judges' marks along the ladder
)

// Mask lies over the pictures.
type Mask int

// The masks.
const (
	Blown Mask = iota
	Blocked
	Noisy
	Lost
	Dust
	masks
)

// Difference is how frames are held against the base frame.
type Difference int

// The ways.
const (
	NoDifference     Difference = iota
	LightDifference             // log light, matched by the histograms: do the frames lie on each other?
	ColourDifference            // dE00 of the pictures as they are shown: what is left of the difference?
)

// Layout returns how the pictures stand.
func (s *State) Layout() Layout { return s.layout }

// Masked reports whether a mask lies over the pictures.
func (s *State) Masked(m Mask) bool { return s.masks[m] }

// Panel returns the page that stands beside the pictures.
func (s *State) Panel() Panel { return s.panel }

// Salvaged reports whether frames are shown salvaged, at the grade that was chosen last.
func (s *State) Salvaged() (bool, criteria.Grade) { return s.salvaged, s.grade }

// Corrected reports whether the correction of all frames is shown.
func (s *State) Corrected() bool { return s.corrected }

// ByHand reports whether the page of corrections is of the frame under the marker alone.
func (s *State) ByHand() bool { return s.byHand }

// Difference returns how frames are shown against the base frame. While one is being placed
// it is the difference that placing needs.
func (s *State) Difference() Difference {
	if s.placing != nil {
		return LightDifference
	}
	return s.difference
}

// Curve reports whether the response stands in the pictures' place.
func (s *State) Curve() bool { return s.curve }

// OnLadder reports whether the ladder shows what salvage costs in place of the readings.
func (s *State) OnLadder() bool { return s.onLadder }

// SetLayout shows the pictures in another way.
type SetLayout struct{ Layout Layout }

func (c SetLayout) apply(s *State) Effect {
	if s.layout == c.Layout {
		return Effect{}
	}
	s.layout = c.Layout
	return Effect{Redraw: View}
}

// ToggleMask lays a mask over the pictures or takes it off.
type ToggleMask struct{ Mask Mask }

func (c ToggleMask) apply(s *State) Effect {
	s.masks[c.Mask] = !s.masks[c.Mask]
	return Effect{Redraw: View}
}

// TogglePanel opens a page beside the pictures, or closes it when it is open. The pages
// and the curve are tabs: one is open at a time.
type TogglePanel struct{ Panel Panel }

func (c TogglePanel) apply(s *State) Effect {
	if s.panel == c.Panel {
		c.Panel = NoPanel
	}
	s.panel, s.curve = c.Panel, false
	return Effect{Redraw: View}
}

// ToggleCurve shows the response in the pictures' place, or the pictures again.
type ToggleCurve struct{}

func (ToggleCurve) apply(s *State) Effect {
	s.curve, s.panel = !s.curve, NoPanel
	return Effect{Redraw: View}
}

// ShowPictures closes every page: the pictures and the ladder alone.
type ShowPictures struct{}

func (ShowPictures) apply(s *State) Effect {
	if s.panel == NoPanel && !s.curve {
		return Effect{}
	}
	s.panel, s.curve = NoPanel, false
	return Effect{Redraw: View}
}

// ShowDifference shows every frame as its difference against the base frame, or as it is
// again.
type ShowDifference struct{ Kind Difference }

func (c ShowDifference) apply(s *State) Effect {
	if s.difference == c.Kind {
		c.Kind = NoDifference
	}
	s.difference = c.Kind
	return Effect{Redraw: View}
}

// ToggleCorrected shows the correction of all frames or none.
type ToggleCorrected struct{}

func (ToggleCorrected) apply(s *State) Effect {
	s.corrected = !s.corrected
	return Effect{Redraw: View}
}

// ToggleSalvaged shows every frame salvaged or as scanned.
type ToggleSalvaged struct{}

func (ToggleSalvaged) apply(s *State) Effect {
	s.salvaged = !s.salvaged
	return Effect{Redraw: View}
}

// ShowGrade shows every frame salvaged at a grade; the one that is shown already is taken
// away.
type ShowGrade struct{ Grade criteria.Grade }

func (c ShowGrade) apply(s *State) Effect {
	s.salvaged = !(s.salvaged && s.grade == c.Grade)
	s.grade = c.Grade
	return Effect{Redraw: View}
}

// NextGrade shows every frame at the next grade of salvage.
type NextGrade struct{}

func (NextGrade) apply(s *State) Effect {
	all := criteria.Grades()
	at := 0
	for i, g := range all {
		if g == s.grade {
			at = i + 1
		}
	}
	s.grade, s.salvaged = all[at%len(all)], true
	return Effect{Redraw: View, Hint: "Salvage: " + s.grade.InWords()}
}

// ToggleCosts shows the costs of salvage on the ladder in place of the readings.
type ToggleCosts struct{}

func (ToggleCosts) apply(s *State) Effect {
	s.onLadder = !s.onLadder
	e := Effect{Redraw: View}
	switch {
	case s.onLadder && s.film.Range() == nil:
		e.Hint = "What salvage costs is measured once the frames are compared"
	case s.onLadder:
		e.Hint, _, _ = strings.Cut(s.finding(), ". ") // the whole of it stands on the page of salvage
	}
	return e
}

// finding returns the measured range in words, "" while it is not known.
func (s *State) finding() string { return strings.Join(s.film.Finding(s.film.Limits()), " ") }

// Look returns how the frames are looked at.
func (s *State) Look() render.Shown {
	out := render.Shown{Corrected: s.corrected}
	if s.salvaged {
		out.Grade = s.grade
	}
	return out
}

// CurveData returns the plot of the roll's response; its Reason says why there is none.
func (s *State) CurveData() plot.Data {
	d := plot.Of(s.film)
	if s.film.Response == nil {
		switch {
		case s.reading.on:
			d.Reason = "The response is measured when all scans are read."
		case len(s.roll.Frames) < 2:
			d.Reason = "One frame alone has no response: open the whole bracket."
		}
	}
	return d
}
