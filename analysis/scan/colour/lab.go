package colour

import "math"

// LAB is a colour in CIELAB under D50 (CIE 15:2004; the ICC connection space):
// L 0..100, A and B about -128..127, both unbounded here.
type LAB struct{ L, A, B float64 }

// The join of CIELAB's two branches, exact fractions of CIE 15:2004.
const (
	labEpsilon = 216.0 / 24389
	labKappa   = 24389.0 / 27
)

func labF(t float64) float64 {
	if t > labEpsilon {
		return math.Cbrt(t)
	}
	return (labKappa*t + 16) / 116
}

func labFInverse(f float64) float64 {
	if t := f * f * f; t > labEpsilon {
		return t
	}
	return (116*f - 16) / labKappa
}

func labOfXYZ(xyz, white [3]float64) LAB {
	fx, fy, fz := labF(xyz[0]/white[0]), labF(xyz[1]/white[1]), labF(xyz[2]/white[2])
	return LAB{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

func xyzOfLab(c LAB, white [3]float64) [3]float64 {
	fy := (c.L + 16) / 116
	return [3]float64{
		white[0] * labFInverse(fy+c.A/500),
		white[1] * labFInverse(fy),
		white[2] * labFInverse(fy-c.B/200),
	}
}

// LabOf returns the CIELAB (D50) of linear light on the sRGB primaries, white = 1.
func LabOf(r, g, b float64) LAB {
	return labOfXYZ(srgbToPCS.apply([3]float64{r, g, b}), pcsWhite)
}

// LinearOf returns the linear light on the sRGB primaries of a CIELAB colour; it may
// be negative or above 1. The inverse of LabOf.
func LinearOf(c LAB) (r, g, b float64) {
	v := pcsToSRGB.apply(xyzOfLab(c, pcsWhite))
	return v[0], v[1], v[2]
}

// XYZ fills dst with CIE XYZ, D50, relative to white (Y = 1), for interleaved
// linear light on the sRGB primaries. len(dst) = len(linear); they may be the
// same slice.
func XYZ(dst, linear []float32) {
	m := matrix32(srgbToPCS)
	dst = dst[:len(linear)]
	for i := 0; i+2 < len(linear); i += 3 {
		r, g, b := linear[i], linear[i+1], linear[i+2]
		dst[i] = m[0]*r + m[1]*g + m[2]*b
		dst[i+1] = m[3]*r + m[4]*g + m[5]*b
		dst[i+2] = m[6]*r + m[7]*g + m[8]*b
	}
}

// Lab fills dst with CIELAB (D50) L*, a*, b* for interleaved linear light on
// the sRGB primaries. len(dst) = len(linear); they may be the same slice.
func Lab(dst, linear []float32) {
	dst = dst[:len(linear)]
	for i := 0; i+2 < len(linear); i += 3 {
		c := LabOf(float64(linear[i]), float64(linear[i+1]), float64(linear[i+2]))
		dst[i], dst[i+1], dst[i+2] = float32(c.L), float32(c.A), float32(c.B)
	}
}

func matrix32(m mat3) (f [9]float32) {
	for i := range f {
		f[i] = float32(m[i/3][i%3])
	}
	return f
}
