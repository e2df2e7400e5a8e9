package colour

import "math"

// Display is a colour space that pictures are handed out in.
type Display int

// The spaces. Both have sRGB's curve (IEC 61966-2-1) and white, so that neutrals have
// the same codes; Display P3 has the primaries of SMPTE RP 431-2.
const (
	SRGB Display = iota
	DisplayP3
)

func (d Display) String() string {
	if d == DisplayP3 {
		return "Display P3"
	}
	return "sRGB"
}

var p3Primaries = [3][2]float64{{.680, .320}, {.265, .690}, {.150, .060}}

// Profile returns the space as an ICC profile, with the exact curve.
func (d Display) Profile() []byte {
	if d == DisplayP3 {
		return writeProfile("Display P3", p3Primaries, whiteD65, srgbCurve())
	}
	return SRGBProfile()
}

var toP3 = matrix32(rgbToXYZ(p3Primaries, whiteD65).inverse().mul(rgbToXYZ(srgbPrimaries, whiteD65)))

// Light is taken to 16-bit codes by straight lines, between places that lie as dense as the
// numbers do: encodeEach of them where light and encodeFrom double. Near black, where the
// curve is straight, they are dense enough for its bend, and no code is off by a tenth of one.
const (
	encodeEach = 256
	encodeFrom = 1.0 / 512
	encodeBits = 23 - 8 // of a float32 behind those that choose among encodeEach places
	encodeLen  = 9*encodeEach + 1
)

const encodeFirst = (127 - 9) << 23 // the bits of encodeFrom

// line is at + by times light, and a half to be rounded down.
type line struct{ at, by float32 }

var encodeTable = func() *[encodeLen]line {
	t := new([encodeLen]line)
	for i := range t {
		place := func(i int) float64 {
			return float64(math.Float32frombits(encodeFirst+uint32(i)<<encodeBits)) - encodeFrom
		}
		x0, x1 := place(i), place(i+1)
		y0, y1 := 65535*encodeSRGB(x0), 65535*encodeSRGB(x1)
		by := (y1 - y0) / (x1 - x0)
		t[i] = line{float32(y0 - by*x0 + 0.5), float32(by)}
	}
	return t
}()

// encodeSRGB takes linear light 0..1 to the signal (IEC 61966-2-1:1999).
func encodeSRGB(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

func encode16(t *[encodeLen]line, v float32) uint16 {
	if v >= 1 {
		return 65535
	}
	if i := (math.Float32bits(v+encodeFrom) - encodeFirst) >> encodeBits; i < encodeLen {
		return uint16(int32(t[i].at + t[i].by*v))
	}
	return 0 // below black, or no number
}

// Encode fills dst with 16-bit codes, interleaved, for interleaved linear light on the
// sRGB primaries, which it may change; what the space does not hold is clamped.
func (d Display) Encode(dst []uint16, linear []float32) {
	if d == DisplayP3 {
		m := &toP3
		for i := 0; i+2 < len(linear); i += 3 {
			r, g, b := linear[i], linear[i+1], linear[i+2]
			linear[i], linear[i+1], linear[i+2] = m[0]*r+m[1]*g+m[2]*b, m[3]*r+m[4]*g+m[5]*b, m[6]*r+m[7]*g+m[8]*b
		}
	}
	dst = dst[:len(linear)]
	t := encodeTable
	for i, v := range linear {
		dst[i] = encode16(t, v)
	}
}

// Byte returns a colour that is given in sRGB in bytes of the space.
func (d Display) Byte(rgb [3]uint8) [3]uint8 {
	if d == SRGB {
		return rgb
	}
	lin := []float32{float32(DecodeSRGB(float64(rgb[0]) / 255)), float32(DecodeSRGB(float64(rgb[1]) / 255)), float32(DecodeSRGB(float64(rgb[2]) / 255))}
	var out [3]uint16
	d.Encode(out[:], lin)
	return [3]uint8{uint8((uint32(out[0]) + 128) / 257), uint8((uint32(out[1]) + 128) / 257), uint8((uint32(out[2]) + 128) / 257)}
}
