package sheet_test

import (
	"context"
	"math"
	"os"
	"slices"
	"testing"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
	"stopladder/analysis/show/sheet"
)

func input(stops ...float64) sheet.Input {
	in := sheet.Input{
		Title: "Courtyard at noon", Stock: "Sample reversal 100", Exposure: "f/11 1/125, incident", Judge: "A. Judge", Date: "2026-05-14",
		Range: &roll.Range{Lo: -0.5, Hi: 1}, Measured: &latitude.Result{Holds: latitude.Range{Lo: latitude.End{Stop: -0.7}, Hi: latitude.End{Stop: 0.8}}}, Program: "Stopladder",
	}
	for _, d := range rowtest.Frames(stops...) {
		in.Frames = append(in.Frames, sheet.Frame{Data: d, Origin: roll.FromName})
	}
	return in
}

// TestLook draws sheets to be looked at when STOPLADDER_LOOK names a folder.
func TestLook(t *testing.T) {
	dir := os.Getenv("STOPLADDER_LOOK")
	if dir == "" {
		t.Skip("STOPLADDER_LOOK names no folder to draw into")
	}
	draw := func(name string, in sheet.Input, width int) {
		img, err := sheet.Draw(context.Background(), in, sheet.Options{Width: width})
		if err != nil {
			t.Fatal(err)
		}
		if err := pngwrite.File(dir+"/"+name+".png", img, pngwrite.Meta{PPI: 300, Title: in.Title, Software: "Stopladder"}); err != nil {
			t.Fatal(err)
		}
		t.Log(name, img.Rect)
	}
	eight := input(-3, -2, -1, 0, 1, 2, 3, 4)
	draw("sheet8", eight, 1600)
	draw("sheet8-3200", eight, 3200)
	draw("sheet8-response", measured(eight), 1600)
	draw("sheet8-response-3200", measured(eight), 3200)
	draw("sheet3-response", measured(input(-1, 0, 1)), 1600)
	draw("sheet3", input(-1, 0, 1), 1600)
	half := []float64{}
	for s := -3.0; s <= 4; s += 0.5 {
		half = append(half, s)
	}
	draw("sheet15", input(half...), 1600)
	thirds := []float64{}
	for s := -15; s <= 15; s++ {
		thirds = append(thirds, float64(s)/3)
	}
	draw("sheet31-response", measured(input(thirds...)), 1600)
	odd := input(-3, -2, -1, -2.0/3, -1.0/3, 0, 0, 1.0/3, 2, 4)
	odd.Frames[1].Data.State, odd.Frames[1].Data.Message = row.Failed, "The file ends after 20 of 7000 rows; ask the lab for a new copy."
	odd.Frames[1].Data.Look, odd.Frames[1].Data.Rel = nil, nil
	draw("sheetodd", odd, 1600)
	draw("sheet1", input(0), 1600)
	draw("sheet0", sheet.Input{}, 1600)
}

// measured adds what a whole roll tells; the response is an invented curve.
func measured(in sheet.Input) sheet.Input {
	k := &response.Curve{MidGrey: response.MidGreyMetered}
	for i := -80; i <= 65; i++ {
		x := float64(i) * 0.02
		k.LogE = append(k.LogE, x)
		for c := range 3 {
			k.Density[c] = append(k.Density[c], 0.1+2.9/(1+math.Exp((2.3+0.1*float64(c))*(x+0.25))))
			k.Sigma[c] = append(k.Sigma[c], 0.01)
		}
	}
	for c := range 3 {
		k.Channels[c] = response.Channel{Covered: [2]float64{-1.6, 1.3}, Gamma: 2.9 * (2.3 + 0.1*float64(c)) / 4, GammaAt: -0.25, Straight: [2]float64{-0.72, 0.22},
			Useful: [2]float64{-1.4, 0.9}, UsefulStops: 2.3 / math.Log10(2)}
	}
	d := &plot.Data{Curve: k, Roll: in.Title, Ceiling: [3]float64{0.01, 0.01, 0.01}, Floor: [3]float64{2.8, 2.8, 2.8}}
	in.Frames = slices.Clone(in.Frames)
	for i, f := range in.Frames {
		q := *f.Data
		m, e := q.Stop+[]float64{0.02, -0.11, 0.03, 0.5, 0.04, 0.01, -0.02, -0.2}[i%8], 0.01+0.01*math.Abs(q.Stop)
		if q.Base {
			m = 0
		}
		light, dark := math.Min(0.3, 0.02*math.Exp2(q.Stop)), math.Min(0.3, 0.03*math.Exp2(-q.Stop))
		q.MeasuredStop, q.MeasuredStopError, q.FlatLight, q.FlatDark = &m, &e, &light, &dark
		in.Frames[i].Data = &q
		d.Frames = append(d.Frames, plot.Frame{Stop: q.Stop, Labelled: true, Measured: &m, Error: &e})
	}
	in.Response = d
	in.Conditions = []string{"All frames are registered to the base frame.", "The scans are fixed: one response explains all frames.", "The label +2 disagrees with the picture, which says +2.50."}
	return in
}
