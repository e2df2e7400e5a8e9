package publish_test

import (
	"context"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/film"
	"stopladder/analysis/load"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/publish"
	"stopladder/analysis/show/render"
)

// measured measures a folder of scans as the commands do.
func measured(t testing.TB, paths ...string) (*film.Roll, publish.Source) {
	t.Helper()
	job, err := load.Plan(paths, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := load.Measure(context.Background(), job, nil, load.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r, publish.Source{Roll: r, Open: load.Opener(r.Judged, load.Options{})}
}

// TestLook draws the rolls of STOPLADDER_LOOK_ROLLS (folders or roll files) in all
// arrangements and on all grounds into the folder STOPLADDER_LOOK, for a person to look at;
// STOPLADDER_LOOK_ONLY picks names that contain it.
func TestLook(t *testing.T) {
	dir, rolls := os.Getenv("STOPLADDER_LOOK"), filepath.SplitList(os.Getenv("STOPLADDER_LOOK_ROLLS"))
	if dir == "" || len(rolls) == 0 {
		t.Skip("draws pictures for a person: set STOPLADDER_LOOK and STOPLADDER_LOOK_ROLLS")
	}
	only := strings.Fields(os.Getenv("STOPLADDER_LOOK_ONLY"))
	for _, path := range rolls {
		r, src := measured(t, path)
		in := plate.FromRoll(r, render.Shown{Corrected: true}, "Stopladder")
		for _, a := range plate.Arrangements() {
			for _, g := range plate.Grounds() {
				for _, s := range plate.Shapes() {
					name := strings.ReplaceAll(filepath.Base(path)+"-"+string(a)+"-"+string(g)+"-"+string(s), ":", "x")
					wanted := len(only) == 0
					for _, w := range only {
						wanted = wanted || strings.Contains(name, w)
					}
					if !wanted {
						continue
					}
					page, err := plate.Lay(in, plate.Options{Arrangement: a, Ground: g, Shape: s, Width: 2000, Masks: strings.Contains(os.Getenv("STOPLADDER_LOOK_ONLY"), "masks")})
					if err != nil {
						t.Fatal(err)
					}
					img, err := publish.Image(context.Background(), publish.Job{Page: page, Source: src})
					if err != nil {
						t.Fatal(err)
					}
					f, err := os.Create(filepath.Join(dir, name+".png"))
					if err != nil {
						t.Fatal(err)
					}
					if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(f, img); err != nil {
						t.Fatal(err)
					}
					f.Close()
				}
			}
		}
	}
}
