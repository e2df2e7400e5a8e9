package pane

import (
	"strings"
	"testing"

	"fyne.io/fyne/v2"
)

// A label never covers a third of its picture, at any size, and says the stop at every one.
func TestPlatesGiveWayToThePicture(t *testing.T) {
	note := "salvaged, exposure and balance and curves, corrected like all   Blown 12.3 %   Blocked 4.5 %   Noisy 67.8 %   Lost 9.1 %, reading full resolution"
	pl := newPlate()
	pl.say("−2⅓", note)
	for _, size := range []fyne.Size{{Width: 48, Height: 36}, {Width: 90, Height: 60}, {Width: 149, Height: 140}, {Width: 160, Height: 100}, {Width: 200, Height: 130}, {Width: 300, Height: 200}, {Width: 500, Height: 400}, {Width: 900, Height: 700}, {Width: 2000, Height: 1300}} {
		pl.fit(size)
		if share := pl.size.Width * pl.size.Height / (size.Width * size.Height); share > 1.0/3 {
			t.Errorf("%v: the label covers %.0f %% of the picture", size, 100*share)
		}
		if pl.size.Width+2*pl.inset() > size.Width || pl.size.Height+2*pl.inset() > size.Height {
			t.Errorf("%v: the label is %v", size, pl.size)
		}
		if !pl.label.Visible() || pl.label.Text != "−2⅓" {
			t.Errorf("%v: no stop", size)
		}
		small := size.Width < smallWidth || size.Height < smallHeight
		if said := pl.lines[0].Text != ""; said == small {
			t.Errorf("%v: small print %q", size, pl.lines[0].Text)
		}
		for _, l := range pl.lines {
			if end := l.Position().X + fyne.MeasureText(l.Text, l.TextSize, l.TextStyle).Width; end > pl.size.Width {
				t.Errorf("%v: %q ends at %g of %g", size, l.Text, end, pl.size.Width)
			}
		}
	}
	// With room enough everything is said, in one line.
	if pl.lines[0].Text != note || pl.lines[1].Text != "" {
		t.Errorf("with room enough: %q, %q", pl.lines[0].Text, pl.lines[1].Text)
	}
}

// Small print is wrapped where its phrases end, and what finds no room is told as missing.
func TestFoldAtPhrases(t *testing.T) {
	runes := func(s string) float32 { return float32(len([]rune(s))) }
	for _, c := range []struct {
		note         string
		first, width float32
		most         int
		want         string
	}{
		{"as scanned", 20, 30, 3, "as scanned"},
		{"as scanned, preview only", 12, 30, 3, "as scanned,|preview only"},
		{"as scanned   Blown 12 %   Lost 3 %", 24, 30, 3, "as scanned   Blown 12 %|Lost 3 %"},
		{"as scanned   Blown 12 %   Lost 3 %", 14, 9, 3, "as scanned|Blown 12…"},
		{"as scanned   Blown 12 %   Lost 3 %", 14, 12, 2, "as scanned|Blown 12 %…"},
		{"as scanned", 4, 30, 3, "|as scanned"},
		{"as scanned", 4, 4, 1, "as…"},
		{"", 4, 4, 1, ""},
	} {
		if got := strings.Join(fold(c.note, c.first, c.width, c.most, runes), "|"); got != c.want {
			t.Errorf("%q in %g, %g: %q, want %q", c.note, c.first, c.width, got, c.want)
		}
	}
}
