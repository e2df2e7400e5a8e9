package colour

import "fmt"

// MaxProfileBytes is the largest ICC profile that is looked at. The largest
// table profiles of the trade are a few megabytes.
const MaxProfileBytes = 16 << 20

// AssumedSRGB returns the space of scans that say nothing about colour: sRGB. max is
// the largest code value, 255 or 65535.
func AssumedSRGB(max int) *Space {
	s := &Space{name: "sRGB", assumed: true, max: max}
	table := make([]float32, max+1)
	for i := range table {
		table[i] = float32(DecodeSRGB(float64(i) / float64(max)))
	}
	s.impl = newShaper([3][]float32{table, table, table}, mat3{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}})
	return s
}

// Of is FromICC, and where that is not possible sRGB with a note of one
// sentence that says so. note is "" when the profile was used.
func Of(icc []byte, channels, max int) (s *Space, note string) {
	if len(icc) == 0 {
		return AssumedSRGB(max), "The scan has no colour profile; sRGB was assumed."
	}
	s, err := FromICC(icc, channels, max)
	if err != nil {
		return AssumedSRGB(max), fmt.Sprintf("The scan's colour profile could not be used (%v); sRGB was assumed.", err)
	}
	return s, ""
}

// RGBA fills dst with display bytes R, G, B, 255 in sRGB for interleaved RGB
// codes. len(dst) = 4 x pixels, len(codes) = 3 x pixels.
func (s *Space) RGBA(dst []uint8, codes []uint16) { s.impl.rgba(dst, codes) }
