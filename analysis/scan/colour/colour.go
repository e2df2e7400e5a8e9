// Package colour takes code values to light and to looks: ICC profile to
// linear light on the sRGB primaries, to CIE XYZ and CIELAB under D50, and to
// the sRGB that is shown.
package colour

// Space is the way from a scan's code values to light. It is built once per
// scan and is safe for concurrent use.
type Space struct {
	name    string
	assumed bool
	way     string // of the profile that was taken, "" when assumed
	passed  error  // why a better way of it could not be
	max     int
	impl    converter
}

// converter is what a profile class must be able to do.
type converter interface {
	// linear fills dst with linear light on the sRGB primaries (D65, white = 1,
	// unbounded) for len(codes)/3 pixels.
	linear(dst []float32, codes []uint16)
	// tone returns relative luminance 0..1 of a neutral of that code, per
	// channel: max+1 entries each, monotone for any sane profile.
	tone() *[3][]float32
	// rgba fills dst with display bytes.
	rgba(dst []uint8, codes []uint16)
}

// Name returns the profile's own description, e.g. "Adobe RGB compatible", or "sRGB"
// when it was assumed.
func (s *Space) Name() string { return s.name }

// ProfileName is Name, followed by "(assumed)" when nothing in the scan said so:
// the wording for sheets and reports.
func (s *Space) ProfileName() string {
	if s.assumed {
		return s.name + " (assumed)"
	}
	return s.name
}

// Way says by which part of the profile the colours are read: "relative colorimetric
// table", "perceptual table", "saturation table", "matrix and curves", "curve"; ""
// when the space was assumed.
func (s *Space) Way() string { return s.way }

// Assumed reports whether the scan carried no usable profile and sRGB was taken.
func (s *Space) Assumed() bool { return s.assumed }

// Max returns the largest code value that the space was built for.
func (s *Space) Max() int { return s.max }

// Linear fills dst with linear light on the sRGB primaries (white = 1, may be
// negative or above 1) for interleaved RGB codes. len(dst) = len(codes).
func (s *Space) Linear(dst []float32, codes []uint16) { s.impl.linear(dst, codes) }

// Tone returns, per channel, the linear light (0..1, white = 1) that a code
// value stands for on the neutral axis; Max()+1 entries. It is what pictures
// are averaged by, and the channel's own density axis.
func (s *Space) Tone() *[3][]float32 { return s.impl.tone() }
