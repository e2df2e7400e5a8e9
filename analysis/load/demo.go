package load

import (
	"fmt"
	"path/filepath"

	"stopladder/analysis/roll"
	"stopladder/analysis/scan"
	"stopladder/analysis/simulate"
)

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
	if lim == (scan.Limits{}) {
		lim = scan.DefaultLimits
	}
	return func(i int) (scan.Source, error) { return scan.Open(filepath.FromSlash(r.Frames[i].File), lim) }
}

func demoOpener(r *roll.Roll) func(i int) (scan.Source, error) {
	demo, err := simulate.NewDemo(r.Demo)
	frames := map[string]int{}
	if err == nil {
		for i, n := range demo.Names() {
			frames[n] = i
		}
	}
	return func(i int) (scan.Source, error) {
		if err != nil {
			return nil, err
		}
		k, ok := frames[filepath.Base(filepath.FromSlash(r.Frames[i].File))]
		if !ok {
			return nil, fmt.Errorf("%s is no frame of this version's demo roll; open the demo anew", name(r.Frames[i]))
		}
		return demo.Open(k), nil
	}
}
