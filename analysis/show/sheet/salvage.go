package sheet

import (
	"image"
	"strings"

	"stopladder/analysis/film/appraise"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

// Salvage is what the roll's frames cost to bring to the base frame, and what the
// limits make of it.
type Salvage struct {
	Appraisal *appraise.Roll
	Limits    criteria.Set
	Verdicts  []roll.Verdict // the judge's, in the order of the appraisal's frames
}

// extent is the measured range; nil where there is none to speak of.
func (s *Salvage) extent() *latitude.Result {
	if s == nil || s.Appraisal == nil || s.Appraisal.Grid == nil {
		return nil
	}
	return s.Appraisal.Extent(s.Limits)
}

// SetSalvage takes what a roll's appraisal tells under the roll's limits: the costs,
// the measured range, and the suggestion for each frame. The appraisal's frames
// stand in the order of the roll's and of in.Frames.
func (in *Input) SetSalvage(a *appraise.Roll, r *roll.Roll) {
	s := &Salvage{Appraisal: a, Limits: r.LimitSet()}
	for _, f := range r.Frames {
		s.Verdicts = append(s.Verdicts, f.Verdict)
	}
	e := s.extent()
	in.Salvage, in.Measured = s, e
	if e == nil {
		return
	}
	for i := range in.Frames {
		if d := in.Frames[i].Data; d != nil && i < len(e.Verdicts) && i != a.In.Base {
			d.Suggested = ""
			if w := row.SuggestionWord(e.Verdicts[i].Says); w != row.None {
				d.Suggested = strings.ToLower(w)
			}
		}
	}
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
	e := in.Salvage.extent()
	if e == nil {
		return nil, 0
	}
	s := in.Salvage
	x0, x1 := c.Px(margin), c.Px(unitsWide-margin)
	mid := x0 + c.Px(salvageCost)
	const tall = 100000 // as high as it needs
	for _, p := range []struct {
		x0, x1   int
		sections []row.Section
	}{
		{x0, mid, []row.Section{row.CostSection(s.Appraisal, s.Limits, e, s.Verdicts)}},
		{mid + c.Px(flankGap), x1, row.RangeSections(e, s.Limits)},
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

// salvageNotes say what the costs rest on.
func salvageNotes(in Input) []string {
	if in.Salvage.extent() == nil {
		return nil
	}
	out := []string{"Costs of salvage: every frame is brought to the base frame by " + string(in.Salvage.Limits.Grade) + ", computed on registered pixels; lost is the part of the picture that shows detail in the base frame and none in the frame. Suggestions follow from the limits alone and never replace the judge's verdict."}
	if r := criteria.Reason(in.Salvage.Limits.Name); r != "" {
		out = append(out, "Limits \""+in.Salvage.Limits.Title()+"\": "+r)
	}
	return out
}
