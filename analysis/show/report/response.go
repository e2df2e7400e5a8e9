package report

import (
	"math"
	"slices"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
)

// Scan answers whether all frames were scanned alike. Gains are, by file name,
// what the scanner did to a frame against the base frame, in stops; empty when
// the scans are fixed or nothing can be said.
type Scan struct {
	Fixed    *bool               `json:"fixed"`
	Gains    map[string]RGBFloat `json:"gains"`
	Flare    *float64            `json:"flare"` // share of a scan's mean light that the scanner laid over all of it; null: none was found
	Findings []string            `json:"findings"`
}

// Labels are the labels that the pictures contradict.
type Labels struct {
	Findings []string `json:"findings"`
}

// Response is the measured response: density of each channel at log10 exposure,
// 0 being mid-grey at the base exposure. null where the roll says nothing.
type Response struct {
	LogE []float64  `json:"logE"`
	R    []*float64 `json:"r"`
	G    []*float64 `json:"g"`
	B    []*float64 `json:"b"`

	Gamma       RGBNull `json:"gamma"`       // steepest slope, density per log10 exposure
	UsefulStops RGBNull `json:"usefulStops"` // where the film separates tones, in stops
	// UsefulOpen says that the useful part goes on beyond what the roll covers:
	// then UsefulStops is the least that the film can do.
	UsefulOpen measure.RGB[bool] `json:"usefulOpen"`
	MidGrey    string            `json:"midGrey"` // "patch" or "metered": how the origin was placed
}

// RGBNull is a figure per channel that may be missing.
type RGBNull = measure.RGB[*float64]

// response adds what the roll as a whole tells of its scans, labels and exposures.
func (out *Report) response(r *film.Roll) {
	res := r.Response
	out.Scan = Scan{Gains: map[string]RGBFloat{}, Findings: []string{}}
	out.Labels = Labels{Findings: []string{}}
	if res == nil {
		return
	}
	out.Scan.Fixed = res.Scan.Fixed
	if v := res.Scan.Flare; v != nil && finite(*v) {
		out.Scan.Flare = v
	}
	if res.Scan.Reason != "" && !slices.Contains(res.Scan.Findings, res.Scan.Reason) {
		out.Scan.Findings = append(out.Scan.Findings, res.Scan.Reason)
	}
	out.Scan.Findings = append(out.Scan.Findings, res.Scan.Findings...)
	for _, g := range res.Scan.Gains {
		if k := g.Frame; k >= 0 && k < len(out.Frames) && finite(g.R) && finite(g.G) && finite(g.B) {
			out.Scan.Gains[out.Frames[k].File] = RGBFloat{R: g.R, G: g.G, B: g.B}
		}
	}
	for _, l := range res.Labels {
		out.Labels.Findings = append(out.Labels.Findings, l.Text)
	}
	out.Notes = append(out.Notes, res.Notes...)
	if res.Curve == nil && res.Reason != "" {
		out.Notes = append(out.Notes, "No response: "+res.Reason)
	}
	out.Response = responseOf(res.Curve)
	for j, r := range res.Frames {
		if j >= len(out.Frames) {
			break
		}
		f := &out.Frames[j]
		f.MeasuredStop, f.MeasuredStopError = known(r.MeasuredStop), known(r.MeasuredStopError)
		if r.Reason != "" {
			f.Notes = append(f.Notes, "Measured stop: "+r.Reason)
		}
		if r.Flat != nil && finite(r.Flat.Light) && finite(r.Flat.Dark) {
			flat := *r.Flat
			f.Flat = &flat
		}
	}
}

func known(v *float64) *float64 {
	if v == nil || !finite(*v) {
		return nil
	}
	return v
}

func responseOf(c *response.Curve) *Response {
	if c == nil {
		return nil
	}
	r := &Response{LogE: c.LogE, MidGrey: string(c.MidGrey)}
	for i, to := range []*[]*float64{&r.R, &r.G, &r.B} {
		*to = make([]*float64, len(c.LogE))
		for k, d := range c.Density[i] {
			if !math.IsNaN(d) && !math.IsInf(d, 0) {
				v := d
				(*to)[k] = &v
			}
		}
	}
	num := func(v float64) *float64 {
		if !finite(v) {
			return nil
		}
		return &v
	}
	ch := c.Channels
	r.Gamma = RGBNull{R: num(ch[0].Gamma), G: num(ch[1].Gamma), B: num(ch[2].Gamma)}
	r.UsefulStops = RGBNull{R: num(ch[0].UsefulStops), G: num(ch[1].UsefulStops), B: num(ch[2].UsefulStops)}
	open := func(c response.Channel) bool { return c.UsefulOpen[0] || c.UsefulOpen[1] }
	r.UsefulOpen = measure.RGB[bool]{R: open(ch[0]), G: open(ch[1]), B: open(ch[2])}
	return r
}
