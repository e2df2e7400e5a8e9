// Package kept holds the readings that a roll file keeps of its roll, so that rolls are
// listed and compared without their scans. It knows the data and their bounds alone:
// film.Roll.Kept makes them, package roll reads and writes them with the roll.
//
// Readings are of certain scans under certain labels, by one version of the program.
// Stale says when they are of others and the roll is to be measured anew.
package kept

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"stopladder/analysis/judge/criteria"
)

// Readings are what is kept of a measured roll.
type Readings struct {
	Program  string       `json:"program"`         // version of the program that measured
	Basis    string       `json:"basis,omitempty"` // what else it rests on: roll.Basis
	Frames   []Frame      `json:"frames"`          // from under to over
	Fixed    *bool        `json:"fixedScans,omitempty"`
	Sharp    bool         `json:"sharpened,omitempty"`
	Viewing  int          `json:"viewingSide,omitempty"` // pixels along the longest side at which noise is told
	Response *Response    `json:"response,omitempty"`
	Noise    *Noise       `json:"noise,omitempty"`
	Limits   criteria.Set `json:"limits"` // that costs, range and finding are held against
	Costs    *Costs       `json:"costs,omitempty"`
	Range    Range        `json:"range"`
	Finding  []string     `json:"finding,omitempty"`

	raw json.RawMessage // as the roll file has it: members of newer programs are in it
}

// Frame is what is kept of one frame. What could not be measured is nil.
type Frame struct {
	File   string   `json:"file"`             // name without folder
	SHA256 string   `json:"sha256,omitempty"` // of the scan that was measured
	Bytes  int64    `json:"bytes,omitempty"`  // its size
	Time   string   `json:"time,omitempty"`   // when it was last written to, RFC 3339, UTC
	Stop   *float64 `json:"stop,omitempty"`   // the label under which it was measured

	Measured      *float64 `json:"measuredStop,omitempty"`
	MeasuredError *float64 `json:"measuredStopError,omitempty"` // standard error, stops
	Blown         *float64 `json:"blown,omitempty"`             // shares 0..1 of the image area, any channel
	Blocked       *float64 `json:"blocked,omitempty"`
	FlatLight     *float64 `json:"flatLight,omitempty"`
	FlatDark      *float64 `json:"flatDark,omitempty"`
	Noisy         *float64 `json:"noisy,omitempty"`
	NoisyError    *float64 `json:"noisyError,omitempty"`
	Crossover     *float64 `json:"crossover,omitempty"` // CIEDE2000
	Casts         []Cast   `json:"casts,omitempty"`     // of shadows, midtones, highlights, as far as they are known

	Exposure  *Cost    `json:"exposure,omitempty"` // what salvage costs, by grade
	Balance   *Cost    `json:"balance,omitempty"`
	Curves    *Cost    `json:"curves,omitempty"`
	Suggested string   `json:"suggested,omitempty"` // "holds", "strains", "breaks"
	Because   []string `json:"because,omitempty"`   // the criteria that decided
	Error     string   `json:"error,omitempty"`     // why it could not be read
}

// Cast is the cast of a grey at the level of a tonal band, CIELAB units.
type Cast struct {
	Band string  `json:"band"` // "shadows", "midtones", "highlights"
	A    float64 `json:"a"`
	B    float64 `json:"b"`
}

// Cost is what the salvage of a frame costs.
type Cost struct {
	LostArea     *float64 `json:"lostArea,omitempty"`
	DeltaE       *float64 `json:"deltaE,omitempty"`
	P95          *float64 `json:"p95,omitempty"`
	Noise        *float64 `json:"noise,omitempty"`
	Crossover    *float64 `json:"crossover,omitempty"`
	ContrastKept *float64 `json:"contrastKept,omitempty"`
}

// Response is density over log10 exposure, 0 being mid-grey at the base exposure. Samples
// stand Step apart, the first at First; nil where the roll does not tell.
type Response struct {
	MidGrey string        `json:"midGrey"` // "patch" or "metered": how the origin was placed
	First   float64       `json:"first"`
	Step    float64       `json:"step"`
	Density [3]Samples    `json:"density"` // R, G, B
	Error   [3]Samples    `json:"error"`   // standard errors
	Gamma   [3]float64    `json:"gamma"`   // steepest slope
	Useful  [3][2]float64 `json:"useful"`  // log10 exposure between which tones are separated
	Open    [3][2]bool    `json:"open"`    // the useful part goes on beyond what the roll tells
}

// Samples are figures, nil where the roll does not tell.
type Samples []*float64

// Noise is what a grey shows of noise in the base frame, over the stops from mid-grey: L*
// units at the viewing scale, with standard errors.
type Noise struct {
	Stops []float64 `json:"stops"`
	L     []float64 `json:"noiseL"`
	Error []float64 `json:"error"`
}

// Costs are the criteria over the stops, at the grade of the limits, with standard errors.
type Costs struct {
	Stops  []float64          `json:"stops"` // labelled, rising
	Values map[string]Samples `json:"values"`
	Errors map[string]Samples `json:"errors"`
}

// Range is the measured range under the limits; nil where there is none, Reasons say why.
type Range struct {
	Holds   *Ends    `json:"holds,omitempty"`
	Strains *Ends    `json:"strains,omitempty"`
	Reasons []string `json:"reasons,omitempty"`
}

// Ends are the two ends of a range.
type Ends struct {
	Lo End `json:"lo"`
	Hi End `json:"hi"`
}

// End is one end. Open: the range reaches at least so far. Error is half the width, in
// stops, that holds the end in 95 of 100 cases.
type End struct {
	Stop  float64 `json:"stop"`
	Open  bool    `json:"open,omitempty"`
	Error float64 `json:"error,omitempty"`
	By    string  `json:"by,omitempty"` // the criterion that ends it
}

// What readings may hold; a real roll has a tenth of it.
const (
	maxFrames  = 1000
	maxSamples = 4000
	maxTexts   = 40
	maxText    = 4000 // bytes
	maxName    = 4096
)

// plain has the fields and not the methods, which ends the recursion.
type plain Readings

// MarshalJSON writes readings of a file as they stood there.
func (r *Readings) MarshalJSON() ([]byte, error) {
	if r.raw != nil {
		return r.raw, nil
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false) // file names and sentences stay readable
	err := e.Encode((*plain)(r))
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), err
}

// UnmarshalJSON keeps the text, so that members of newer programs survive. The error says
// what cannot be used.
func (r *Readings) UnmarshalJSON(text []byte) error {
	var p plain
	if err := json.Unmarshal(text, &p); err != nil {
		return err
	}
	*r = Readings(p)
	r.raw = slices.Clone(text)
	return r.Validate()
}

// Validate returns what keeps readings from being used, nil when nothing does.
func (r *Readings) Validate() error {
	switch {
	case r.Program == "" || len(r.Program) > 100 || len(r.Basis) > 100:
		return fmt.Errorf("they do not say which version measured")
	case len(r.Frames) > maxFrames:
		return fmt.Errorf("they are of %d frames and a roll has at most %d", len(r.Frames), maxFrames)
	case len(r.Finding) > maxTexts || len(r.Range.Reasons) > maxTexts:
		return fmt.Errorf("their finding has too many sentences")
	case r.Viewing < 0 || r.Viewing > 1_000_000:
		return fmt.Errorf("their viewing scale is impossible")
	}
	for _, t := range slices.Concat(r.Finding, r.Range.Reasons) {
		if len(t) > maxText {
			return fmt.Errorf("a sentence of their finding is too long")
		}
	}
	for i := range r.Frames {
		if err := r.Frames[i].validate(); err != nil {
			return fmt.Errorf("frame %d: %w", i+1, err)
		}
	}
	for _, e := range []*Ends{r.Range.Holds, r.Range.Strains} {
		if e != nil && !(stop(e.Lo.Stop) && stop(e.Hi.Stop) && e.Lo.Stop <= e.Hi.Stop && error95(e.Lo.Error) && error95(e.Hi.Error)) {
			return fmt.Errorf("their range is impossible")
		}
	}
	for _, check := range []func() error{r.Response.validate, r.Noise.validate, r.Costs.validate, r.Limits.Validate} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

func (f *Frame) validate() error {
	if f.File == "" || len(f.File) > maxName || len(f.Error) > maxText || len(f.Casts) > 3 || len(f.Because) > criteria.Count {
		return fmt.Errorf("a text is empty or too long")
	}
	if f.Time != "" {
		if _, err := time.Parse(time.RFC3339Nano, f.Time); err != nil {
			return fmt.Errorf("its time is none")
		}
	}
	for _, v := range []*float64{f.Stop, f.Measured} {
		if v != nil && !stop(*v) {
			return fmt.Errorf("its stop is impossible")
		}
	}
	for _, v := range []*float64{f.Blown, f.Blocked, f.FlatLight, f.FlatDark, f.Noisy} {
		if v != nil && !(*v >= 0 && *v <= 1) {
			return fmt.Errorf("a share is not between 0 and 1")
		}
	}
	return nil
}

func (r *Response) validate() error {
	if r == nil {
		return nil
	}
	if !(r.Step > 0 && r.Step <= 1 && math.Abs(r.First) <= 20) {
		return fmt.Errorf("the exposures of their response are impossible")
	}
	n := len(r.Density[0])
	for c := range r.Density {
		if len(r.Density[c]) != n || len(r.Error[c]) != n || n > maxSamples {
			return fmt.Errorf("the channels of their response differ in length, or are too long")
		}
		for i, d := range r.Density[c] {
			if e := r.Error[c][i]; (d == nil) != (e == nil) || d != nil && !(math.Abs(*d) <= 20 && *e >= 0 && *e <= 20) {
				return fmt.Errorf("a density of their response is impossible")
			}
		}
	}
	return nil
}

func (n *Noise) validate() error {
	if n == nil {
		return nil
	}
	if len(n.L) != len(n.Stops) || len(n.Error) != len(n.Stops) || len(n.Stops) > maxSamples || !rising(n.Stops) {
		return fmt.Errorf("their noise is of other stops than it says")
	}
	for i := range n.L {
		if !(n.L[i] >= 0 && n.L[i] <= 1000 && n.Error[i] >= 0 && n.Error[i] <= 1000) {
			return fmt.Errorf("their noise is impossible")
		}
	}
	return nil
}

func (c *Costs) validate() error {
	if c == nil {
		return nil
	}
	if len(c.Stops) > maxSamples || !rising(c.Stops) || len(c.Values) > 20 {
		return fmt.Errorf("their costs are of impossible stops")
	}
	for key, v := range c.Values {
		e := c.Errors[key]
		if len(v) != len(c.Stops) || len(e) != len(c.Stops) {
			return fmt.Errorf("their costs are of other stops than they say")
		}
		for i := range v {
			if (v[i] == nil) != (e[i] == nil) || v[i] != nil && !(math.Abs(*v[i]) <= 1e4 && *e[i] >= 0 && *e[i] <= 1e4) {
				return fmt.Errorf("a cost is impossible")
			}
		}
	}
	return nil
}

func rising(x []float64) bool {
	for i, v := range x {
		if !(math.Abs(v) <= 64) || i > 0 && v <= x[i-1] {
			return false
		}
	}
	return true
}

func stop(v float64) bool    { return math.Abs(v) <= 64 }
func error95(v float64) bool { return v >= 0 && v <= 64 }

// Clone returns a copy. What it points to is never changed in place and is shared.
func (r *Readings) Clone() *Readings {
	if r == nil {
		return nil
	}
	c := *r
	return &c
}

// Base returns the frame at stop 0, or the nearest to it; nil without labels.
func (r *Readings) Base() *Frame {
	var best *Frame
	for i := range r.Frames {
		if f := &r.Frames[i]; f.Stop != nil && (best == nil || math.Abs(*f.Stop) < math.Abs(*best.Stop)) {
			best = f
		}
	}
	return best
}
