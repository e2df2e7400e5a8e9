// Package memory bounds what the garbage collector lets pile up while a roll is
// read. A frame of 42 megapixels passes some hundred megabytes of short-lived
// tables through the heap; left alone the collector lets the heap grow to twice
// what is in use, 1.3 GB for a roll of eight, where 0.8 GB do.
package memory

import (
	"os"
	"runtime/debug"
	"runtime/metrics"
)

// Least is the limit that the program starts with, in bytes, and Room what a
// roll that needs more gets over what is in use: without room the collector
// would never rest.
const (
	Least = 620 << 20
	Room  = 48 << 20
)

// Bound sets the collector's soft limit by what is in use at the last collection.
// It is cheap and may be called after every frame. Who sets GOMEMLIMIT has
// decided already, and nothing is done.
func Bound() {
	if os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	sample := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(sample)
	live := int64(0)
	if sample[0].Value.Kind() == metrics.KindUint64 {
		live = int64(sample[0].Value.Uint64())
	}
	debug.SetMemoryLimit(limit(live))
}

func limit(live int64) int64 { return max(Least, live+live/16+Room) }
