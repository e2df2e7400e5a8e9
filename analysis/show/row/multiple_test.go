package row_test

import (
	"image"
	"strings"
	"testing"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
)

// No part of a row lies on another or outside it, at any size that a ladder can have,
// and all rows of one height have their parts under each other.
func TestPartsOfARowStandApart(t *testing.T) {
	for _, scale := range []float64{1, 1.5, 2} {
		for width := row.LeastMultiples; width < row.LeastFigures; width += 37 {
			for height := 38.0; height <= 170; height += 3.3 {
				w, h := int(width*scale), int(height*scale)
				m := row.PlaceMultiple(scale, image.Rect(0, 0, w, h), height)
				taller := row.PlaceMultiple(scale, image.Rect(0, 0, w, h+1), height)
				if m.Bars[0].Min.X != taller.Bars[0].Min.X || m.Picture.Dx() != taller.Picture.Dx() {
					t.Fatalf("%v units at %v: a pixel of rounding moves the bars", height, scale)
				}
				parts := []image.Rectangle{m.Picture, m.Bars[0], m.Bars[1], m.Bars[2], m.Verdict, m.Why}
				for i, a := range parts {
					if a.Empty() || !a.In(image.Rect(0, 0, w, h)) {
						t.Fatalf("%v x %v units at %v: part %d is %v", width, height, scale, i, a)
					}
					for j, b := range parts[:i] {
						if a.Overlaps(b) {
							t.Fatalf("%v x %v units at %v: part %d %v lies on part %d %v", width, height, scale, i, a, j, b)
						}
					}
				}
				if got := m.At(m.Bars[1].Min); got != row.BlockedPart {
					t.Fatalf("the second bar is %q", got)
				}
			}
		}
	}
}

// The line under the readings names the criterion that decided, its figure and the limit
// that it passed; where nothing was passed, the one that came nearest.
func TestTheReasonNamesWhatDecided(t *testing.T) {
	rows := row.Of(looked(rowtest.Roll(nil, -3, -1, 0, 1, 3, 7)), nil)
	for i, want := range []string{ // by rowtest.Comparison's rule and the limits for the screen: 3 and 6 dE00, 2 and 10 % lost
		"3.0 ΔE00, limit 3", "1.0 ΔE00, limit 3", "base frame", "3.0 % lost, limit 2", "9.0 % lost, limit 2", "21 % lost, limit 10",
	} {
		if got := rows[i].Why(); !strings.HasPrefix(got, want) && !(i < 2 && strings.Contains(got, "limit")) {
			t.Errorf("%s: %q, want %q", rows[i].Name(), got, want)
		}
	}
	if e, ok := rows[3].Decide(); !ok || !e.Passed || e.Criterion.ID != "lostArea" || rows[3].Suggested != "strains" {
		t.Errorf("+1: %+v, suggested %q", e, rows[3].Suggested)
	}
	if e, ok := rows[1].Decide(); !ok || e.Passed {
		t.Errorf("-1 keeps every limit: %+v", e)
	}
	if _, ok := rows[2].Decide(); ok {
		t.Error("the base frame has a decision")
	}
}

// The verdict of the judge and the suggestion of the limits are never drawn alike.
func TestASuggestionIsNotDrawnAsAVerdict(t *testing.T) {
	draw := func(judged bool) *image.RGBA {
		rows := rowtest.Frames(-3, -1, 0, 1, 3)
		d := *rows[0]
		d.Verdict, d.Suggested = "", "breaks"
		if judged {
			d.Verdict = "breaks"
		}
		img := image.NewRGBA(image.Rect(0, 0, 304, 78))
		row.DrawMultiple(paint.New(img, 1), img.Rect, 78, &d)
		return img
	}
	brightest := func(img *image.RGBA) (most uint8) {
		m := row.PlaceMultiple(1, img.Rect, 78)
		for y := m.Verdict.Min.Y; y < m.Verdict.Max.Y; y++ {
			for x := m.Verdict.Min.X; x < m.Verdict.Max.X; x++ {
				most = max(most, img.RGBAAt(x, y).G)
			}
		}
		return most
	}
	if yours, limits := brightest(draw(true)), brightest(draw(false)); limits+20 > yours {
		t.Errorf("the judge's verdict is drawn with %d, the suggestion with %d", yours, limits)
	}
}

// looked gives the frames looks, by which rows know them.
func looked(r *film.Roll) *film.Roll {
	for i := range r.Frames {
		r.Frames[i].Look = &measure.Look{}
	}
	return r
}
