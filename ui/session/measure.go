package session

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/load/memory"
	"stopladder/analysis/show/row"
)

// reading is how far the roll is measured.
type reading struct {
	on       bool
	of       *roll.Roll         // that was measured, or is being
	seen     *roll.Roll         // that was last held against it
	have     *film.Roll         // what was measured so far, for the next time
	read     map[string]float64 // of scans that are being read: how much, 0..1
	compared int                // frames that are compared with the base frame
	stopped  bool               // given up before it was done
	savedTo  string             // roll file that was saved meanwhile, without the hashes of its scans
	version  int                // counts changes of what mark shows
}

// mark shows in a frame's row how far its reading is.
func (r *reading) mark(file string, d *row.Data) {
	d.Pending = r.on && d.State == row.Ready && d.Suggested == ""
	if d.State != row.Waiting {
		return
	}
	if p, ok := r.read[file]; ok && r.on {
		d.State, d.Progress = row.Reading, p
	} else if r.stopped {
		d.State, d.Message = row.Failed, "The reading was stopped; choose Read the scan again from this frame's menu."
	}
}

// Open shows another roll in place of the one that is open, and reads it.
type Open struct {
	Job     *load.Job
	Unsaved bool // it is recovered work that stands in no file
}

func (c Open) apply(s *State) Effect {
	s.clear(c.Job.Roll)
	if c.Unsaved {
		s.saved = nil
	}
	s.sayLabels(c.Job.Notes)
	if names := c.Job.Roll.Elsewhere(); len(names) > 0 {
		s.notify(Notice{ID: elsewhereID, Text: "The roll file says that scans lie on another machine or a device, and they were not looked for: " + someNames(names) + ".",
			Actions: []Action{{Words: "Look for them there", Change: LookElsewhere{}}}})
	}
	return Effect{Redraw: All, Closed: true}
}

// elsewhereID is the id of the notice on scans that were not looked for.
const elsewhereID = "elsewhere"

// LookElsewhere has scans looked for that the roll file says lie on other machines or on
// devices.
type LookElsewhere struct{}

func (LookElsewhere) apply(s *State) Effect {
	s.dismiss(func(id string) bool { return id == elsewhereID || id == "missing" })
	s.fill(func(r *roll.Roll) { r.LookElsewhere() })
	return Effect{Redraw: Frames | Marks | Notices}
}

// sayLabels notes what is to be known of the labels.
func (s *State) sayLabels(notes []string) {
	s.dismiss(func(id string) bool { return strings.HasPrefix(id, labelID) })
	for i, n := range notes {
		said := Notice{ID: labelID + strconv.Itoa(i), Text: Sentence(n), Actions: labels()}
		if n == s.roll.PreviewNote() { // which labels have nothing to do with
			said.Actions = nil
		}
		s.notify(said)
	}
}

// labelID and rollID begin the ids of notices on labels and on the roll as a whole.
const labelID, rollID = "label ", "roll "

// Close shows no roll.
type Close struct{}

func (Close) apply(s *State) Effect {
	s.clear(&roll.Roll{})
	return Effect{Redraw: All, Closed: true}
}

// StopReading ends the reading; what was read stays.
type StopReading struct{}

func (StopReading) apply(s *State) Effect {
	if !s.reading.on {
		return Effect{}
	}
	s.reading.end()
	s.reading.stopped = true
	return Effect{Redraw: Readings | Progress, Stop: []string{measuring}}
}

// end notes that nothing is read any more.
func (r *reading) end() {
	r.on, r.read, r.savedTo = false, nil, ""
	r.version++
}

// ReadAgain reads a scan again, and all that could not be read.
type ReadAgain struct{ File string }

func (c ReadAgain) apply(s *State) Effect {
	if s.reading.on {
		return Effect{}
	}
	files := []string{c.File}
	for _, f := range s.film.Frames {
		if f.Look == nil {
			files = append(files, f.File)
		}
	}
	s.film = s.film.Without(files...)
	if h := s.reading.have; h != nil {
		s.reading.have = h.Without(files...)
	}
	s.reading.of, s.reading.seen = nil, nil
	return Effect{Redraw: Readings | Progress}
}

// Reading reports whether scans are being read or compared, and how far that is.
func (s *State) Reading() (words string, on bool) {
	done, all := s.Read()
	switch {
	case !s.reading.on:
		return "", false
	case done == all && s.reading.compared > 0:
		return fmt.Sprintf("Compared %d of %d frames", s.reading.compared, all), true
	case done == all:
		return "Comparing the frames", true
	}
	return fmt.Sprintf("Read %d of %d scans", done, all), true
}

// Share returns how far the measuring is, 0..1: the reading of the scans is half of it,
// and their comparison the other.
func (s *State) Share() float64 {
	done, all := s.Read()
	if !s.reading.on || all == 0 {
		return 0
	}
	sum := float64(done + s.reading.compared)
	for _, f := range s.film.Frames {
		if f.Look == nil && f.Err == nil {
			sum += s.reading.read[f.File]
		}
	}
	return math.Min(1, sum/float64(2*all))
}

// Read counts the frames that are read or were given up, and all of them.
func (s *State) Read() (done, all int) {
	for _, f := range s.film.Frames {
		if f.Look != nil || f.Err != nil || s.reading.stopped {
			done++
		}
	}
	return done, len(s.film.Frames)
}

// due returns the work that the state asks for as it is now.
func (s *State) due() []Work {
	if s.parked {
		return nil
	}
	return slices.Concat(s.remeasure(), s.measureHand(), s.measureSteps())
}

// measuring is the name of the work of measuring a roll.
const measuring = "measure"

// remeasure returns the work of measuring the roll as it is now, where that is another than
// was measured. While a measuring goes on it waits: what is being read is not read twice.
func (s *State) remeasure() []Work {
	r := &s.reading
	if r.on || r.seen == s.roll || s.Empty() {
		return nil
	}
	r.seen = s.roll
	if r.of != nil && film.MeasuredAlike(r.of, s.roll) {
		return nil
	}
	r.on, r.stopped, r.of, r.read, r.compared = true, false, s.roll, nil, 0
	r.version++
	opt, have, job, drawn := s.opt, r.have, load.Of(s.roll), maps.Clone(s.drawn)
	return []Work{{Name: measuring, Title: "Not measured", Do: func(ctx context.Context, post func(Change)) (Change, error) {
		f := &follower{post: post, have: have, drawn: drawn, percent: map[int]int{}}
		now, err := load.Measure(ctx, job, have, opt, f.event)
		if err != nil {
			return nil, err
		}
		now.Headroom()
		return Measured{Film: now, missing: missingScans(now), labels: len(job.Notes), again: have != nil}, nil
	}}}
}

// follower hands over the events of a measuring, with what is drawn of them prepared.
type follower struct {
	post    func(Change)
	have    *film.Roll
	drawn   map[*measure.Look]*row.Data
	percent map[int]int // of the frames that are being read
}

func (f *follower) event(e load.Event) {
	if e.Kind == load.Reading {
		p := int(e.Progress * 20) // a row's progress line moves in these steps
		if was, ok := f.percent[e.Frame]; !ok || was != p {
			f.percent[e.Frame] = p
			f.post(readOn{frame: e.Frame, progress: e.Progress})
		}
		return
	}
	memory.Bound()
	if e.Kind == load.Salvaged {
		f.post(comparedOn{})
	}
	if e.Roll == nil {
		return
	}
	c := readOn{frame: e.Frame, film: over(e.Roll, f.have), fitted: e.Kind == load.Fitted}
	if e.Kind == load.Looked {
		if l := e.Roll.Frames[e.Frame].Look; f.drawn[l] == nil {
			f.drawn[l] = drawnOf(l)
			c.drawn = f.drawn[l]
		}
	}
	c.film.Headroom() // remembered: it takes the window's goroutine no time then
	f.post(c)
}

// over returns a roll that is being measured with what was known of the frames that have
// not had their turn yet: they are shown until then.
func over(now, before *film.Roll) *film.Roll {
	if before == nil {
		return now
	}
	out := now.Snapshot()
	for i := range out.Frames {
		f := &out.Frames[i]
		if k := before.Index(f.File); f.Look == nil && f.Err == nil && k >= 0 && before.Frames[k].Look != nil {
			*f = before.Frames[k]
		}
	}
	return out
}

// readOn is a step of the measuring.
type readOn struct {
	frame    int
	progress float64
	film     *film.Roll // as much as is known; nil: progress alone
	drawn    *row.Data  // what is drawn of a look that is new
	fitted   bool       // the roll as a whole told something
}

func (c readOn) apply(s *State) Effect {
	r := &s.reading
	r.version++
	if c.film == nil {
		r.read = maps.Clone(r.read)
		if r.read == nil {
			r.read = map[string]float64{}
		}
		r.read[r.of.Frames[c.frame].File] = c.progress
		return Effect{Redraw: Readings | Progress}
	}
	if c.drawn != nil {
		s.drawn[c.drawn.Look] = c.drawn
	}
	r.have, s.film = c.film, c.film.With(s.roll)
	e := Effect{Redraw: Readings | Progress}
	if c.fitted {
		s.sayFindings()
		e.Redraw |= Notices
		e.Run = s.checkMatching()
	}
	return e
}

// comparedOn notes that one more frame is compared.
type comparedOn struct{}

func (comparedOn) apply(s *State) Effect {
	s.reading.compared++
	return Effect{Redraw: Progress}
}

// Measured is the end of the measuring of a roll.
type Measured struct {
	Film *film.Roll

	missing []string // scans that are not where the roll says
	labels  int      // how many of its notes are on the labels
	again   bool     // it was measured before
}

func (c Measured) apply(s *State) Effect {
	saved := s.reading.savedTo
	s.reading.end()
	s.reading.have, s.reading.seen = c.Film, nil
	if s.reading.of == nil {
		s.reading.of = c.Film.Judged
	}
	complete := saved != "" && saved == s.roll.Path() && !s.Unsaved() // saved before hashes and readings were known
	s.film = c.Film
	var changed []string
	s.fill(func(r *roll.Roll) {
		for _, f := range c.Film.Frames {
			if i := s.Index(f.File); i >= 0 && f.SHA256 != "" {
				if f.Changed {
					changed = append(changed, filepath.Base(f.File))
				}
				r.Frames[i].SHA256, r.Frames[i].Bytes = f.SHA256, f.Bytes
			}
		}
	})
	s.handCosts = map[string]handCost{}
	s.forget()
	e := Effect{Redraw: Readings | Marks | Progress | Notices}
	if complete && len(changed) == 0 {
		e.Run = []Work{save(s.Keeping())}
	}
	if len(changed) > 0 {
		s.notify(Notice{ID: "changed", Text: someNames(changed) + " changed since the roll was saved: the readings are of the scans as they are now; look at your verdicts again."})
	}
	if len(c.missing) > 0 {
		s.notify(Notice{ID: "missing", Text: someNames(c.missing) + " cannot be found where the roll says.",
			Actions: []Action{{Words: "Find missing scans…", Command: "find"}}})
	}
	if c.again {
		s.sayLabels(c.Film.Notes[:c.labels])
	}
	s.dismiss(func(id string) bool { return strings.HasPrefix(id, rollID) })
	for i, n := range c.Film.Notes[c.labels:] {
		s.notify(Notice{ID: rollID + strconv.Itoa(i), Text: Sentence(n)})
	}
	return e
}

// forget drops what was drawn of looks that are shown no more.
func (s *State) forget() {
	shown := map[*measure.Look]bool{}
	for _, f := range s.film.Frames {
		shown[f.Look] = true
	}
	maps.DeleteFunc(s.drawn, func(l *measure.Look, _ *row.Data) bool { return !shown[l] })
}

// Failed is the end of work that could not be done.
type Failed struct {
	Work Work
	Err  error
}

func (c Failed) apply(s *State) Effect {
	if c.Work.Name == measuring {
		s.reading.end()
	}
	return refuse(c.Work.Title, c.Err).and(Progress)
}

// save returns the work of writing the roll file.
func save(r *roll.Roll) Work {
	return Work{Name: "save", Title: "Not saved", Do: func(context.Context, func(Change)) (Change, error) {
		r := r.Clone()
		err := r.Save(r.Path())
		var changed *roll.ChangedError
		if errors.As(err, &changed) { // nothing of the judge's is lost: the question comes with the next save
			return Notify{Notice{ID: "changed on disk", Text: Sentence(filepath.Base(changed.Path) + " was changed by another program since it was opened here; when you save, you are asked which version to keep")}}, nil
		}
		if err != nil {
			return nil, err
		}
		return Saved{r}, nil
	}}
}

// missingScans names the scans of a roll that are not where it says.
func missingScans(r *film.Roll) (names []string) {
	if r.Judged.Demo != "" {
		return nil
	}
	for i, f := range r.Frames {
		if f.Look != nil || i < len(r.Judged.Frames) && r.Judged.Frames[i].Aside() { // that is told apart
			continue
		}
		if _, err := os.Stat(filepath.FromSlash(f.File)); errors.Is(err, os.ErrNotExist) {
			names = append(names, filepath.Base(f.File))
		}
	}
	return names
}

// FindScans looks in a folder and below it for scans that are not where the roll says.
type FindScans struct{ Folder string }

func (c FindScans) apply(s *State) Effect {
	r := s.roll.Clone()
	return Effect{Run: []Work{{Name: "find", Title: "Not found", Do: func(ctx context.Context, _ func(Change)) (Change, error) {
		moved, problems := r.Relocate(ctx, c.Folder)
		if len(moved) > 0 {
			to := map[string]string{}
			for _, m := range moved {
				to[m.From] = r.Frames[m.Frame].File
			}
			return found{to}, nil
		}
		if len(problems) > 0 {
			return nil, errors.New(problems[0].Text)
		}
		return nil, errors.New("none of the missing scans is in " + filepath.Base(c.Folder) + " or below it; choose another folder")
	}}}}
}

// found says where scans are now.
type found struct{ to map[string]string }

func (c found) apply(s *State) Effect {
	s.dismiss(func(id string) bool { return id == "missing" })
	return s.edited(Frames|Marks, "finding scans", func(r *roll.Roll) {
		for i := range r.Frames {
			if to := c.to[r.Frames[i].File]; to != "" {
				r.Frames[i].File = to
			}
		}
	}).and(Notices)
}
