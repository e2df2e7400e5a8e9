package colour

import (
	"fmt"
	"slices"
	"sync"
)

// MaxProfileBytes is the largest ICC profile that is looked at. The largest
// table profiles of the trade are a few megabytes.
const MaxProfileBytes = 16 << 20

// AssumedSRGB returns the space of scans that say nothing about colour: sRGB. max is
// the largest code value, 255 or 65535. All scans of one depth share it, for its tables
// take half a megabyte.
func AssumedSRGB(max int) *Space {
	switch max {
	case 0xff:
		return sRGB8()
	case 0xffff:
		return sRGB16()
	}
	return assumedSRGB(max)
}

var (
	sRGB8  = sync.OnceValue(func() *Space { return assumedSRGB(0xff) })
	sRGB16 = sync.OnceValue(func() *Space { return assumedSRGB(0xffff) })
)

func assumedSRGB(max int) *Space {
	s := &Space{name: "sRGB", assumed: true, max: max}
	table := make([]float32, max+1)
	for i := range table {
		table[i] = float32(DecodeSRGB(float64(i) / float64(max)))
	}
	s.impl = newShaper([3][]float32{table, table, table}, mat3{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}})
	return s
}

// Of is FromICC, and where that is not possible sRGB with a note of one
// sentence that says so. note is "" when the profile was used by its best way.
func Of(icc []byte, channels, max int) (s *Space, note string) {
	if len(icc) == 0 {
		return AssumedSRGB(max), "The scan has no colour profile; sRGB was assumed."
	}
	s, err := shared.of(icc, channels, max)
	if err != nil {
		return AssumedSRGB(max), fmt.Sprintf("The scan's colour profile could not be used (%v); sRGB was assumed.", err)
	}
	if s.passed != nil {
		return s, fmt.Sprintf("A table of the scan's colour profile could not be used (%v); the profile's %s was.", s.passed, s.way)
	}
	return s, ""
}

// shared keeps the spaces of the profiles that were seen last: the scans of a roll
// carry the same one, whose tables take up to 11 MB and a second.
var shared spaces

type spaces struct {
	mu   sync.Mutex
	last []keptSpace // the latest first
}

type keptSpace struct {
	icc           string
	channels, max int
	space         *Space
	err           error
}

const sharedSpaces = 8

// Shared is FromICC for a profile that many scans have: they get the same space.
func Shared(icc []byte, channels, max int) (*Space, error) { return shared.of(icc, channels, max) }

// of is FromICC.
func (k *spaces) of(icc []byte, channels, max int) (*Space, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	i := slices.IndexFunc(k.last, func(s keptSpace) bool { return s.channels == channels && s.max == max && s.icc == string(icc) })
	if i < 0 {
		s, err := FromICC(icc, channels, max)
		k.last = append(k.last, keptSpace{string(icc), channels, max, s, err})
		i = len(k.last) - 1
	}
	found := k.last[i]
	k.last = slices.Insert(slices.Delete(k.last, i, i+1), 0, found)
	k.last = k.last[:min(len(k.last), sharedSpaces)]
	return found.space, found.err
}

// RGBA fills dst with display bytes R, G, B, 255 in sRGB for interleaved RGB
// codes. len(dst) = 4 x pixels, len(codes) = 3 x pixels.
func (s *Space) RGBA(dst []uint8, codes []uint16) { s.impl.rgba(dst, codes) }
