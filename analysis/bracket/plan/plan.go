package plan

import (
	"fmt"
	"math"
	"slices"

	"stopladder/analysis/bracket/exposure"
	"stopladder/analysis/judge/stops"
)

// Plan is the exposure of every frame of a bracket, in the order of exposing.
type Plan struct {
	EV          float64   `json:"ev"`         // of the base exposure, for the film's speed, filter included
	Meter       string    `json:"meter"`      // the reading in plain words
	ISO         float64   `json:"iso"`        // arithmetic
	Held        string    `json:"held"`       // what stays the same in most frames: "f/8", "1/60"
	HeldBy      string    `json:"heldBy"`     // "asked" or "chosen"
	BaseOffset  float64   `json:"baseOffset"` // stops by which the base frame is over the base exposure
	Frames      []Frame   `json:"frames"`
	Left        *int      `json:"left"`    // frames left on the roll; absent: not counted
	Seconds     float64   `json:"seconds"` // about how long it takes, winding included
	Warnings    []Warning `json:"warnings,omitempty"`
	Cautions    []string  `json:"cautions,omitempty"`
	Assumptions []string  `json:"assumptions,omitempty"`
}

// Frame is one exposure that is planned.
type Frame struct {
	Number    int     `json:"number"` // on the roll
	Stop      float64 `json:"stop"`   // wanted, against the base frame
	Time      Mark    `json:"time"`
	Aperture  Mark    `json:"aperture"`
	EV        float64 `json:"ev"`               // of the exact values, reciprocity not included
	Deviation float64 `json:"deviation"`        // stops more than wanted, against the base frame, what long times lose taken off
	Literal   float64 `json:"literalDeviation"` // the same with the engraved figures taken literally
	Loss      float64 `json:"loss,omitempty"`   // stops lost to reciprocity failure, by the figures given
	Short     bool    `json:"outside,omitempty"`
	// Short: the camera does not reach this frame; the nearest setting stands here.
}

// Real returns the stop that the frame really gets, against the base frame.
func (f Frame) Real() float64 { return f.Stop + f.Deviation }

// Code names a kind of warning; it is stable.
type Code string

// Warnings of a plan.
const (
	Outside     Code = "outside-range"   // the camera does not reach these frames
	Coarse      Code = "coarse"          // more than a sixth of a stop off
	Same        Code = "same-exposure"   // frames that come out alike
	Long        Code = "reciprocity"     // longer than 1 s
	Crosses     Code = "crosses-time"    // a bracket of time across 1 s or 1/1000 s
	Depth       Code = "depth-of-field"  // the aperture changes
	Diffraction Code = "diffraction"     // small apertures among others
	Clouds      Code = "moving-clouds"   // the bracket takes long
	ByHand      Code = "by-watch"        // times on B
	FineSteps   Code = "fine-steps"      // steps of the size of a shutter's error
	BaseOff     Code = "base-off"        // the base frame is off its exposure
	Colour      Code = "colour-film"     // long exposures: layers fail differently
	Unsteady    Code = "outside-1/2-500" // outside the times where shutters are at their best
)

// Warning is one thing to know before the roll, in one sentence; Frames are
// indices into Plan.Frames.
type Warning struct {
	Code   Code   `json:"code"`
	Text   string `json:"text"`
	Frames []int  `json:"frames,omitempty"`
}

// Base returns the index of the first base frame.
func (p *Plan) Base() int {
	return slices.IndexFunc(p.Frames, func(f Frame) bool { return math.Abs(f.Stop) < stops.Near })
}

// Make plans a bracket. What cannot be planned comes back as Errors.
func Make(r Request) (*Plan, error) {
	var es Errors
	list := r.bracket(&es)
	times, apertures, err := r.Camera.marks()
	if err != nil {
		es.add(FieldCamera, "%s", err.Error())
	}
	if !(r.ISO >= minSpeed && r.ISO <= maxSpeed) {
		es.add(FieldISO, "a film speed of ISO %g cannot be: write a speed from %g to %g, for example ISO 400", r.ISO, minSpeed, maxSpeed)
	}
	if !(r.Meter.Speed > 0) || math.IsNaN(r.Meter.EV) {
		es.add(FieldMeter, "the meter reading is missing: %s", meterExamples)
	}
	if r.Format.Frames > 0 && len(es) == 0 {
		if r.First > r.Format.Frames {
			es.add(FieldFirst, "frame %d is beyond the end of the roll, which has %d: start a new roll, or correct the number", r.First, r.Format.Frames)
		} else if free := r.Format.Frames - r.First + 1; len(list) > free {
			es.add(FieldTo, "the bracket has %d frames and the roll has %s free: take larger steps, a shorter bracket, or another format", len(list), countOf(free, "frame"))
		}
	}
	s := search{r: r, times: times, apertures: apertures, ev: r.Meter.At(r.ISO) - r.Filter}
	if r.Correct {
		s.lengthen = r.Failure
	}
	if len(es) == 0 {
		es = s.held()
	}
	if len(es) > 0 {
		return nil, es
	}
	p := s.best(list)
	p.Meter, p.ISO = r.Meter.Text, r.ISO
	for i := range p.Frames {
		p.Frames[i].Number = r.First + i
	}
	if r.Format.Frames > 0 {
		left := r.Format.Frames - r.First + 1 - len(p.Frames)
		p.Left = &left
	}
	p.judge(r, s)
	p.settle(r.Failure)
	return p, nil
}

// settle gives every frame its real stop, as the log does. Settings were chosen for the
// times as metered, unless these are lengthened: what long ones lose comes off here.
func (p *Plan) settle(failure exposure.Failure) {
	engraved := func(f Frame) float64 {
		return -exposure.EV(f.Aperture.Nominal, failure.Effective(f.Time.Nominal))
	}
	base := p.Frames[p.Base()]
	p.BaseOffset = tidy(given(p.EV, base.Aperture, base.Time, failure))
	for i := range p.Frames {
		f := &p.Frames[i]
		f.Deviation = tidy(given(p.EV, f.Aperture, f.Time, failure) - p.BaseOffset - f.Stop)
		f.Literal = tidy(engraved(*f) - engraved(base) - f.Stop)
	}
}

// bracket returns the stops in the order of exposing.
func (r Request) bracket(es *Errors) []float64 {
	if r.From > r.To {
		es.add(FieldFrom, "the bracket ends under where it begins, from %s to %s: swap the two", stops.ASCII(r.From), stops.ASCII(r.To))
		return nil
	}
	if r.From > 0 || r.To < 0 {
		f := FieldFrom
		if r.To < 0 {
			f = FieldTo
		}
		es.add(f, "the bracket from %s to %s leaves the base frame out: begin at 0 or under, and end at 0 or over", stops.ASCII(r.From), stops.ASCII(r.To))
		return nil
	}
	if !(r.Step > 0) {
		es.add(FieldStep, "a step of %g gives no bracket: write 1, 1/2 or 1/3 of a stop", r.Step)
		return nil
	}
	for _, end := range []struct {
		f Field
		v float64
	}{{FieldFrom, r.From}, {FieldTo, r.To}} {
		if n := end.v / r.Step; math.Abs(n-math.Round(n)) > 1e-6 {
			es.add(end.f, "steps of %s do not lead from the base frame to %s: change the end or the step", fraction(r.Step), stops.ASCII(end.v))
			return nil
		}
	}
	n := int(math.Round((r.To-r.From)/r.Step)) + 1
	total := n
	if r.BaseAgain {
		total++
	}
	if total > MaxFrames {
		es.add(FieldStep, "the bracket has %d frames, and %d are the most: take larger steps or a shorter bracket", total, MaxFrames)
		return nil
	}
	first := math.Round(r.From / r.Step)
	list := make([]float64, 0, n+1)
	for i := range n {
		v := (first+float64(i))*r.Step + 0
		if twelfth := math.Round(v*12) / 12; math.Abs(v-twelfth) < 1e-9 {
			v = twelfth + 0
		}
		list = append(list, v)
	}
	switch r.Order {
	case OverUnder:
		slices.Reverse(list)
	case BaseFirst:
		at := slices.Index(list, 0)
		list = append([]float64{0}, slices.Delete(list, at, at+1)...)
	}
	if r.BaseAgain {
		list = append(list, 0)
	}
	return list
}

// fraction writes a step without sign.
func fraction(v float64) string { return stops.ASCII(v)[1:] }

func countOf(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// New reads a form and plans it: Form.Request and Make. The error is Errors.
func New(f Form, cameras []Camera) (*File, error) {
	r, err := f.Request(cameras)
	if err != nil {
		// What Make would say of other fields is told at once, so that a form shows
		// all of it; what it says of fields that did not read would be nonsense.
		es := Fields(err)
		_ = r.bracketErrors(&es)
		return nil, es
	}
	p, err := Make(r)
	if err != nil {
		return nil, err
	}
	return &File{Form: f, Camera: r.Camera, Plan: *p}, nil
}

// bracketErrors adds what is wrong with the bracket where its fields were read.
func (r Request) bracketErrors(es *Errors) []float64 {
	if es.On(FieldFrom)+es.On(FieldTo)+es.On(FieldStep)+es.On(FieldOrder) != "" {
		return nil
	}
	return r.bracket(es)
}

// given returns what a setting gives the film over ev, in stops, with what long times
// lose taken off.
func given(ev float64, aperture, time Mark, failure exposure.Failure) float64 {
	return ev - exposure.EV(aperture.Exact, failure.Effective(time.Exact))
}
