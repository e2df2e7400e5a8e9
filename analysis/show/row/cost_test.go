package row_test

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"testing"

	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
)

func criterion(root bool, best, worst float64, v map[float64]float64) *row.Criterion {
	return &row.Criterion{ID: "x", Title: "Colour difference", Short: "Colour", Unit: "ΔE00", Best: best, Worst: worst, Root: root, Holds: 3, Strains: 6,
		At: func(d *row.Data) *float64 {
			if x, ok := v[d.Stop]; ok {
				return &x
			}
			return nil
		},
		Words: func(v float64) string { return fmt.Sprintf("%.1f", v) }}
}

// What is dragged to a place is the value of that place, whatever the axis.
func TestLimitsLieWhereTheyAreDragged(t *testing.T) {
	for _, k := range []*row.Criterion{criterion(false, 0, 12, nil), criterion(true, 0, 12, nil), criterion(false, 12, 1, nil)} {
		for _, width := range []int{54, 92, 340} {
			for _, scale := range []float64{1, 1.25, 2} {
				for _, lim := range []row.Limit{row.HoldsLimit, row.StrainsLimit} {
					want := map[row.Limit]float64{row.HoldsLimit: k.Holds, row.StrainsLimit: k.Strains}[lim]
					// The place of the line, by search over the value that lies at a place.
					at, best := 0.0, math.Inf(1)
					for x := 40.0; x < 40+float64(width); x += 0.25 {
						if d := math.Abs(row.LimitValue(k, 40, width, scale, x) - want); d < best {
							at, best = x, d
						}
					}
					if best > 0.15 {
						t.Fatalf("no place has the value %g", want)
					}
					if got := row.LimitNear(k, 40, width, scale, at, 2); got != lim {
						t.Errorf("at %g of %d, scale %g: limit %v, want %v", at, width, scale, got, lim)
					}
					if row.LimitNear(k, 40, width, scale, at+200, 2) != row.NoLimit {
						t.Error("a limit far from the pointer")
					}
				}
				if a, b := row.LimitValue(k, 40, width, scale, -500), row.LimitValue(k, 40, width, scale, 5000); a != k.Best || b != k.Worst {
					t.Errorf("beyond the edges %g and %g", a, b)
				}
			}
		}
	}
	none := criterion(false, 0, 12, nil)
	none.Holds, none.Strains = math.NaN(), math.NaN()
	if row.LimitNear(none, 0, 100, 1, 30, 1000) != row.NoLimit {
		t.Error("a limit that is not there")
	}
}

// A cost column has a mark for every frame with a reading, at its stop; the worse the
// further right; one beyond the plot is a wedge at its edge, none where nothing is
// known; the limits are lines over the whole height.
func TestCostColumnMarks(t *testing.T) {
	all := rowtest.Frames(-1, 0, 1, 2)
	var c row.Criteria
	c[0] = criterion(false, 0, 12, map[float64]float64{-1: 2, 0: 0, 2: 40})
	for _, d := range all {
		d.Scales.Criteria = &c
	}
	img := image.NewRGBA(image.Rect(0, 0, 120, 400))
	k := paint.New(img, 1)
	cols := row.CostColumns()
	yOf := func(stop float64) float64 { return 200 - 80*stop }
	cols[0].DrawColumn(k, img.Rect, yOf, all)
	bright := func(y float64) (x0, x1 int) { // ends of what is in the colour of marks in a row
		x0, x1 = -1, -1
		for x := range 120 {
			if img.RGBAAt(x, int(y)) == (color.RGBA{k.Pal.Text.R, k.Pal.Text.G, k.Pal.Text.B, 255}) {
				if x0 < 0 {
					x0 = x
				}
				x1 = x
			}
		}
		return x0, x1
	}
	at := func(v float64) float64 { return 6 + v/12*(120-12) }
	for stop, v := range map[float64]float64{-1: 2, 0: 0} {
		x0, x1 := bright(yOf(stop))
		if m := float64(x0+x1) / 2; x0 < 0 || math.Abs(m-at(v)) > 1.5 {
			t.Errorf("%+g: a mark at %d..%d, want %.0f", stop, x0, x1, at(v))
		}
	}
	if x0, _ := bright(yOf(2)); x0 < 108 {
		t.Errorf("40 of at most 12: a mark at %d", x0)
	}
	// The frame at +1 has no reading: the line passes, no disc stands there.
	if x0, x1 := bright(yOf(1)); x1-x0 > 3 {
		t.Errorf("+1: a mark at %d..%d without a reading", x0, x1)
	}
	lines := 0
	for x := range 120 {
		n := 0
		for y := 20; y < 400; y++ {
			if p := img.RGBAAt(x, y); p.R > 90 && p.R == p.G {
				n++
			}
		}
		if n > 200 {
			lines++
			if d := math.Min(math.Abs(float64(x)-at(3)), math.Abs(float64(x)-at(6))); d > 2 {
				t.Errorf("a line at %d, limits at %.0f and %.0f", x, at(3), at(6))
			}
		}
	}
	if lines < 2 {
		t.Errorf("%d columns of pixels are lines, want both limits", lines)
	}
	if got := cols[0].Text(all[0]); len(got) != 1 || got[0] != "Colour difference 2.0" {
		t.Errorf("in words %q", got)
	}
	if cols[1].Text(all[0]) != nil {
		t.Error("words of a criterion that is not there")
	}
}
