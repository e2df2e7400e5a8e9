package session

import (
	"context"

	"stopladder/analysis/numeric/parallel"
)

// Runner runs work on other goroutines and hands back what comes of it. Its methods
// belong to the window's goroutine.
type Runner struct {
	do      func(func()) // runs a function on the window's goroutine
	apply   func(Change)
	running map[string]*run
}

type run struct{ end context.CancelFunc }

// NewRunner returns a runner. do runs a function on the window's goroutine, where apply
// makes a change.
func NewRunner(do func(func()), apply func(Change)) *Runner {
	return &Runner{do: do, apply: apply, running: map[string]*run{}}
}

// Start runs work behind (parallel.Behind), so that no key waits for it, in place of what runs under that name. What
// it posts and what it returns, which may be nil, is run on the window's goroutine, and
// dropped once it was ended.
func (r *Runner) Start(name string, work func(ctx context.Context, post func(func())) func()) {
	r.Stop(name)
	ctx, cancel := context.WithCancel(parallel.Behind(context.Background()))
	this := &run{cancel}
	r.running[name] = this
	post := func(f func()) {
		r.do(func() {
			if ctx.Err() == nil {
				f()
			}
		})
	}
	parallel.Go(ctx, func() {
		then := work(ctx, post)
		post(func() {
			cancel()
			if r.running[name] == this {
				delete(r.running, name)
			}
			if then != nil {
				then()
			}
		})
	})
}

// Follow does what an effect asks of the runner.
func (r *Runner) Follow(e Effect) {
	if e.Closed {
		r.StopAll()
	}
	for _, name := range e.Stop {
		r.Stop(name)
	}
	for _, w := range e.Run {
		r.Start(w.Name, func(ctx context.Context, post func(func())) func() {
			c, err := w.Do(ctx, func(c Change) { post(func() { r.apply(c) }) })
			switch {
			case err != nil:
				return func() { r.apply(Failed{w, err}) }
			case c != nil:
				return func() { r.apply(c) }
			}
			return nil
		})
	}
}

// Stop ends what runs under a name.
func (r *Runner) Stop(name string) {
	if w := r.running[name]; w != nil {
		delete(r.running, name)
		w.end()
	}
}

// StopAll ends all that runs.
func (r *Runner) StopAll() {
	for name := range r.running {
		r.Stop(name)
	}
}

// Busy reports whether anything runs.
func (r *Runner) Busy() bool { return len(r.running) > 0 }
