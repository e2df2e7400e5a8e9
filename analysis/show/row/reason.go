package row

import (
	"math"
	"strings"

	"stopladder/analysis/judge/criteria"
)

// Decision is the criterion that decided what the limits suggest for a frame, or, of a
// frame that holds, the one that came nearest to its limit.
type Decision struct {
	Criterion *Criterion
	Value     float64 // in the criterion's own unit
	Limit     float64 // the one that was passed, or that was nearly
	Passed    bool
}

// Decide returns what decided the suggestion for a frame; ok is false where none was made
// or nothing was measured.
func (d *Data) Decide() (out Decision, ok bool) {
	if d == nil || d.Scales.Criteria == nil || d.Suggested == "" {
		return out, false
	}
	breaks := d.Suggested == "breaks"
	furthest := math.Inf(-1)
	for _, k := range d.Scales.Criteria {
		if k == nil || k.At == nil {
			continue
		}
		v := k.At(d)
		limit := k.Holds
		if breaks {
			limit = k.Strains
		}
		if v == nil || !known(*v) || !known(limit) {
			continue
		}
		over := k.way(*v) - k.way(limit)
		if over > furthest {
			furthest = over
			out = Decision{Criterion: k, Value: *v, Limit: limit, Passed: over > 0}
		}
	}
	return out, out.Criterion != nil
}

// Words returns the decision as short as can be: "72 % lost, limit 10".
func (e Decision) Words() string {
	k := e.Criterion
	if k == nil {
		return ""
	}
	return k.Figure(e.Value) + ", limit " + k.LimitWords(e.Limit)
}

// Figure returns a value of the criterion with its name and unit, as short as can be.
func (k *Criterion) Figure(v float64) string {
	w := k.Words(v)
	switch c, _ := criteria.ByKey(k.ID); c {
	case criteria.LostArea:
		return c.Words(v) + " lost"
	case criteria.DeltaE:
		return w + " ΔE00"
	case criteria.Noise:
		return "noise " + w + " L*"
	case criteria.Crossover:
		return "crossover " + w
	case criteria.ContrastKept:
		return "contrast " + w + " %"
	}
	return w
}

// LimitWords returns a limit of the criterion without its unit.
func (k *Criterion) LimitWords(v float64) string {
	c, ok := criteria.ByKey(k.ID)
	if !ok {
		return k.Words(v)
	}
	return LimitFigure(c, v)
}

// Why returns the line under a frame's readings: what decided its suggestion, and what
// the film has pressed flat besides what the scan clipped.
func (d *Data) Why() string {
	var parts []string
	switch e, ok := d.Decide(); {
	case d.Base:
		parts = append(parts, "base frame")
	case d.Pending:
		parts = append(parts, "being compared")
	case ok:
		parts = append(parts, e.Words())
	case d.State == Ready && d.Look != nil && d.Scales.Criteria != nil:
		parts = append(parts, "not compared")
	}
	flat := 0.0
	for _, v := range []*float64{d.FlatLight, d.FlatDark} {
		if v != nil && *v > 0 && *v <= 1 {
			flat += *v
		}
	}
	if flat >= 0.0005 {
		parts = append(parts, Percent(flat)+" flat")
	}
	return strings.Join(parts, ", ")
}
