package sheet_test

import (
	"strings"
	"testing"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row/rowtest"
	"stopladder/analysis/show/sheet"
)

// Costs, range and suggestions are there where they were measured, and say what they rest
// on; a correction of all frames is told.
func TestSalvageOnTheSheet(t *testing.T) {
	r := rowtest.Roll([]roll.Verdict{3: roll.Strains}, -2, -1, 0, 1, 2)
	in := sheet.FromRoll(r, render.Shown{}, "")
	if in.Measured == nil || in.Measured.Holds.Lo.Stop != -2 || in.Measured.Holds.Hi.Stop <= 0.5 || in.Measured.Holds.Hi.Stop >= 0.9 { // 2 % lost at 3 % a stop
		t.Errorf("measured %+v", in.Measured)
	}
	if d := in.Frames[4].Data; d.Suggested != "strains" {
		t.Errorf("+2: %q", d.Suggested)
	}
	if d := in.Frames[2].Data; d.Suggested != "" {
		t.Errorf("the base: %q", d.Suggested)
	}
	if in.Salvage == nil || len(in.Salvage.Costs.Rows) != 7 { // five frames, two limits
		t.Errorf("costs %+v", in.Salvage)
	}
	if s := strings.Join(sheet.Record(in), "\n"); !strings.Contains(s, "Costs of salvage") || strings.Contains(s, "one correction for all frames") {
		t.Error(s)
	}
	// A correction of all frames is said where the pictures are shown with it.
	judged := *r.Judged
	judged.View = &correction.Settings{Exposure: 1}
	in = sheet.FromRoll(r.With(&judged), render.Shown{Corrected: true}, "")
	if s := strings.Join(sheet.Record(in), "\n"); !strings.Contains(s, "one correction for all frames") {
		t.Errorf("nothing is said of the correction: %s", s)
	}
	if bare := sheet.FromRoll(rowtest.Roll(nil, -1, 0, 1).With(&roll.Roll{}), render.Shown{}, ""); bare.Salvage != nil || bare.Measured != nil {
		t.Error("a place for what was not measured")
	}
}
