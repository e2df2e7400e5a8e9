package register

import (
	"context"
	"errors"

	"stopladder/analysis/measure"
)

// Options steer Pair and Roll. The zero value is ready to use.
type Options struct {
	Workers int // goroutines; 0 is GOMAXPROCS. Results do not depend on it
}

// Pair registers b against a.
func Pair(ctx context.Context, a, b *measure.Look, opt Options) (Registration, error) {
	return Registration{}, errors.New("registration is not built yet")
}

// Roll registers every frame of a roll against the base frame. stops are the
// frames' labels, one a look; they say which frames are neighbours. Nil looks
// (frames that failed) are skipped: their registration is the zero value.
// progress, where not nil, is called with frames done so far and in all, from
// one goroutine at a time.
func Roll(ctx context.Context, looks []*measure.Look, stops []float64, base int, opt Options, progress func(done, total int)) ([]Registration, error) {
	return nil, errors.New("registration is not built yet")
}
