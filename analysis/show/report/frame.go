package report

import (
	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
)

// Frame is one frame's readings, the contract's keys first.
type Frame struct {
	File              string                 `json:"file"` // without folder
	Stop              *float64               `json:"stop"`
	Width             *int                   `json:"width"`  // pixels, upright
	Height            *int                   `json:"height"` // pixels
	Bits              *int                   `json:"bits"`   // of the container
	EffectiveBits     *int                   `json:"effectiveBits"`
	CodesPerStop      []int                  `json:"codesPerStop"` // green code values in use, by stops below white: 0 to 1, 1 to 2, ...
	Profile           *Profile               `json:"profile"`
	Image             *Area                  `json:"image"`
	Ceiling           *RGBInt                `json:"ceiling"` // code values
	Floor             *RGBInt                `json:"floor"`
	Blown             *Clip                  `json:"blown"` // fractions of the image area
	Blocked           *Clip                  `json:"blocked"`
	Bands             BandSet                `json:"bands"`
	MeasuredStop      *float64               `json:"measuredStop"`      // stops against the base frame
	MeasuredStopError *float64               `json:"measuredStopError"` // standard error, stops
	Registration      *register.Registration `json:"registration"`
	CommonArea        *float64               `json:"commonArea"` // fraction of the base frame's image area that the frame shows; only that is compared
	Marks             *Marks                 `json:"marks"`      // null: could not be looked for
	Flat              *response.Flat         `json:"flat"`       // fractions of the image area where the film no longer separates tones
	Mean              *RGBFloat              `json:"mean"`       // code values
	Noisy             *float64               `json:"noisy"`      // fraction of the image area
	NoisyError        *float64               `json:"noisyError"` // standard error of noisy
	NoiseKnown        *float64               `json:"noiseKnown"`
	Crossover         *float64               `json:"crossover"` // CIEDE2000 that the best single balance leaves between the greys of the bands
	Casts             *string                `json:"casts"`     // the same in words
	Salvage           *Salvage               `json:"salvage"`
	Suggested         *string                `json:"suggested"`   // "holds", "strains", "breaks"; null: too little is known
	SuggestedBy       []string               `json:"suggestedBy"` // the criteria that decided
	StopFrom          *string                `json:"stopFrom"`    // "name", "order", "hand", "demo", "plan"
	ImageFrom         *string                `json:"imageFrom"`
	CeilingFrom       *RGBString             `json:"ceilingFrom"`
	FloorFrom         *RGBString             `json:"floorFrom"`
	MissingRows       *int                   `json:"missingRows"`
	Damage            *string                `json:"damage"` // "cut at row 80"; null: the scan is whole
	Format            *string                `json:"format"`
	Channels          *int                   `json:"channels"`
	SHA256            *string                `json:"sha256"`
	Verdict           *string                `json:"verdict"` // "holds", "strains", "breaks"; null: not judged
	Note              *string                `json:"note"`    // the judge's
	Error             *string                `json:"error"`   // why the frame could not be read
	Notes             []string               `json:"notes"`   // reasons for what is null, and what a reader must know
}

func frame(r *film.Roll, i int) Frame {
	m, judged := &r.Frames[i], r.Judged.Frames[i]
	f := Frame{File: fileName(m.File), Notes: []string{}, SuggestedBy: []string{}}
	f.SHA256, f.Verdict, f.Note = text(judged.SHA256), text(string(judged.Verdict)), text(judged.Note)
	if m.SHA256 != "" || m.Look != nil { // of the file that was measured, and of no other
		f.SHA256 = text(m.SHA256)
	}
	if m.Replaced != nil {
		reason := m.Replaced.Error()
		f.Error = &reason
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
	if m.Common != nil {
		f.CommonArea = f.number("common area", *m.Common)
	}
	if m.Marks != nil {
		f.Marks = &Marks{Area: m.Marks.Share, Still: m.Marks.Still}
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
	f.EffectiveBits, f.MissingRows, f.Damage = &eff, &missing, text(l.Damage())
	if l.Space != nil {
		f.CodesPerStop = l.CodesPerStop(codeStops)
	}
	if l.Space != nil {
		f.Profile = &Profile{Name: l.Space.Name(), Assumed: l.ProfileAssumed || l.Space.Assumed()}
		if !f.Profile.Assumed {
			f.Profile.Way = text(l.Space.Way())
		}
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

func limitNames(v measure.RGB[measure.EndFrom]) *RGBString {
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
		f.NoisyError = known(r.NoisyError)
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

// Marks are dust, scratches and what moved between exposures, which are not compared:
// fractions of the image area.
type Marks struct {
	Area  float64 `json:"area"`
	Still float64 `json:"still"` // the part of it at the same place in most other scans
}
