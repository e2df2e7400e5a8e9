package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/bracket/exposure"
	"stopladder/analysis/judge/stops"
)

// Exposed is one frame as it is on the film.
type Exposed struct {
	Frame     int     // index into Plan.Frames; -1 for another picture
	Number    int     // of the planned frame; 0 for another picture
	Test      bool    // of the bracket, and not spoiled
	Ticked    bool    // in the log; else taken as planned
	Wanted    float64 // the planned stop
	Stop      float64 // the real stop, against the base frame as it was exposed
	Light     float64 // stops by which the light was brighter than for the base frame
	Loss      float64 // stops lost to reciprocity failure, by the plan's figures
	Time      Mark
	Aperture  Mark
	Clock     string
	Note      string
	fromMeter float64 // stops over the base exposure of the plan
}

// Deviation returns the real stop less the planned one.
func (e Exposed) Deviation() float64 { return e.Stop - e.Wanted }

// Real is what is on the film.
type Real struct {
	Exposed    []Exposed // in the order on the film
	Gaps       []Gap     // planned frames that were missed, in the order of the plan
	Base       int       // index of the first base frame; -1 when none was exposed
	BaseOffset float64   // stops by which the base frame is over the base exposure as metered
	Drift      *float64  // stops by which the light rose until the end; nil: not metered again
	Notes      []string
}

// Gap is a planned frame that was missed.
type Gap struct {
	Frame  int // index into Plan.Frames
	Before int // index into Exposed of what comes next on the film; len(Exposed) behind all
	Clock  string
	Note   string
}

// Real carries the log through the plan to real stops. Frames that the log does
// not name are taken as planned. The light is taken to have changed evenly from
// the plan's reading, at the first frame, to that of the end: by the clock where
// every frame has one, else frame by frame. Where the plan has figures for
// reciprocity failure, what is lost by it is taken off. The error is a *FieldError.
func (f *File) Real() (*Real, error) {
	r := &Real{Base: -1}
	failure, err := ParseReciprocity(f.Form.Reciprocity)
	if err != nil {
		return nil, &FieldError{FieldReciprocity, err.Error()}
	}
	if err := f.gather(r); err != nil {
		return nil, err
	}
	lossy := false
	for i := range r.Exposed {
		e := &r.Exposed[i]
		if !e.Test {
			continue
		}
		e.Loss = failure.Loss(e.Time.Exact)
		lossy = lossy || e.Loss > 0.005
		e.fromMeter = given(f.Plan.EV, e.Aperture, e.Time, failure)
		if r.Base < 0 && math.Abs(e.Wanted) < stops.Near {
			r.Base = i
		}
	}
	if err := f.drift(r); err != nil {
		return nil, err
	}
	baseLight := 0.0
	if r.Base >= 0 {
		r.BaseOffset, baseLight = r.Exposed[r.Base].fromMeter+r.Exposed[r.Base].Light, r.Exposed[r.Base].Light
	} else {
		r.Notes = append(r.Notes, "No base frame was exposed: real stops count from the base exposure as metered.")
	}
	for i := range r.Exposed {
		e := &r.Exposed[i]
		if e.Test {
			e.Stop = tidy(e.fromMeter + e.Light - r.BaseOffset)
			e.Light -= baseLight
		}
	}
	if odd := f.beyondCamera(r); odd != "" {
		r.Notes = append(r.Notes, odd)
	}
	if math.Abs(r.BaseOffset) >= 0.05 {
		r.Notes = append(r.Notes, fmt.Sprintf("The base frame was exposed %s stop against the meter: every real stop counts from the base frame.", Hundredths(r.BaseOffset)))
	}
	if lossy {
		r.Notes = append(r.Notes, "What long exposures lost to reciprocity failure, by the figures of the plan, is taken off the real stops.")
	}
	return r, nil
}

// beyondCamera returns which entries the camera of the plan cannot have been set to:
// slips of the pen, mostly. It is "" where there are none. The log wins all the same,
// for it may have been another camera.
func (f *File) beyondCamera(r *Real) string {
	times, apertures, err := f.Camera.marks()
	if err != nil || len(times) == 0 || len(apertures) == 0 {
		return ""
	}
	const near = 1.02 // marks between two clicks are no slip, beyond the ends they are
	var odd []string
	for _, e := range r.Exposed {
		if !e.Test || !e.Ticked {
			continue
		}
		name := func(m string) { odd = append(odd, fmt.Sprintf("%s of frame %d", m, e.Number)) }
		if v := e.Time.Exact; v > times[0].Exact*near && !f.Camera.Bulb || v < times[len(times)-1].Exact/near {
			name(e.Time.Seconds())
		}
		if v := e.Aperture.Exact; v < apertures[0].Exact/near || v > apertures[len(apertures)-1].Exact*near {
			name(e.Aperture.Number())
		}
	}
	if len(odd) == 0 {
		return ""
	}
	return fmt.Sprintf("Check %s: %s goes from %s and %s.", list(odd), f.Camera.Name,
		span(times, Mark.Seconds), span(apertures, Mark.Number))
}

// gather lists what is on the film, in its order.
func (f *File) gather(r *Real) error {
	shots, unticked := f.shots()
	for _, s := range shots {
		if err := f.expose(r, s); err != nil {
			return err
		}
	}
	switch {
	case f.Log == nil || len(f.Log.Shots) == 0:
		r.Notes = append(r.Notes, "Nothing is logged: every frame is taken as planned.")
	case len(unticked) == 1:
		r.Notes = append(r.Notes, "Frame "+unticked[0]+" is not in the log and taken as planned.")
	case len(unticked) > 1:
		r.Notes = append(r.Notes, "Frames "+strings.Join(unticked, ", ")+" are not in the log and taken as planned.")
	}
	return nil
}

// takenShot is a shot in its place on the film.
type takenShot struct {
	Shot
	ticked bool // it stands in the log
}

// shots lists the planned frames and what else the log has, in their order on the
// film, and the numbers of the frames that are not in the log: those are taken for
// shot as planned.
func (f *File) shots() (out []takenShot, unticked []string) {
	var rest []Shot
	if f.Log != nil {
		rest = f.Log.Shots
	}
	take := func(n int) {
		for _, s := range rest[:n] {
			out = append(out, takenShot{s, true})
		}
		rest = rest[n:]
	}
	others := func() (n int) { // other pictures stand where they were taken
		for n < len(rest) && rest[n].State == Other {
			n++
		}
		return n
	}
	take(others()) // before all frames, see Put
	for _, p := range f.Plan.Frames {
		if f.Shot(p.Number) == nil {
			unticked = append(unticked, fmt.Sprint(p.Number))
			out = append(out, takenShot{Shot{Number: p.Number, State: Done}, false})
			continue
		}
		at := slices.IndexFunc(rest, func(s Shot) bool { return s.Number == p.Number && s.State != Other })
		if at < 0 { // it was taken before its turn
			at = len(rest) - 1
		}
		take(at + 1)
		take(others())
	}
	take(len(rest))
	return out, unticked
}

// expose enters a shot into what is on the film, or a missed one into its gaps.
func (f *File) expose(r *Real, s takenShot) error {
	e := Exposed{Frame: -1, Ticked: s.ticked, Clock: s.Clock, Note: s.Note}
	for i, p := range f.Plan.Frames {
		if s.State != Other && p.Number == s.Number {
			e.Frame, e.Number, e.Wanted, e.Time, e.Aperture = i, p.Number, p.Stop, p.Time, p.Aperture
			e.Test = s.State == Done
		}
	}
	if e.Frame < 0 && s.State != Other {
		return &FieldError{FieldShot, fmt.Sprintf("the log has a frame %d that the plan has not: remove it", s.Number)}
	}
	if s.State == Missed {
		r.Gaps = append(r.Gaps, Gap{e.Frame, len(r.Exposed), s.Clock, s.Note})
		return nil
	}
	if s.Setting != "" {
		a, t, err := f.setting(s.Setting)
		if err != nil {
			return &FieldError{FieldShot, fmt.Sprintf("frame %d: %v", s.Number, err)}
		}
		if a != nil {
			e.Aperture = *a
		}
		if t != nil {
			e.Time = *t
		}
	}
	r.Exposed = append(r.Exposed, e)
	return nil
}

// drift gives every frame the light that it had against the plan's reading.
func (f *File) drift(r *Real) error {
	if f.Log == nil || f.Log.Light == nil {
		return nil
	}
	end, err := f.reading(*f.Log.Light)
	if err != nil {
		return err
	}
	d := end - f.Plan.EV // more light asks for a higher EV
	r.Drift = &d
	n := len(r.Exposed)
	at, how := f.byClock(r.Exposed)
	if at == nil {
		at = make([]float64, n+1)
		for i := range at {
			at[i] = float64(min(i, n-1))
		}
	}
	last := at[n]
	for i := range r.Exposed {
		if last > 0 {
			r.Exposed[i].Light = d * math.Min(math.Max(at[i]/last, 0), 1)
		}
	}
	if math.Abs(d) >= 0.05 {
		r.Notes = append(r.Notes, fmt.Sprintf("The light changed by %s stop from first to last frame; it is taken to have changed evenly, %s.", Hundredths(d), how))
	}
	return nil
}

// byClock returns when frames were exposed, in minutes after the first, and behind
// them when the light was metered again; nil where not every frame has a time of day,
// or where these fall back. how says which.
func (f *File) byClock(exposed []Exposed) (at []float64, how string) {
	how = "frame by frame"
	now := math.Inf(-1)
	put := func(text string) bool {
		t, err := clock(text) // checked when it was entered and when the file was read
		m := float64(60*t.Hour()+t.Minute()) + float64(t.Second())/60
		const day = 24 * 60
		for m < now-day/2 { // past midnight
			m += day
		}
		ok := err == nil && m >= now
		at, now = append(at, m), m
		return ok
	}
	for _, e := range exposed {
		if e.Clock == "" {
			return nil, how
		}
		if !put(e.Clock) {
			if e.Frame < 0 {
				return nil, how + ", since the times of day fall back at another picture"
			}
			return nil, fmt.Sprintf("%s, since the times of day fall back at frame %d", how, e.Number)
		}
	}
	if c := f.Log.Light.Clock; c != "" {
		put(c)
	} else if len(at) > 0 {
		at = append(at, now)
	}
	if len(at) == 0 || at[len(at)-1] <= at[0] {
		return nil, how
	}
	first := at[0]
	for i := range at {
		at[i] -= first
	}
	return at, "by the clock"
}

// Hundredths returns a stop in hundredths with its sign, ASCII: "+0.33", "0".
func Hundredths(v float64) string {
	if math.Abs(v) < 0.005 {
		return "0"
	}
	return fmt.Sprintf("%+.2f", v)
}

// Exact writes the exact setting: "f/11.31 1/128, EV 14".
func (f Frame) Exact() string {
	return fmt.Sprintf("%s %s, EV %s", f.Aperture.ExactNumber(), f.Time.ExactSeconds(), trimEV(exposure.EV(f.Aperture.Exact, f.Time.Exact)))
}
