package courtyard

import (
	"context"
	"runtime"
	"sync"
)

// rows runs fn for every row on all processors; which goroutine takes a row
// must not matter to the result.
func rows(ctx context.Context, h int, progress func(done float64), fn func(y int)) error {
	var (
		wg   sync.WaitGroup
		mu   sync.Mutex
		next int
		done int
	)
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for {
				mu.Lock()
				y := next
				next++
				mu.Unlock()
				if y >= h || ctx.Err() != nil {
					return
				}
				fn(y)
				mu.Lock()
				done++
				d := done
				if progress != nil {
					progress(float64(d) / float64(h))
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}
