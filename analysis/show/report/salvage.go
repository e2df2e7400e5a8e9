package report

import (
	"math"
	"slices"

	"stopladder/analysis/film"
	"stopladder/analysis/film/cast"
	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
)

// Cost is what the salvage of a frame at one grade costs.
type Cost struct {
	DeltaE       *float64             `json:"deltaE"`       // CIEDE2000, median
	P95          *float64             `json:"p95"`          // CIEDE2000, 95th percentile
	NoiseL       *float64             `json:"noiseL"`       // L* units in the shadows, after it
	LostArea     *float64             `json:"lostArea"`     // fraction of the base frame's image area
	LostLight    *float64             `json:"lostLight"`    // the part at the light end
	LostDark     *float64             `json:"lostDark"`     // and at the dark end
	ContrastKept *float64             `json:"contrastKept"` // ratio
	Crossover    *float64             `json:"crossover"`    // CIEDE2000
	Correction   *correction.Settings `json:"correction"`   // what was done
}

// Salvage is a frame's cost at the three grades.
type Salvage struct {
	Exposure Cost `json:"exposure"`
	Balance  Cost `json:"balance"`
	Curves   Cost `json:"curves"`
}

// Ends are the lower and the upper end of a range in hundredths of a stop.
type Ends [2]*float64

// Range is the measured range. An end that the roll does not reach is the roll's
// last frame, and its criterion is null.
type Range struct {
	Holds       *Ends                 `json:"holds"` // null: Reasons say why
	Strains     *Ends                 `json:"strains"`
	EndedBy     map[string][2]*string `json:"endedBy"`     // by "holds", "strains": lower and upper end
	Uncertainty map[string]Ends       `json:"uncertainty"` // half width in stops; null for an end that is not reached
	Reasons     []string              `json:"reasons"`
}

// PatchReading is a patch in one frame; null where it could not be read.
type PatchReading struct {
	File      string    `json:"file"`
	L         *float64  `json:"L"`
	A         *float64  `json:"a"`
	B         *float64  `json:"b"`
	DeltaE    *float64  `json:"deltaE"`
	CC        *cast.CC  `json:"cc"`
	CCNeutral *cast.CC  `json:"ccNeutral"`
	SNR       *float64  `json:"snr"`
	Density   *RGBFloat `json:"density"`
	Blown     *float64  `json:"blown"`
	Blocked   *float64  `json:"blocked"`
	Reason    *string   `json:"reason"`
}

// Patch is a named spot of the scene, read in every frame.
type Patch struct {
	Name      string         `json:"name"`
	X         float64        `json:"x"` // full-resolution pixels of the base frame
	Y         float64        `json:"y"`
	R         float64        `json:"r"`
	Neutral   bool           `json:"neutral"`
	ToBlown   *float64       `json:"stopsToBlown"`
	ToBlocked *float64       `json:"stopsToBlocked"`
	Frames    []PatchReading `json:"frames"`
}

// noiseStops is how far below white the noise-level function is told, in half stops.
const noiseStops = 12

// comparison adds casts, noise, salvage and the range under out.Limits.
func (out *Report) comparison(r *film.Roll) {
	e := r.RangeUnder(out.Limits)
	if e == nil {
		out.Range.Reasons = []string{"There is no base frame, so nothing can be held against it."}
		return
	}
	for i := range out.Frames {
		if a := r.Compared(i); a != nil {
			out.Frames[i].compared(a)
		}
	}
	if n := r.Noise; n != nil {
		out.Noise = noiseOf(n)
	}
	out.Finding = r.Finding(out.Limits)
	out.Notes = append(out.Notes, r.Comparison.Untold()...)
	out.Range.EndedBy, out.Range.Uncertainty = map[string][2]*string{}, map[string]Ends{}
	for _, l := range []struct {
		name string
		r    latitude.Range
		to   **Ends
	}{{"holds", e.Holds, &out.Range.Holds}, {"strains", e.Strains, &out.Range.Strains}} {
		if l.r.Reason != "" {
			if !slices.Contains(out.Range.Reasons, l.r.Reason) {
				out.Range.Reasons = append(out.Range.Reasons, l.r.Reason)
			}
			continue
		}
		var by [2]*string
		var ends, error Ends
		for k, x := range [2]latitude.End{l.r.Lo, l.r.Hi} {
			v := latitude.Hundredths(x.Stop)
			ends[k] = &v
			if !x.Open {
				w, u := x.By.Key(), latitude.Hundredths(x.Uncertainty)
				by[k], error[k] = &w, &u
			}
		}
		*l.to = &ends
		out.Range.EndedBy[l.name], out.Range.Uncertainty[l.name] = by, error
	}
	for i, v := range e.Verdicts {
		if i < len(out.Frames) {
			out.Frames[i].Suggested = text(string(v.Says))
			for _, c := range v.By {
				out.Frames[i].SuggestedBy = append(out.Frames[i].SuggestedBy, c.Key())
			}
		}
	}
}

func noiseOf(n *noise.Levels) *Noise {
	out := &Noise{Viewing: Viewing(n.Viewing), Alike: []float64{}}
	add := func(to *[]*float64, v float64) { *to = append(*to, known(&v)) }
	for k := range 2*noiseStops + 1 {
		light := math.Exp2(-float64(2*noiseStops-k) / 2)
		out.Light = append(out.Light, light)
		for c, to := range [3][2]*[]*float64{{&out.R, &out.Pixel.R}, {&out.G, &out.Pixel.G}, {&out.B, &out.Pixel.B}} {
			add(to[0], n.Sigma(c, light))
			add(to[1], n.Pixel(c, light))
		}
		add(&out.Y, n.SigmaY(light))
		add(&out.Error, n.ErrorY(light))
		add(&out.Pixel.Y, n.PixelY(light))
	}
	if midGrey := 0.18; n.SigmaY(midGrey) > 0 {
		for d := range 6 {
			out.Alike = append(out.Alike, n.Alike(midGrey, d))
		}
	}
	return out
}

func (f *Frame) compared(a *comparison.Frame) {
	f.Crossover = known(a.Crossover)
	f.Casts = text(a.Words)
	for b, to := range []*Band{f.Bands.Shadows, f.Bands.Midtones, f.Bands.Highlights} {
		if to == nil {
			continue
		}
		v := a.Bands[b]
		to.SNR, to.NoiseL, to.NoiseLSalvaged = known(v.SNR), known(v.NoiseL), known(v.NoiseLSalvaged)
		to.CC, to.ContrastKept = v.CC, known(v.ContrastKept)
		if v.Level > 0 {
			to.Level = known(&v.Level)
		}
		if c := v.Cast; c != nil && finite(c.DA) && finite(c.DB) {
			to.Cast = &Cast{c.DA, c.DB}
		}
		if v.Reason != "" && !slices.Contains(f.Notes, v.Reason) {
			f.Notes = append(f.Notes, v.Reason)
		}
	}
	s := a.Salvage
	if s == nil {
		return
	}
	if s.Reason != "" {
		f.Notes = append(f.Notes, "Salvage: "+s.Reason)
	}
	if s.Reason != "" && s.Grades[salvage.Balance].Cost.LostArea == nil {
		return
	}
	out := &Salvage{}
	for g, to := range []*Cost{&out.Exposure, &out.Balance, &out.Curves} {
		r := &s.Grades[g]
		c := &r.Cost
		*to = Cost{known(c.DeltaE), known(c.P95), known(c.ShadowNoise()), known(c.LostArea), known(c.LostLight), known(c.LostDark),
			known(c.ContrastKept), known(c.Crossover), &r.Settings}
	}
	f.Salvage = out
	seen := map[string]bool{}
	for g := range s.Grades {
		for _, why := range s.Grades[g].Cost.Reasons {
			if !seen[why] {
				seen[why] = true
				f.Notes = append(f.Notes, "Salvage: "+why)
			}
		}
	}
}

// patches adds the readings of patches.
func (out *Report) patches(r *film.Roll) {
	s := r.Patches()
	if s == nil {
		return
	}
	for i, p := range s.Patches {
		q := Patch{Name: p.Name, X: p.X, Y: p.Y, R: p.R, Neutral: p.Neutral, Frames: []PatchReading{}}
		for j := range s.Readings[i] {
			r := &s.Readings[i][j]
			x := PatchReading{File: out.Frames[j].File, Reason: text(r.Reason)}
			if r.Reason == "" {
				x.L, x.A, x.B, x.Blown, x.Blocked = given(r.L), given(r.A), given(r.B), given(r.Blown), given(r.Blocked)
				x.DeltaE, x.CC, x.CCNeutral, x.SNR = known(r.DeltaE), r.CC, r.CCNeutral, known(r.SNR)
				if finite(r.Density.R) && finite(r.Density.G) && finite(r.Density.B) {
					d := measure.RGB[float64](r.Density)
					x.Density = &d
				}
			}
			if r.Headroom != nil {
				q.ToBlown, q.ToBlocked = known(r.Headroom.Blown), known(r.Headroom.Blocked)
			}
			q.Frames = append(q.Frames, x)
		}
		out.Patches = append(out.Patches, q)
	}
}

func given(v float64) *float64 {
	if !finite(v) {
		return nil
	}
	return &v
}
