package memory

import (
	"math"
	"runtime/debug"
	"testing"
)

func TestBound(t *testing.T) {
	t.Setenv("GOMEMLIMIT", "")
	before := debug.SetMemoryLimit(-1)
	defer debug.SetMemoryLimit(before)
	Bound()
	if got := debug.SetMemoryLimit(-1); got != Least {
		t.Errorf("a small heap: limit %d, want %d", got, int64(Least))
	}
	debug.SetMemoryLimit(math.MaxInt64)
	t.Setenv("GOMEMLIMIT", "3GiB")
	Bound()
	if got := debug.SetMemoryLimit(-1); got != math.MaxInt64 {
		t.Errorf("GOMEMLIMIT is set and was overridden with %d", got)
	}
	for _, live := range []int64{1 << 30, 4 << 30} {
		if l := limit(live); l < live+Room {
			t.Errorf("limit %d for %d in use leaves no room", l, live)
		}
	}
}
