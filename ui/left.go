package ui

import (
	"context"
	"path/filepath"
	"time"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/pngwrite"
	"stopladder/ui/session"
	"stopladder/ui/settings"
)

// The window comes back as it was left: its size, the ladder's width, the rolls that were
// open with page, layout and marker of each. That is written a second after it changes, so
// that a program that is killed comes back the same way.

// settingsDelay is how long after a change the settings are written.
const settingsDelay = time.Second

// keepSettings writes the settings soon.
func (w *Window) keepSettings() {
	if w.keeping || w.home == "" || !w.restored {
		return
	}
	w.keeping = true
	w.chores.Start("settings", func(ctx context.Context, post func(func())) func() {
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(settingsDelay):
		}
		return func() {
			w.keeping = false
			w.noteSettings()
			save := w.settings.Saver()
			go func() { _ = save() }() // nothing of the user's work is in it
		}
	})
}

// noteSettings takes down how the window is now.
func (w *Window) noteSettings() {
	s := w.settings
	if size := w.win.Canvas().Size(); size.Width > 0 {
		s.Width, s.Height = size.Width, size.Height
	}
	s.Ladder = w.desk.share
	s.Panel = string(w.state.Panel())
	if !w.restored { // what is still to be opened is not forgotten
		return
	}
	s.Rolls, s.Front = nil, 0
	for _, o := range w.tabs.all {
		st := w.stateOf(o)
		r := st.Roll()
		if st.Empty() {
			continue
		}
		if o == w.tabs.front {
			s.Front = len(s.Rolls)
		}
		x := settings.Roll{Demo: r.Demo, Marker: st.Marker(), Layout: int(st.Layout()), Panel: string(st.Panel()), Curve: st.Curve()}
		switch {
		case r.Path() != "":
			x.Paths = []string{r.Path()}
		case r.Demo == "":
			for _, f := range r.Frames {
				x.Paths = append(x.Paths, f.File)
			}
		}
		s.Rolls = append(s.Rolls, x)
	}
}

// reopen opens the rolls that were open when the program ended, the one that was in front
// there in front. One that cannot be opened without a question is left out: its roll file
// is among the recent ones, its scans where they were.
func (w *Window) reopen() {
	rolls, front := w.settings.Rolls, w.settings.Front
	w.status.reading("Opening what was open last time…", false, 0)
	w.chores.Start("open", func(context.Context, func(func())) func() {
		jobs := make([]*load.Job, len(rolls))
		var gone []string
		for i, x := range rolls {
			if x.Demo != "" && len(x.Paths) == 0 {
				continue
			}
			job, err := load.Plan(x.Paths, load.Options{Own: pngwrite.Wrote})
			if err == nil && asksNothing(job) {
				jobs[i] = job
			} else if len(x.Paths) > 0 {
				gone = append(gone, filepath.Base(x.Paths[0]))
			}
		}
		return func() {
			w.restored, w.expecting = true, false
			w.showReading()
			w.reopened(rolls, jobs, front)
			if len(gone) > 0 {
				w.apply(session.Notify{Notice: session.Notice{ID: "gone", Lasting: true,
					Text: "Not opened again, because it is not where it was or its frames have no labels: " + someNames(gone) + "."}})
			}
			w.showStart()
			w.redraw(session.Notices)
		}
	})
}

// asksNothing reports that every frame of a job has its stop.
func asksNothing(job *load.Job) bool {
	if len(job.Offers) > 0 {
		return false
	}
	for _, u := range job.Unknown {
		if u {
			return false
		}
	}
	return true
}

func (w *Window) reopened(rolls []settings.Roll, jobs []*load.Job, front int) {
	var show *openRoll
	for i, x := range rolls {
		job := jobs[i]
		if job == nil && x.Demo != "" {
			if r, err := w.demoRoll(x.Demo); err == nil {
				job = load.Of(r)
			}
		}
		if job == nil {
			continue
		}
		how := []session.Change{session.MoveTo{Stop: x.Marker}}
		if l := session.Layout(x.Layout); l > session.One && l <= session.Edge {
			how = append(how, session.SetLayout{Layout: l})
		}
		if p := session.Panel(x.Panel); p != session.NoPanel {
			how = append(how, session.TogglePanel{Panel: p})
		}
		if x.Curve {
			how = append(how, session.ToggleCurve{})
		}
		o := w.behind(session.Open{Job: job}, how...)
		if show == nil || i == front {
			show = o
		}
	}
	if show == nil {
		return
	}
	empty := w.tabs.front
	w.bring(show)
	w.tabs.all = w.tabs.all[1:]
	empty.runner.StopAll()
	empty.copies.close()
	w.showTabs()
}

// someNames joins names for a sentence, the first three of many.
func someNames(names []string) string {
	const most = 3
	out := names[0]
	for i, n := range names[1:] {
		switch {
		case i+1 == most:
			return out + " and others"
		case i+2 == len(names):
			out += " and " + n
		default:
			out += ", " + n
		}
	}
	return out
}

// demoRoll returns the sample roll on one of its films.
func (w *Window) demoRoll(kind string) (*roll.Roll, error) {
	d, err := w.sources.demo(kind)
	if err != nil {
		return nil, err
	}
	r := &roll.Roll{Title: d.Title, Stock: d.Stock, Exposure: d.Exposure, Demo: kind}
	stops := d.Stops()
	for i, n := range d.Names() {
		r.Frames = append(r.Frames, roll.Frame{File: n, Stop: stops[i], Origin: roll.FromDemo})
	}
	return r, nil
}
