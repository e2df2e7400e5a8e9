// Package samples writes the sample shelf: four invented rolls of one scene, measured and
// saved, so that shelf and comparison can be tried at once. Two film stocks, one of them
// pushed as well, the other scanned by another lab as well, with automatic levels.
package samples

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/load/memory"
)

// Options of Write.
type Options struct {
	Size     int    // long side of the scans in pixels; 0: Size
	Program  string // version that measures
	Force    bool   // write over the rolls of an earlier sample shelf
	Progress func(done float64, words string)
}

// Size is the long side of the scans in pixels unless another is asked for: enough for
// readings, and written and measured in a minute.
const Size = 1000

// rolls are those of the shelf. Everything in them is invented.
var rolls = []struct {
	name, kind, development, lab, scanner string
	variant                               simulate.Variant
	lo, hi                                float64 // the judge's range
}{
	{"slide", "reversal", "as rated", "North Lab", "drum, fixed settings", simulate.Plain, -0.75, 0.75},
	{"slide pushed", "reversal", "pushed one stop", "North Lab", "drum, fixed settings", simulate.Pushed, -0.5, 0.5},
	{"negative", "negative", "as rated", "North Lab", "drum, fixed settings", simulate.Plain, -1.5, 3},
	{"negative by another lab", "negative", "as rated", "Corner Lab", "line scanner, automatic levels", simulate.Levelled, -1, 2},
}

// Write makes the sample shelf in dir, which is made where it does not exist, and returns
// the roll files. The scans of a roll lie in a folder of its name.
func Write(ctx context.Context, dir string, o Options) (files []string, err error) {
	if o.Size == 0 {
		o.Size = Size
	}
	for _, x := range rolls { // before anything is written
		path := filepath.Join(dir, x.name+roll.Ext)
		if _, err := os.Lstat(path); err == nil && !o.Force {
			return nil, &simulate.DemoFileError{Path: path, Why: path + " exists already and was left alone: choose an empty folder, or ask for overwriting", Err: fs.ErrExist}
		}
	}
	for i, x := range rolls {
		tell := func(done float64, words string) {
			if o.Progress != nil {
				o.Progress((float64(i)+done)/float64(len(rolls)), x.name+": "+words)
			}
		}
		demo, err := simulate.NewDemo(x.kind)
		if err != nil {
			return files, err
		}
		scans, err := simulate.WriteDemo(ctx, filepath.Join(dir, x.name), simulate.WriteOptions{Kind: x.kind, Size: o.Size, Force: o.Force, Variant: x.variant,
			Progress: func(done float64) { tell(done/2, "exposing and scanning") }})
		if err != nil {
			return files, err
		}
		job, err := load.Plan(scans, load.Options{})
		if err != nil {
			return files, err
		}
		done := 0
		measured, err := load.Measure(ctx, job, nil, load.Options{}, func(e load.Event) {
			if e.Kind == load.Looked || e.Kind == load.Salvaged {
				memory.Bound()
				done++
				tell(0.5+0.5*min(1, float64(done)/float64(3*len(scans))), "measuring")
			}
		})
		if err != nil {
			return files, err
		}
		r := job.Roll
		for k, f := range measured.Frames {
			r.Frames[k].SHA256, r.Frames[k].Bytes = f.SHA256, f.Bytes
		}
		r.Title, r.Stock, r.Exposure = "Courtyard, "+x.name, demo.Stock, demo.Exposure
		r.Scene, r.Metering, r.Development, r.Lab, r.Scanner, r.Date = "courtyard in full sun", "incident", x.development, x.lab, x.scanner, "2026-05-02"
		r.Judge().Judge = "Sample judge"
		r.SetRange(x.lo, x.hi)
		r.Readings = measured.With(r).Kept(o.Program)
		path := filepath.Join(dir, x.name+roll.Ext)
		if o.Force {
			if old, _, err := roll.Load(path); err == nil && (len(old.Marks) == 0 || old.Marks[0].Judge != r.Marks[0].Judge) {
				return files, &simulate.DemoFileError{Path: path, Why: filepath.Base(path) + " is not of an earlier sample shelf and was left alone: choose another folder", Err: errors.New("marks of another judge")}
			}
		}
		if err := r.Save(path); err != nil {
			return files, err
		}
		files = append(files, path)
	}
	return files, nil
}
