package explain_test

import (
	"strings"
	"testing"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
)

// Every part of a row and every column has a card, and what a thing is comes from the
// manual's glossary.
func TestNothingUnexplained(t *testing.T) {
	rows := rowtest.Frames(-3, -1, 0, 1, 3)
	for _, d := range rows {
		for _, part := range []row.Part{row.PicturePart, row.BlownPart, row.BlockedPart, row.NoisyPart, row.VerdictPart, row.WhyPart} {
			c := explain.Part(d, part, "screen")
			if c.Title == "" || len(c.Text) == 0 && part != row.PicturePart {
				t.Errorf("%s, %s: %+v", d.Name(), part, c)
			}
		}
	}
	for _, col := range row.Columns() {
		if c := explain.Column(col, rows[0]); c.Title == "" || len(c.Text) == 0 {
			t.Errorf("column %s: %+v", col.ID, c)
		}
	}
	blown := explain.Part(rows[0], row.BlownPart, "")
	if w := explain.Word("Blown"); w == "" || !strings.EqualFold(blown.Text[0], w+".") {
		t.Errorf("the card says %q, the manual %q", blown.Text[0], w)
	}
}

// A verdict's card has the figure that decided, both limits, and whose they are.
func TestAVerdictSaysWhatDecided(t *testing.T) {
	rows := row.Of(looked(rowtest.Roll(nil, -1, 0, 1, 7)), nil)
	c := explain.Verdict(rows[3], "screen")
	all := c.Title + " " + strings.Join(c.Text, " ")
	for _, want := range []string{"Suggested: Breaks", "21 % lost", "for Holds is 2,", "for Strains 10 (screen)", "last word is yours"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in %q", want, all)
		}
	}
	if c := explain.Verdict(rows[0], "screen"); !strings.Contains(c.Text[0], "Within every limit") {
		t.Errorf("a frame that holds: %q", c.Text)
	}
	if c := explain.Verdict(rows[1], "screen"); !strings.Contains(c.Text[0], "base frame") {
		t.Errorf("the base frame: %q", c.Text)
	}
}

// looked gives the frames looks, by which rows know them.
func looked(r *film.Roll) *film.Roll {
	for i := range r.Frames {
		r.Frames[i].Look = &measure.Look{}
	}
	return r
}
