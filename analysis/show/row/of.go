package row

import (
	"math"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/criteria"
)

// Of returns the rows of a measured roll in its order, on common scales: what was
// measured, what the judge said, and what the limits suggest. prepare fills what is
// drawn of a look, which takes a few milliseconds a frame; nil is Prepare, and a
// caller that draws often keeps it with the look.
func Of(r *film.Roll, prepare func(d *Data)) []*Data {
	if prepare == nil {
		prepare = (*Data).Prepare
	}
	rows := make([]*Data, len(r.Frames))
	headroom := r.Headroom()
	for i := range r.Frames {
		f, judged := &r.Frames[i], r.Judged.Frames[i]
		d := &Data{Stop: judged.Stop, Unlabelled: f.Unlabelled, File: judged.Name(), Base: i == r.Base,
			Look: f.Look, Rel: f.Relation, Verdict: judged.Verdict, Note: judged.Note}
		switch {
		case f.Look != nil:
			d.State = Ready
		case f.Err != nil:
			d.State = Failed
		}
		if f.Err != nil {
			d.Message = f.Err.Error()
		}
		d.Damage = f.Look.Damage()
		if g := f.Registration; g.How != 0 {
			d.Registration = &g
		}
		if q := r.Reading(i); q != nil {
			d.MeasuredStop, d.MeasuredStopError, d.MeasuredReason = q.MeasuredStop, q.MeasuredStopError, q.Reason
			if q.Flat != nil {
				flat := *q.Flat
				d.FlatLight, d.FlatDark = &flat.Light, &flat.Dark
			}
		}
		if d.Base {
			d.Headroom = headroom
		}
		if a := r.Compared(i); a != nil {
			for b := range a.Bands {
				d.Casts[b] = a.Bands[b].Cast
				if d.CastReason == "" {
					d.CastReason = a.Bands[b].Reason
				}
			}
		}
		if m := r.Judged.Marks; len(m) > 0 && m[0].Range != nil {
			d.InRange = m[0].Range.Contains(d.Stop)
		}
		if d.Look != nil {
			prepare(d)
		}
		rows[i] = d
	}
	Share(rows)
	e := r.Range()
	if e == nil {
		return rows
	}
	all := criteriaOf(r, e)
	for i, d := range rows {
		d.Scales.Criteria = all
		if i < len(e.Verdicts) && !d.Base {
			if w := SuggestionWord(e.Verdicts[i].Says); w != None {
				d.Suggested = strings.ToLower(w)
			}
		}
	}
	return rows
}

// worst is the right edge of each criterion's plot.
var worst = [criteria.Count]float64{criteria.LostArea: 0.5, criteria.DeltaE: 12, criteria.Noise: 12, criteria.Crossover: 12, criteria.ContrastKept: 0.3}

// criteriaOf returns the costs of salvage over the stops with the limits, as
// CostColumns draw them.
func criteriaOf(r *film.Roll, e *latitude.Result) *Criteria {
	set := r.Limits()
	values := map[*measure.Look]latitude.Point{}
	for i, p := range r.Comparison.Points(set.Grade) {
		if l := r.Frames[i].Look; l != nil {
			values[l] = p
		}
	}
	var out Criteria
	for _, c := range criteria.All() {
		k := &Criterion{ID: c.Key(), Title: c.Title(), Unit: c.Unit(), Hint: c.Hint(), Worst: worst[c], Root: c == criteria.LostArea,
			Holds: set.Limits[c].Holds, Strains: set.Limits[c].Strains, Words: c.Figure}
		if c.Least() {
			k.Best = 1
		}
		k.At = func(d *Data) *float64 {
			if p, ok := values[d.Look]; ok && !math.IsNaN(p.Stop) {
				return p.Values[c]
			}
			return nil
		}
		if curve := e.Curve(c); curve != nil {
			k.Curve = curve.At
		}
		for _, g := range []latitude.Range{e.Holds, e.Strains} {
			for _, x := range []latitude.End{g.Lo, g.Hi} {
				if g.Reason == "" && !x.Open && x.By == c {
					k.Ends = append(k.Ends, x.Stop)
				}
			}
		}
		out[c] = k
	}
	return &out
}
