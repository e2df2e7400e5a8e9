// Package row draws one frame's row of small multiples, and what all rows of a
// ladder share: the headers, the stop axis and the judge's range. The window's
// ladder and the sheet are drawn by it alike. It draws into device pixels with
// package ink and knows no window toolkit.
//
// A row is made of columns. A column either draws one frame at a time, or, when
// its reading is a curve over stops, once over the height of the whole ladder.
package row

import (
	"image"
	"math"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/median"

	"stopladder/analysis/film/cast"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
)

// State of a frame's reading.
type State int

// States, in the order that a frame passes through them.
const (
	Waiting State = iota // not begun
	Reading              // Progress says how far
	Ready                // Look is there; Rel may still be nil
	Failed               // Message says why
)

// The common axis of all histograms: stops below the profile's white. Ten stops
// is a density of 3.0, about what a scanned film reaches; what lies below is
// counted in the first bin.
const (
	HistLo   = -10.0
	HistHi   = 0.0
	HistBins = 400
)

// Data is what one rung shows of one frame. Everything may be nil or empty: what
// is not known is left out.
type Data struct {
	Stop       float64     // labelled stop
	Label      string      // "" is stops.Label(Stop)
	Unlabelled bool        // Stop is a guess that no label bears out
	File       string      // name without folder
	Base       bool        // the base frame
	Thumb      *image.RGBA // sRGB, of any size
	Crop       *image.RGBA // a detail at 1:1 in the thumbnail's place; nil: none
	Look       *measure.Look
	Rel        *measure.Relation
	Verdict    roll.Verdict
	Suggested  string // what the limits suggest, in a word; "" nothing. It stands beside the verdict, never for it
	Note       string
	Damage     string // of a scan that is not whole, "cut at row 80"; "" it is

	State    State
	Progress float64 // 0..1 while Reading
	Message  string  // one sentence when Failed
	Pending  bool    // it is being compared: what the limits suggest is not known yet

	// What the roll as a whole says of the frame; nil where it is not known.
	MeasuredStop, MeasuredStopError *float64                          // stops from the base frame; standard error
	MeasuredReason                  string                            // one sentence when MeasuredStop is nil and was sought
	Registration                    *register.Registration            // nil: not registered
	FlatLight, FlatDark             *float64                          // shares 0..1 of the image area where the film separates no tones
	Headroom                        [measure.Bands]*response.Headroom // of the bands of the base frame; only its rung has them

	Casts      [measure.Bands]*cast.Shift // of the neutrals at the bands' levels; nil where not known
	CastReason string                     // one sentence when a cast was sought and is not known

	InRange bool // inside the judge's range
	Current bool // at the marker

	// Filled by Prepare from Look.
	Hist           [3][]float64         // share of the image area per bin, HistLo..HistHi
	Ceiling, Floor measure.RGB[float64] // of the scan, stops below white; NaN unknown

	// Filled by Share, so that all rungs of a roll read on one scale.
	Scales Scales
}

// Measured stops that differ from the label: up to MeasuredTolerance the two are
// shown as one, from LabelLimit on the label is flagged (assets/manual/response.md).
const (
	MeasuredTolerance = 0.05
	LabelLimit        = response.LabelLimit
)

// Off returns by how many stops the measured stop differs from the label; ok is false
// where it was not measured.
func (d *Data) Off() (off float64, ok bool) {
	if d == nil || d.MeasuredStop == nil || !known(*d.MeasuredStop) || !known(d.Stop) || d.Unlabelled {
		return 0, false
	}
	return *d.MeasuredStop - d.Stop, true
}

// Flagged reports whether the picture contradicts the label.
func (d *Data) Flagged() bool {
	off, ok := d.Off()
	return ok && math.Abs(off) > LabelLimit
}

// Scales are the upper ends of axes that all rungs of a roll share.
type Scales struct {
	Hist float64 // share of the image area per stop at the top of a histogram
	Cast float64 // CIELAB units from the cross to the edge of the cast plane

	// Criteria are the costs of salvage with the judge's limits, for CostColumns;
	// they are given to Share's result by the caller.
	Criteria *Criteria
}

// Name returns what the frame is called on the ladder.
func (d *Data) Name() string {
	if d.Label != "" {
		return d.Label
	}
	return stops.Label(d.Stop)
}

// Prepare computes what is drawn from d.Look; call it when Look changes.
func (d *Data) Prepare() {
	nan := math.NaN()
	d.Hist = [3][]float64{}
	d.Ceiling, d.Floor = measure.RGB[float64]{R: nan, G: nan, B: nan}, measure.RGB[float64]{R: nan, G: nan, B: nan}
	if d.Look == nil || d.Look.Space == nil {
		return
	}
	d.Hist = measure.StopHistogram(d.Look, HistLo, HistHi, HistBins)
	d.Ceiling, d.Floor = measure.EndStops(d.Look)
}

// Share gives all rungs the same scales, chosen from all of them: the tallest
// histogram (its ends left out, where clipping piles up) fills its plot, and the
// cast plane is the smallest of a few round sizes that holds every band.
func Share(all []*Data) {
	var peaks []float64
	span := 0.0
	for _, d := range all {
		if d == nil {
			continue
		}
		if p := histPeak(d); p > 0 {
			peaks = append(peaks, p)
		}
		for i := range d.Casts {
			if b := castOf(d, i); b != nil {
				span = math.Max(span, math.Max(math.Abs(b.DA), math.Abs(b.DB)))
			}
		}
	}
	s := Scales{Cast: castSpan(span)}
	for _, p := range peaks {
		s.Hist = math.Max(s.Hist, p)
	}
	// One frame of a bare wall must not press all others flat.
	if m := median.Upper(peaks); m > 0 {
		s.Hist = math.Min(s.Hist, 1.6*m)
	}
	for _, d := range all {
		if d != nil {
			d.Scales = s
		}
	}
}

// castSpan returns the round size, in CIELAB units, that holds v.
func castSpan(v float64) float64 {
	for _, s := range []float64{5, 10, 15, 20, 30, 40, 60, 80} {
		if v <= s*0.95 {
			return s
		}
	}
	return 128
}

// known reports whether a stop can be drawn.
func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
