// Package response turns a roll into the film's measured response: density
// against log exposure for each channel, the exposure that every frame really
// got, and the answer to the question whether all frames were scanned alike
// (assets/manual/response.md).
//
// # Model
//
// A spot i of the scene sends log10 exposure x[i,c] to the layer that channel c
// of the scan shows. Frame j adds e[j] to all of them. The scan shows density
//
//	d[i,j,c] = G[c](x[i,c] + e[j]) + noise
//
// with one falling curve G[c] per channel for the whole roll. Spots are cells of
// the base frame, found in every frame by its registration. Exposures are shared
// by the channels: it was one shutter.
//
// G, e and x are found together by weighted least squares, the idea of Debevec &
// Malik (SIGGRAPH 1997) with the noise-aware weights of Robertson, Borman &
// Stevenson (2003). Only differences are certain: x, e and the argument of G may
// be stretched together (Grossberg & Nayar 2003), so the labels fix the scale,
// robustly against a few wrong ones, and the base frame fixes the origin.
//
// # Units
//
// LogE is log10 of exposure relative to mid-grey (18 %) at the base exposure; a
// stop is 0.30103. Density is -log10 of the linear light of one channel relative
// to full scale, after the scan's profile (colour.Space.Tone); scans are
// positives, so density falls with exposure whatever the film. Stops: over is
// positive.
package response

import (
	"image"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
)

// Frame is one frame of the roll as the fit takes it.
type Frame struct {
	Look      *measure.Look
	Stop      float64  // labelled stop
	StopKnown bool     // false: the frame has no label; it is still measured
	Map       f64.Aff3 // base full-resolution px -> this frame's full-resolution px
	// Unregistered says that Map is not to be trusted: the frame takes no part in
	// the fit and its reading says why.
	Unregistered bool
	// Marks are the places of the frame that are no picture; nil: none are known.
	Marks *measure.Marks
}

// Options of Fit. The zero value is ready to use.
type Options struct {
	// Grey is a grey card in the base frame, full-resolution pixels; nil: the base
	// exposure is taken as metered (see MidGreyMetered).
	Grey *image.Rectangle
	// FlatShare of the steepest slope under which the film no longer separates
	// tones, 0..1; 0 is FlatShare.
	FlatShare float64
	// Progress, where not nil, is called with 0..1 from one goroutine at a time.
	Progress func(done float64)
	Workers  int // goroutines for pixel loops; 0 is GOMAXPROCS. Results do not depend on it
}

// Shares of the steepest slope that divide a curve. FlatShare is a
// design choice (assets/manual/clipping.md#flat-fraction); StraightShare is common
// practice, no source.
const (
	FlatShare     = 0.15
	StraightShare = 0.75
)

// MidGrey says how the origin of LogE was placed.
type MidGrey string

// Ways to mid-grey.
const (
	// MidGreyPatch: the grey card's reading in the base frame, channel by channel.
	MidGreyPatch MidGrey = "patch"
	// MidGreyMetered: the base exposure is taken as metered, that is, an 18 % grey
	// is where the base frame shows 18 % of full scale (L* 49.5), in each channel.
	MidGreyMetered MidGrey = "metered"
)

// Result is what the roll says. Readings are in the order of the frames.
type Result struct {
	Base   int
	Frames []Reading
	// Curve is nil where no response could be recovered; Reason then says why.
	Curve  *Curve
	Reason string
	Scan   Scan
	// Labels are findings about labels; empty when they agree with the pictures.
	Labels []LabelFinding
	Notes  []string // what a reader of the results must know, one sentence each
	// Unveiled is set by who fits again without what a half transparent sign covers, where
	// no response explained the frames with it.
	Unveiled bool

	in   []Frame
	fit  *fit
	line line

	repeated [][]int // frames that show one exposure under several labels
}

// Reading is what the fit says about one frame.
type Reading struct {
	// MeasuredStop is the exposure against the base frame's in stops, and
	// MeasuredStopError its standard error, the uncertainty of the scale that the
	// labels give included. Both are nil when Reason says why.
	MeasuredStop, MeasuredStopError *float64
	Reason                          string
	Flat                            *Flat // nil without a response
}

// Flat is the share 0..1 of the image area where the film no longer separates
// tones although the scan is not clipped, in the channel that has most of it. It
// is counted from the exact histogram with the limits of FlatCodes.
type Flat struct {
	Light float64 `json:"light"`
	Dark  float64 `json:"dark"`
}

// Curve is the measured response, on a common grid of LogE. Outside Covered a
// channel's density is NaN: the roll says nothing about it.
type Curve struct {
	LogE    []float64    // rising, evenly spaced
	Density [3][]float64 // falling; NaN outside Covered
	// Sigma is the standard error of Density; NaN outside Covered.
	Sigma    [3][]float64
	Channels [3]Channel
	MidGrey  MidGrey
}

// Channel is what one channel's curve amounts to. Positions are LogE.
type Channel struct {
	Covered [2]float64 // the part that the roll covers
	Gamma   float64    // steepest slope, density per log10 exposure, positive
	GammaAt float64
	// Straight is where the slope is at least StraightShare of Gamma, Useful where
	// it is at least FlatShare, both around GammaAt. What lies between their lower
	// ends is the toe (the end of little exposure), between their upper ends the
	// shoulder (the end of much exposure), as on the positive that the scan is.
	Straight, Useful [2]float64
	// UsefulOpen says that the useful part reaches the end of what the roll covers
	// at its lower, upper end: the film can do at least this much.
	UsefulOpen  [2]bool
	UsefulStops float64 // length of Useful in stops
}

// Scan says whether every frame was scanned alike.
type Scan struct {
	Fixed *bool // nil: cannot be told, Reason says why
	// Reason is one sentence: what the answer rests on.
	Reason string
	Case   Case // "": not told
	// Reversed: the frames darken as their labels rise.
	Reversed bool
	// Flare is the share 0..1 of a scan's mean light that the scanner laid over all of
	// it; nil: none was found. FlareError is its standard error.
	Flare, FlareError *float64
	Gains             []Gain // of every frame when Fixed is false
	Findings          []string
}

// Gain is what the scanner did to one frame against the base frame, in stops of
// exposure that would have had the same effect: positive is lightened.
type Gain struct {
	Frame   int
	R, G, B float64

	error [3]float64 // of each channel, should all readings of frame and base frame err alike; 0 where that is not asked
}

// LabelFinding is a label that the picture contradicts.
type LabelFinding struct {
	Frame    int
	Swapped  int  // the other frame of two swapped labels, -1 otherwise
	Repeated bool // other frames of the roll show the same exposure under other labels
	Label    float64
	Measured float64
	Case     Case
	Text     string // what was seen and what to do next
}

// LabelLimit is the disagreement in stops above which a label is flagged
// (assets/manual/response.md#labels-that-the-pictures-contradict).
const LabelLimit = 1.0 / 3

// Headroom is how far a level of the base frame is from being lost, in stops of
// exposure; positive means still to go. First is the channel that is lost first.
// nil: the roll does not reach so far; then the level can be moved by at least
// the stops in AtLeast.
type Headroom struct {
	Blown, Blocked               *float64
	BlownAtLeast, BlockedAtLeast float64
	BlownChannel, BlockedChannel int  // 0 R, 1 G, 2 B: the first to be lost
	BlownByScan, BlockedByScan   bool // the scan's ceiling or floor comes before the film's flat part
}
