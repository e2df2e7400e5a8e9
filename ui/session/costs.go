package session

import (
	"math"

	"stopladder/analysis/film/appraise"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/row"
)

// costs are the criteria as the ladder draws them, kept while nothing they rest on
// changes.
type costs struct {
	of     *appraise.Roll
	set    criteria.Set
	plots  *row.Criteria
	extent *latitude.Result
}

// worst is the right edge of each criterion's plot.
var worst = [criteria.Count]float64{criteria.LostArea: 0.5, criteria.DeltaE: 12, criteria.Noise: 12, criteria.Crossover: 12, criteria.ContrastKept: 0.3}

// Extent is the measured range under the roll's limits, nil while it is not known.
func (s *Session) Extent() *latitude.Result {
	a := s.AppraisedInOrder()
	if a == nil {
		return nil
	}
	if set := s.Roll.LimitSet(); s.costs.of != a || s.costs.set != set {
		s.costs = costs{of: a, set: set, extent: a.Extent(set)}
		s.costs.plots = s.criteria(a)
	}
	return s.costs.extent
}

func (s *Session) criteria(a *appraise.Roll) *row.Criteria {
	e, set := s.costs.extent, s.costs.set
	values := map[*measure.Look]latitude.Point{}
	for i, p := range a.Points(set.Grade) {
		if l := a.In.Frames[i].Look; l != nil {
			values[l] = p
		}
	}
	var out row.Criteria
	for _, c := range criteria.All() {
		k := &row.Criterion{ID: c.Key(), Title: c.Title(), Unit: c.Unit(), Hint: c.Hint(), Worst: worst[c], Root: c == criteria.LostArea,
			Holds: set.Limits[c].Holds, Strains: set.Limits[c].Strains, Words: c.Figure}
		if c.Least() {
			k.Best = 1
		}
		k.At = func(d *row.Data) *float64 {
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
