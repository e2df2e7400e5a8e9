// Package parallel runs loops on several processors. Which goroutine takes which
// part is left to chance, so what a part does must write what depends on the part
// alone, or sum whole numbers for each worker: results then do not depend on how
// many processors there are.
package parallel

import (
	"context"
	"sync"
	"sync/atomic"
)

// Workers returns how many goroutines share n parts where want are wished for: at
// least one, at most n; 0 wishes for one a processor (GOMAXPROCS, without what Spare added).
func Workers(want, n int) int {
	if want <= 0 {
		want = processors()
	}
	return max(1, min(want, n))
}

// Each calls fn for i = 0..n-1 on Workers(workers, n) goroutines, in this order but
// for what runs at the same time. worker counts the goroutines from 0; a worker
// runs one call at a time, so that fn can keep memory for each. Each ends early
// with ctx, whose error it returns, or with the first error of fn.
func Each(ctx context.Context, workers, n int, fn func(worker, i int) error) error {
	workers = Workers(workers, n)
	var next atomic.Int64
	var failed atomic.Pointer[error]
	run := func(w int) {
		for ctx.Err() == nil && failed.Load() == nil {
			i := int(next.Add(1)) - 1
			if i >= n {
				return
			}
			if err := fn(w, i); err != nil {
				failed.CompareAndSwap(nil, &err)
			}
		}
	}
	if workers == 1 {
		run(0)
	} else {
		var wg sync.WaitGroup
		for w := range workers {
			wg.Add(1)
			Go(ctx, func() { defer wg.Done(); run(w) })
		}
		wg.Wait()
	}
	if err := failed.Load(); err != nil && ctx.Err() == nil {
		return *err
	}
	return ctx.Err()
}

// Chunks calls fn for the parts [lo, hi) of 0..n-1, each of chunk but for the last;
// worker is as for Each. chunk 0 makes some parts a worker: a processor that is
// busy elsewhere then delays only one. The error is ctx's.
func Chunks(ctx context.Context, workers, n, chunk int, fn func(worker, lo, hi int)) error {
	if chunk < 1 {
		if chunk = n; Workers(workers, n) > 1 {
			parts := 4 * Workers(workers, n)
			chunk = (n + parts - 1) / parts
		}
	}
	chunk = max(1, chunk)
	return Each(ctx, workers, (n+chunk-1)/chunk, func(worker, i int) error {
		fn(worker, i*chunk, min((i+1)*chunk, n))
		return nil
	})
}

// Bands calls fn for parts of 0..n-1 on all processors.
func Bands(n int, fn func(lo, hi int)) {
	_ = Chunks(context.Background(), 0, n, 0, func(_, lo, hi int) { fn(lo, hi) }) // nothing can end it
}
