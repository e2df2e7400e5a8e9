package courtyard

import (
	"context"
	"sync"

	"stopladder/analysis/numeric/parallel"
)

// rows runs fn for every row on all processors; which goroutine takes a row
// must not matter to the result.
func rows(ctx context.Context, h int, progress func(done float64), fn func(y int)) error {
	var mu sync.Mutex
	done := 0
	return parallel.Each(ctx, 0, h, func(_, y int) error {
		fn(y)
		if progress != nil {
			mu.Lock()
			defer mu.Unlock()
			done++
			progress(float64(done) / float64(h))
		}
		return nil
	})
}
