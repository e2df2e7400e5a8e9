package parallel

import (
	"context"
	"syscall"
	"testing"
)

// What runs behind runs on a thread that gives way, and nothing else does.
func TestThreadsGiveWay(t *testing.T) {
	nice := func(ctx context.Context) int {
		got := make(chan int)
		Go(ctx, func() {
			p, err := syscall.Getpriority(syscall.PRIO_PROCESS, 0)
			if err != nil {
				t.Error(err)
			}
			got <- 20 - p // the system call counts from 1 to 40, the most first
		})
		return <-got
	}
	own := nice(context.Background())
	if behind := nice(Behind(context.Background())); behind < min(19, max(own, niceness)) {
		t.Errorf("behind the niceness is %d", behind)
	}
	for range 20 {
		if again := nice(context.Background()); again != own {
			t.Fatalf("a thread of others has niceness %d, had %d", again, own)
		}
	}
}
