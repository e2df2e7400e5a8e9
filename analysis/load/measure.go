package load

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"stopladder/analysis/film"
	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan"
)

// Kind says what became known.
type Kind int

// A frame goes through these in this order. Looked and Related may come twice:
// once the scan alone was read, and again when the roll as a whole gave it other
// limits, another image area or another place.
const (
	Opened     Kind = iota // the header was read and is sound
	Reading                // Progress of the rows read is set
	Looked                 // the scan was measured by itself
	Related                // the frame was compared with the base frame
	Failed                 // the scan cannot be read; nothing more comes of this frame
	Unlinked               // read, but it could not be related to the base frame
	Registered             // the frame was laid on the base frame, or could not be
	Fitted                 // response, measured stops; of the whole roll, Frame is -1
	Salvaged               // casts, noise and salvage of the frame
	Compared               // of the whole roll; Frame is -1
)

// Event is one step of the way.
type Event struct {
	Kind     Kind
	Frame    int     // index into Job.Roll.Frames; -1: the whole roll
	Progress float64 // 0..1, with Reading
	// Roll is as much of the measured roll as is known; it does not change any more.
	// nil with Reading and Salvaged, which change nothing that is shown.
	Roll *film.Roll
}

// Measure makes the measured roll of a job: it reads every frame, settles image
// areas and limits for the roll together, lays the frames on each other, and
// measures response, noise, casts, salvage and range. It is the one way to do so,
// whatever changed. Scans are read one at a time, since one of them may take
// hundreds of megabytes: the base frame first, then outward from it.
//
// have is what was measured of these files before, nil for nothing. What the job
// leaves as it was is taken from there: the result is the same as without it, to
// the byte, and costs only what the change touches. (A file that was changed
// meanwhile is not noticed; see film.Roll.Without.)
//
// events, which may be nil, gets one call at a time, not always on this goroutine.
// A frame that fails takes nothing else with it; it carries its error. The error
// returned is ctx's, or says that there is nothing to measure.
func Measure(ctx context.Context, job *Job, have *film.Roll, opt Options, events func(Event)) (*film.Roll, error) {
	if len(job.Roll.Frames) == 0 {
		return nil, errors.New("there is no scan to measure; name a folder with scans, or the scans themselves")
	}
	run := newRunner(job, have, opt, events)
	ctx, cancel := context.WithCancel(ctx)
	defer run.hashing.Wait() // after it is cancelled: no scan is open any more
	defer cancel()
	for _, step := range run.steps() {
		if err := step.do(ctx); err != nil {
			return nil, err
		}
	}
	run.noteNoPicture()
	if c := run.roll.Comparison; c != nil {
		run.notes = append(run.notes, c.Notes()...)
	}
	run.roll.Notes = append(run.roll.Notes, job.Notes...)
	run.roll.Notes = append(run.roll.Notes, run.notes...)
	return run.roll.Snapshot(), nil
}

type step struct {
	name string
	do   func(context.Context) error
}

// steps returns the way of a roll, in the order in which each rests on those before.
func (r *runner) steps() []step {
	return []step{{"open", r.open}, {"look", r.look}, {"hash", r.hash}, {"agree", r.agree}, {"register", r.register}, {"fit", r.fit},
		{"marks", r.marks}, {"noise", r.noise}, {"relate", r.relate}, {"compare", r.compare}, {"fingerprints", r.fingerprints}}
}

type runner struct {
	job    *Job
	opt    Options
	events func(Event)
	opener func(i int) (scan.Source, error)

	have   *film.Roll    // measured before, never nil
	before []*film.Frame // of have, in this roll's order; never nil, empty where it has none

	mu      sync.Mutex // of roll: a frame is related while the next one is read
	roll    *film.Roll
	notes   []string
	sources []scan.Source   // opened so far
	looks   []*measure.Look // nil: not read

	hashing sync.WaitGroup
	hashed  []*fingerprint // begun beside the other steps; nil: not

	noiseSought bool             // the roll has told its noise, or cannot
	noPicture   []*measure.Marks // by what the roll as a whole shows; nil: nothing
}

func newRunner(job *Job, have *film.Roll, opt Options, events func(Event)) *runner {
	if have == nil {
		have = film.New(&roll.Roll{})
	}
	n := len(job.Roll.Frames)
	r := &runner{job: job, opt: opt, have: have, opener: opt.opener(job.Roll), looks: make([]*measure.Look, n), sources: make([]scan.Source, n)}
	var one sync.Mutex // events come from two goroutines, and go on one at a time
	r.events = func(e Event) {
		if events != nil {
			one.Lock()
			defer one.Unlock()
			events(e)
		}
	}
	r.roll = film.New(job.Roll)
	r.roll.Base = job.Base()
	for i := range r.roll.Frames {
		f := &r.roll.Frames[i]
		f.Unlabelled = job.unlabelled(i)
		was := &film.Frame{}
		if k := have.Index(f.File); k >= 0 && have.Judged.Demo == job.Roll.Demo {
			was = &have.Frames[k]
		}
		r.before = append(r.before, was)
	}
	return r
}

// set changes what is known of a frame and tells.
func (r *runner) set(kind Kind, i int, change func(f *film.Frame)) {
	r.mu.Lock()
	if i >= 0 {
		change(&r.roll.Frames[i])
	} else {
		change(nil)
	}
	shown := r.roll.Snapshot()
	r.mu.Unlock()
	r.events(Event{Kind: kind, Frame: i, Roll: shown})
}

// source opens a scan once.
func (r *runner) source(i int) (scan.Source, error) {
	if r.sources[i] == nil {
		src, err := r.opener(i)
		if err != nil {
			return nil, err
		}
		r.sources[i] = src
	}
	return r.sources[i], nil
}

// open reads the headers of what is to be read, which is quick, so that broken
// files are known first.
func (r *runner) open(ctx context.Context) error {
	var trouble map[int]string // what the roll knows of files that are missing
	for i := range r.looks {
		if err := ctx.Err(); err != nil {
			return err
		}
		if l, needs := r.known(i); l != nil && !needs {
			r.set(Opened, i, func(f *film.Frame) { f.Info = r.before[i].Info })
			continue
		}
		src, err := r.source(i)
		if err != nil {
			if trouble == nil {
				trouble = map[int]string{}
				if r.job.Roll.Path() != "" {
					for _, p := range r.job.Roll.Check(ctx, false) {
						trouble[p.Frame] = p.Text
					}
				}
			}
			if text := trouble[i]; text != "" {
				err = errors.New(text) // the roll file knows more of what is missing
			}
			r.set(Failed, i, func(f *film.Frame) { f.Err = err })
			continue
		}
		r.set(Opened, i, func(f *film.Frame) { f.Info = src.Info() })
	}
	return nil
}

// area returns the image area that the judge set on a frame, nil for none.
func (r *runner) area(i int) *image.Rectangle {
	a := r.job.Roll.Frames[i].Area
	if a == nil {
		return nil
	}
	rect := image.Rect(a.X, a.Y, a.X+a.W, a.Y+a.H)
	return &rect
}

// known returns the look that a frame had by itself, as far as it serves again:
// whole, or needs says that it is to be counted over another image area. nil: the
// scan must be read.
func (r *runner) known(i int) (l *measure.Look, needs bool) {
	if l = r.before[i].Look; l == nil || r.before[i].Replaced != nil {
		return nil, false
	}
	if !l.Assumes(r.job.Roll.AssumedProfile) || !l.HasPreviewOf(r.previewSide()) {
		return nil, false
	}
	l = l.Own()
	area := r.area(i)
	if area == nil {
		return l.Unset(), false
	}
	if l.AreaFrom == measure.AreaByHand && l.Area == area.Intersect(l.There) {
		return l, false
	}
	return l.Unset(), true
}

func (r *runner) look(ctx context.Context) error {
	// A frame is compared with the base frame while the next one is read, so that a
	// row is whole as soon as its scan is read. It is done again only where the roll
	// as a whole settles on something else.
	related := make(chan error, 1)
	related <- nil // that of the frame before
	wait := func() error { return <-related }
	for _, i := range outward(r.job) {
		if r.roll.Frames[i].Err != nil {
			continue
		}
		look, err := r.lookAt(ctx, i)
		if failed := wait(); failed != nil || ctx.Err() != nil {
			return errors.Join(failed, ctx.Err())
		}
		if look == nil {
			r.set(Failed, i, func(f *film.Frame) { f.Err = err })
			related <- nil
			continue
		}
		r.take(i, look)
		parallel.Go(ctx, func() { related <- r.relateOne(ctx, i) })
	}
	if err := wait(); err != nil {
		return err
	}
	r.noteSizes()
	r.noteOrder()
	r.doubtPlan()
	if side := r.previewSide(); side < measure.PreviewSide {
		r.note("The roll has %d frames: what is read from previews (all but the exact counts) is read at %d pixels along the longest side, not %d, so that memory suffices; measure fewer frames together for finer readings.", len(r.looks), side, measure.PreviewSide)
	}
	if b := r.roll.Base; b >= 0 && r.looks[b] == nil { // nothing stands in for it
		r.roll.Base = -1
		r.note("The base frame %s could not be read, so no frame could be compared with it: give a readable scan of it, or choose another base frame", name(r.job.Roll.Frames[b]))
	}
	return nil
}

// lookAt measures a frame by itself, or takes what is known of it.
func (r *runner) lookAt(ctx context.Context, i int) (*measure.Look, error) {
	own, needs := r.known(i)
	if own != nil && !needs {
		return own, nil
	}
	src, err := r.source(i)
	if err != nil {
		return nil, err
	}
	opt := measure.Options{
		AssumedProfile: r.job.Roll.AssumedProfile,
		PreviewSide:    r.previewSide(),
		Area:           r.area(i), // what the judge set by hand comes first
		Progress: func(done, total int) {
			if total > 0 {
				r.events(Event{Kind: Reading, Frame: i, Progress: float64(done) / float64(total)})
			}
		},
	}
	if own != nil {
		return own.Recount(ctx, src, opt)
	}
	return measure.NewLook(ctx, src, opt)
}

// previewSide returns the longest side of a preview in this roll.
func (r *runner) previewSide() int { return measure.PreviewSideFor(len(r.job.Roll.Frames)) }

func (r *runner) take(i int, look *measure.Look) {
	r.looks[i] = look
	r.set(Looked, i, func(f *film.Frame) { f.Look, f.Err = look, nil })
}

func (r *runner) note(format string, args ...any) {
	r.notes = append(r.notes, fmt.Sprintf(format, args...))
}

// fingerprints gives the frames the hashes of their files, last because nobody waits for
// them, and says which file is another than the roll remembers. Readings are of
// the file as it is now; one that was changed since it was opened has no hash, and an
// error.
func (r *runner) fingerprints(ctx context.Context) error {
	if r.job.Roll.Demo != "" {
		return nil
	}
	for i := range r.roll.Frames {
		f := &r.roll.Frames[i]
		if f.Look == nil {
			continue
		}
		asked := r.job.Roll.Frames[i]
		if was := r.before[i]; was.SHA256 != "" && r.sources[i] == nil { // read before, and hashed
			f.SHA256, f.Bytes, f.Modified = was.SHA256, was.Bytes, was.Modified
		} else {
			sum, size, err := r.fingerprint(ctx, i)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			var changed *scan.ChangedError
			if errors.As(err, &changed) {
				f.Replaced, f.Notes = err, append(f.Notes, err.Error())
				continue
			}
			if err != nil { // it was readable a moment ago: the readings stand, the hash is unknown
				f.Notes = append(f.Notes, "no content hash: "+err.Error())
				continue
			}
			f.SHA256, f.Bytes = sum, size
			if info, err := os.Stat(filepath.FromSlash(f.File)); err == nil && info.Size() == size {
				f.Modified = info.ModTime()
			}
		}
		if f.Changed = asked.SHA256 != "" && asked.SHA256 != f.SHA256; f.Changed {
			f.Notes = append(f.Notes, fmt.Sprintf(
				"%s has changed since the roll file was saved: the readings are of the scan as it is now, verdict and note may be of the old one", name(asked)))
		}
	}
	r.noteSame()
	return nil
}

// fingerprint is hash and size of a file, once it is done.
type fingerprint struct {
	done  chan struct{}
	sum   string
	bytes int64
	err   error
}

// hash begins to take the hashes of the scans that were read, one after the other, while
// the other steps go on: they leave processors idle now and then, and what was just read is
// still in memory. It does not wait.
func (r *runner) hash(ctx context.Context) error {
	r.hashed = make([]*fingerprint, len(r.sources))
	if r.job.Roll.Demo != "" {
		return nil
	}
	files := make([]scan.Fingerprinter, len(r.sources)) // later steps open others
	for i, src := range r.sources {
		if f, ok := src.(scan.Fingerprinter); ok && r.looks[i] != nil {
			files[i], r.hashed[i] = f, &fingerprint{done: make(chan struct{})}
		}
	}
	all := slices.Clone(r.hashed)
	r.hashing.Add(1)
	parallel.Go(ctx, func() {
		defer r.hashing.Done()
		for i, f := range all {
			if f != nil {
				f.sum, f.bytes, f.err = files[i].Fingerprint(ctx)
				close(f.done)
			}
		}
	})
	return nil
}

// fingerprint returns hash and size of the file that a frame's readings are of.
func (r *runner) fingerprint(ctx context.Context, i int) (sum string, bytes int64, err error) {
	file, ok := r.sources[i].(scan.Fingerprinter)
	if !ok {
		return roll.Hash(ctx, filepath.FromSlash(r.roll.Frames[i].File))
	}
	if i >= len(r.hashed) || r.hashed[i] == nil {
		return file.Fingerprint(ctx)
	}
	f := r.hashed[i]
	<-f.done
	if f.err == nil { // and it was not replaced since
		f.err = file.Unchanged()
	}
	return f.sum, f.bytes, f.err
}

// noteSame tells of frames under different labels that are one file by its content.
func (r *runner) noteSame() {
	told := map[string]bool{}
	for i := range r.roll.Frames {
		sum := r.roll.Frames[i].SHA256
		if sum == "" || told[sum] {
			continue
		}
		var same, labels []string
		for k := range r.roll.Frames {
			if r.roll.Frames[k].SHA256 == sum {
				f := r.job.Roll.Frames[k]
				same, labels = append(same, name(f)), append(labels, stops.Label(f.Stop))
			}
		}
		if told[sum] = true; len(same) < 2 || len(slices.Compact(slices.Clone(labels))) < 2 {
			continue
		}
		r.note("%s are one and the same file (by its content) under the labels %s: a scan was copied over another, or named twice. Find the missing scan; at most one of the labels is right", strings.Join(same, ", "), strings.Join(labels, ", "))
	}
}

// agree lets the frames of the roll settle limits and image areas together.
func (r *runner) agree(ctx context.Context) error {
	before := make([]*measure.Look, len(r.before))
	for i, f := range r.before {
		before[i] = f.Look
	}
	looks, err := measure.Agree(ctx, r.looks, r.roll.Base, r.source, measure.Options{Before: before})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil { // the frames that it concerns keep what they found alone, with a note
		r.note("image area and limits could not be settled for the roll as a whole: %v", err)
	}
	for i, l := range looks {
		if l != nil && l != r.looks[i] {
			r.take(i, l)
		}
	}
	return nil
}

func (r *runner) relate(ctx context.Context) error {
	r.noiseSought = true
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
	b := r.roll.Base
	if b < 0 || r.looks[b] == nil || r.looks[i] == nil {
		return nil
	}
	f := &r.roll.Frames[i]
	// A frame by itself hardly tells its noise. It is asked only when the roll is known not to
	// tell: a figure that changes while it is read would be taken for one.
	later := r.roll.Noise == nil && !r.noiseSought && len(r.looks) > 1
	basis := film.Basis{Base: r.looks[b], Frame: r.looks[i], Noise: r.roll.Noise, NoiseLater: later, Marks: [2]*measure.Marks{r.roll.Frames[b].Marks, f.Marks}}
	if f.Map != nil {
		basis.Placed = *f.Map
	}
	if f.Basis == basis {
		return nil
	}
	var rel *measure.Relation
	var err error
	if was := r.before[i]; was.Basis == basis && was.Relation != nil {
		rel = was.Relation.Under(r.roll.NoisyLimit())
	} else {
		opt := measure.Options{NoiseLimit: r.job.Roll.NoisyLimit, NoiseLater: later, Map: f.Map, Marks: f.Marks, BaseMarks: r.roll.Frames[b].Marks}
		if basis.Noise != nil {
			opt.Noise = basis.Noise
		} else if !later {
			if own, err := noise.Alone(ctx, basis.Frame, noise.Options{}); err == nil {
				opt.Noise = own
			}
		}
		rel, err = measure.Relate(ctx, basis.Base, basis.Frame, opt)
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	kind := Related
	if err != nil {
		kind, rel = Unlinked, nil
	}
	r.set(kind, i, func(f *film.Frame) { f.Relation, f.Basis, f.Err = rel, basis, err })
	return nil
}

// compare measures casts, noise and salvage of all frames.
func (r *runner) compare(ctx context.Context) error {
	b := r.roll.Base
	if b < 0 || r.looks[b] == nil {
		return nil
	}
	in := comparison.Input{Frames: r.roll.Fitted, Base: b, Response: r.roll.Response, Noise: r.roll.Noise,
		Relations: make([]*measure.Relation, len(r.looks))}
	if in.Frames == nil {
		in.Frames = r.fitted()
	}
	same := r.have.Comparison != nil
	for i := range r.looks {
		in.Relations[i] = r.roll.Frames[i].Relation
		same = same && r.before[i].Basis == r.roll.Frames[i].Basis
	}
	if was := r.have.Comparison; same && was.In.Base == b && was.In.Response == in.Response && was.In.Noise == in.Noise && slices.Equal(was.In.Frames, in.Frames) {
		r.set(Compared, -1, func(*film.Frame) { r.roll.Comparison = was })
		return nil
	}
	a, err := comparison.Measure(ctx, in, func(i int, f *comparison.Frame) {
		if r.looks[i] != nil {
			r.events(Event{Kind: Salvaged, Frame: i})
		}
	})
	if err != nil {
		return err
	}
	r.set(Compared, -1, func(*film.Frame) { r.roll.Comparison = a })
	return nil
}

// noteSizes notes when the scans differ in size: not wrong, but worth a look.
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
			r.note("The scans differ in size (%s is %d x %d, %s is %d x %d pixels): each is measured over its own image area; ask for scans of one size if they are to be compared pixel by pixel.",
				name(r.job.Roll.Frames[first]), a.Width, a.Height, name(r.job.Roll.Frames[i]), b.Width, b.Height)
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
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := key(a), key(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	if b := job.Base(); b > 0 { // of two frames at 0 the first is the base
		at := slices.Index(order, b)
		order = slices.Insert(slices.Delete(order, at, at+1), 0, b)
	}
	return order
}

func name(f roll.Frame) string { return filepath.Base(filepath.FromSlash(f.File)) }
