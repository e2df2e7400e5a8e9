package load

import (
	"fmt"
	"path/filepath"
	"slices"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
)

// Opener returns how the frames of a roll are opened: from files, or rendered for a roll of
// the demo.
func Opener(r *roll.Roll, o Options) func(i int) (scan.Source, error) { return o.opener(r) }

// opener returns how the frames of a roll are opened: from files, or rendered
// for a roll of the demo.
func (o Options) opener(r *roll.Roll) func(i int) (scan.Source, error) {
	if o.Open != nil {
		return func(i int) (scan.Source, error) { return o.Open(r, i) }
	}
	if r.Demo != "" {
		return demoOpener(r)
	}
	lim := o.Limits
	if lim == (scan.Bounds{}) {
		lim = scan.DefaultBounds
	}
	return func(i int) (scan.Source, error) { return scan.Open(filepath.FromSlash(r.Frames[i].File), lim) }
}

func demoOpener(r *roll.Roll) func(i int) (scan.Source, error) {
	demo, err := simulate.NewDemo(r.Demo)
	return func(i int) (scan.Source, error) {
		if err != nil {
			return nil, err
		}
		return DemoFrame(demo, r.Frames[i])
	}
}

// DemoFrame returns the frame of a demo roll that a roll's frame names.
func DemoFrame(demo *simulate.Demo, f roll.Frame) (scan.Source, error) {
	if k := slices.Index(demo.Names(), name(f)); k >= 0 {
		return demo.Open(k), nil
	}
	return nil, fmt.Errorf("%s is no frame of this version's demo roll; open the demo anew", name(f))
}
