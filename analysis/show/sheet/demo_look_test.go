package sheet_test

import (
	"context"
	"image"
	"os"
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/sheet"
)

// demo measures a built-in roll as the program does.
func demo(t *testing.T, kind string) sheet.Input {
	t.Helper()
	ctx := context.Background()
	d, err := simulate.NewDemo(kind)
	if err != nil {
		t.Fatal(err)
	}
	stops := d.Stops()
	looks := make([]*measure.Look, len(stops))
	base := 0
	for i, s := range stops {
		if s == 0 {
			base = i
		}
		if looks[i], err = measure.NewLook(ctx, d.Open(i), measure.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	looks, err = measure.Agree(ctx, looks, base, func(i int) (scan.Source, error) { return d.Open(i), nil }, measure.Options{})
	if err != nil {
		t.Fatal(err)
	}
	in := sheet.Input{Title: d.Title, Stock: d.Stock, Exposure: d.Exposure, Judge: "M. Example", Date: "2026-05-14", Range: &roll.Range{Lo: -0.5, Hi: 1}, Program: "Stopladder"}
	for i, l := range looks {
		rel, err := measure.Relate(ctx, looks[base], l, measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		data := &row.Data{Stop: stops[i], File: d.Names()[i], Base: i == base, Look: l, Rel: rel, State: row.Ready, Thumb: render.Area(l, nil, 320, 240)}
		switch s := stops[i]; {
		case s == 0:
			data.Verdict = roll.Holds
		case s == 1:
			data.Verdict, data.Note = roll.Strains, "sky thin, wall still clean"
		case s == -1:
			data.Verdict, data.Note = roll.Strains, "shade tight; lifts with grain"
		default:
			data.Verdict = roll.Breaks
		}
		data.Prepare()
		in.Frames = append(in.Frames, sheet.Frame{Data: data, Origin: roll.FromDemo, Picture: func(_ context.Context, w, h int) (*image.RGBA, error) {
			return render.Area(l, nil, w, h), nil
		}})
	}
	return in
}

// TestLookAtDemo draws the sheets of both demo rolls when STOPLADDER_LOOK names
// a folder.
func TestLookAtDemo(t *testing.T) {
	dir := os.Getenv("STOPLADDER_LOOK")
	if dir == "" {
		t.Skip("STOPLADDER_LOOK names no folder to draw into")
	}
	for _, kind := range []string{"reversal", "negative"} {
		in := demo(t, kind)
		for name, w := range map[string]int{"-1600": 1600, "-3200": 3200} {
			if err := pngwrite.File(dir+"/demo-"+kind+name+".png", mustDraw(t, in, w), pngwrite.Meta{PPI: 300}); err != nil {
				t.Fatal(err)
			}
		}
	}
}
