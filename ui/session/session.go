// Package session is the state of one open roll as the window sees it: the
// roll with what the judge made of it, what has been read of each frame so far,
// and the view (playhead, layout, masks). It knows nothing of the toolkit, so
// that everything here is tested without a window.
//
// A Session belongs to one goroutine: the window's. Work done elsewhere is
// handed over with SetFrame.
package session

import (
	"math"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/film/appraise"
	"stopladder/analysis/film/register"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/row"

	"golang.org/x/image/math/f64"
)

// Changed tells a listener what to redraw.
type Changed uint

// What can change.
const (
	RollChanged  Changed = 1 << iota // other frames, other order, other labels
	MarksChanged                     // verdicts, notes, range, titles
	FrameChanged                     // something was read of a frame
	PlayheadMoved
	ViewChanged // layout, masks, panels
)

// Frame is what has been read of one scan.
type Frame struct {
	Info  scan.Info             // of the header; the zero value until it was read
	Row   row.Data              // readings, thumbnail and state, as the ladder draws them
	Notes []string              // what else is to be said of the scan, e.g. that it has changed
	Reg   register.Registration // the zero value while it is not registered
	Map   *f64.Aff3             // base full-resolution px -> this frame's; nil: by image areas
}

// Layout of the picture side.
type Layout int

// One frame, the frame beside another, all of them, or the base frame beside the
// frame as it was scanned and as it is corrected.
const (
	One Layout = iota
	Pair
	Grid
	Beside
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
)

// Masks that lie over the picture.
type Masks struct{ Blown, Blocked, Noisy, Lost bool }

// Session is one open roll.
type Session struct {
	Roll *roll.Roll // read only for callers; change it through Edit
	Path string     // roll file, "" when never saved

	Layout Layout
	Other  string // file of the frame that Pair shows beside the playhead's; "" is the base
	Masks  Masks
	Panel  Panel // what stands beside the pictures
	Patch  int   // index of the chosen patch

	patchReading string // short name of the reading that is plotted, "" for the first
	patchSort    sorting

	Salvaged  bool  // frames are shown salvaged at Grade
	Grade     Grade // chosen last
	Corrected bool  // the correction of all frames is shown; it changes no reading

	Notes []string // on the roll as a whole, from the last reading

	Fitted *Fitted // what the roll as a whole told; nil while it is not measured

	appraised      *appraise.Roll
	appraisedFiles []string
	costs          costs
	handCosts      map[string]handCost // by file
	frames         map[string]*Frame
	playhead       float64
	sliding        bool   // the playhead is being dragged
	picked         string // file of the frame that was chosen itself: one of several at a stop
	saved          []byte // snapshot at the last save, to tell unsaved work
	undo           []step
	redo           []step
	listeners      []func(Changed)
}

type step struct {
	name string
	roll *roll.Roll
}

// New returns a session on r. path is the roll file or "".
func New(r *roll.Roll, path string) *Session {
	s := &Session{Roll: r, Path: path, frames: map[string]*Frame{}, Grade: CurvesGrade, Corrected: true}
	s.sortFrames()
	s.saved = snapshot(r)
	if b := s.Base(); b >= 0 {
		s.playhead = r.Frames[b].Stop
	}
	return s
}

// Listen calls fn after every change, on the goroutine that made it.
func (s *Session) Listen(fn func(Changed)) { s.listeners = append(s.listeners, fn) }

// Emit tells all listeners.
func (s *Session) Emit(c Changed) {
	for _, fn := range s.listeners {
		fn(c)
	}
}

// Empty says that there is nothing to show.
func (s *Session) Empty() bool { return len(s.Roll.Frames) == 0 }

// Base is the index of the base frame, -1 when the roll is empty.
func (s *Session) Base() int {
	i, _ := s.Roll.Base()
	return i
}

// Current is the index of the frame under the playhead, -1 when there is none. Of
// several frames at one stop it is the one that was chosen.
func (s *Session) Current() int {
	at := nearest(s.Roll.Frames, s.playhead)
	if i := s.Index(s.picked); i >= 0 && at >= 0 && s.Roll.Frames[i].Stop == s.Roll.Frames[at].Stop {
		return i
	}
	return at
}

// OtherIndex is the frame that Pair shows on the left: the one chosen, else the
// base. It may be the current frame.
func (s *Session) OtherIndex() int {
	if s.Other != "" {
		if i := s.Index(s.Other); i >= 0 {
			return i
		}
	}
	return s.Base()
}

// Index finds a frame by its file, -1 when it is not in the roll.
func (s *Session) Index(file string) int {
	return slices.IndexFunc(s.Roll.Frames, func(f roll.Frame) bool { return f.File == file })
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

// Frame returns what was read of the i-th frame; never nil.
func (s *Session) Frame(i int) *Frame { return s.FrameOf(s.Roll.Frames[i].File) }

// FrameOf is Frame by file.
func (s *Session) FrameOf(file string) *Frame {
	f := s.frames[file]
	if f == nil {
		f = &Frame{}
		s.frames[file] = f
	}
	return f
}

// Update changes what is known of one scan and tells the listeners.
func (s *Session) Update(file string, change func(*Frame)) {
	change(s.FrameOf(file))
	s.Emit(FrameChanged)
}

// Playhead is the stop on the axis that is looked at.
func (s *Session) Playhead() float64 { return s.playhead }

// Bounds are the stops of the lowest and the highest frame.
func (s *Session) Bounds() (lo, hi float64) {
	if s.Empty() {
		return -1, 1
	}
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, f := range s.Roll.Frames {
		lo, hi = math.Min(lo, f.Stop), math.Max(hi, f.Stop)
	}
	return lo, hi
}

// MovePlayhead sets the playhead within the bounds of the roll.
func (s *Session) MovePlayhead(stop float64) {
	lo, hi := s.Bounds()
	stop = math.Max(lo, math.Min(hi, stop))
	if stop == s.playhead || s.Empty() {
		return
	}
	s.playhead = stop
	s.Emit(PlayheadMoved)
}

// Go moves the playhead onto the i-th frame.
func (s *Session) Go(i int) {
	if i < 0 || i >= len(s.Roll.Frames) {
		return
	}
	f := s.Roll.Frames[i]
	if s.playhead == f.Stop && s.Current() == i {
		return
	}
	s.playhead, s.picked = f.Stop, f.File
	s.Emit(PlayheadMoved)
}

// Step moves the playhead n frames up (towards more exposure) or down.
func (s *Session) Step(n int) {
	if s.Empty() {
		return
	}
	s.Go(clamp(s.Current()+n, 0, len(s.Roll.Frames)-1))
}

// StepOther moves the left picture of Pair.
func (s *Session) StepOther(n int) {
	if s.Empty() {
		return
	}
	s.Other = s.Roll.Frames[clamp(s.OtherIndex()+n, 0, len(s.Roll.Frames)-1)].File
	s.Emit(ViewChanged)
}

// SetLayout, ToggleMask and TogglePanel change the view.
func (s *Session) SetLayout(l Layout) {
	if s.Layout != l {
		s.Layout = l
		s.Emit(ViewChanged)
	}
}

// ToggleMask flips one of the masks, given by a pointer into s.Masks.
func (s *Session) ToggleMask(m *bool) { *m = !*m; s.Emit(ViewChanged) }

// TogglePanel opens a panel beside the pictures, or closes it when it is open.
func (s *Session) TogglePanel(p Panel) {
	if s.Panel == p {
		p = NoPanel
	}
	s.Panel = p
	s.Emit(ViewChanged)
}

// sortFrames keeps the roll in the order of the ladder, under first.
func (s *Session) sortFrames() { s.Roll.Sort() }

func clamp(v, lo, hi int) int { return max(lo, min(hi, v)) }

// Rows are the frames as the ladder and the sheet draw them, in the order of
// the roll: what was read, what the judge said, and where the playhead stands,
// all on common scales.
func (s *Session) Rows() []*row.Data {
	rows := make([]*row.Data, len(s.Roll.Frames))
	base, current, rg := s.Base(), s.Current(), s.Range()
	for i, f := range s.Roll.Frames {
		d := s.Frame(i).Row // a copy: the judge's part is not kept twice
		d.Stop, d.File, d.Base = f.Stop, filepath.Base(f.File), i == base
		d.Verdict, d.Note = f.Verdict, f.Note
		if g := s.Frame(i).Reg; g.How != register.Unknown {
			d.Registration = &g
		}
		if q := s.Fitted.Reading(f.File); q != nil {
			d.MeasuredStop, d.MeasuredStopError, d.MeasuredReason = q.MeasuredStop, q.MeasuredStopError, q.Reason
			if q.Flat != nil {
				d.FlatLight, d.FlatDark = &q.Flat.Light, &q.Flat.Dark
			}
		}
		if d.Base && s.Fitted != nil {
			d.Headroom = s.Fitted.Headroom
		}
		d.Current = i == current
		d.InRange = rg != nil && f.Stop >= rg.Lo-1e-9 && f.Stop <= rg.Hi+1e-9
		rows[i] = &d
	}
	row.Share(rows)
	if s.Extent() != nil {
		for i, d := range rows {
			d.Scales.Criteria = s.costs.plots
			if v, ok := s.Suggested(i); ok && i != base {
				d.Suggested = strings.ToLower(row.SuggestionWord(v.Says))
			}
		}
	}
	return rows
}

// Read says how far the reading of the scans is: frames that are done or have
// failed, and how many there are.
func (s *Session) Read() (done, all int) {
	for i := range s.Roll.Frames {
		if st := s.Frame(i).Row.State; st == row.Ready || st == row.Failed {
			done++
		}
	}
	return done, len(s.Roll.Frames)
}

// Fill completes the roll with what the program found out by itself (content
// hashes). That is nobody's work, so it is neither undone nor makes a saved roll
// count as unsaved.
func (s *Session) Fill(change func(*roll.Roll)) {
	clean := !s.Unsaved()
	change(s.Roll)
	if clean {
		s.saved = snapshot(s.Roll)
	}
}

// Stopped marks a frame whose reading was given up before it was done.
func (s *Session) Stopped(file, message string) {
	if f := s.FrameOf(file); f.Row.State == row.Waiting || f.Row.State == row.Reading {
		f.Row = row.Data{State: row.Failed, Message: message}
		s.Emit(FrameChanged)
	}
}
