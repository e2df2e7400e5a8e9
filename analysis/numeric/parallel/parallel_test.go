package parallel

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
)

// Every index is met once, whatever the sizes.
func TestCoversOnce(t *testing.T) {
	for _, n := range []int{0, 1, 2, 7, 64, 1000} {
		for _, workers := range []int{0, 1, 2, 5} {
			for _, chunk := range []int{0, 1, 3, 2000} {
				seen := make([]atomic.Int32, n)
				busy := make([]atomic.Int32, Workers(workers, n))
				err := Chunks(context.Background(), workers, n, chunk, func(w, lo, hi int) {
					if busy[w].Add(1) != 1 {
						t.Errorf("worker %d runs twice at once", w)
					}
					for i := lo; i < hi; i++ {
						seen[i].Add(1)
					}
					busy[w].Add(-1)
				})
				if err != nil {
					t.Fatal(err)
				}
				for i := range seen {
					if seen[i].Load() != 1 {
						t.Fatalf("n %d, %d workers, chunk %d: %d met %d times", n, workers, chunk, i, seen[i].Load())
					}
				}
			}
		}
	}
}

// Loops behind give what others give, within each other and at the same time too.
func TestBehindCoversOnce(t *testing.T) {
	spared(t)
	ctx := Behind(context.Background())
	var sum atomic.Int64
	var wg sync.WaitGroup
	for range 3 {
		wg.Add(1)
		Go(ctx, func() {
			defer wg.Done()
			for range 20 {
				if err := Each(ctx, 3, 10, func(_, i int) error {
					return Chunks(ctx, 2, 100, 7, func(_, lo, hi int) { sum.Add(int64(hi - lo)) })
				}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	if got := sum.Load(); got != 3*20*10*100 {
		t.Errorf("%d of %d", got, 3*20*10*100)
	}
	inner, cancel := context.WithCancel(ctx)
	cancel()
	if err := Each(inner, 2, 10, func(_, _ int) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// spared has the test run as a program with a window does.
func spared(t *testing.T) {
	p := runtime.GOMAXPROCS(0)
	Spare(1)
	t.Cleanup(func() { runtime.GOMAXPROCS(p); most.Store(0) })
}

// A spared processor is none that loops use.
func TestSpare(t *testing.T) {
	p := runtime.GOMAXPROCS(0)
	defer func() { runtime.GOMAXPROCS(p); most.Store(0) }()
	Spare(2)
	if got := runtime.GOMAXPROCS(0); got != p+2 {
		t.Errorf("the runtime runs %d at a time, want %d", got, p+2)
	}
	if got := Workers(0, 1000); got != p {
		t.Errorf("a loop uses %d goroutines, want %d", got, p)
	}
}

func TestFirstErrorEnds(t *testing.T) {
	full := errors.New("full")
	var calls atomic.Int32
	err := Each(context.Background(), 2, 1000, func(_, i int) error {
		if calls.Add(1); i == 3 {
			return full
		}
		return nil
	})
	if err != full || calls.Load() == 1000 {
		t.Errorf("%v after %d calls", err, calls.Load())
	}
}

func TestEndsWithContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	var calls atomic.Int32
	err := Each(ctx, 2, 1000, func(_, i int) error {
		if calls.Add(1); i == 3 {
			cancel()
			return errors.New("by the end of ctx")
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) || calls.Load() == 1000 {
		t.Errorf("%v after %d calls", err, calls.Load())
	}
}
