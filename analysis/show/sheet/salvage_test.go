package sheet_test

import (
	"testing"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row/rowtest"
	"stopladder/analysis/show/sheet"
)

// Costs, range and suggestions have their place on the sheet, which grows by no more
// than they need, and the measured range stands on the axis and in the title.
func TestSalvageOnTheSheet(t *testing.T) {
	in := input(-2, -1, 0, 1, 2)
	bare := mustDraw(t, in, 1600)
	measured := sheet.FromRoll(rowtest.Roll([]roll.Verdict{3: roll.Strains}, -2, -1, 0, 1, 2), render.Shown{}, "")
	in.Salvage, in.Measured = measured.Salvage, measured.Measured
	for i := range in.Frames {
		in.Frames[i].Data.Suggested = measured.Frames[i].Data.Suggested
	}
	if in.Measured == nil || in.Measured.Holds.Lo.Stop != -2 || in.Measured.Holds.Hi.Stop <= 0.5 || in.Measured.Holds.Hi.Stop >= 0.9 { // 2 % lost at 3 % a stop
		t.Errorf("measured %+v", in.Measured)
	}
	if d := in.Frames[4].Data; d.Suggested != "strains" {
		t.Errorf("+2: %q", d.Suggested)
	}
	if d := in.Frames[2].Data; d.Suggested != "" {
		t.Errorf("the base: %q", d.Suggested)
	}
	img := mustDraw(t, in, 1600)
	if grown := img.Rect.Dy() - bare.Rect.Dy(); grown < 60 || grown > 600 {
		t.Errorf("the sheet grew by %d pixels", grown)
	}
	// A correction of all frames is said at the foot.
	in.Correction = "Exposure +1.00 stops, shadow lift 2.00 stops."
	if said := mustDraw(t, in, 1600); said.Rect == img.Rect {
		t.Error("nothing is said of the correction")
	}
	// Nothing measured, nothing drawn.
	if bare := sheet.FromRoll(rowtest.Roll(nil, -1, 0, 1).With(&roll.Roll{}), render.Shown{}, ""); bare.Salvage != nil || bare.Measured != nil {
		t.Error("a place for what was not measured")
	}
}
