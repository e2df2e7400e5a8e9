package ui

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/film"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
	"stopladder/ui/files"
	"stopladder/ui/memory"
	"stopladder/ui/session"
)

// scanTypes are the files that the open dialog lists.
var scanTypes = []string{".tif", ".tiff", ".png", ".jpg", ".jpeg"}

func (w *Window) askScans() {
	w.choose(files.Ask{Title: "Open scans", Exts: scanTypes, Many: true, Folder: w.settings.Folder, Verb: "Open picked scans",
		Done: w.openPaths})
}

func (w *Window) askRoll() {
	w.choose(files.Ask{Title: "Open a roll file", Exts: []string{roll.Ext}, Folder: w.settings.Folder, Verb: "Open",
		Done: w.openPaths})
}

// openPaths opens scans, a folder or a roll file in place of what is open.
func (w *Window) openPaths(paths []string) {
	w.confirmLeave("Open", func() {
		w.status.reading("Looking at the files…", false)
		go func() {
			job, err := load.Plan(paths, load.Options{})
			w.do(func() {
				w.status.reading("", false)
				if err != nil {
					w.say("Not opened", err)
					return
				}
				if st, err := os.Stat(paths[0]); err == nil && st.IsDir() {
					w.settings.Folder = paths[0]
				} else {
					w.settings.Folder = filepath.Dir(paths[0])
				}
				w.labelled(job, func() { w.begin(job) })
			})
		}()
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
		names := make([]string, len(job.Roll.Frames))
		for i, f := range job.Roll.Frames {
			names[i] = filepath.Base(f.File)
		}
		w.askOrder(names, p, func(at []float64) {
			for i := range job.Roll.Frames {
				job.Roll.Frames[i].Stop, job.Roll.Frames[i].Origin = at[i], roll.FromOrder
				job.Unknown[i] = false
			}
			job.Roll.Sort()
			job.Notes = labelNotes(job.Roll)
			goOn()
		}, byHand)
		return
	}
	byHand()
}

// begin shows the job's roll and reads its scans.
func (w *Window) begin(job *load.Job) {
	w.cancelLoad()
	path := job.Roll.Path()
	w.swap(session.New(job.Roll, path))
	if path != "" {
		w.settings.Opened(path)
	}
	for _, n := range w.recovered { // offered until it is dealt with
		w.notices.add(n)
	}
	for i, n := range job.Notes {
		w.notices.add(notice{id: "label " + itoa(i), text: sentence(n), action: "Label the frames…", run: w.editLabels})
	}
	w.read(job)
}

// read measures a job in the background, as far as it is not measured yet. What
// comes back is dropped when another reading has begun since.
func (w *Window) read(job *load.Job) {
	ctx, cancel := context.WithCancel(context.Background())
	w.load, w.loading = cancel, true
	sess, have := w.sess, w.measured
	work := *job
	work.Roll = job.Roll.Clone() // the session's own may change while this runs
	opt := w.loadOptions()
	w.showProgress()
	follow := w.follow(ctx, sess, &work)
	go func() {
		result, err := load.Measure(ctx, &work, have, opt, follow)
		missing := missingScans(result)
		w.do(func() {
			if w.sess != sess || ctx.Err() != nil {
				return
			}
			if err == nil {
				w.measured = result
			}
			w.finished(&work, result, missing, err)
			w.load, w.loading = nil, false
			cancel()
			w.showProgress()
		})
	}()
}

// follow hands the events of a reading to the window. It is called by the reading
// goroutine, which also prepares what is drawn.
func (w *Window) follow(ctx context.Context, sess *session.Session, job *load.Job) func(load.Event) {
	// What an earlier reading left is taken here, on the window's goroutine.
	states := map[int]scanState{}
	for i, f := range job.Roll.Frames {
		states[i] = scanState{row: sess.FrameOf(f.File).Row}
	}
	return func(e load.Event) {
		if e.Kind != load.Reading {
			memory.Bound()
		}
		if e.Kind == load.Salvaged {
			return // they come together, with Appraised
		}
		if e.Kind != load.Reading {
			measured := e.Roll
			w.do(func() {
				if w.sess == sess && ctx.Err() == nil {
					w.measured = measured
				}
			})
		}
		if e.Kind == load.Appraised {
			files := make([]string, len(job.Roll.Frames))
			for i, f := range job.Roll.Frames {
				files[i] = f.File
			}
			w.do(func() {
				if w.sess == sess && ctx.Err() == nil {
					sess.SetAppraised(e.Roll.Appraisal, files)
				}
			})
			return
		}
		if e.Kind == load.Fitted {
			files := make([]string, len(job.Roll.Frames))
			for i, f := range job.Roll.Frames {
				files[i] = f.File
			}
			fit := session.NewFitted(e.Roll.Response, e.Roll.Fitted, files)
			fit.Headroom = e.Roll.Headroom()
			w.do(func() {
				if w.sess == sess && ctx.Err() == nil {
					sess.SetFitted(fit)
					w.showFindings()
				}
			})
			return
		}
		file := job.Roll.Frames[e.Frame].File
		st := states[e.Frame]
		if !st.take(e) {
			return
		}
		states[e.Frame] = st
		w.do(func() {
			if w.sess == sess && ctx.Err() == nil {
				sess.Update(file, func(f *session.Frame) { apply(f, e, st) })
				w.showProgress()
			}
		})
	}
}

// scanState is what the reading goroutine prepares of one frame for drawing, so
// that the window's goroutine only has to hand it on.
type scanState struct {
	row     row.Data
	percent int
}

// take prepares an event and says whether it is worth handing on.
func (s *scanState) take(e load.Event) bool {
	switch e.Kind {
	case load.Reading:
		p := int(e.Progress * 20) // a rung's progress line moves in these steps
		if p == s.percent && s.row.State == row.Reading {
			return false
		}
		s.percent = p
		s.row.State, s.row.Progress = row.Reading, e.Progress
	case load.Looked:
		s.row.State = row.Ready
		if l := e.Roll.Frames[e.Frame].Look; l != s.row.Look {
			s.row.Look = l
			s.prepare()
		}
	case load.Related:
		s.row.Rel, s.row.Message = e.Roll.Frames[e.Frame].Relation, ""
	case load.Failed:
		s.row = row.Data{State: row.Failed, Message: sentence(e.Roll.Frames[e.Frame].Err.Error())}
	case load.Unlinked:
		s.row.Message = sentence(e.Roll.Frames[e.Frame].Err.Error())
	}
	return true
}

// prepare makes what is drawn of a look.
func (s *scanState) prepare() {
	s.row.Prepare()
	s.row.Thumb = render.Area(s.row.Look, nil, thumbSide, thumbSide)
}

func apply(f *session.Frame, e load.Event, st scanState) {
	switch e.Kind {
	case load.Opened:
		f.Info = e.Roll.Frames[e.Frame].Info
	case load.Registered:
		f.Reg, f.Map = e.Roll.Frames[e.Frame].Registration, e.Roll.Frames[e.Frame].Map
	default:
		f.Row = st.row
	}
}

// thumbSide is the longest side of a thumbnail in pixels: the tallest rung on a
// screen of twice the usual density.
const thumbSide = 360

// finished says what the reading of a whole roll brought to light.
func (w *Window) finished(job *load.Job, res *film.Roll, missing []string, err error) {
	if err != nil {
		w.say("Not measured", err)
		return
	}
	complete := w.sess.Path != "" && !w.sess.Unsaved() // saved before the hashes were known
	w.sess.Notes = res.Notes
	var changed []string
	w.sess.Fill(func(r *roll.Roll) {
		for _, e := range res.Frames {
			i := w.sess.Index(e.File)
			if i < 0 {
				continue
			}
			w.sess.Frame(i).Notes = e.Notes
			if e.SHA256 == "" {
				continue
			}
			f := &r.Frames[i]
			if f.SHA256 != "" && f.SHA256 != e.SHA256 {
				changed = append(changed, filepath.Base(f.File))
			}
			f.SHA256, f.Bytes = e.SHA256, e.Bytes
		}
	})
	if complete && len(changed) == 0 && w.sess.Path == w.savedWithout {
		w.saveTo(w.sess.Path, nil)
	}
	w.savedWithout = ""
	if len(changed) > 0 {
		w.notices.add(notice{id: "changed", text: someNames(changed) + " changed since the roll was saved: the readings are of the scans as they are now; look at your verdicts again."})
	}
	if len(missing) > 0 {
		w.notices.add(notice{id: "missing", text: someNames(missing) + " cannot be found where the roll says.", action: "Find missing scans…", run: w.askFind})
	}
	for i, n := range res.Notes[min(len(res.Notes), len(job.Notes)):] {
		w.notices.add(notice{id: "roll " + itoa(i), text: sentence(n)})
	}
}

// cancelLoad stops the reading; what was read stays.
func (w *Window) cancelLoad() {
	if w.load == nil {
		return
	}
	w.load()
	w.load, w.loading = nil, false
	for _, f := range w.sess.Roll.Frames {
		w.sess.Stopped(f.File, "The reading was stopped; choose Read the scan again from this frame's menu.")
	}
	w.showProgress()
}

// showProgress says how far the reading is.
func (w *Window) showProgress() {
	done, all := w.sess.Read()
	switch {
	case !w.loading:
		w.status.reading("", false)
		return
	case done == all:
		w.status.reading("Comparing the frames", true)
		return
	}
	w.status.reading("Read "+itoa(done)+" of "+itoa(all)+" scans", true)
}

// reread reads one scan again, or with "" all that could not be read.
func (w *Window) reread(file string) {
	if w.loading {
		return
	}
	var files []string
	for _, f := range w.measured.Frames {
		if f.File == file || f.Look == nil {
			files = append(files, f.File)
		}
	}
	w.measured = w.measured.Without(files...)
	w.read(load.Of(w.sess.Roll))
}

// makeBase chooses the base frame by hand and relates all frames to it.
func (w *Window) makeBase(file string) {
	w.sess.Edit("base frame", func(r *roll.Roll) { r.BaseFile = file })
	w.relate()
}

// relabel writes the stops of frames; the base frame may become another.
func (w *Window) relabel(labels map[string]float64, from roll.Origin) {
	w.sess.Edit("labels", func(r *roll.Roll) {
		for i := range r.Frames {
			if s, ok := labels[r.Frames[i].File]; ok && s != r.Frames[i].Stop {
				r.Frames[i].Stop, r.Frames[i].Origin = s, from
			}
		}
	})
	w.relate()
}

// relate measures anew what a change of labels, base frame, placing or image area
// touches.
func (w *Window) relate() {
	if w.loading || w.sess.Empty() {
		return
	}
	w.read(load.Of(w.sess.Roll))
}

// askFind looks for scans that are not where the roll says.
func (w *Window) askFind() {
	w.choose(files.Ask{Title: "Where are the scans now?", Exts: scanTypes, Many: true, Folder: w.settings.Folder, Verb: "Look in this folder",
		Done: func(paths []string) {
			dir := paths[0]
			if st, err := os.Stat(dir); err == nil && !st.IsDir() {
				dir = filepath.Dir(dir)
			}
			w.find(dir)
		}})
}

func (w *Window) find(dir string) {
	work := w.sess.Roll.Clone()
	sess := w.sess
	go func() {
		moved, problems := work.Relocate(context.Background(), dir)
		w.do(func() {
			if w.sess != sess {
				return
			}
			if len(moved) == 0 {
				text := "none of the missing scans is in " + filepath.Base(dir) + " or below it; choose another folder"
				if len(problems) > 0 {
					text = problems[0].Text
				}
				w.say("Not found", errors.New(text))
				return
			}
			w.sess.Edit("finding scans", func(r *roll.Roll) {
				for _, m := range moved {
					r.Frames[m.Frame].File = work.Frames[m.Frame].File
				}
			})
			w.notices.remove("missing")
			w.reread("")
		})
	}()
}

func unlabelledWords(unknown, all int) string {
	switch {
	case unknown == all:
		return "These scans carry no stop in their names."
	case unknown == 1:
		return "One of these scans carries no stop in its name."
	}
	return itoa(unknown) + " of these scans carry no stop in their names."
}

// labelNotes is what is to be said of labels that a person has decided.
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

// busy says whether scans are being read.
func (w *Window) busy() bool { return w.loading }

// missingScans names the scans of a roll that are not where it says.
func missingScans(res *film.Roll) (names []string) {
	if res == nil || res.Judged.Demo != "" {
		return nil
	}
	for _, e := range res.Frames {
		if e.Look != nil {
			continue
		}
		if _, err := os.Stat(filepath.FromSlash(e.File)); errors.Is(err, os.ErrNotExist) {
			names = append(names, filepath.Base(e.File))
		}
	}
	return names
}
