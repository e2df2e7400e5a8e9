package register

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/parallel"
)

// Roll registers every frame of a roll against the base frame. stops are the
// frames' labels, one a look; they say which frames are neighbours (a label
// that is not a number has none). Nil looks (frames that failed) are skipped:
// their registration is the zero value.
//
// Every frame is measured against the base and against its neighbour on the
// ladder towards the base; all these together give the frames' places. Where the
// ends share nothing with the base, the chain of neighbours carries them.
//
// progress, where not nil, is called with steps done so far and in all, from
// one goroutine at a time. The error is ctx's, or says that the arguments do
// not belong together. Without a base frame every registration is the zero
// value with a note.
func Roll(ctx context.Context, looks []*measure.Look, stops []float64, base int, opt Options, progress func(done, total int)) ([]Registration, error) {
	if len(stops) != len(looks) {
		return nil, fmt.Errorf("%d frames came with %d labels: each frame needs one", len(looks), len(stops))
	}
	out := make([]Registration, len(looks))
	for i := range out {
		out[i] = Registration{Via: -1}
	}
	if base < 0 || base >= len(looks) || looks[base] == nil {
		for i := range out {
			out[i].Note = "Not registered: the roll has no base frame to lay the others on."
		}
		return out, ctx.Err()
	}
	r := &roll{looks: looks, base: base, workers: opt.Workers, progress: progress}
	if r.workers <= 0 {
		r.workers = parallel.Workers(0, math.MaxInt)
	}
	r.order(stops)
	if err := r.measure(ctx); err != nil {
		return nil, err
	}
	r.report(out)
	return out, nil
}

type roll struct {
	looks   []*measure.Look
	base    int
	toward  []int // the neighbour towards the base; -1: none but the base
	frames  []*pyramid
	links   []link
	workers int

	mu          sync.Mutex
	progress    func(done, total int)
	done, total int
}

// order finds each frame's neighbour towards the base.
func (r *roll) order(stops []float64) {
	var known []int
	r.toward = make([]int, len(r.looks))
	for i := range r.looks {
		r.toward[i] = -1
		if r.looks[i] != nil && !math.IsNaN(stops[i]) {
			known = append(known, i)
		}
	}
	slices.SortStableFunc(known, func(a, b int) int {
		if c := cmp.Compare(stops[a], stops[b]); c != 0 {
			return c
		}
		return cmp.Compare(a, b)
	})
	at := slices.Index(known, r.base)
	if at < 0 {
		return
	}
	for k, i := range known {
		switch {
		case k < at:
			r.toward[i] = known[k+1]
		case k > at:
			r.toward[i] = known[k-1]
		}
	}
}

func (r *roll) tick() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.done++
	if r.progress != nil {
		r.progress(min(r.done, r.total), r.total)
	}
}

func (r *roll) measure(ctx context.Context) error {
	n := len(r.looks)
	r.frames = make([]*pyramid, n)
	r.total = 0
	for i, l := range r.looks {
		if l != nil {
			r.total++
			if i != r.base {
				r.total += 2
			}
		}
	}
	err := parallel.Each(ctx, r.workers, n, func(_, i int) error {
		if r.looks[i] == nil {
			return nil
		}
		f, err := newPyramid(ctx, r.looks[i])
		r.frames[i] = f
		r.tick()
		return err
	})
	if err != nil {
		return err
	}
	// Neighbours first: they share most.
	room := make([]scratch, parallel.Workers(r.workers, n))
	near := make([]link, n)
	err = parallel.Each(ctx, r.workers, n, func(worker, i int) error {
		if i == r.base || r.frames[i] == nil {
			return nil
		}
		near[i] = link{from: r.toward[i], to: i}
		if f := r.toward[i]; f >= 0 {
			near[i].match = seek(ctx, r.frames[f], r.frames[i], nil, plain, &room[worker])
		}
		r.tick()
		return ctx.Err()
	})
	if err != nil {
		return err
	}
	// Then each against the base, beginning where the chain ends.
	chain, _, reached := settle(n, r.base, near)
	far := make([]link, n)
	err = parallel.Each(ctx, r.workers, n, func(worker, i int) error {
		if i == r.base || r.frames[i] == nil {
			return nil
		}
		far[i] = link{from: r.base, to: i}
		if r.toward[i] != r.base {
			var guess *pose
			if reached[i] {
				guess = &chain[i]
			}
			far[i].match = seek(ctx, r.frames[r.base], r.frames[i], guess, plain, &room[worker])
		}
		r.tick()
		return ctx.Err()
	})
	if err != nil {
		return err
	}
	r.links = append(near, far...)
	return r.rescue(ctx)
}

// rescue searches widely for frames that no link reaches: against the base, then
// against their neighbours on either side.
func (r *roll) rescue(ctx context.Context) error {
	n := len(r.looks)
	room := make([]scratch, parallel.Workers(r.workers, n))
	for round := range 2 {
		_, _, reached := settle(n, r.base, r.links)
		extra := make([]link, n)
		err := parallel.Each(ctx, r.workers, n, func(worker, i int) error {
			if r.frames[i] == nil || reached[i] {
				return nil
			}
			from, how := r.base, wideOnly
			if round == 1 {
				from, how = r.companion(i, reached), thorough
			}
			if from >= 0 {
				extra[i] = link{from: from, to: i, match: seek(ctx, r.frames[from], r.frames[i], nil, how, &room[worker])}
			}
			return ctx.Err()
		})
		if err != nil {
			return err
		}
		r.links = append(r.links, extra...)
	}
	return nil
}

// companion returns a neighbour of i that is reached, other than the base.
func (r *roll) companion(i int, reached []bool) int {
	for j, f := range r.toward {
		if f == i && reached[j] {
			return j
		}
	}
	if f := r.toward[i]; f >= 0 && f != r.base && reached[f] {
		return f
	}
	return -1
}

func (r *roll) report(out []Registration) {
	at, cov, reached := settle(len(r.looks), r.base, r.links)
	for i, l := range r.looks {
		switch {
		case l == nil:
		case i == r.base:
			out[i] = Identity()
		case !reached[i]:
			out[i] = refusal(r.looks[r.base], l, r.why(i))
		default:
			g := Registration{Via: -1, cov: cov[i]}
			g.set(at[i])
			g.StdErr = cov[i].errors(g.Scale)
			g.Confidence = cov[i].within(shiftLimit, rotationLimit)
			g.How, g.Via = r.way(i)
			g.Note = doubt(g)
			out[i] = g
		}
	}
}

// way returns which links a frame hangs on.
func (r *roll) way(i int) (How, int) {
	direct, via := false, -1
	for _, l := range r.links {
		switch {
		case !l.ok:
		case l.to == i && l.from == r.base:
			direct = true
		case l.to == i && via < 0:
			via = l.from
		}
	}
	switch {
	case direct && via >= 0:
		return Combined, via
	case direct:
		return Direct, -1
	}
	if via < 0 { // reached from beyond
		for _, l := range r.links {
			if l.ok && l.from == i {
				via = l.to
			}
		}
	}
	return Chained, via
}

func (r *roll) why(i int) string {
	for _, l := range r.links {
		if l.to == i && l.why != "" {
			return l.why
		}
	}
	return "nothing in common was found"
}

func refusal(a, b *measure.Look, why string) Registration {
	p := areaPose(a, b)
	r := Registration{How: Areas, Via: -1, StdErr: Errors{math.NaN(), math.NaN(), math.NaN(), math.NaN()}}
	r.set(p)
	r.Note = fmt.Sprintf("Not registered: %s; the image areas were laid on each other instead. Nudge the frame by hand if it is off.", why)
	return r
}

func doubt(r Registration) string {
	if r.Confidence >= Threshold {
		return ""
	}
	return fmt.Sprintf("The registration is uncertain: the shift to about %.1f x %.1f pixels, the rotation to about %.2f degrees (one standard error).", r.StdErr.DX, r.StdErr.DY, r.StdErr.Rotation)
}
