package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// State is what became of a frame.
type State string

// States of a shot.
const (
	Done    State = "exposed"
	Missed  State = "missed"  // not exposed: it has no place on the film
	Spoiled State = "spoiled" // on the film, and not of the test
	Other   State = "other"   // another picture, between the frames of the bracket
)

// Log is what was really exposed, in the order on the film.
type Log struct {
	Shots []Shot `json:"shots,omitempty"`
	Light *Light `json:"lightEnd,omitempty"` // metered again after the last frame
	Note  string `json:"note,omitempty"`
}

// Shot is one frame of the log.
type Shot struct {
	Number  int    `json:"number,omitempty"`  // of the planned frame; 0 of another picture
	State   State  `json:"state"`             //
	Setting string `json:"setting,omitempty"` // as written: "1/60", "f/8 1/60"; empty: as planned
	Clock   string `json:"clock,omitempty"`   // 15:04 or 15:04:05
	Note    string `json:"note,omitempty"`
}

// Light is a reading like that of the plan, at the end.
type Light struct {
	Meter      string `json:"meter"`
	MeterSpeed string `json:"meterSpeed,omitempty"`
	Clock      string `json:"clock,omitempty"`
}

// Clone returns a copy that shares nothing; nil of nil.
func (l *Log) Clone() *Log {
	if l == nil {
		return nil
	}
	c := *l
	c.Shots = slices.Clone(l.Shots)
	if l.Light != nil {
		light := *l.Light
		c.Light = &light
	}
	return &c
}

// MaxNote is the longest note, in characters.
const MaxNote = 2000

func (f *File) log() *Log {
	if f.Log == nil {
		f.Log = &Log{}
	}
	return f.Log
}

// Put enters a shot: of a planned frame in the place of what was there before, of
// another picture after the frame with the number after (0: before all). A shot
// that makes no sense is refused with a *FieldError, and the log stays as it was.
func (f *File) Put(s Shot, after int) error {
	if err := f.checkShot(s); err != nil {
		return err
	}
	if _, bare := number(s.Setting); bare && !strings.Contains(s.Setting, "/") {
		v := strings.TrimSpace(s.Setting)
		return &FieldError{FieldShot, fmt.Sprintf("frame %d: %s could be an aperture or a time: write f/%s or %s s", s.Number, quote(v), v, v)}
	}
	l := f.log()
	if s.State == Other {
		at := 0
		if after > 0 {
			at = slices.IndexFunc(l.Shots, func(o Shot) bool { return o.Number == after }) + 1
			if at == 0 {
				return &FieldError{FieldShot, fmt.Sprintf("frame %d is not in the log yet: enter it first, then the other picture after it", after)}
			}
		}
		if len(l.Shots) >= 10*MaxFrames {
			return &FieldError{FieldShot, "the log is full: a roll has no more frames"}
		}
		l.Shots = slices.Insert(l.Shots, at, s)
		return nil
	}
	if at := slices.IndexFunc(l.Shots, func(o Shot) bool { return o.Number == s.Number }); at >= 0 {
		l.Shots[at] = s
		return nil
	}
	at := slices.IndexFunc(l.Shots, func(o Shot) bool { return o.Number > s.Number })
	if at < 0 {
		at = len(l.Shots)
	}
	l.Shots = slices.Insert(l.Shots, at, s)
	return nil
}

// Remove takes the shot of a planned frame out of the log.
func (f *File) Remove(number int) {
	if f.Log != nil {
		f.Log.Shots = slices.DeleteFunc(f.Log.Shots, func(s Shot) bool { return s.Number == number && s.State != Other })
	}
}

// RemoveOther takes out the last other picture that was entered after the frame with
// the number after (0: before all). The error is a *FieldError where there is none.
func (f *File) RemoveOther(after int) error {
	at := -1
	if f.Log != nil {
		at = slices.IndexFunc(f.Log.Shots, func(s Shot) bool { return s.Number == after && s.State != Other })
	}
	if at < 0 && after > 0 || f.Log == nil || at+1 == len(f.Log.Shots) || f.Log.Shots[at+1].State != Other {
		return &FieldError{FieldShot, fmt.Sprintf("the log has no other picture after frame %d: look at its list", after)}
	}
	f.Log.Shots = slices.Delete(f.Log.Shots, at+1, at+2)
	return nil
}

// Shot returns what the log has of a planned frame; nil when nothing.
func (f *File) Shot(number int) *Shot {
	if f.Log == nil {
		return nil
	}
	for i, s := range f.Log.Shots {
		if s.Number == number && s.State != Other {
			return &f.Log.Shots[i]
		}
	}
	return nil
}

// SetNote enters the note on the roll. The error is a *FieldError.
func (f *File) SetNote(text string) error {
	if !noteFits(text) {
		return &FieldError{FieldNote, fmt.Sprintf("the note on the roll is longer than %d characters or holds control characters: shorten it", MaxNote)}
	}
	f.log().Note = text
	return nil
}

// noteFits reports whether a note may be kept.
func noteFits(text string) bool {
	return len([]rune(text)) <= MaxNote && !controlled(strings.NewReplacer("\n", "", "\t", "").Replace(text))
}

// SetLight enters the light as it was metered again at the end; an empty reading
// takes it out. The error is a *FieldError.
func (f *File) SetLight(l Light) error {
	if strings.TrimSpace(l.Meter) == "" {
		if f.Log != nil {
			f.Log.Light = nil
		}
		return nil
	}
	if _, err := f.reading(l); err != nil {
		return err
	}
	f.log().Light = &l
	return nil
}

// reading returns the EV that the light at the end asks for, for the film and filter
// of the plan.
func (f *File) reading(l Light) (float64, error) {
	bad := func(err error) (float64, error) { return 0, &FieldError{FieldLight, err.Error()} }
	speed := 0.0
	var err error
	if strings.TrimSpace(l.MeterSpeed) != "" {
		if speed, err = ParseSpeed(l.MeterSpeed); err != nil {
			return bad(err)
		}
	}
	r, err := ParseReading(l.Meter, speed, f.Plan.ISO)
	if err != nil {
		return bad(err)
	}
	if l.Clock != "" {
		if _, err := clock(l.Clock); err != nil {
			return bad(err)
		}
	}
	filter, err := parseFilter(f.Form.Filter)
	if err != nil {
		return bad(err)
	}
	return r.At(f.Plan.ISO) - filter, nil
}

func (f *File) frame(number int) *Frame {
	for i := range f.Plan.Frames {
		if f.Plan.Frames[i].Number == number {
			return &f.Plan.Frames[i]
		}
	}
	return nil
}

func (f *File) checkShot(s Shot) error {
	bad := func(field Field, format string, args ...any) error {
		return &FieldError{field, fmt.Errorf(format, args...).Error()}
	}
	switch s.State {
	case Done, Missed, Spoiled:
		if f.frame(s.Number) == nil {
			n := len(f.Plan.Frames)
			if n == 0 {
				return bad(FieldShot, "the plan has no frames to log")
			}
			return bad(FieldShot, "frame %d is not of this plan, whose frames are %d to %d", s.Number, f.Plan.Frames[0].Number, f.Plan.Frames[n-1].Number)
		}
	case Other:
		if s.Number != 0 || s.Setting != "" {
			return bad(FieldShot, "another picture has no place in the bracket: leave its number and setting out")
		}
	default:
		return bad(FieldShot, "%s is nothing that becomes of a frame: write exposed, missed, spoiled or other", quote(string(s.State)))
	}
	if s.Setting != "" {
		if s.State != Done {
			return bad(FieldShot, "frame %d was not exposed for the test and has a setting: leave one out", s.Number)
		}
		if _, _, err := f.setting(s.Setting); err != nil {
			return bad(FieldShot, "frame %d: %w", s.Number, err)
		}
	}
	if s.Clock != "" {
		if _, err := clock(s.Clock); err != nil {
			return bad(FieldShot, "frame %d: %w", s.Number, err)
		}
	}
	if !noteFits(s.Note) {
		return bad(FieldNote, "the note on frame %d is longer than %d characters or holds control characters: shorten it", s.Number, MaxNote)
	}
	return nil
}

// setting reads what was set, with the exact values of the camera where it has the
// marks.
func (f *File) setting(text string) (aperture, seconds *Mark, err error) {
	aperture, seconds, err = ParseSetting(text)
	if err != nil {
		return nil, nil, err
	}
	times, apertures, err := f.Camera.marks()
	if err != nil {
		return aperture, seconds, nil // a camera that is gone takes nothing from the log
	}
	if aperture != nil {
		if m, ok := find(apertures, *aperture); ok {
			aperture = &m
		}
	}
	if seconds != nil {
		if m, ok := find(times, *seconds); ok {
			seconds = &m
		} else if seconds.Exact > times[0].Exact && f.Camera.Bulb {
			// Beyond the marks a watch counts seconds: 30 s are 30, not 32.
			seconds.Exact, seconds.Watch = seconds.Nominal, true
		}
	}
	return aperture, seconds, nil
}

func clock(text string) (time.Time, error) {
	for _, layout := range []string{"15:04", "15:04:05"} {
		if t, err := time.Parse(layout, strings.TrimSpace(text)); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%s is no time of day: write for example 14:35", quote(text))
}
