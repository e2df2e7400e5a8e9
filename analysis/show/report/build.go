package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
)

// codeStops is how many stops below white have their codes counted.
const codeStops = 10

// Build makes the document of a measured roll. Frames stand from under to over,
// those without a label last. Frames that could not be read are listed with their
// error, never dropped.
func Build(r *film.Roll, opt Options) *Report {
	judged := r.Judged
	out := &Report{
		Schema: Schema, Tool: Tool{Name: "Stopladder", Version: opt.Version},
		NoiseLimit: r.NoisyLimit(), Frames: []Frame{}, Judges: []Judge{},
		Roll:  Roll{Title: text(judged.Title), Stock: text(judged.Stock), Exposure: text(judged.Exposure), Date: text(judged.Date)},
		Notes: append(append([]string{}, r.Notes...), opt.Notes...),
	}
	for _, m := range judged.Marks {
		j := Judge{Judge: text(m.Judge)}
		if m.Range != nil && finite(m.Range.Lo) && finite(m.Range.Hi) {
			v := *m.Range
			j.Range = &v
		}
		out.Judges = append(out.Judges, j)
	}
	if r.Base >= 0 {
		name := fileName(r.Frames[r.Base].File)
		out.Base = &name
	} else {
		out.Notes = append(out.Notes, "No frame stands at stop 0: bands, casts and noise need a base frame and are not measured.")
	}
	for i := range r.Frames {
		out.Frames = append(out.Frames, frame(r, i))
	}
	out.response(r)
	out.Limits = r.Limits()
	if opt.Limits != nil {
		out.Limits = *opt.Limits
	}
	out.Patches, out.Range.Reasons, out.Finding = []Patch{}, []string{}, []string{}
	out.appraisal(r)
	out.patches(r)
	slices.SortStableFunc(out.Frames, func(a, b Frame) int {
		switch {
		case a.Stop == nil && b.Stop == nil:
			return 0
		case a.Stop == nil:
			return 1
		case b.Stop == nil:
			return -1
		case *a.Stop < *b.Stop:
			return -1
		case *a.Stop > *b.Stop:
			return 1
		}
		return 0
	})
	out.Assumptions = Assumptions(r)
	return out
}

func frame(r *film.Roll, i int) Frame {
	m, judged := &r.Frames[i], r.Judged.Frames[i]
	f := Frame{File: fileName(m.File), Notes: []string{}, SuggestedBy: []string{}}
	f.SHA256, f.Verdict, f.Note = text(judged.SHA256), text(string(judged.Verdict)), text(judged.Note)
	if m.SHA256 != "" { // of the file that was measured
		f.SHA256 = text(m.SHA256)
	}
	if m.Unlabelled || !finite(judged.Stop) {
		f.Notes = append(f.Notes, "The frame has no stop label.")
	} else {
		v := judged.Stop
		f.Stop, f.StopFrom = &v, text(string(judged.Origin))
	}
	if m.Look == nil {
		reason := "The scan was not measured."
		if m.Err != nil {
			reason = m.Err.Error()
		}
		f.Error = &reason
		f.Notes = append(f.Notes, "Nothing could be measured: "+reason)
		return f
	}
	f.look(m.Look)
	if !m.Registration.Refused() {
		g := m.Registration
		f.Registration = &g
	}
	f.Notes = append(f.Notes, m.Notes...)
	switch {
	case m.Relation != nil:
		f.relation(m.Relation)
	case m.Err != nil:
		f.Notes = append(f.Notes, "Bands and noise could not be measured: "+m.Err.Error())
	case r.Base < 0:
		f.Notes = append(f.Notes, "Bands and noise are not measured: the roll has no base frame at stop 0.")
	default:
		f.Notes = append(f.Notes, "Bands and noise are not measured: the base frame could not be read.")
	}
	return f
}

func (f *Frame) look(l *measure.Look) {
	i := l.Info
	f.Width, f.Height, f.Bits, f.Channels = &i.Width, &i.Height, &i.Bits, &i.Channels
	f.Format = text(i.Format)
	eff, missing := l.EffectiveBits, l.MissingRows
	f.EffectiveBits, f.MissingRows = &eff, &missing
	if l.Space != nil {
		f.CodesPerStop = l.CodesPerStop(codeStops)
	}
	if l.Space != nil {
		f.Profile = &Profile{Name: l.Space.Name(), Assumed: l.ProfileAssumed || l.Space.Assumed()}
	}
	f.Image = &Area{X: l.Area.Min.X, Y: l.Area.Min.Y, W: l.Area.Dx(), H: l.Area.Dy()}
	from := l.AreaFrom.String()
	f.ImageFrom = &from
	c, fl, mean := l.Ceiling, l.Floor, l.Mean
	f.Ceiling, f.Floor = &c, &fl
	f.CeilingFrom, f.FloorFrom = limitNames(l.CeilingFrom), limitNames(l.FloorFrom)
	f.Blown, f.Blocked = f.clip("blown", l.Blown), f.clip("blocked", l.Blocked)
	if f.number("mean", mean.R) != nil && f.number("mean", mean.G) != nil && f.number("mean", mean.B) != nil {
		f.Mean = &mean
	}
	f.Notes = append(f.Notes, l.Notes...)
	if l.AreaNote != "" {
		f.Notes = append(f.Notes, l.AreaNote)
	}
}

func limitNames(v measure.RGB[measure.LimitFrom]) *RGBString {
	return &RGBString{R: v.R.String(), G: v.G.String(), B: v.B.String()}
}

func (f *Frame) relation(r *measure.Relation) {
	for b, to := range []**Band{&f.Bands.Shadows, &f.Bands.Midtones, &f.Bands.Highlights} {
		v := r.Bands[b]
		if v == nil {
			continue
		}
		band := Band{Area: v.Area, L: v.L, A: v.A, B: v.B, DL: v.DL, Da: v.Da, Db: v.Db}
		if n := r.BandNoise[b]; n != nil {
			band.Noise = f.number(measure.Band(b).String()+" noise", *n)
		}
		if f.finiteAll(measure.Band(b).String(), v.Area, v.L, v.A, v.B, v.DL, v.Da, v.Db) {
			*to = &band
		}
	}
	if r.Noisy != nil {
		f.Noisy = f.number("noisy", *r.Noisy)
	}
	f.NoiseKnown = f.number("noiseKnown", r.NoiseKnown)
	f.Notes = append(f.Notes, r.Notes...)
}

func (f *Frame) clip(what string, c Clip) *Clip {
	if !f.finiteAll(what, c.R, c.G, c.B, c.Any, c.All) {
		return nil
	}
	return &c
}

// number keeps NaN and infinities out of the document, with a reason.
func (f *Frame) number(what string, v float64) *float64 {
	if !f.finiteAll(what, v) {
		return nil
	}
	return &v
}

func (f *Frame) finiteAll(what string, v ...float64) bool {
	for _, x := range v {
		if !finite(x) {
			f.Notes = append(f.Notes, fmt.Sprintf("The value of %s is not a number and was left out.", what))
			return false
		}
	}
	return true
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// text is nil for the empty string.
func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// fileName is the last element of a path in either notation.
func fileName(path string) string {
	return path[strings.LastIndexAny(path, `/\`)+1:]
}
