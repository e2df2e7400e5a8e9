package colour

import "math"

// The transfer function of IEC 61966-2-1:1999. The two branches meet at linear
// 0.0031308; the decoder splits at the 1999 text's 0.04045.
const srgbEncodedEnd = 0.04045

// DecodeSRGB takes an sRGB signal to linear light (IEC 61966-2-1:1999), both
// relative to white = 1. A negative signal is decoded as the mirror image, one above
// 1 by the same power.
func DecodeSRGB(signal float64) float64 {
	if signal < 0 {
		return -DecodeSRGB(-signal)
	}
	if signal <= srgbEncodedEnd {
		return signal / 12.92
	}
	return math.Pow((signal+0.055)/1.055, 2.4)
}

// displaySteps is the resolution of the table from linear light to display
// bytes. The sRGB curve is steepest at black, 12.92 x 255 = 3295 bytes per unit
// of light, so one step of the table is 0.05 of a byte there and less above.
const displaySteps = 1 << 16

var displayTable = func() *[displaySteps + 1]uint8 {
	t := new([displaySteps + 1]uint8)
	FillBytes(t[:])
	return t
}()

// FillBytes sets table[i] to the sRGB byte of light i/(len(table)-1), rounded to
// nearest. It decodes the 255 borders between bytes instead of encoding every
// entry, since tables are made whenever the program starts.
func FillBytes(table []uint8) {
	n := float64(len(table) - 1)
	i := 0
	for b := range 255 {
		border := DecodeSRGB((float64(b) + 0.5) / 255)
		for ; float64(i) < border*n; i++ {
			table[i] = uint8(b)
		}
	}
	for ; i < len(table); i++ {
		table[i] = 255
	}
}

// display returns the sRGB byte of linear light, clamped; NaN gives 0.
func display(v float32) uint8 {
	if !(v > 0) {
		return 0
	}
	if v >= 1 {
		return 255
	}
	return displayTable[int32(v*displaySteps+0.5)]
}

// SRGB8 fills dst with display bytes R, G, B, 255 for interleaved linear light
// on the sRGB primaries; values outside 0..1 are clamped. len(dst) = 4 x pixels,
// len(linear) = 3 x pixels.
func SRGB8(dst []uint8, linear []float32) {
	n := len(linear) / 3
	dst = dst[: 4*n : 4*n]
	for i := 0; i < n; i++ {
		p := linear[3*i : 3*i+3 : 3*i+3]
		q := dst[4*i : 4*i+4 : 4*i+4]
		q[0] = display(p[0])
		q[1] = display(p[1])
		q[2] = display(p[2])
		q[3] = 255
	}
}
