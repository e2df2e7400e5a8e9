package ui

import (
	"path/filepath"
	"sync"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
	"stopladder/ui/session"
)

// openDemo opens the built-in roll on reversal or negative film; "" is the
// reversal, whose narrow range shows at once what the ladder is for.
func (w *Window) openDemo(kind string) {
	if kind == "" {
		kind = "reversal"
	}
	r, err := w.demoRoll(kind)
	if err != nil {
		w.say("The demo roll cannot be shown", err)
		return
	}
	w.openInTab(session.Open{Job: load.Of(r)})
	w.offerTour()
}

// sources open the frames of rolls. They are safe for concurrent use.
type sources struct {
	mu    sync.Mutex
	demos map[string]*simulate.Demo // by kind, rendered once for the life of the window
}

func (s *sources) demo(kind string) (*simulate.Demo, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if d := s.demos[kind]; d != nil {
		return d, nil
	}
	d, err := simulate.NewDemo(kind)
	if err != nil {
		return nil, err
	}
	if s.demos == nil {
		s.demos = map[string]*simulate.Demo{}
	}
	s.demos[kind] = d
	return d, nil
}

// open opens a frame of a roll: its file, or what the demo renders.
func (s *sources) open(r *roll.Roll, i int) (scan.Source, error) {
	f := r.Frames[i]
	if r.Demo == "" {
		return scan.Open(filepath.FromSlash(f.File), scan.DefaultBounds)
	}
	d, err := s.demo(r.Demo)
	if err != nil { // a roll file may name a demo that is not there: said for each frame
		return nil, err
	}
	return load.DemoFrame(d, f)
}
