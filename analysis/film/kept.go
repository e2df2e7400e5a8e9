package film

import (
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/response"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
)

// Kept returns the readings of a measured roll that its roll file keeps, under the roll's
// own limits; program is the version that measured. It is nil where nothing was measured, or light
// previews alone.
func (r *Roll) Kept(program string) *kept.Readings {
	if r.Judged.Previews() > 0 { // readings of the scans are not replaced by those of light previews
		return nil
	}
	out := &kept.Readings{Program: program, Basis: r.Judged.Basis(), Limits: r.Limits()}
	some := false
	for i := range r.Frames {
		some = some || r.Frames[i].Look != nil
		out.Frames = append(out.Frames, r.keptFrame(i))
	}
	if !some {
		return nil
	}
	if res := r.Response; res != nil {
		out.Fixed = res.Scan.Fixed
		out.Response = keptResponse(res.Curve)
	}
	if n := r.Noise; n != nil {
		out.Sharp, out.Viewing = n.Sharpened(), n.Viewing.Side
		out.Noise = r.keptNoise()
	}
	if e := r.Range(); e != nil {
		out.Costs = keptCosts(e)
		out.Range.Holds, out.Range.Strains = keptEnds(e.Holds), keptEnds(e.Strains)
		for _, g := range []latitude.Range{e.Holds, e.Strains} {
			if g.Reason != "" && !slices.Contains(out.Range.Reasons, g.Reason) {
				out.Range.Reasons = append(out.Range.Reasons, g.Reason)
			}
		}
		for i, v := range e.Verdicts {
			if i < len(out.Frames) {
				out.Frames[i].Suggested = string(v.Says)
				for _, c := range v.By {
					out.Frames[i].Because = append(out.Frames[i].Because, c.Key())
				}
			}
		}
		out.Finding = r.Finding(r.Limits())
	}
	slices.SortStableFunc(out.Frames, func(a, b kept.Frame) int {
		switch {
		case a.Stop == nil || b.Stop == nil || *a.Stop == *b.Stop:
			return 0
		case *a.Stop < *b.Stop:
			return -1
		}
		return 1
	})
	return out
}

func (r *Roll) keptFrame(i int) kept.Frame {
	m := &r.Frames[i]
	slashed := strings.ReplaceAll(filepath.ToSlash(m.File), `\`, "/")
	f := kept.Frame{File: slashed[strings.LastIndex(slashed, "/")+1:], SHA256: m.SHA256, Bytes: m.Bytes}
	if !m.Modified.IsZero() {
		f.Time = m.Modified.UTC().Format(time.RFC3339Nano)
	}
	if s := r.Judged.Frames[i].Stop; !m.Unlabelled {
		f.Stop = &s
	}
	if m.Look == nil {
		if f.Error = "The scan was not measured."; m.Err != nil {
			f.Error = m.Err.Error()
		}
		return f
	}
	f.Blown, f.Blocked = rounded(&m.Look.Blown.Any, 6), rounded(&m.Look.Blocked.Any, 6)
	if v := m.Relation; v != nil && v.Noisy != nil {
		f.Noisy, f.NoisyError = rounded(v.Noisy, 5), rounded(v.NoisyError, 5)
	}
	if v := r.Reading(i); v != nil {
		f.Measured, f.MeasuredError = rounded(v.MeasuredStop, 4), rounded(v.MeasuredStopError, 4)
		if v.Flat != nil {
			f.FlatLight, f.FlatDark = rounded(&v.Flat.Light, 5), rounded(&v.Flat.Dark, 5)
		}
	}
	if c := r.Compared(i); c != nil {
		f.Crossover = rounded(c.Crossover, 3)
		f.Casts = keptCasts(c)
		if c.Salvage != nil {
			for g, to := range []**kept.Cost{&f.Exposure, &f.Balance, &f.Curves} {
				*to = keptCost(&c.Salvage.Grades[g].Cost)
			}
		}
	}
	return f
}

func keptCasts(c *comparison.Frame) (out []kept.Cast) {
	for b, v := range c.Bands {
		if v.Cast == nil {
			continue
		}
		a, b2 := rounded(&v.Cast.DA, 3), rounded(&v.Cast.DB, 3)
		if a != nil && b2 != nil {
			out = append(out, kept.Cast{Band: measure.Band(b).String(), A: *a, B: *b2})
		}
	}
	return out
}

func keptCost(c *salvage.Cost) *kept.Cost {
	k := kept.Cost{LostArea: rounded(c.LostArea, 5), DeltaE: rounded(c.DeltaE, 3), P95: rounded(c.P95, 3), Noise: rounded(c.ShadowNoise(), 3),
		Crossover: rounded(c.Crossover, 3), ContrastKept: rounded(c.ContrastKept, 4)}
	if k == (kept.Cost{}) {
		return nil
	}
	return &k
}

// responseEvery is how many samples of the response apart those are that are kept: a
// seventh of a stop, over which curves bend by less than their errors.
const responseEvery = 2

func keptResponse(c *response.Curve) *kept.Response {
	if c == nil || len(c.LogE) < 2 {
		return nil
	}
	// One of the samples stands at mid-grey.
	from := 0
	for from < responseEvery && int(math.Round(c.LogE[from]/(c.LogE[1]-c.LogE[0])))%responseEvery != 0 {
		from++
	}
	k := &kept.Response{MidGrey: string(c.MidGrey), First: roundTo(c.LogE[from], 6), Step: roundTo((c.LogE[1]-c.LogE[0])*responseEvery, 6)}
	for ch := range c.Density {
		for i := from; i < len(c.LogE); i += responseEvery {
			d, e := rounded(&c.Density[ch][i], 4), rounded(&c.Sigma[ch][i], 5)
			if d == nil || e == nil {
				d, e = nil, nil
			}
			k.Density[ch], k.Error[ch] = append(k.Density[ch], d), append(k.Error[ch], e)
		}
		x := &c.Channels[ch]
		k.Gamma[ch], k.Open[ch] = roundTo(x.Gamma, 4), x.UsefulOpen
		k.Useful[ch] = [2]float64{roundTo(x.Useful[0], 4), roundTo(x.Useful[1], 4)}
	}
	return k
}

// keptNoise is the noise that greys of the scene show in the base frame, over the stops
// from mid-grey.
func (r *Roll) keptNoise() *kept.Noise {
	if r.Response == nil || r.Response.Curve == nil {
		return nil
	}
	const green, half, reach = 1, 0.5, 24
	k := &kept.Noise{}
	for i := -reach; i <= reach; i++ {
		at := half * float64(i)
		y := math.Pow(10, -r.Response.Curve.At(green, at*math.Log10(2)))
		s := r.Noise.SigmaY(y)
		if !(s > 0) || !(r.Noise.ErrorY(y) >= 0) {
			continue
		}
		l := noise.InL(y, s)
		k.Stops = append(k.Stops, at)
		k.L, k.Error = append(k.L, roundTo(l, 4)), append(k.Error, roundTo(l*r.Noise.ErrorY(y), 4))
	}
	if len(k.Stops) == 0 {
		return nil
	}
	return k
}

// keptCosts are the curves that the range is found from, every quarter stop.
func keptCosts(e *latitude.Result) *kept.Costs {
	k := &kept.Costs{Values: map[string]kept.Samples{}, Errors: map[string]kept.Samples{}}
	const quarter, reach = 0.25, 64
	for i := -reach; i <= reach; i++ {
		s := quarter * float64(i)
		if slices.ContainsFunc(criteria.All(), func(c criteria.Criterion) bool { _, ok := e.Curve(c).At(s); return ok }) {
			k.Stops = append(k.Stops, s)
		}
	}
	for _, c := range criteria.All() {
		var values, errors kept.Samples
		some := false
		for _, s := range k.Stops {
			var a, b *float64
			if v, ok := e.Curve(c).At(s); ok {
				off := e.Curve(c).Error(s)
				if a, b = rounded(&v, 5), rounded(&off, 5); a == nil || b == nil {
					a, b = nil, nil
				}
			}
			some = some || a != nil
			values, errors = append(values, a), append(errors, b)
		}
		if some {
			k.Values[c.Key()], k.Errors[c.Key()] = values, errors
		}
	}
	if len(k.Values) == 0 {
		return nil
	}
	return k
}

func keptEnds(g latitude.Range) *kept.Ends {
	if g.Reason != "" {
		return nil
	}
	end := func(e latitude.End) kept.End {
		k := kept.End{Stop: latitude.Hundredths(e.Stop), Open: e.Open, Error: latitude.Hundredths(e.Uncertainty)}
		if !e.Open {
			k.By = e.By.Key()
		}
		return k
	}
	return &kept.Ends{Lo: end(g.Lo), Hi: end(g.Hi)}
}

// rounded is a figure as it is kept, nil where it is none.
func rounded(v *float64, decimals int) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	x := roundTo(*v, decimals)
	return &x
}

func roundTo(v float64, decimals int) float64 {
	p := math.Pow(10, float64(decimals))
	return math.Round(v*p)/p + 0 // not -0
}
