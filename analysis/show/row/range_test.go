package row_test

import (
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
)

// The table of costs has every frame at its stop with its figures, what the limits
// suggest beside what the judge says, and the limits themselves; the range beside it
// is where the costs pass them.
func TestCostAndRangeSections(t *testing.T) {
	set, _ := criteria.ByName("screen")
	r := rowtest.Roll([]roll.Verdict{roll.Holds, "", "", roll.Breaks, "", ""}, -2, -1, 0, 1, 2, 4)
	r.Judged.Limits = &set
	e := r.Range()
	s := row.CostSection(r)
	rows := map[string][]string{}
	var names []string
	for _, r := range s.Rows {
		if len(r.Values) != len(s.Heads) {
			t.Errorf("%s: %d figures under %d heads", r.Name, len(r.Values), len(s.Heads))
		}
		rows[r.Name] = r.Values
		names = append(names, r.Name)
	}
	if want := []string{"+4", "+2", "+1", "0 base", "−1", "−2", "Limit: holds", "Limit: strains"}; !slices.Equal(names, want) {
		t.Fatalf("rows %v", names)
	}
	at := func(line, head string) string { return rows[line][slices.Index(s.Heads, head)] }
	for _, c := range [][3]string{
		{"+4", "ΔE00", "4.0"}, {"+4", "p95", "12.0"}, {"+4", "lost %", "12.0"}, {"+2", "noise L*", "1.0"}, {"−2", "contrast %", "88"}, {"+1", "crossover", "0.5"},
		{"+4", "suggested", "Breaks"}, {"−1", "suggested", "Holds"}, {"0 base", "suggested", row.None},
		{"+1", "judge", "Breaks"}, {"−2", "judge", "Holds"}, {"+2", "judge", row.None},
		{"Limit: holds", "contrast %", "80"}, {"Limit: strains", "lost %", "10"}, {"Limit: holds", "suggested", ""},
	} {
		if got := at(c[0], c[1]); got != c[2] {
			t.Errorf("%s of %s: %q, want %q", c[1], c[0], got, c[2])
		}
	}
	text := row.TablesText(row.RangeSections(e, set, row.FindingOf(r)))
	for _, want := range []string{"Holds\t−2.00\topen\t+", "under open", "over ended by lost area", "Finding"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if row.RangeSections(nil, set, row.Finding{}) != nil {
		t.Error("a range of nothing")
	}
	lone := rowtest.Comparison(0)
	if got := row.RangeSections(lone.Extent(set), set, row.Finding{Measured: []string{"No."}}); len(got) != 1 || got[0].Title != "Finding" {
		t.Errorf("of a lone frame: %v", got)
	}
	own := row.Finding{Measured: []string{"It holds."}, Own: "More light.\nAlways\u202e.", Judge: "A"}.Sections()
	if len(own) != 2 || own[0].Title != "Finding, in the words of A" || len(own[0].Rows) != 2 || own[0].Rows[1].Name != `Always\u202e.` || own[1].Title != "Finding, as measured" {
		t.Errorf("a judge's finding: %+v", own)
	}
}
