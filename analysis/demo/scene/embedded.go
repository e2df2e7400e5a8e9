package scene

import (
	"stopladder/assets"
	"sync"
)

// Size and samples of the embedded courtyard.
const (
	EmbeddedWidth   = 1260
	EmbeddedHeight  = 1080
	EmbeddedSamples = 28
)

var embedded = sync.OnceValues(func() (*Radiance, error) { return Unpack(assets.Courtyard) })

// Embedded returns the courtyard as it was rendered beforehand by cmd/mkscene,
// at EmbeddedWidth x EmbeddedHeight with EmbeddedSamples paths a pixel. All
// callers share the one picture: do not write to it.
func Embedded() (*Radiance, error) { return embedded() }
