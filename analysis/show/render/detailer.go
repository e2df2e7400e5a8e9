package render

import (
	"context"
	"errors"
	"image"
	"sync"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
)

// DetailRequest asks for full-resolution code values of part of a scan.
type DetailRequest struct {
	Key      any                         // the frame; comparable. A newer request of the same key replaces an older one
	Open     func() (scan.Source, error) // called in the worker; the Detailer is the source's only user
	Look     *measure.Look
	Rect     image.Rectangle // full-resolution pixels wanted
	Step     int             // whole factor that it may be reduced by, >= 1
	Priority int             // the higher goes first, and interrupts a lower one
}

// DetailResult is handed to the callback from the worker's goroutine. Detail is
// nil when Err is not.
type DetailResult struct {
	Key    any
	Look   *measure.Look // as requested
	Detail *Detail
	Err    error
}

// RegionReader is what a scan.Source implements besides when Region costs
// about what the region's share of the picture does. Sources that do not
// are decoded whole once and held as far as the budget allows.
type RegionReader interface{ ReadsRegions() bool }

// Detailer loads details in one background goroutine and keeps them, and whole
// decoded pictures where that helps, within a budget of memory; what was used
// longest ago goes first. It is safe for concurrent use.
type Detailer struct {
	budget int64
	done   func(DetailResult)

	mu      sync.Mutex
	wake    *sync.Cond
	pending map[any]*job
	running *job
	seq     uint64
	closed  bool
	over    chan struct{}

	cache []*entry // least recently used first
	used  int64
	peak  int64
}

type job struct {
	DetailRequest
	seq    uint64
	cancel context.CancelFunc
	stale  bool
	again  bool // interrupted by something more urgent: put back
}

// entry is a detail or a whole picture.
type entry struct {
	key    any
	look   *measure.Look
	detail *Detail
	held   *scan.Pixels
	bytes  int64
}

// NewDetailer starts a loader with a budget in bytes. done is called from the
// loader's goroutine for every request that was neither replaced nor cancelled.
// Close ends it.
func NewDetailer(budget int64, done func(DetailResult)) *Detailer {
	d := &Detailer{budget: budget, done: done, pending: map[any]*job{}, over: make(chan struct{})}
	d.wake = sync.NewCond(&d.mu)
	go d.work()
	return d
}

// Close cancels all work, waits for the loader to end and frees the memory.
func (d *Detailer) Close() {
	d.mu.Lock()
	d.closed = true
	clear(d.pending)
	if d.running != nil {
		d.running.stale = true
		d.running.cancel()
	}
	d.wake.Broadcast()
	d.mu.Unlock()
	<-d.over
	d.mu.Lock()
	d.cache, d.used = nil, 0
	d.mu.Unlock()
}

// Request returns the detail at once when it is at hand; else it queues the
// request and returns nil.
func (d *Detailer) Request(r DetailRequest) *Detail {
	r.Step = max(1, r.Step)
	d.mu.Lock()
	defer d.mu.Unlock()
	if hit := d.find(r); hit != nil {
		delete(d.pending, r.Key)
		return hit
	}
	if d.closed || r.Rect.Empty() || r.Open == nil || r.Look == nil {
		return nil
	}
	if run := d.running; run != nil && run.Key == r.Key && !run.stale {
		if run.satisfies(r) {
			delete(d.pending, r.Key)
			return nil
		}
		run.stale, run.again = true, false
		run.cancel()
	}
	d.seq++
	d.pending[r.Key] = &job{DetailRequest: r, seq: d.seq}
	if run := d.running; run != nil && !run.stale && r.Priority > run.Priority {
		run.stale, run.again = true, true
		run.cancel()
	}
	d.wake.Signal()
	return nil
}

// satisfies reports whether j's result will answer r as well.
func (j *job) satisfies(r DetailRequest) bool {
	return j.Look == r.Look && j.Step == r.Step && r.Rect.In(grown(j.Rect, j.Look))
}

// Only drops queued and running requests of all other keys: those of frames
// that are no longer in sight.
func (d *Detailer) Only(keys ...any) {
	d.mu.Lock()
	defer d.mu.Unlock()
	wanted := map[any]bool{}
	for _, k := range keys {
		wanted[k] = true
	}
	for k := range d.pending {
		if !wanted[k] {
			delete(d.pending, k)
		}
	}
	if r := d.running; r != nil && !wanted[r.Key] {
		r.stale, r.again = true, false
		r.cancel()
	}
}

// Forget drops everything known of a key: its file has changed or is closed.
func (d *Detailer) Forget(key any) {
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.pending, key)
	if r := d.running; r != nil && r.Key == key {
		r.stale, r.again = true, false
		r.cancel()
	}
	kept := d.cache[:0]
	for _, e := range d.cache {
		if e.key == key {
			d.used -= e.bytes
			continue
		}
		kept = append(kept, e)
	}
	clear(d.cache[len(kept):])
	d.cache = kept
}

// Used returns the bytes held now and the most that were ever held.
func (d *Detailer) Used() (now, peak int64) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.used, d.peak
}

// find returns a cached detail that answers r and marks it used. A detail up to
// twice finer than asked for will do.
func (d *Detailer) find(r DetailRequest) *Detail {
	for i := len(d.cache) - 1; i >= 0; i-- {
		e := d.cache[i]
		if e.detail == nil || e.key != r.Key || e.look != r.Look || !e.detail.Covers(r.Rect) {
			continue
		}
		if e.detail.Step <= r.Step && 2*e.detail.Step > r.Step {
			d.touch(i)
			return e.detail
		}
	}
	return nil
}

func (d *Detailer) touch(i int) {
	e := d.cache[i]
	copy(d.cache[i:], d.cache[i+1:])
	d.cache[len(d.cache)-1] = e
}

// keep adds an entry and makes room for it; what is larger than the whole
// budget is not kept.
func (d *Detailer) keep(e *entry) {
	if e.bytes > d.budget {
		return
	}
	d.room(e.bytes)
	d.cache = append(d.cache, e)
	d.used += e.bytes
	d.peak = max(d.peak, d.used)
}

func (d *Detailer) room(bytes int64) {
	for len(d.cache) > 0 && d.used+bytes > d.budget {
		d.used -= d.cache[0].bytes
		d.cache[0] = nil
		d.cache = d.cache[1:]
	}
}

func (d *Detailer) work() {
	defer close(d.over)
	for {
		d.mu.Lock()
		for len(d.pending) == 0 && !d.closed {
			d.wake.Wait()
		}
		if d.closed {
			d.mu.Unlock()
			return
		}
		var next *job
		for _, j := range d.pending {
			if next == nil || j.Priority > next.Priority || j.Priority == next.Priority && j.seq > next.seq {
				next = j
			}
		}
		delete(d.pending, next.Key)
		ctx, cancel := context.WithCancel(context.Background())
		next.cancel, next.stale, next.again = cancel, false, false
		d.running = next
		d.mu.Unlock()

		detail, err := d.load(ctx, next)
		cancel()

		d.mu.Lock()
		d.running = nil
		if next.stale {
			if _, newer := d.pending[next.Key]; next.again && !newer && !d.closed {
				d.pending[next.Key] = next
			}
			d.mu.Unlock()
			continue
		}
		if detail != nil {
			d.keep(&entry{key: next.Key, look: next.Look, detail: detail, bytes: detail.Bytes()})
		}
		d.mu.Unlock()
		if d.done != nil {
			d.done(DetailResult{Key: next.Key, Look: next.Look, Detail: detail, Err: err})
		}
	}
}

// grown returns r with a margin of a quarter of its sides, so that a short pan needs
// no new reading.
func grown(r image.Rectangle, look *measure.Look) image.Rectangle {
	mx, my := r.Dx()/4, r.Dy()/4
	r.Min, r.Max = r.Min.Sub(image.Pt(mx, my)), r.Max.Add(image.Pt(mx, my))
	return r.Intersect(image.Rect(0, 0, look.Info.Width, look.Info.Height))
}

func (d *Detailer) load(ctx context.Context, j *job) (*Detail, error) {
	r := grown(j.Rect, j.Look)
	if r.Empty() {
		return nil, errors.New("the part of the picture that was asked for lies outside it; this is a fault of the program")
	}
	// What a file that ends early lacks is at a turned picture's top or side, and a
	// region that reaches into it is refused as a whole.
	asked := r
	if l := j.Look; l.MissingRows > 0 && r.Overlaps(l.There) {
		r = r.Intersect(l.There)
	}
	c := newCutter(j.Look, r, j.Step)
	c.d.asked = asked
	if p := d.heldFor(j.Key); p != nil {
		return c.fromRegions(ctx, p, r)
	}
	src, err := j.Open()
	if err != nil {
		return nil, err
	}
	if in := src.Info(); in.Width != j.Look.Info.Width || in.Height != j.Look.Info.Height {
		return nil, &ChangedError{Path: in.Path}
	}
	if p, ok := src.(*scan.Pixels); ok {
		return c.fromRegions(ctx, p, r)
	}
	if rr, ok := src.(RegionReader); ok && rr.ReadsRegions() {
		return c.fromRegions(ctx, src, r)
	}
	in := src.Info()
	whole := 6 * int64(in.Width) * int64(in.Height)
	if whole <= d.budget/2 {
		d.mu.Lock()
		d.room(whole) // before the memory is taken, not after
		d.mu.Unlock()
		p, err := scan.Hold(ctx, src)
		var short *scan.TruncatedError
		if err != nil && !errors.As(err, &short) {
			return nil, err
		}
		d.mu.Lock()
		if !j.stale || j.again {
			d.keep(&entry{key: j.Key, held: p, bytes: 2 * int64(cap(p.Pix))})
		}
		d.mu.Unlock()
		return c.fromRegions(ctx, p, r)
	}
	return c.fromStream(ctx, src, r)
}

func (d *Detailer) heldFor(key any) *scan.Pixels {
	d.mu.Lock()
	defer d.mu.Unlock()
	for i, e := range d.cache {
		if e.key == key && e.held != nil {
			d.touch(i)
			return e.held
		}
	}
	return nil
}

// stripBytes is how much is read at a time: all that a window shows at 1:1 with
// its margin, since a compressed strip of the file is decoded anew by every call
// that touches it; and far less than a whole scan.
const stripBytes = 32 << 20

func (c *cutter) fromRegions(ctx context.Context, src scan.Source, r image.Rectangle) (*Detail, error) {
	stripRows := max(64, stripBytes/(6*r.Dx()))
	for y := r.Min.Y; y < r.Max.Y; y += stripRows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		strip := image.Rect(r.Min.X, y, r.Max.X, min(y+stripRows, r.Max.Y))
		codes, err := src.Region(ctx, strip)
		var short *scan.TruncatedError
		if errors.As(err, &short) && short.RowsRead > y && short.RowsRead < strip.Max.Y {
			strip.Max.Y = short.RowsRead
			codes, err = src.Region(ctx, strip)
		}
		if errors.As(err, &short) {
			break
		}
		if err != nil {
			return nil, err
		}
		n := 3 * strip.Dx()
		for i := 0; i < strip.Dy(); i++ {
			c.row(y+i, codes[n*i:n*(i+1)])
		}
	}
	return c.finish()
}

var errEnough = errors.New("enough rows")

func (c *cutter) fromStream(ctx context.Context, src scan.Source, r image.Rectangle) (*Detail, error) {
	w := 3 * src.Info().Width
	err := src.Stream(ctx, func(y int, rows []uint16) error {
		for i := 0; i < len(rows)/w; i++ {
			if at := y + i; at >= r.Min.Y && at < r.Max.Y {
				c.row(at, rows[w*i+3*r.Min.X:w*i+3*r.Max.X])
			}
		}
		if y+len(rows)/w >= r.Max.Y {
			return errEnough
		}
		return nil
	})
	var short *scan.TruncatedError
	if err != nil && !errors.Is(err, errEnough) && !errors.As(err, &short) {
		return nil, err
	}
	return c.finish()
}

func (c *cutter) finish() (*Detail, error) {
	if d := c.done(); d != nil {
		return d, nil
	}
	return nil, &scan.TruncatedError{Path: c.look.Info.Path, RowsRead: c.d.Rect.Min.Y, Rows: c.look.Info.Height}
}

// ChangedError says that a scan is no longer the one that was measured.
type ChangedError struct{ Path string }

func (e *ChangedError) Error() string {
	return e.Path + " has changed since it was read; open it again to see it as it is now"
}
