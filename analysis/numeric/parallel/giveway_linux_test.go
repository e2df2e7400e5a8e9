package parallel

import (
	"context"
	"syscall"
	"testing"
)

// What runs behind runs on a thread that gives way, and nothing else does.
func TestThreadsGiveWay(t *testing.T) {
	spared(t)
	nice := func(ctx context.Context) int {
		got := make(chan int)
		Go(ctx, func() {
			p, err := syscall.Getpriority(syscall.PRIO_PROCESS, 0)
			if err != nil {
				t.Error(err)
			}
			got <- mostFirst - p
		})
		return <-got
	}
	own := nice(context.Background())
	if behind := nice(Behind(context.Background())); behind != min(leastNice, own+stepBack) {
		t.Errorf("behind the niceness is %d, else %d", behind, own)
	}
	within := 0 // of a loop without a context, called from behind
	got := make(chan int)
	Go(Behind(context.Background()), func() {
		_ = Each(context.Background(), 2, 2, func(_, _ int) error {
			p, _ := syscall.Getpriority(syscall.PRIO_PROCESS, 0)
			got <- mostFirst - p
			return nil
		})
	})
	for range 2 {
		within += <-got
	}
	if within != 2*min(leastNice, own+stepBack) {
		t.Errorf("a loop within has a niceness of %d in sum", within)
	}
	for range 20 {
		if again := nice(context.Background()); again != own {
			t.Fatalf("a thread of others has niceness %d, had %d", again, own)
		}
	}
}
