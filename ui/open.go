package ui

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/pack"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/show/pngwrite"
	"stopladder/ui/files"
	"stopladder/ui/session"
)

// scanTypes are the files that the open dialog lists.
var scanTypes = []string{".tif", ".tiff", ".png", ".jpg", ".jpeg"}

func (w *Window) askScans() {
	w.choose(files.Ask{Title: "Open scans", Exts: scanTypes, Many: true, Folder: w.settings.Folder, Verb: "Open", Rolls: w.settings.Recent,
		Done: w.openPaths})
}

func (w *Window) askRoll() {
	w.choose(files.Ask{Title: "Open a roll file or a pack", Exts: []string{roll.Ext, pack.Ext}, Folder: w.settings.Folder, Verb: "Open", Rolls: w.settings.Recent,
		Done: w.openPaths})
}

// openPaths opens scans, folders and roll files: each folder and each roll file is a roll
// of its own, and so are scans that are named one by one, together. Each gets a tab. Plans
// by themselves are opened in the window of the bracket.
func (w *Window) openPaths(paths []string) {
	isPlan := func(p string) bool { return strings.EqualFold(filepath.Ext(p), plan.Ext) }
	if len(paths) > 0 && !slices.ContainsFunc(paths, func(p string) bool { return !isPlan(p) }) {
		w.expecting = false
		w.showStart()
		w.showPlanner()
		w.planner.Open(paths[len(paths)-1])
		return
	}
	w.openEach(rollsOf(paths), false)
}

// rollsOf parts paths by the rolls that they are of.
func rollsOf(paths []string) (out [][]string) {
	var scans []string
	at := -1
	for _, p := range paths {
		st, err := os.Stat(p)
		if err == nil && st.IsDir() || strings.EqualFold(filepath.Ext(p), roll.Ext) || isPack(p) {
			out = append(out, []string{p})
			continue
		}
		if at < 0 {
			at = len(out)
			out = append(out, nil)
		}
		scans = append(scans, p)
	}
	if at >= 0 {
		out[at] = scans
	}
	return out
}

// openEach opens one roll after the other: a question about one comes before the next. The
// first stands in front; what is behind it is read when it is shown.
func (w *Window) openEach(rolls [][]string, behind bool) {
	if len(rolls) == 0 {
		return
	}
	w.restored = true
	paths, rest := rolls[0], func(behind bool) { w.openEach(rolls[1:], behind) }
	w.status.reading("Looking at the files…", false, 0)
	w.chores.Start("open", func(ctx context.Context, post func(func())) func() {
		var from opened
		var job *load.Job
		var err error
		if isPack(paths[0]) {
			from, err = unpacked(ctx, paths[0], func(done float64) {
				post(func() { w.status.reading("Unpacking…", false, done) })
			})
			paths = []string{from.path}
		}
		if err == nil && from.answer == nil {
			job, err = load.Plan(paths, load.Options{Own: pngwrite.Wrote})
		}
		return func() {
			w.showReading()
			defer func() { // what was asked for first is open, or is asked about
				w.expecting = false
				w.showStart()
			}()
			if err != nil {
				w.say("Not opened", err)
				rest(behind)
				return
			}
			if from.answer != nil {
				w.takeAnswer(from.answer)
				rest(behind)
				return
			}
			if st, err := os.Stat(paths[0]); err == nil && st.IsDir() {
				w.settings.Folder = paths[0]
			} else {
				w.settings.Folder = filepath.Dir(paths[0])
			}
			w.settings.Used(w.settings.Folder)
			w.labelled(job, func() {
				w.openJob(job, behind)
				if from.fresh && !behind && w.state.Panel() != session.OpinionsPanel {
					w.apply(session.TogglePanel{Panel: session.OpinionsPanel})
				}
				rest(true)
			})
		}
	})
}

// openJob opens a roll that is labelled, in front or behind what is shown.
func (w *Window) openJob(job *load.Job, behind bool) {
	if path := job.Roll.Path(); path != "" {
		w.settings.Opened(path)
	}
	open := session.Open{Job: job, Unsaved: byHand(job.Roll)}
	apply := w.apply
	if behind && !w.state.Empty() {
		if w.find(job.Roll) != nil {
			return
		}
		o := w.behind(open)
		apply = func(c session.Change) { o.parked.Apply(c) }
		w.showTabs()
		w.keepSettings()
	} else {
		w.openInTab(open)
	}
	if job.Own != "" {
		apply(session.Notify{Notice: session.Notice{ID: "own exports", Text: job.Own}})
	}
}

// byHand reports that labels of a roll stand in no file: a person decided on them.
func byHand(r *roll.Roll) bool {
	return r.Path() == "" && slices.ContainsFunc(r.Frames, func(f roll.Frame) bool {
		return f.Origin == roll.ByHand || f.Origin == roll.FromOrder
	})
}

// labelled sees to it that every frame of a job has a stop, asking where the
// names do not tell, and then goes on.
func (w *Window) labelled(job *load.Job, goOn func()) {
	if len(job.Offers) > 0 {
		offers := job.Offers
		job.Offers = nil // asked once
		w.askOffer(job.Question, offers, func(ctx context.Context, done func(n, of int)) ([]plan.Offer, error) {
			return job.ByLight(ctx, load.Options{}, done)
		}, func(o plan.Offer) {
			frames, left := load.Placed(o.Scans)
			job.Roll.Frames, job.Unknown = frames, make([]bool, len(frames))
			job.Roll.Title, job.Roll.Stock = job.Title, job.Stock
			job.Roll.Sort()
			job.Notes = labelNotes(job.Roll)
			if left != "" {
				job.Notes = append(job.Notes, left)
			}
			goOn()
		}, func() { w.labelled(job, goOn) })
		return
	}
	unknown := 0
	for _, u := range job.Unknown {
		if u {
			unknown++
		}
	}
	if unknown == 0 {
		goOn()
		return
	}
	byHand := func() {
		rows := make([]labelRow, len(job.Roll.Frames))
		for i, f := range job.Roll.Frames {
			rows[i] = labelRow{file: f.File, stop: f.Stop, known: !job.Unknown[i]}
		}
		w.askLabels(unlabelledWords(unknown, len(rows))+" Write the stop of each: its distance from the base exposure, −1, +2, 1/3, +1 1/2. "+
			"The frame at 0 is the base. A scan that is left empty is left out.", rows, func(labels map[string]float64) {
			var keep []roll.Frame
			for _, f := range job.Roll.Frames {
				if s, ok := labels[f.File]; ok {
					if s != f.Stop || f.Origin != roll.FromName {
						f.Stop, f.Origin = s, roll.ByHand
					}
					keep = append(keep, f)
				}
			}
			if len(keep) == 0 {
				w.say("Not opened", errors.New("no scan was given a stop"))
				return
			}
			job.Roll.Frames, job.Unknown = keep, make([]bool, len(keep))
			job.Roll.Sort()
			job.Notes = labelNotes(job.Roll)
			goOn()
		})
	}
	if p := job.Proposal; p != nil && len(p.Stops) == len(job.Roll.Frames) && unknown == len(job.Roll.Frames) {
		w.byLight(job, func(looks []*measure.Look) {
			w.askOrder(job, looks, func(at []float64) {
				for i := range job.Roll.Frames {
					job.Roll.Frames[i].Stop, job.Roll.Frames[i].Origin = at[i], roll.FromOrder
					job.Unknown[i] = false
				}
				job.Roll.Sort()
				job.Notes = labelNotes(job.Roll)
				goOn()
			}, byHand)
		})
		return
	}
	byHand()
}

// byLight reads the scans of a job without labels for the order of their light, and then
// goes on with what was read.
func (w *Window) byLight(job *load.Job, then func(looks []*measure.Look)) {
	w.status.reading("Looking at how light the scans are…", false, 0)
	w.chores.Start("open", func(ctx context.Context, post func(func())) func() {
		looks, err := job.OrderByLight(ctx, load.Options{}, func(n, of int) {
			post(func() {
				w.status.reading(fmt.Sprintf("Looking at how light the scans are: %d of %d…", n+1, of), false, float64(n+1)/float64(of))
			})
		})
		return func() {
			w.showReading()
			if err == nil { // else it was given up
				then(looks)
			}
		}
	})
}

// askFind looks for scans that are not where the roll says.
func (w *Window) askFind() {
	w.choose(files.Ask{Title: "Where are the scans now?", Exts: scanTypes, Many: true, Folder: w.settings.Folder, Verb: "Look where this one is", Whole: "Look in this folder",
		Done: func(paths []string) {
			dir := paths[0]
			if st, err := os.Stat(dir); err == nil && !st.IsDir() {
				dir = filepath.Dir(dir)
			}
			w.apply(session.FindScans{Folder: dir})
		}})
}

func unlabelledWords(unknown, all int) string {
	switch {
	case unknown == all:
		return "These scans carry no stop in their names."
	case unknown == 1:
		return "One of these scans carries no stop in its name."
	}
	return strconv.Itoa(unknown) + " of these scans carry no stop in their names."
}

// labelNotes returns what is to be said of labels that a person has decided.
func labelNotes(r *roll.Roll) []string {
	names, labels := make([]string, len(r.Frames)), make([]float64, len(r.Frames))
	for i, f := range r.Frames {
		names[i], labels[i] = filepath.Base(f.File), f.Stop
	}
	var out []string
	for _, f := range stops.Inspect(names, labels) {
		out = append(out, f.Text)
	}
	return out
}
