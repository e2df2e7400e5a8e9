// Package film holds the measured roll: everything that the scans of one roll
// tell, in one value. Package load makes it, whatever changed; the ladder, the
// sheet, the readings and the window's state take it and nothing else, so that
// they cannot disagree.
//
// Its rooms are the steps on the way: measure (one scan), register (the frames
// laid on each other), response (density against exposure, measured stops), noise,
// between (pictures between the frames), cast, salvage, patch, latitude (the
// measured range) and finding (the range in words).
package film

import (
	"context"
	"image"
	"math"
	"slices"
	"time"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
)

// Roll is a measured roll, or as much of it as is known so far. It is not changed
// after it was handed out: With returns another, and load makes the next.
type Roll struct {
	// Judged is the roll as the judge has it: labels, areas, marks. It is a copy.
	Judged *roll.Roll
	Base   int      // index of the base frame; -1: there is none that could be read
	Frames []Frame  // in the order of Judged.Frames
	Notes  []string // on the roll as a whole, one sentence each

	Response   *response.Result // nil: Notes say why
	Noise      *noise.Levels    // of the roll; nil: each frame's was read from itself
	Comparison *comparison.Roll // nil: there is no base frame to hold the others against

	Fitted []response.Frame // the frames as they lie on the base frame, as the response was fitted to them

	seen *remembered
}

// Frame is one frame as far as it was measured.
type Frame struct {
	File       string            // as the roll has it
	Unlabelled bool              // its stop is unknown, not 0
	Info       scan.Info         // of the header; the zero value while it was not opened
	Look       *measure.Look     // nil: not read, Err says why, or not yet
	Relation   *measure.Relation // beside the base frame; nil: Err says why, or there is no base
	Basis      Basis             // what Relation was made of
	Err        error             // why Look or Relation is nil
	Notes      []string          // what else is to be said of the frame, one sentence each
	SHA256     string            // of the file that was measured, lower-case hex; "" not known
	Bytes      int64             // its size; 0 not known
	Modified   time.Time         // when it was last written to; the zero time is not known
	Changed    bool              // the file is another than the roll remembers
	Replaced   error             // the file was changed while it was measured: the readings are of the one before, whose hash nobody can tell; nil: it was not

	Registration register.Registration // the zero value while it is not registered
	Found        register.Registration // what the program found, where the judge placed the frame by hand
	Map          *f64.Aff3             // base full-resolution px -> this frame's; nil: not registered
	Common       *float64              // share 0..1 of the base frame's image area that it shows, which is all that is compared; nil: not registered
	Marks        *measure.Marks        // dust, scratches and what moved, which are not compared; nil: could not be looked for
}

// Basis is what a relation to the base frame was made of: while it is the same, so
// is the relation.
type Basis struct {
	Base, Frame *measure.Look
	Placed      f64.Aff3 // the zero value: by the image areas
	Noise       *noise.Levels
	NoiseLater  bool              // the roll had not told its noise yet
	Marks       [2]*measure.Marks // of the base frame and of the frame
}

// New returns the roll with nothing measured yet.
func New(judged *roll.Roll) *Roll {
	r := &Roll{Judged: judged.Clone(), seen: &remembered{}}
	r.Base, _ = judged.Base()
	for _, f := range judged.Frames {
		r.Frames = append(r.Frames, Frame{File: f.File})
	}
	return r
}

// Index returns the place of a file's frame, -1 where the roll has none.
func (r *Roll) Index(file string) int {
	return slices.IndexFunc(r.Frames, func(f Frame) bool { return f.File == file })
}

// Snapshot returns a copy that later steps of a measurement leave alone.
func (r *Roll) Snapshot() *Roll {
	c := *r
	c.Frames, c.Fitted, c.Notes = slices.Clone(r.Frames), slices.Clone(r.Fitted), slices.Clone(r.Notes)
	c.seen = &remembered{}
	return &c
}

// With returns the roll under another judgement. What a judge says of the frames
// (verdicts, notes, range, limits, patches, corrections) changes nothing that was
// measured. Where the frames, their labels, areas or placings, the base frame or
// the assumed profile are others, what rested on them is left out until load has
// measured it anew; readings of a scan by itself stay.
func (r *Roll) With(judged *roll.Roll) *Roll {
	c := *r
	c.Judged = judged.Clone()
	if MeasuredAlike(r.Judged, judged) {
		c.Frames = slices.Clone(r.Frames)
		c.limitNoisy()
		return &c
	}
	c.Response, c.Noise, c.Comparison, c.Fitted, c.seen = nil, nil, nil, nil, &remembered{}
	c.Frames, c.Notes = nil, nil
	c.Base, _ = judged.Base()
	sameBase := c.Base >= 0 && r.Base >= 0 && judged.Frames[c.Base].File == r.Frames[r.Base].File
	for _, f := range judged.Frames {
		n := Frame{File: f.File}
		if i := r.Index(f.File); i >= 0 {
			was := r.Frames[i]
			n = Frame{File: f.File, Info: was.Info, Look: was.Look, SHA256: was.SHA256, Bytes: was.Bytes, Modified: was.Modified, Changed: was.Changed, Replaced: was.Replaced}
			if was.Look == nil {
				n.Err = was.Err
			}
			if sameBase {
				n.Relation, n.Basis, n.Registration, n.Found, n.Map, n.Common = was.Relation, was.Basis, was.Registration, was.Found, was.Map, was.Common
			}
		}
		c.Frames = append(c.Frames, n)
	}
	c.limitNoisy()
	return &c
}

// Without returns the roll as if files had not been read: load reads them anew.
func (r *Roll) Without(files ...string) *Roll {
	c := r.Snapshot()
	for i := range c.Frames {
		if slices.Contains(files, c.Frames[i].File) {
			c.Frames[i] = Frame{File: c.Frames[i].File, Unlabelled: c.Frames[i].Unlabelled}
		}
	}
	return c
}

// limitNoisy brings what counts as Noisy to the roll's limit; the noise itself is
// not measured again.
func (r *Roll) limitNoisy() {
	for i := range r.Frames {
		if rel := r.Frames[i].Relation; rel != nil {
			r.Frames[i].Relation = rel.Under(r.NoisyLimit())
		}
	}
}

// NoisyLimit returns the noise in L* units above which lifted shadows count as
// Noisy: the judge's, else measure.NoisyLimit.
func (r *Roll) NoisyLimit() float64 {
	if v := r.Judged.NoisyLimit; v > 0 && !math.IsInf(v, 1) {
		return v
	}
	return measure.NoisyLimit
}

// MeasuredAlike reports whether two states of a roll ask for the same measurement:
// the same frames in the same order, with the same labels, areas, placings, base
// frame and assumed profile.
func MeasuredAlike(a, b *roll.Roll) bool {
	if a.Demo != b.Demo || a.AssumedProfile != b.AssumedProfile || a.BaseFile != b.BaseFile || len(a.Frames) != len(b.Frames) {
		return false
	}
	for i := range a.Frames {
		f, g := &a.Frames[i], &b.Frames[i]
		if f.File != g.File || f.Stop != g.Stop || f.Origin != g.Origin || !equal(f.Area, g.Area) || !equal(f.Placed, g.Placed) {
			return false
		}
	}
	return true
}

func equal[T comparable](a, b *T) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

// Failures returns the errors of the frames that could not be read whole, in the
// order of the roll: no readings at all, not of all rows, or of a file that was changed
// meanwhile.
func (r *Roll) Failures() []error {
	var out []error
	for _, f := range r.Frames {
		switch {
		case f.Look == nil && f.Err != nil:
			out = append(out, f.Err)
		case f.Replaced != nil:
			out = append(out, f.Replaced)
		case f.Look != nil && f.Look.Short != nil:
			out = append(out, f.Look.Short)
		}
	}
	return out
}

// Reading returns what the response says of the i-th frame, nil where it took no
// part.
func (r *Roll) Reading(i int) *response.Reading {
	if r.Response == nil || i < 0 || i >= len(r.Response.Frames) {
		return nil
	}
	return &r.Response.Frames[i]
}

// ByHand returns the registration of a frame that the judge placed.
func ByHand(p roll.Placement) register.Registration {
	s := p.Scale
	if s == 0 {
		s = 1
	}
	return register.Registration{DX: p.DX, DY: p.DY, Rotation: p.Rotation, Scale: s, Confidence: 1, How: register.Hand, Via: -1}
}

// MapOf returns a registration as a mapping of full-resolution pixels from the base
// frame to a frame; nil where it was refused and only the image areas can be laid
// on each other.
func MapOf(g register.Registration, base, frame *measure.Look) *f64.Aff3 {
	if g.Refused() || base == nil || frame == nil {
		return nil
	}
	m := g.Affine(image.Pt(base.Info.Width, base.Info.Height), image.Pt(frame.Info.Width, frame.Info.Height))
	return &m
}

// Headroom returns how many stops the mean level of each tonal band of the base
// frame has left before it is Blown and before it is Blocked; nil where it is not
// known.
func (r *Roll) Headroom() [measure.Bands]*response.Headroom {
	r.seen.mu.Lock()
	defer r.seen.mu.Unlock()
	if r.seen.headroom == nil {
		out := r.headroom()
		r.seen.headroom = &out
	}
	return *r.seen.headroom
}

func (r *Roll) headroom() (out [measure.Bands]*response.Headroom) {
	if r.Base < 0 || r.Response == nil || r.Response.Curve == nil || r.Frames[r.Base].Look == nil {
		return out
	}
	codes, n, err := r.Frames[r.Base].Look.BandCodes(context.Background())
	if err != nil {
		return out
	}
	for b := range out {
		if n[b] == 0 {
			continue
		}
		if h, ok := r.Response.HeadroomOf(codes[b]); ok {
			out[b] = &h
		}
	}
	return out
}
