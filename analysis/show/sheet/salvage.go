package sheet

import (
	"image"

	"stopladder/analysis/film"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/paint"
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

// Measures of the place of salvage, units.
const (
	salvageGap  = 22.0
	salvageCost = 800.0 // width of the table; the range stands beside it
)

// salvageParts are the two blocks of the place and where they stand, from y down.
func salvageParts(c *paint.Canvas, in Input, y int) (parts []struct {
	rect     image.Rectangle
	sections []row.Section
}, height int) {
	s := in.Salvage
	if s == nil {
		return nil, 0
	}
	x0, x1 := c.Px(margin), c.Px(unitsWide-margin)
	mid := x0 + c.Px(salvageCost)
	const tall = 100000 // as high as it needs
	costs := []row.Section{s.Costs}
	if len(in.Patches.Rows) > 0 {
		costs = append(costs, in.Patches)
	}
	for _, p := range []struct {
		x0, x1   int
		sections []row.Section
	}{
		{x0, mid, costs},
		{mid + c.Px(flankGap), x1, row.RangeSections(s.Range, s.Limits, in.Finding)},
	} {
		probe := paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), c.Scale)
		need := row.Tables(probe, image.Rect(p.x0, y, p.x1, y+tall), p.sections, nil)
		height = max(height, need)
		parts = append(parts, struct {
			rect     image.Rectangle
			sections []row.Section
		}{image.Rect(p.x0, y, p.x1, y+need), p.sections})
	}
	for i := range parts { // one ground under both
		parts[i].rect.Max.Y = y + height
	}
	return parts, height
}

// drawSalvage draws the costs and, beside them, the range and the finding.
func drawSalvage(c *paint.Canvas, l *layout, in Input) {
	if l.salvage.Empty() {
		return
	}
	parts, _ := salvageParts(c, in, l.salvage.Min.Y)
	for _, p := range parts {
		row.Tables(c, p.rect, p.sections, nil)
	}
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
