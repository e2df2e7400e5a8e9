// Package opinion keeps several judges' marks on one roll side by side.
//
// The marks that are being made are the roll's own: verdicts with the frames, range and
// finding in the first of its marks. When a judge is done they are kept once more as an
// opinion: with the judge's name, the day, a session of its own, and the hash of every scan
// that was judged. Opinions are added and never changed, so none writes over another, be
// they of a friend or of the same judge a month before.
//
// Until a sitting is done the opinions of others are not shown. What is judged, or changed,
// after they were shown is kept as such (roll.Marks.Knowing) and does not count for
// agreement: a judge who knows what the others said does not bear them out.
package opinion

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
)

// NewID returns 16 hex digits that nobody had before.
func NewID() string {
	b := make([]byte, 8)
	if _, err := rand.Read(b); err != nil {
		panic(err) // the system has no random numbers at all
	}
	return hex.EncodeToString(b)
}

// Given returns the opinions beside the roll's own marks, in the order in which they came.
func Given(r *roll.Roll) []roll.Marks { return r.Marks[min(1, len(r.Marks)):] }

// Hidden reports whether there are opinions that are not to be shown before the roll's own
// marks are done.
func Hidden(r *roll.Roll) bool {
	return len(Given(r)) > 0 && (r.Sitting == nil || r.Sitting.Done == "")
}

// Own returns the roll's own marks as an opinion of a day, without a session; ok is false
// where there are none.
func Own(r *roll.Roll, day string) (m roll.Marks, ok bool) {
	if len(r.Marks) > 0 {
		own := r.Marks[0]
		m = roll.Marks{Judge: own.Judge, Finding: own.Finding}
		if own.Range != nil {
			g := *own.Range
			m.Range = &g
		}
	}
	m.Date = day
	ok = m.Range != nil || m.Finding != ""
	for _, f := range r.Frames {
		if f.Verdict == roll.Unjudged && f.Note == "" {
			continue
		}
		ok = true
		m.Verdicts = append(m.Verdicts, roll.Said{Name: f.ScanName(), SHA256: f.ScanHash(), Stop: f.Stop, Verdict: f.Verdict, Note: f.Note})
	}
	if r.Previews() > 0 {
		m.Seen = roll.OnPreviews
	}
	return m, ok
}

// same reports whether two opinions say the same, whenever they were given.
func same(a, b roll.Marks) bool {
	a.Session, a.Date, a.Knowing, b.Session, b.Date, b.Knowing = "", "", false, "", "", false
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}

// Named gives an opinion that has no session one that follows from what it says, so that
// the same marks come to the same session.
func Named(m roll.Marks) roll.Marks {
	if m.Session == "" {
		text, _ := json.Marshal(m)
		sum := sha256.Sum256(text)
		m.Session = hex.EncodeToString(sum[:8])
	}
	return m
}

// ErrFull says that a roll has as many opinions as it can hold.
var ErrFull = fmt.Errorf("the roll has the marks of %d judgings, which is all that a roll file holds: keep more in a copy of it", roll.MaxMarks-1)

// keep adds an opinion.
func keep(r *roll.Roll, m roll.Marks) error {
	r.Judge() // the first are the roll's own
	if len(r.Marks) >= roll.MaxMarks {
		return ErrFull
	}
	r.Marks = append(r.Marks, m)
	return nil
}

// Done ends the sitting: the roll's own marks are kept as an opinion of a day, and the
// others' are shown from now on. Where they were shown already, what was changed since is
// kept as made in knowledge of them.
func Done(r *roll.Roll, day string) error {
	own, ok := Own(r, day)
	if !ok {
		return errors.New("nothing is judged yet: give frames a verdict, or mark the range, first")
	}
	if r.Sitting == nil {
		r.Sitting = &roll.Sitting{Session: NewID(), Begun: day}
	}
	s := r.Sitting
	if s.Done != "" {
		if !Changed(r) {
			return nil
		}
		own.Session, own.Knowing = NewID(), true
	} else {
		own.Session = s.Session
	}
	if err := keep(r, own); err != nil {
		return err
	}
	if s.Done == "" {
		s.Done = day
	}
	if len(s.Mine) < roll.MaxSessions {
		s.Mine = append(s.Mine, own.Session)
	}
	return nil
}

// Changed reports whether the roll's own marks, once done, are others than those that were
// kept last.
func Changed(r *roll.Roll) bool {
	if r.Sitting == nil || r.Sitting.Done == "" || len(r.Sitting.Mine) == 0 {
		return false
	}
	last := r.Sitting.Mine[len(r.Sitting.Mine)-1]
	own, _ := Own(r, "")
	for _, m := range Given(r) {
		if m.Session == last {
			return !same(m, own)
		}
	}
	return true
}

// Begin begins a sitting: the roll's own marks of a day, if there are, are kept as an
// opinion, all verdicts, notes, the range and the finding begin anew, and opinions are hidden
// until they are done.
func Begin(r *roll.Roll, kept, today string) error {
	old := r.Sitting
	if own, ok := Own(r, kept); ok && (old == nil || old.Done == "" || Changed(r)) {
		own.Knowing = old != nil && old.Done != ""
		own = Named(own)
		if err := keep(r, own); err != nil {
			return err
		}
		if old != nil {
			old.Mine = append(old.Mine, own.Session)
		} else {
			old = &roll.Sitting{Mine: []string{own.Session}}
		}
	}
	s := &roll.Sitting{Session: NewID(), Begun: today}
	if old != nil {
		s.Pack, s.From, s.Mine = old.Pack, old.From, old.Mine[max(0, len(old.Mine)-roll.MaxSessions+1):]
	}
	r.Sitting = s
	for i := range r.Frames {
		r.Frames[i].Verdict, r.Frames[i].Note = roll.Unjudged, ""
	}
	own := r.Judge()
	own.Range, own.Finding = nil, ""
	return nil
}

// Merged is what came of taking in others' opinions.
type Merged struct {
	Added    []roll.Marks
	Had      int      // that the roll had already
	Problems []string // a sentence each
}

// Merge adds the opinions that a roll does not have yet. Nothing that it has is changed.
// The error is for opinions on another roll, and for a roll that is full: then nothing is
// added.
func Merge(r *roll.Roll, list []roll.Marks) (out Merged, err error) {
	before := slices.Clone(r.Marks)
	for _, m := range list {
		fits, changed := onto(r, m)
		switch {
		case fits == 0:
			r.Marks = before
			return Merged{}, fmt.Errorf("the marks of %s are of other scans than this roll has, or all of them have changed: open the roll that the pack was made of", calledOf(m))
		case has(r, m):
			out.Had++
			continue
		}
		for _, o := range Given(r) {
			if m.Session != "" && o.Session == m.Session {
				out.Problems = append(out.Problems, fmt.Sprintf("The marks of %s come a second time and say something else: both are kept.", calledOf(m)))
			}
		}
		for _, said := range changed {
			out.Problems = append(out.Problems, fmt.Sprintf("%s judged %s at %s, which has changed since: what was said of it is shown and does not count.", calledOf(m), said.Name, stops.Label(said.Stop)))
		}
		if err := keep(r, m); err != nil {
			r.Marks = before
			return Merged{}, err
		}
		out.Added = append(out.Added, m)
	}
	return out, nil
}

func has(r *roll.Roll, m roll.Marks) bool {
	for _, o := range Given(r) {
		if o.Session == m.Session && same(o, m) {
			return true
		}
	}
	return false
}

// calledOf is a judge's name for a sentence.
func calledOf(m roll.Marks) string {
	if m.Judge == "" {
		return "a judge without a name"
	}
	return m.Judge
}

// onto counts the verdicts that are of scans of the roll, and returns those of scans that
// have another content now.
func onto(r *roll.Roll, m roll.Marks) (fits int, changed []roll.Said) {
	for _, s := range m.Verdicts {
		i, same := place(r, s)
		switch {
		case i < 0:
		case same:
			fits++
		default:
			changed = append(changed, s)
		}
	}
	return fits, changed
}

// place returns the frame of which something was said, -1 for none, and whether it is the
// very scan: one of the same hash, or where none is known of the same name and stop.
func place(r *roll.Roll, s roll.Said) (frame int, very bool) {
	frame = -1
	for i, f := range r.Frames {
		if s.SHA256 != "" && f.ScanHash() == s.SHA256 {
			return i, true
		}
		if f.ScanName() == s.Name && (f.Stop-s.Stop < stops.Near && s.Stop-f.Stop < stops.Near || frame < 0) {
			frame = i
		}
	}
	return frame, frame >= 0 && (s.SHA256 == "" || r.Frames[frame].ScanHash() == "")
}
