package measure

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// workers resolves Options.Workers.
func (o Options) workers() int {
	if o.Workers > 0 {
		return o.Workers
	}
	return runtime.GOMAXPROCS(0)
}

// sweep calls fn for the chunks [lo, hi) of 0..n on several goroutines. Which
// worker gets which chunk is left to chance, so fn must either write what
// depends on lo and hi alone or sum whole numbers per worker: then results do
// not depend on the number of workers. It returns ctx's error when it ends.
func sweep(ctx context.Context, workers, n, chunk int, fn func(worker, lo, hi int)) error {
	if chunk < 1 {
		chunk = 1
	}
	workers = max(1, min(workers, (n+chunk-1)/chunk))
	var next atomic.Int64
	run := func(w int) {
		for ctx.Err() == nil {
			lo := int(next.Add(int64(chunk))) - chunk
			if lo >= n {
				return
			}
			fn(w, lo, min(lo+chunk, n))
		}
	}
	if workers == 1 {
		run(0)
		return ctx.Err()
	}
	var wg sync.WaitGroup
	for w := range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			run(w)
		}()
	}
	wg.Wait()
	return ctx.Err()
}
