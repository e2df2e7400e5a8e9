package row_test

import (
	"image"
	"image/color"
	"math"
	"strings"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
)

// A deviation is nothing up to the tolerance, joined beyond it, and flagged
// beyond a third of a stop.
func TestMeasuredMarks(t *testing.T) {
	white := func(off float64) (n int) {
		d := rowtest.Frames(0)[0]
		m := d.Stop + off
		d.MeasuredStop = &m
		img := image.NewRGBA(image.Rect(0, 0, 66, 300))
		c := paint.New(img, 1)
		c.Fill(img.Rect, c.Pal.Surround)
		yOf := func(s float64) float64 { return 150 - 100*s }
		row.DrawMeasured(c, img.Rect, yOf, -1.4, 1.4, []*row.Data{d, nil, {}})
		for y := range 300 {
			for x := range 66 {
				if img.RGBAAt(x, y) == (color.RGBA{255, 255, 255, 255}) {
					n++
				}
			}
		}
		return n
	}
	on, near, joined, flagged := white(0), white(0.04), white(-0.2), white(0.5)
	if on == 0 || math.Abs(float64(on-near)) > 6 {
		t.Errorf("agreeing marks have %d and %d white pixels", on, near)
	}
	if joined < near+10 {
		t.Errorf("a deviation of 0.2 has %d white pixels, agreement %d", joined, near)
	}
	if flagged < joined+60 {
		t.Errorf("a flagged label has %d white pixels, a joined one %d", flagged, joined)
	}
}

func TestOff(t *testing.T) {
	m := 1.4
	d := &row.Data{Stop: 1, MeasuredStop: &m}
	if off, ok := d.Off(); !ok || math.Abs(off-0.4) > 1e-12 || !d.Flagged() {
		t.Errorf("%v %v", off, ok)
	}
	d.Unlabelled = true
	if _, ok := d.Off(); ok || d.Flagged() {
		t.Error("a frame without a label has none to contradict")
	}
	m = 1.3
	if d.Unlabelled = false; d.Flagged() {
		t.Error("0.3 stop is within a third")
	}
}

// Columns and readings say what the roll says, and nothing where it is silent.
func TestTruthInWords(t *testing.T) {
	d := rowtest.Frames(0, 1)[1]
	cells := func(id string) []string {
		for _, col := range row.Columns() {
			if col.ID == id {
				return col.Text(d)
			}
		}
		t.Fatalf("no column %s", id)
		return nil
	}
	if cells("measured") != nil || cells("shift") != nil {
		t.Error("columns speak of what is not known")
	}
	m, e, flat := 1.4, 0.031, 0.125
	d.MeasuredStop, d.MeasuredStopError, d.FlatLight = &m, &e, &flat
	d.Registration = &register.Registration{How: register.Direct, DX: 12.34, DY: -0.04, Rotation: -0.125, Scale: 1, Confidence: 0.999}
	up := 2.36
	d.Headroom[measure.Highlights] = &response.Headroom{Blown: &up, BlockedAtLeast: 4}
	if got := strings.Join(cells("measured"), " "); got != "+1.40 0.03 +0.40" {
		t.Errorf("measured: %q", got)
	}
	if got := strings.Join(cells("shift"), " "); got != "+12.3 0.0 −0.125 99" {
		t.Errorf("shift: %q", got)
	}
	if got := cells("losses")[0]; !strings.Contains(got, "flat besides: 12 %") {
		t.Errorf("losses: %q", got)
	}
	all := ""
	for _, s := range row.ReadingsOf(d) {
		for _, r := range s.Rows {
			all += r.Name + "=" + strings.Join(r.Values, ",") + "\n"
		}
	}
	for _, want := range []string{"Measured stop=+1.40 ± 0.03, +0.40 off the label", "contradicts the label", "Turn=−0.125°", "Flat light=12 % of image area", "Highlights=≥ 4.0,2.4"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is missing from\n%s", want, all)
		}
	}
	d.Registration.How = register.Areas
	if cells("shift") != nil {
		t.Error("a refused registration has figures")
	}
}
