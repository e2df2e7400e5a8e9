package ui

import (
	"path/filepath"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
)

// openDemo opens the built-in roll on reversal or negative film; "" is the
// reversal, whose narrow range shows at once what the ladder is for.
func (w *Window) openDemo(kind string) {
	if kind == "" {
		kind = "reversal"
	}
	d, err := w.demo(kind)
	if err != nil {
		w.say("The demo roll cannot be shown", err)
		return
	}
	r := &roll.Roll{Title: d.Title, Stock: d.Stock, Exposure: d.Exposure, Demo: kind}
	stops := d.Stops()
	for i, n := range d.Names() {
		r.Frames = append(r.Frames, roll.Frame{File: n, Stop: stops[i], Origin: roll.FromDemo})
	}
	w.begin(&load.Job{Roll: r})
}

// demo returns a demo roll, rendered once for the life of the window.
func (w *Window) demo(kind string) (*simulate.Demo, error) {
	if d := w.demos[kind]; d != nil {
		return d, nil
	}
	d, err := simulate.NewDemo(kind)
	if err != nil {
		return nil, err
	}
	w.demos[kind] = d
	return d, nil
}

// opener returns how the frames of a roll are opened: from files, or rendered
// for a demo roll.
func (w *Window) opener() func(r *roll.Roll, i int) (scan.Source, error) {
	var demo *simulate.Demo
	var err error
	if k := w.sess.Roll.Demo; k != "" {
		demo, err = w.demo(k) // a roll file may name a demo that is not there: said for each frame
	}
	return func(r *roll.Roll, i int) (scan.Source, error) {
		f := r.Frames[i]
		switch {
		case err != nil:
			return nil, err
		case demo != nil:
			return load.DemoFrame(demo, f)
		}
		return scan.Open(filepath.FromSlash(f.File), scan.DefaultBounds)
	}
}

func (w *Window) loadOptions() load.Options { return load.Options{Open: w.opener()} }

// openRoll shows a roll that is at hand already, recovered work for instance.
func (w *Window) openRoll(r *roll.Roll, path string, unsaved bool) {
	w.begin(&load.Job{Roll: r})
	w.sess.Path = path
	if unsaved {
		w.sess.MarkUnsaved()
	}
	w.changed(0)
	w.showTitle()
}
