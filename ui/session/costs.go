package session

import (
	"math"

	"stopladder/analysis/appraise"
	"stopladder/analysis/extent"
	"stopladder/analysis/limits"
	"stopladder/analysis/measure"
	"stopladder/analysis/rung"
)

// costs are the criteria as the ladder draws them, kept while nothing they rest on
// changes.
type costs struct {
	of     *appraise.Roll
	set    limits.Set
	plots  *rung.Criteria
	extent *extent.Result
}

// worst is the right edge of each criterion's plot.
var worst = [limits.Count]float64{limits.LostArea: 0.5, limits.DeltaE: 12, limits.Noise: 12, limits.Crossover: 12, limits.ContrastKept: 0.3}

// Extent is the measured range under the roll's limits, nil while it is not known.
func (s *Session) Extent() *extent.Result {
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

func (s *Session) criteria(a *appraise.Roll) *rung.Criteria {
	e, set := s.costs.extent, s.costs.set
	values := map[*measure.Look]extent.Point{}
	for i, p := range a.Points(set.Grade) {
		if l := a.In.Frames[i].Look; l != nil {
			values[l] = p
		}
	}
	var out rung.Criteria
	for _, c := range limits.All() {
		k := &rung.Criterion{ID: c.Key(), Title: c.Title(), Unit: c.Unit(), Hint: c.Hint(), Worst: worst[c], Root: c == limits.LostArea,
			Holds: set.Limits[c].Holds, Strains: set.Limits[c].Strains, Words: c.Figure}
		if c.Least() {
			k.Best = 1
		}
		k.At = func(d *rung.Data) *float64 {
			if p, ok := values[d.Look]; ok && !math.IsNaN(p.Stop) {
				return p.Values[c]
			}
			return nil
		}
		if curve := e.Curve(c); curve != nil {
			k.Curve = curve.At
		}
		for _, g := range []extent.Range{e.Holds, e.Strains} {
			for _, x := range []extent.End{g.Lo, g.Hi} {
				if g.Reason == "" && !x.Open && x.By == c {
					k.Ends = append(k.Ends, x.Stop)
				}
			}
		}
		out[c] = k
	}
	return &out
}
