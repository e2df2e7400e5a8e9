package pane

import (
	"image"
	"sync"
	"time"

	"stopladder/analysis/show/render"
)

// task is one picture to render.
type task struct {
	id    int
	key   shotKey
	seq   uint64
	draft bool
	pic   render.Picture
	prep  *prep

	// Of pictures that are made from two frames.
	other     render.Picture
	otherPrep *prep
	mix       *mix // nil: not between frames
	spec      BetweenSpec
	exact     bool          // on a rung
	took      time.Duration // to mix
	plain     bool          // the frame as it was scanned
	after     uint64        // the task whose picture it takes the place of
	warm      bool          // no picture: makes code values ready for one between frames
	keep      bool          // for what may be asked for next
}

// same reports whether a and b would give the same picture.
func (a *task) same(b *task) bool {
	return a.id == b.id && a.key == b.key && a.draft == b.draft && a.warm == b.warm && a.plain == b.plain
}

// prep keeps a frame's developed picture between tasks; its lock makes sure
// that two workers do not develop the same one.
type prep struct {
	mu  sync.Mutex
	was render.Picture
}

func (p *prep) prepare(pic *render.Picture) {
	p.mu.Lock()
	defer p.mu.Unlock()
	pic.Prepare(&p.was)
	p.was = *pic
}

// codes does what prepare does for pictures made of code values: nothing is developed.
func (p *prep) codes(pic *render.Picture) {
	p.mu.Lock()
	defer p.mu.Unlock()
	pic.PrepareCodes(&p.was)
	p.was = *pic
}

// queue holds what is to be rendered: only the newest wishes count. One worker
// serves what is in sight, another what may come into sight, so that a slow
// development of a neighbour never stands before a pan.
type queue struct {
	mu      sync.Mutex
	wake    *sync.Cond
	wish    [2][]*task // urgent, idle
	run     [2]*task
	closed  bool
	bufs    bufs
	sampler *render.Sampler
	done    func(*task, *image.RGBA)
}

const (
	urgent = iota
	idle
)

func newQueue(done func(*task, *image.RGBA)) *queue {
	q := &queue{done: done, sampler: render.NewSampler(samplerBudget)}
	q.wake = sync.NewCond(&q.mu)
	go q.work(urgent)
	go q.work(idle)
	return q
}

// set replaces all wishes; what is being rendered already is not asked twice.
func (q *queue) set(now, later []*task) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for k, list := range [2][]*task{now, later} {
		q.wish[k] = q.wish[k][:0]
		for _, t := range list {
			if r := q.run; r[urgent] != nil && r[urgent].same(t) || r[idle] != nil && r[idle].same(t) {
				continue
			}
			q.wish[k] = append(q.wish[k], t)
		}
	}
	q.wake.Broadcast()
}

func (q *queue) close() {
	q.mu.Lock()
	q.closed = true
	q.wish = [2][]*task{}
	q.wake.Broadcast()
	q.mu.Unlock()
}

// quiet reports whether nothing is queued or running.
func (q *queue) quiet() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return len(q.wish[urgent])+len(q.wish[idle]) == 0 && q.run[urgent] == nil && q.run[idle] == nil
}

func (q *queue) work(k int) {
	for {
		q.mu.Lock()
		for len(q.wish[k]) == 0 && !q.closed {
			q.wake.Wait()
		}
		if q.closed {
			q.mu.Unlock()
			return
		}
		t := q.wish[k][0]
		q.wish[k] = q.wish[k][1:]
		q.run[k] = t
		q.mu.Unlock()

		if t.warm {
			t.prep.codes(&t.pic)
			t.pic.WarmCodes(t.key.view, t.key.w, t.key.h)
			q.mu.Lock()
			q.run[k] = nil
			q.mu.Unlock()
			continue
		}
		img := q.bufs.get(t.key.w, t.key.h)
		q.draw(t, img)

		q.mu.Lock()
		q.run[k] = nil
		q.mu.Unlock()
		q.done(t, img)
	}
}

// bufs are picture buffers that nobody shows any more. A new one costs a
// page fault for every 4 KB, which is as slow as the rendering.
type bufs struct {
	mu   sync.Mutex
	free []*image.RGBA
}

// freeBufs bounds the idle buffers: a draft and a fine one for two panes.
const freeBufs = 4

func (b *bufs) get(w, h int) *image.RGBA {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i, img := range b.free {
		if img.Rect.Dx() == w && img.Rect.Dy() == h {
			b.free = append(b.free[:i], b.free[i+1:]...)
			return img
		}
	}
	return image.NewRGBA(image.Rect(0, 0, w, h))
}

func (b *bufs) put(img *image.RGBA) {
	if img == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.free = append(b.free, img)
	if len(b.free) > freeBufs {
		b.free[0] = nil
		b.free = b.free[1:]
	}
}
