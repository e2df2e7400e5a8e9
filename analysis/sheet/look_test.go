package sheet_test

import (
	"context"
	"os"
	"testing"

	"stopladder/analysis/roll"
	"stopladder/analysis/rung"
	"stopladder/analysis/rung/rungtest"
	"stopladder/analysis/sheet"
)

func input(stops ...float64) sheet.Input {
	in := sheet.Input{
		Title: "Courtyard at noon", Stock: "Sample reversal 100", Exposure: "f/11 1/125, incident", Judge: "A. Judge", Date: "2026-05-14",
		Range: &roll.Range{Lo: -0.5, Hi: 1}, Measured: &roll.Range{Lo: -0.7, Hi: 0.8}, Program: "Stopladder",
	}
	for _, d := range rungtest.Frames(stops...) {
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
		if err := sheet.WriteFile(dir+"/"+name+".png", img, sheet.Meta{PPI: 300, Title: in.Title, Software: "Stopladder"}); err != nil {
			t.Fatal(err)
		}
		t.Log(name, img.Rect)
	}
	eight := input(-3, -2, -1, 0, 1, 2, 3, 4)
	draw("sheet8", eight, 1600)
	draw("sheet8-3200", eight, 3200)
	draw("sheet3", input(-1, 0, 1), 1600)
	half := []float64{}
	for s := -3.0; s <= 4; s += 0.5 {
		half = append(half, s)
	}
	draw("sheet15", input(half...), 1600)
	odd := input(-3, -2, -1, -2.0/3, -1.0/3, 0, 0, 1.0/3, 2, 4)
	odd.Frames[1].Data.State, odd.Frames[1].Data.Message = rung.Failed, "The file ends after 20 of 7000 rows; ask the lab for a new copy."
	odd.Frames[1].Data.Look, odd.Frames[1].Data.Rel = nil, nil
	draw("sheetodd", odd, 1600)
	draw("sheet1", input(0), 1600)
	draw("sheet0", sheet.Input{}, 1600)
}
