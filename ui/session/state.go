// Package session is the state of the window: the open roll with what the judge made of
// it, what has been read of each frame so far, and what is looked at and how. It knows
// nothing of the toolkit.
//
// There is one way to change it: Apply takes a named change and returns what must be
// drawn again and what work it asks for. Work runs elsewhere and ends in a change of its
// own; Runner does that. Everything else only reads.
//
// A State belongs to one goroutine, the window's. What its methods return must not be
// changed. The roll is never changed in place either: each edit makes another one, so
// that work and steps of undo may hold the one they began with.
package session

import (
	"context"
	"math"
	"slices"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/row"
	"stopladder/ui/history"
)

// Change is one named thing that happens to the state.
type Change interface{ apply(s *State) Effect }

// Effect is what a change asks for.
type Effect struct {
	Redraw  Parts
	Run     []Work   // on other goroutines
	Stop    []string // work that is to be ended, by name
	Closed  bool     // the roll was closed: all work for it is to be ended
	Hint    string   // for the status line, "" for nothing
	Refused *Refusal // nil: done
}

// Refusal says why a change was not made.
type Refusal struct {
	Title string // what could not be done
	Err   error  // why, and what to do
}

func (e Effect) and(p Parts) Effect { e.Redraw |= p; return e }

func refuse(title string, err error) Effect { return Effect{Refused: &Refusal{title, err}} }

// Work is done on a goroutine of its own. A later one of the same name takes the place of
// one that is running.
type Work struct {
	Name  string
	Title string // what could not be done, when it ends with an error
	// Do returns the change that it ends in, nil for none; post hands over changes on the
	// way. After ctx is done nothing more is taken.
	Do func(ctx context.Context, post func(Change)) (Change, error)
}

// Parts say what must be drawn again.
type Parts uint

// What can change.
const (
	Opened   Parts = 1 << iota // another roll
	Frames                     // other frames, another order, other labels
	Marks                      // verdicts, notes, range, limits, titles
	Readings                   // something was read of a frame
	Marker                     // the marker on the axis has moved
	View                       // layout, masks, pages, corrections
	Progress                   // how far the reading is
	Notices                    // what is said above the pictures
	Placed                     // the frame that is being placed lies elsewhere
	Holding                    // what is looked at while a key is held
	All      = ^Parts(0)
)

// State is what the window shows.
type State struct {
	opt     load.Options // how scans are opened
	roll    *roll.Roll
	film    *film.Roll // as much as is measured of the roll as it is now
	saved   []byte     // snapshot at the last save, to tell unsaved work
	text    snap       // of the roll
	history history.History[*roll.Roll]
	typing  typing

	view
	marker  float64 // stop on the axis that is looked at
	sliding bool    // the marker is being dragged
	picked  string  // file of the frame that was chosen itself: one of several at a stop
	placing *Placing
	picking Picking

	reading   reading
	notices   []Notice
	handCosts map[string]handCost // by file
	costing   bool                // the cost of a correction by hand is being measured
	parked    bool                // another roll is shown: nothing is measured
	tone      tone
	steps     stepCosts                   // of the correction by hand
	holding   bool                        // a slide of the page of corrections is being dragged
	drawn     map[*measure.Look]*row.Data // what is drawn of looks
	rows      rows
}

// New returns a state without a roll. opt says how scans are opened.
func New(opt load.Options) *State {
	s := &State{opt: opt}
	s.clear(&roll.Roll{})
	return s
}

// clear shows another roll from the beginning; what page stands open stays.
func (s *State) clear(r *roll.Roll) {
	panel := s.panel
	lasting := s.lasting()
	*s = State{opt: s.opt, roll: r.Clone(), handCosts: map[string]handCost{}, drawn: map[*measure.Look]*row.Data{}}
	s.view = view{panel: panel, grade: criteria.Curves, corrected: true}
	s.notices = lasting
	s.roll.Sort()
	s.film = film.New(s.roll)
	s.saved = s.snapshot()
	if b := s.Base(); b >= 0 {
		s.marker = s.roll.Frames[b].Stop
	}
}

// Apply makes a change. The caller draws again and runs what the effect says.
func (s *State) Apply(c Change) Effect {
	e := c.apply(s)
	e.Run = append(e.Run, s.due()...)
	return e
}

// Roll returns the open roll; it has no frames when none is open. It is not to be changed.
func (s *State) Roll() *roll.Roll { return s.roll }

// Film returns as much of the roll as is measured, its frames in the order of the roll.
func (s *State) Film() *film.Roll { return s.film }

// Empty reports that there is nothing to show.
func (s *State) Empty() bool { return len(s.roll.Frames) == 0 }

// Name returns what the roll is called: its title, else its file, else its folder.
func (s *State) Name() string {
	if s.Empty() {
		return "No roll open"
	}
	return s.roll.Called()
}

// Base returns the index of the base frame, -1 when the roll is empty.
func (s *State) Base() int {
	i, _ := s.roll.Base()
	return i
}

// Current returns the index of the frame under the marker, -1 when there is none. Of
// several frames at one stop it is the one that was chosen.
func (s *State) Current() int {
	at := nearest(s.roll.Frames, s.marker)
	if i := s.Index(s.picked); i >= 0 && at >= 0 && s.roll.Frames[i].Stop == s.roll.Frames[at].Stop {
		return i
	}
	return at
}

// Index finds a frame by its file, -1 when it is not in the roll.
func (s *State) Index(file string) int {
	return slices.IndexFunc(s.roll.Frames, func(f roll.Frame) bool { return f.File == file })
}

func nearest(frames []roll.Frame, stop float64) int {
	best, dist := -1, math.Inf(1)
	for i, f := range frames {
		if d := math.Abs(f.Stop - stop); d < dist-1e-9 {
			best, dist = i, d
		}
	}
	return best
}

// Frame returns what is measured of the i-th frame.
func (s *State) Frame(i int) *film.Frame { return &s.film.Frames[i] }

// Bounds returns the stops of the lowest and the highest frame.
func (s *State) Bounds() (lo, hi float64) {
	if s.Empty() {
		return -1, 1
	}
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, f := range s.roll.Frames {
		lo, hi = math.Min(lo, f.Stop), math.Max(hi, f.Stop)
	}
	return lo, hi
}

func clamp(v, lo, hi int) int { return max(lo, min(hi, v)) }

// Options returns how scans are opened.
func (s *State) Options() load.Options { return s.opt }
