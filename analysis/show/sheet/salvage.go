package sheet

import (
	"stopladder/analysis/film"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/row"
)

// Salvage is what the roll's frames cost to bring to the base frame, and what the
// limits make of it.
type Salvage struct {
	Costs  row.Section // a row a frame
	Range  *latitude.Result
	Limits criteria.Set
}

// salvageOf returns nil where nothing was measured.
func salvageOf(r *film.Roll) *Salvage {
	if r.Comparison == nil || r.Comparison.Grid == nil {
		return nil
	}
	return &Salvage{Costs: row.CostSection(r), Range: r.Range(), Limits: r.Limits()}
}

// salvageNotes returns what the costs rest on.
func salvageNotes(in Input) []string {
	if in.Salvage == nil {
		return nil
	}
	out := []string{"Costs of salvage: every frame is brought to the base frame by " + string(in.Salvage.Limits.Grade) + ", computed on registered pixels; lost is the part of the picture that shows detail in the base frame and none in the frame. Suggestions follow from the limits alone and never replace the judge's verdict."}
	if r := criteria.Reason(in.Salvage.Limits.Name); r != "" {
		out = append(out, "Limits \""+in.Salvage.Limits.Title()+"\": "+r)
	}
	return out
}
