package row_test

import (
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
)

func ladder(frames []*row.Data, w, h int, scale float64) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	c := paint.New(img, scale)
	c.Fill(img.Rect, c.Pal.Surround)
	ax, hd := c.Px(row.AxisWidth), c.Px(row.HeaderHeight)
	lo, hi := frames[0].Stop, frames[0].Stop
	var stops []float64
	for _, f := range frames {
		lo, hi = min(lo, f.Stop), max(hi, f.Stop)
		stops = append(stops, f.Stop)
	}
	per := float64(h-hd) / (hi - lo + 1)
	yOf := func(s float64) float64 { return float64(hd) + per/2 + (hi-s)*per }
	rows := image.Rect(ax, hd, w, h)
	placed := row.Arrange(rows.Dx(), scale, row.Columns())
	row.DrawHeader(c, image.Rect(ax, 0, w, hd), placed, frames...)
	for _, f := range frames {
		y := yOf(f.Stop)
		row.DrawRung(c, image.Rect(ax, int(y-per/2)+c.Px(3), w, int(y+per/2)-c.Px(3)), placed, f)
	}
	axis := image.Rect(0, hd, ax, h)
	row.DrawAxis(c, axis, yOf, lo-0.5, hi+0.5, stops)
	row.DrawRange(c, axis, yOf, row.RangeMarks{Judge: &roll.Range{Lo: -0.5, Hi: 1}, Measured: &roll.Range{Lo: -0.7, Hi: 0.8}})
	row.DrawMeasured(c, axis, yOf, lo-0.5, hi+0.5, frames)
	return img
}

// TestLook draws pictures to be looked at when STOPLADDER_LOOK names a folder.
func TestLook(t *testing.T) {
	dir := os.Getenv("STOPLADDER_LOOK")
	if dir == "" {
		t.Skip("STOPLADDER_LOOK names no folder to draw into")
	}
	save := func(name string, img *image.RGBA) {
		f, err := os.Create(dir + "/" + name + ".png")
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := png.Encode(f, img); err != nil {
			t.Fatal(err)
		}
	}
	frames := rowtest.Frames(-3, -2, -1, 0, 1, 2, 3, 4)
	frames[3].Current = true
	for _, w := range []int{90, 220, 420, 700, 1400, 2200} {
		for _, h := range []int{40, 90, 160} {
			save(fmt.Sprintf("ladder-%d-%d", w, h), ladder(frames, w+66, h*8+36, 1))
		}
	}
	truth(frames)
	save("truth", ladder(frames, 1100, 1000, 1))
	save("truth2x", ladder(frames, 1200, 1600, 2))
	save("truthwide", ladder(frames, 1900, 800, 1))
	save("ladder2x", ladder(frames, 1500, 1900, 2))
	odd := rowtest.Frames(-2, -1.0/3, 0, 0.5, 2)
	odd[0].State, odd[0].Message = row.Failed, "The file ends after 20 of 7000 rows; ask the lab for a new copy."
	odd[1].State, odd[1].Progress, odd[1].Look, odd[1].Rel = row.Reading, 0.4, nil, nil
	odd[1].Thumb = nil
	odd[4].State, odd[4].Look, odd[4].Rel, odd[4].Thumb = row.Waiting, nil, nil, nil
	odd[4].Hist = [3][]float64{}
	save("odd", ladder(odd, 700, 1400, 1))

	img := image.NewRGBA(image.Rect(0, 0, 900, 900))
	c := paint.New(img, 1)
	c.Fill(img.Rect, c.Pal.Surround)
	row.HistogramPlot(c, image.Rect(10, 10, 560, 300), frames[5], row.PlotOptions{Hover: true, HoverX: 420})
	row.HistogramPlot(c, image.Rect(10, 310, 300, 460), frames[1], row.PlotOptions{})
	n := row.Tables(c, image.Rect(580, 10, 890, 890), row.ReadingsOf(frames[5]), nil)
	t.Log("readings need", n)
	save("plot", img)
}

// truth gives frames what a whole roll tells: one a tenth off, one mislabelled.
func truth(frames []*row.Data) {
	for i, d := range frames {
		m, e := d.Stop+[]float64{0.02, -0.11, 0.03, 0, 0.04, 0.55, -0.02, -0.2}[i%8], 0.01+0.01*math.Abs(d.Stop)
		light, dark := 0.02*math.Exp2(d.Stop), 0.03*math.Exp2(-d.Stop)
		d.MeasuredStop, d.MeasuredStopError, d.FlatLight, d.FlatDark = &m, &e, &light, &dark
		d.Registration = &register.Registration{How: register.Direct, DX: 12.4 * float64(i-3), DY: -3.25 * float64(i-3), Rotation: 0.0312 * float64(i-3), Scale: 1, Confidence: 1 - 0.02*math.Abs(d.Stop)}
	}
	up := 2.4
	frames[3%len(frames)].Headroom = [measure.Bands]*response.Headroom{{Blocked: &up, BlownAtLeast: 5.25}, nil, {Blown: &up, BlockedAtLeast: 6}}
}
