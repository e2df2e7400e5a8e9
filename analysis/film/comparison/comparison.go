// Package comparison is the last step of the analysis: from registered frames and the
// roll's response to what a judge asks: how noisy each band is, how its colours
// shift, what each frame's salvage costs, and how far the film can be trusted.
package comparison

import (
	"context"
	"math"
	"sync"

	"stopladder/analysis/film/cast"
	"stopladder/analysis/film/finding"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/response"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/numeric/median"
	"stopladder/analysis/scan/colour"
)

// Input is a roll as far as it was measured. The slices stand in one order.
type Input struct {
	Frames    []response.Frame
	Relations []*measure.Relation // nil where a frame could not be related
	Base      int
	Response  *response.Result // may be nil
	Noise     *noise.Levels    // may be nil
}

// Band is what is known of one tonal band of a frame; nil is not known.
type Band struct {
	SNR            *float64 // of luminance at the band's mean light, at the viewing scale
	NoiseL         *float64 // L* units, as scanned, at the viewing scale
	NoiseLSalvaged *float64 // L* units, at the base frame's brightness
	ContrastKept   *float64 // local contrast against the base frame's, a ratio

	// Level is the luminance of the band in the base frame, 0 where it has none, and Grey
	// the grey that the base frame shows at it.
	Level float64
	Grey
}

// Frame is what is known of one frame.
type Frame struct {
	Bands     [measure.Bands]Band
	Crossover *float64 // CIEDE2000 that the best single balance leaves between the bands' neutrals
	Words     string   // the casts in words, "" when not known
	Salvage   *salvage.Frame
}

// Roll is what is known of the roll.
type Roll struct {
	In     Input
	Frames []*Frame
	Grid   *salvage.Grid // nil where there is no base frame
	Reason string        // why there is no salvage; "" when there is

	levels [measure.Bands]float64 // luminance of the bands in the base frame

	mu      sync.Mutex
	courses map[criteria.Grade]*latitude.Course // worked out when they are asked for
}

// Measure compares a roll. done, where not nil, is told each frame as it is ready,
// one call at a time. The error is ctx's.
func Measure(ctx context.Context, in Input, done func(i int, f *Frame)) (*Roll, error) {
	out := &Roll{In: in, Frames: make([]*Frame, len(in.Frames))}
	if b := in.Base; b >= 0 && b < len(in.Frames) && in.Frames[b].Look != nil {
		var err error
		if out.levels, err = in.Frames[b].Look.BandLevels(ctx); err != nil {
			return nil, err
		}
	}
	for i := range in.Frames {
		out.Frames[i] = out.bands(i)
	}
	if in.Response != nil && in.Response.Scan.Reversed {
		// What a negative loses and costs is not what its positive does.
		out.Reason = in.Response.Scan.Reason
		return out, nil
	}
	var n salvage.Noise
	if in.Noise != nil {
		n = in.Noise
	}
	grid, err := salvage.NewGrid(ctx, in.Frames, in.Base, in.Response, n)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		out.Reason = "No salvage is measured: " + err.Error() + "."
		return out, nil
	}
	out.Grid = grid
	_, err = grid.Roll(ctx, func(i int, s *salvage.Frame) {
		out.join(i, s)
		if done != nil {
			done(i, out.Frames[i])
		}
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// Sharpened reports whether the scans were sharpened, as their grain shows.
func (r *Roll) Sharpened() bool { return r.In.Noise != nil && r.In.Noise.Sharpened() }

// Notes says what is to be known of the scans of the roll, one sentence each.
func (r *Roll) Notes() (out []string) {
	if r.Sharpened() {
		out = append(out, "The scans were sharpened: pixels of their grain that lie two and three apart differ more than grain does. What the film itself has of noise cannot be told from them, nor exactly what is lost of it: noise is that of the sharpened scans, and edges that shine count as tones. The uncertainty of the range is the wider for it; ask for scans without sharpening.")
	}
	return out
}

// Untold says what rolls as a rule do not tell, and this one does not, one sentence each.
func (r *Roll) Untold() (out []string) {
	if r.Grid == nil || r.Grid.Model() == nil {
		return nil
	}
	if m := r.Grid.Model(); !m.DyesTold() && !m.Colourless() {
		out = append(out, "How far the film's dyes absorb outside their own part of the spectrum cannot be told from this roll: that takes a scene of many colours, light and dark alike. The colour differences that curves leave, their 95th percentile above all, and what is lost of saturated colours may be larger than is told.")
	}
	return out
}

// bands reads what the relation to the base frame and the roll's noise tell.
func (r *Roll) bands(i int) *Frame {
	f := &Frame{}
	var rel *measure.Relation
	if i < len(r.In.Relations) {
		rel = r.In.Relations[i]
	}
	if rel == nil {
		return f
	}
	for b := range f.Bands {
		o, v := &f.Bands[b], rel.Bands[b]
		o.NoiseLSalvaged = rel.BandNoise[b]
		if v == nil {
			continue
		}
		if y := colour.Luminance(v.Light[0], v.Light[1], v.Light[2]); r.In.Noise != nil && y > 0 {
			if s := r.In.Noise.Shown(v.Light, r.In.Frames[i].Look.CeilingLight()); s > 0 {
				snr, l := noise.SNR(y, s), noise.InL(y, s)
				o.SNR, o.NoiseL = &snr, &l
			}
		}
	}
	r.casts(i, f)
	f.say()
	return f
}

// Grey is a grey of the base frame as another frame shows it. Cast and CC are nil where
// Reason says why.
type Grey struct {
	Light  [3]float64 // of each channel, after the profile's tone
	Cast   *cast.Shift
	CC     *cast.CC
	Reason string
}

// GreyAt follows the grey that the base frame shows at a luminance, white = 1, into the
// i-th frame.
func (r *Roll) GreyAt(i int, level float64) (g Grey) {
	if i == r.In.Base {
		return Grey{Light: [3]float64{level, level, level}, Cast: &cast.Shift{}, CC: &cast.CC{}}
	}
	res := r.In.Response
	switch {
	case res == nil || res.Curve == nil:
		return Grey{Reason: "The cast is not known: it takes a measured response."}
	case i >= len(res.Frames) || res.Frames[i].MeasuredStop == nil:
		return Grey{Reason: "The cast is not known: the frame's exposure could not be measured."}
	}
	m := *res.Frames[i].MeasuredStop
	stops := [3]float64{m, m, m}
	for _, x := range res.Scan.Gains { // what the scanner did to the channels is in the frame
		if x.Frame == i {
			stops[0], stops[1], stops[2] = m+x.R, m+x.G, m+x.B
		}
	}
	light, ok := cast.Neutral(res.Curve, level, stops)
	if !ok {
		return Grey{Reason: "The cast is not known: the measured response does not reach so far."}
	}
	shift := cast.ShiftOf(r.In.Frames[i].Look.ColourSpace(), light)
	g.Light, g.Cast = light, &shift
	if cc, ok := cast.CCOf(light[0], light[1], light[2]); ok {
		g.CC = &cc
	}
	return g
}

// casts follows the grey of every band's level from the base frame to the i-th.
func (r *Roll) casts(i int, f *Frame) {
	var greys [][3]float64
	for b := range f.Bands {
		o := &f.Bands[b]
		if o.Level = r.levels[b]; o.Level <= 0 {
			continue
		}
		o.Grey = r.GreyAt(i, o.Level)
		if o.Cast != nil && i != r.In.Base {
			greys = append(greys, o.Light)
		}
	}
	if len(greys) < 2 {
		return
	}
	if x := cast.Crossover(r.In.Frames[i].Look.ColourSpace(), greys, f.brightening()); !math.IsNaN(x) {
		f.Crossover = &x
	}
}

// brightening is the gain that brings the bands' neutrals to the base frame's
// brightness, as the middle one asks for.
func (f *Frame) brightening() float64 {
	var logs []float64
	for b := range f.Bands {
		if o := &f.Bands[b]; o.Cast != nil && o.Light[1] > 0 {
			logs = append(logs, math.Log(o.Level/o.Light[1]))
		}
	}
	return math.Exp(median.Of(logs))
}

// say puts the casts into words.
func (f *Frame) say() {
	var shifts [measure.Bands]*cast.Shift
	var sought [measure.Bands]bool
	for b := range f.Bands {
		shifts[b], sought[b] = f.Bands[b].Cast, f.Bands[b].Level > 0
	}
	f.Words = cast.Sentence(shifts, sought, f.Crossover)
}

// join adds what salvage told.
func (r *Roll) join(i int, s *salvage.Frame) {
	f := r.Frames[i]
	f.Salvage = s
	if s.Reason != "" {
		return
	}
	c := &s.Grades[salvage.Balance].Cost
	for b := range f.Bands {
		f.Bands[b].ContrastKept = c.Bands[b].ContrastKept
		if v := c.Bands[b].NoiseL; v != nil { // by the roll's own noise, over what is not lost
			f.Bands[b].NoiseLSalvaged = v
		}
	}
	f.say()
}

// grade is the salvage that limits are held against.
func grade(g criteria.Grade) salvage.Grade {
	switch g {
	case criteria.Exposure:
		return salvage.Exposure
	case criteria.Curves:
		return salvage.Curves
	}
	return salvage.Balance
}

// Points are the costs of the roll's frames at a grade, as the range is found from.
// Frames without a label, or whose label the pictures contradict, have no place on the
// ladder: their stop is NaN.
func (r *Roll) Points(g criteria.Grade) []latitude.Point {
	out := make([]latitude.Point, len(r.Frames))
	for i, f := range r.Frames {
		out[i].Stop = r.In.Frames[i].Stop
		if res := r.In.Response; res != nil && i < len(res.Frames) && res.Frames[i].MeasuredStopError != nil {
			out[i].StopError = *res.Frames[i].MeasuredStopError
		}
		if !r.In.Frames[i].StopKnown || i != r.In.Base && r.contradicted(i) {
			out[i].Stop = math.NaN()
			continue
		}
		if f == nil || f.Salvage == nil {
			continue
		}
		out[i].Values = Values(&f.Salvage.Grades[grade(g)].Cost)
	}
	return out
}

// contradicted reports whether the picture of the i-th frame contradicts its label, or
// stands under another label as well.
func (r *Roll) contradicted(i int) bool {
	res := r.In.Response
	return res != nil && i < len(res.Frames) && res.Contradicted(i)
}

// Cost is what the salvage of the i-th frame costs at a grade, nil where it was not
// measured.
func (r *Roll) Cost(i int, g criteria.Grade) *salvage.Cost {
	if i < 0 || i >= len(r.Frames) || r.Frames[i] == nil || r.Frames[i].Salvage == nil || r.Frames[i].Salvage.Reason != "" {
		return nil
	}
	return &r.Frames[i].Salvage.Grades[grade(g)].Cost
}

// Settings are the salvage of the i-th frame at a grade; ok is false where there is
// none.
func (r *Roll) Settings(i int, g criteria.Grade) (s correction.Settings, ok bool) {
	if r.Cost(i, g) == nil {
		return s, false
	}
	return r.Frames[i].Salvage.Grades[grade(g)].Settings, true
}

// Values are a cost by criterion.
func Values(c *salvage.Cost) (v [criteria.Count]*float64) {
	v[criteria.LostArea] = c.LostArea
	v[criteria.DeltaE] = c.DeltaE
	v[criteria.Noise] = c.ShadowNoise()
	v[criteria.Crossover] = c.Crossover
	v[criteria.ContrastKept] = c.ContrastKept
	return v
}

// Extent finds the measured range under a set of criteria. It takes a fraction of a
// millisecond: limits may be dragged.
func (r *Roll) Extent(set criteria.Set) *latitude.Result {
	base := r.In.Base
	if r.Grid == nil {
		base = -1
	}
	res := r.In.Response
	if res != nil && res.Scan.Reversed {
		return latitude.Refuse(len(r.Frames), set, res.Scan.Reason)
	}
	if base >= 0 && r.contradicted(base) {
		return latitude.Refuse(len(r.Frames), set, "The base frame's own label is contradicted by the pictures, and every stop of the range would be counted from it: no range is told. Mend the labels as the findings say, or choose another base frame.")
	}
	out := latitude.Measure(r.Points(set.Grade), base, set, r.course(set.Grade))
	if res != nil && res.Scan.Fixed != nil {
		out.NotAlike = !*res.Scan.Fixed
	}
	return out
}

// Finding is what it comes to, in sentences.
func (r *Roll) Finding(e *latitude.Result) []string {
	if r.Reason != "" {
		return []string{r.Reason}
	}
	return finding.Sentences(e)
}
