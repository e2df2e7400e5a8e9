package load

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"path/filepath"
	"slices"
	"sort"
	"sync"

	"stopladder/analysis/film/appraise"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/patch"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/report"

	"golang.org/x/image/math/f64"
)

// Kind says what became known of a frame.
type Kind int

// A frame goes through these in this order. Looked and Related may come twice:
// once the scan alone was read, and again when the roll as a whole gave it, or the
// base frame, other limits or another image area.
const (
	Opened     Kind = iota // the header was read and is sound; Info is set
	Reading                // Progress of the rows read is set
	Looked                 // Look is set
	Related                // Relation is set
	Failed                 // Err is set; nothing more comes of this frame
	Unlinked               // Err is set: read, but could not be related to the base frame
	Registered             // Registration is set, and Map unless it was refused; comes before the second Related
	Fitted                 // Response and Fitted are set, for the whole roll; Frame is -1
	Salvaged               // Appraisal of the frame is set
	Appraised              // Roll is set, for the whole roll; Frame is -1
)

// Event is one step of the way. Pointers are not changed afterwards.
type Event struct {
	Kind     Kind
	Frame    int     // index into Job.Roll.Frames
	Progress float64 // 0..1
	Info     scan.Info
	Look     *measure.Look
	Relation *measure.Relation
	Err      error

	Registration register.Registration
	Map          *f64.Aff3 // base full-resolution px -> frame full-resolution px; nil: not registered
	Response     *response.Result
	Fitted       []response.Frame // what the response was fitted to, in the order of the roll
	Appraisal    *appraise.Frame
	Roll         *appraise.Roll
}

// Result is a measured roll.
type Result struct {
	Job     *Job
	Base    int            // index of the base frame, -1 when there is none that could be read
	Entries []report.Entry // one a frame, in the order of Job.Roll.Frames
	Notes   []string       // on the roll as a whole, the Job's among them

	Response  *response.Result        // nil: Notes say why
	Regs      []register.Registration // in the order of the entries; the zero value where there is none
	Fitted    []response.Frame        // what it was fitted to
	Appraisal *appraise.Roll          // nil: there was no base frame to hold the others against
	Noise     *noise.Levels           // of the roll; nil: each frame's was read from itself
}

// Failures are the errors of the frames that could not be read whole, in the
// order of the roll: no readings at all, or not of all rows.
func (r *Result) Failures() []error {
	var out []error
	for _, e := range r.Entries {
		switch {
		case e.Look == nil && e.Err != nil:
			out = append(out, e.Err)
		case e.Look != nil && e.Look.MissingRows > 0:
			h := e.Look.Info
			rows := h.Height
			if h.Orientation >= 5 {
				rows = h.Width // as stored
			}
			out = append(out, &scan.TruncatedError{Path: h.Path, RowsRead: rows - e.Look.MissingRows, Rows: rows})
		}
	}
	return out
}

// Measure reads every frame of a job and relates it to the base frame. Scans
// are read one at a time, since one of them may take hundreds of megabytes: the
// base frame first, then outward from it. events, which may be nil, gets one call
// at a time, not always on this goroutine.
//
// A frame that fails takes nothing else with it; its entry carries the error.
// The error returned is ctx's, or says that there is nothing to measure.
func Measure(ctx context.Context, job *Job, opt Options, events func(Event)) (*Result, error) {
	if len(job.Roll.Frames) == 0 {
		return nil, errors.New("there is no scan to measure; name a folder with scans, or the scans themselves")
	}
	run := newRunner(job, opt, events)
	steps := []func(context.Context) error{run.open, run.look, run.agree, run.register, run.fit, run.noise, run.relate, run.appraise, run.fingerprints}
	for _, step := range steps {
		if err := step(ctx); err != nil {
			return nil, err
		}
	}
	return run.result, nil
}

func newRunner(job *Job, opt Options, events func(Event)) *runner {
	if events == nil {
		events = func(Event) {}
	}
	n := len(job.Roll.Frames)
	var one sync.Mutex // events come from two goroutines, and go on one at a time
	follow := events
	events = func(e Event) {
		one.Lock()
		defer one.Unlock()
		follow(e)
	}
	run := &runner{job: job, opt: opt, events: events, looks: make([]*measure.Look, n),
		related: make([]link, n), maps: make([]*f64.Aff3, n)}
	run.result = &Result{Job: job, Base: job.Base(), Notes: slices.Clone(job.Notes)}
	for i, f := range job.Roll.Frames {
		run.result.Entries = append(run.result.Entries, report.Entry{Frame: f, StopUnknown: job.unlabelled(i)})
	}
	return run
}

// link is what a relation was made of.
type link struct {
	base, frame *measure.Look
	placed      f64.Aff3 // the zero value: by image areas
	noise       *noise.Levels
}

type runner struct {
	job     *Job
	opt     Options
	events  func(Event)
	sources []scan.Source // nil: could not be opened
	looks   []*measure.Look
	related []link // what Entries' relations are of
	regs    []register.Registration
	maps    []*f64.Aff3   // nil: not registered
	levels  *noise.Levels // nil: each frame's noise is read from itself
	result  *Result
}

func (r *runner) fail(i int, err error) {
	r.result.Entries[i].Err = err
	r.events(Event{Kind: Failed, Frame: i, Err: err})
}

// open reads all headers, which is quick, so that broken files are known first.
func (r *runner) open(ctx context.Context) error {
	r.sources = make([]scan.Source, len(r.looks))
	open := r.opt.opener(r.job.Roll)
	for i := range r.looks {
		if err := ctx.Err(); err != nil {
			return err
		}
		src, err := open(i)
		if err != nil {
			if text := r.job.trouble[i]; text != "" {
				err = errors.New(text) // the roll file knows more of what is missing
			}
			r.fail(i, err)
			continue
		}
		r.sources[i] = src
		r.events(Event{Kind: Opened, Frame: i, Info: src.Info()})
	}
	return nil
}

func (r *runner) look(ctx context.Context) error {
	// A frame is compared with the base frame while the next one is read, so that a
	// rung is whole as soon as its scan is read. It is done again only where the roll
	// as a whole settles on something else.
	related := make(chan error, 1)
	related <- nil // that of the frame before
	wait := func() error { return <-related }
	for _, i := range outward(r.job) {
		if r.sources[i] == nil {
			continue
		}
		look, err := measure.NewLook(ctx, r.sources[i], r.options(i))
		if failed := wait(); failed != nil || ctx.Err() != nil {
			return errors.Join(failed, ctx.Err())
		}
		if look == nil {
			r.fail(i, err)
			related <- nil
			continue
		}
		r.set(i, look)
		go func() { related <- r.relateOne(ctx, i) }()
	}
	if err := wait(); err != nil {
		return err
	}
	r.noteSizes()
	r.baseReadable()
	return nil
}

// baseReadable gives up the base frame when it could not be read.
func (r *runner) baseReadable() {
	if b := r.result.Base; b >= 0 && r.looks[b] == nil {
		r.result.Base = -1
		r.result.Notes = append(r.result.Notes, fmt.Sprintf(
			"The base frame %s could not be read, so no frame could be compared with it: give a readable scan of it, or choose another base frame", name(r.job.Roll.Frames[b])))
	}
}

// options are those of one frame: what the judge set by hand comes first.
func (r *runner) options(i int) measure.Options {
	opt := measure.Options{
		NoiseLimit:     r.job.Roll.NoisyLimit,
		AssumedProfile: r.job.Roll.AssumedProfile,
		Progress: func(done, total int) {
			if total > 0 {
				r.events(Event{Kind: Reading, Frame: i, Progress: float64(done) / float64(total)})
			}
		},
	}
	if a := r.job.Roll.Frames[i].Area; a != nil {
		rect := image.Rect(a.X, a.Y, a.X+a.W, a.Y+a.H)
		opt.Area = &rect
	}
	return opt
}

func (r *runner) set(i int, look *measure.Look) {
	r.looks[i] = look
	r.result.Entries[i].Look = look
	r.events(Event{Kind: Looked, Frame: i, Look: look})
}

// fingerprints takes the hashes of the files, last because nobody waits for
// them, and says which file is another than the roll remembers. Readings are of
// the file as it is now.
func (r *runner) fingerprints(ctx context.Context) error {
	if r.job.Roll.Demo != "" {
		return nil
	}
	for i := range r.result.Entries {
		if r.looks[i] == nil {
			continue
		}
		e := &r.result.Entries[i]
		f := &e.Frame
		sum, size, err := roll.Hash(ctx, filepath.FromSlash(f.File))
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil { // it was readable a moment ago: the readings stand, the hash is unknown
			e.Notes = append(e.Notes, "no content hash: "+err.Error())
			continue
		}
		if f.SHA256 != "" && f.SHA256 != sum {
			e.Notes = append(e.Notes, fmt.Sprintf(
				"%s has changed since the roll file was saved: the readings are of the scan as it is now, verdict and note may be of the old one", name(*f)))
		}
		f.SHA256, f.Bytes = sum, size
	}
	return nil
}

// agree lets the frames of the roll settle limits and image areas together.
func (r *runner) agree(ctx context.Context) error {
	looks, err := measure.Agree(ctx, r.looks, r.result.Base, func(i int) (scan.Source, error) { return r.sources[i], nil },
		measure.Options{NoiseLimit: r.job.Roll.NoisyLimit, AssumedProfile: r.job.Roll.AssumedProfile})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil { // the frames that it concerns keep what they found alone, with a note
		r.result.Notes = append(r.result.Notes, "image area and limits could not be settled for the roll as a whole: "+err.Error())
	}
	for i, l := range looks {
		if l != nil && l != r.looks[i] {
			r.set(i, l)
		}
	}
	return nil
}

func (r *runner) relate(ctx context.Context) error {
	for _, i := range outward(r.job) {
		if err := r.relateOne(ctx, i); err != nil {
			return err
		}
	}
	return nil
}

// relateOne compares a frame with the base frame, unless that is done already
// for these looks or one of the two is not read. The error is ctx's.
func (r *runner) relateOne(ctx context.Context, i int) error {
	b := r.result.Base
	if b < 0 || r.looks[b] == nil || r.looks[i] == nil {
		return nil
	}
	done := link{base: r.looks[b], frame: r.looks[i], noise: r.levels}
	if r.maps[i] != nil {
		done.placed = *r.maps[i]
	}
	if r.related[i] == done {
		return nil
	}
	opt := measure.Options{NoiseLimit: r.job.Roll.NoisyLimit, Map: r.maps[i]}
	if r.levels != nil {
		opt.Noise = r.levels.SigmaY
	}
	rel, err := measure.Relate(ctx, done.base, done.frame, opt)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	r.related[i] = done
	r.result.Entries[i].Relation, r.result.Entries[i].Err = rel, err
	if err != nil {
		r.result.Entries[i].Relation = nil
		r.events(Event{Kind: Unlinked, Frame: i, Err: err})
		return nil
	}
	r.events(Event{Kind: Related, Frame: i, Relation: rel})
	return nil
}

// noteSizes says when the scans differ in size: not wrong, but worth a look.
func (r *runner) noteSizes() {
	first := -1
	for i, l := range r.looks {
		if l == nil {
			continue
		}
		if first < 0 {
			first = i
			continue
		}
		a, b := r.looks[first].Info, l.Info
		if a.Width != b.Width || a.Height != b.Height {
			r.result.Notes = append(r.result.Notes, fmt.Sprintf(
				"The scans differ in size (%s is %d x %d, %s is %d x %d pixels): each is measured over its own image area; ask for scans of one size if they are to be compared pixel by pixel.",
				name(r.job.Roll.Frames[first]), a.Width, a.Height, name(r.job.Roll.Frames[i]), b.Width, b.Height))
			return
		}
	}
}

// outward orders the frames as they are wanted: the base frame, its neighbours,
// and on to the ends; frames without a label last.
func outward(job *Job) []int {
	order := make([]int, len(job.Roll.Frames))
	for i := range order {
		order[i] = i
	}
	key := func(i int) float64 {
		if job.unlabelled(i) {
			return math.Inf(1)
		}
		return math.Abs(job.Roll.Frames[i].Stop)
	}
	sort.SliceStable(order, func(a, b int) bool { return key(order[a]) < key(order[b]) })
	if b := job.Base(); b > 0 { // of two frames at 0 the first is the base
		at := slices.Index(order, b)
		order = slices.Insert(slices.Delete(order, at, at+1), 0, b)
	}
	return order
}

func name(f roll.Frame) string { return filepath.Base(filepath.FromSlash(f.File)) }

// Patches are the roll's patches read in its frames; nil when it has none.
func (r *Result) Patches() *patch.Set {
	if len(r.Job.Roll.Patches) == 0 || r.Appraisal == nil {
		return nil
	}
	var n patch.Noise
	if r.Noise != nil {
		n = r.Noise
	}
	return patch.Read(r.Job.Roll.Patches, r.Appraisal.In.Frames, r.Base, r.Response, n)
}
