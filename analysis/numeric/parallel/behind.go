package parallel

import (
	"context"
	"runtime"
	"sync/atomic"
	"time"
)

// A window measures a roll while somebody works in it. Left alone the loops hold every
// processor for milliseconds at a time, and a key waits for its turn with them. What runs
// behind is given threads that the system lets wait for all others of the program: alone it
// is as fast as ever, beside a picture that is drawn it gives way at once.

type behindKey struct{}

// Behind returns a context whose loops, and what Go starts in it, give way to everything
// else that the program does, once it has called Spare: without a window there is nothing to
// give way to. Results are the same. Where the system has no such threads (all but Linux)
// nothing changes.
func Behind(ctx context.Context) context.Context {
	return context.WithValue(ctx, behindKey{}, true)
}

func behind(ctx context.Context) bool { return ctx.Value(behindKey{}) != nil }

// Go runs a function on a goroutine of its own, behind where the context says so or who calls
// it runs behind: a loop that is given no context is then behind as well.
func Go(ctx context.Context, f func()) {
	if most.Load() == 0 || !behind(ctx) && !givesWay() {
		go f()
		return
	}
	select {
	case idle <- f:
	default:
		go help(f)
	}
}

// idle hands work to helpers that have none. Nobody waits for one: a loop within a loop
// would wait for itself.
var idle = make(chan func())

// helperRests is how long a helper waits for more work before its thread ends.
const helperRests = 2 * time.Second

// help runs on a thread that gives way. The thread is never unlocked, because the system
// lets nobody take such a step back; it ends with the goroutine.
func help(f func()) {
	runtime.LockOSThread()
	giveWay()
	timer := time.NewTimer(helperRests)
	defer timer.Stop()
	for {
		f()
		timer.Reset(helperRests)
		select {
		case f = <-idle:
		case <-timer.C:
			return
		}
	}
}

// most is how many goroutines a loop uses at most, 0 for one a processor.
var most atomic.Int64

// Spare lets the runtime run so many goroutines more at a time than a loop uses, so that
// what answers a key need not wait until a loop lets go of a processor: the system shares
// the processors among them, and gives way where Behind says so. It is called once, when a
// program with a window starts.
func Spare(n int) {
	p := runtime.GOMAXPROCS(0)
	most.Store(int64(p))
	runtime.GOMAXPROCS(p + n)
}

// processors is how many goroutines a loop uses where nothing is wished for.
func processors() int {
	if m := most.Load(); m > 0 {
		return int(m)
	}
	return runtime.GOMAXPROCS(0)
}
