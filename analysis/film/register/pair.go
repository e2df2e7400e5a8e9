package register

import (
	"slices"

	"stopladder/analysis/film/measure"
)

// Options steer Roll. The zero value is ready to use.
type Options struct {
	Workers int // goroutines; 0 is GOMAXPROCS. Results do not depend on it
}

// same reports whether two looks show the same pixels.
func same(a, b *measure.Look) bool {
	return a == b || a.Info.Width == b.Info.Width && a.Info.Height == b.Info.Height &&
		a.Space.Name() == b.Space.Name() && slices.Equal(a.Preview.Pix, b.Preview.Pix)
}
