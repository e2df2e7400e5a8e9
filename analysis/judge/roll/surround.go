package roll

import "math"

// DefaultSurround is the grey around the pictures of a roll that says nothing of it, as a
// code of sRGB: L* 24.
const DefaultSurround = 0x3a

// Surrounds are the greys between which a judge steps, as codes of sRGB: L* 8, 16, 24, 36,
// 48, 60 and 73. All are neutral: a coloured surround spoils a judgement of colour (ISO 3664
// asks for a neutral one).
var Surrounds = []uint8{24, 40, DefaultSurround, 85, 114, 145, 180}

// SurroundLevel returns the grey around the pictures, as a code of sRGB.
func (r *Roll) SurroundLevel() uint8 {
	if r.Surround < 1 || r.Surround > 255 {
		return DefaultSurround
	}
	return uint8(r.Surround)
}

// SetSurround sets the grey around the pictures; the default is not written.
func (r *Roll) SetSurround(code uint8) {
	r.Surround = int(code)
	if code == DefaultSurround {
		r.Surround = 0
	}
}

// SurroundIndex returns the place among Surrounds of the grey nearest to a code.
func SurroundIndex(code uint8) (at int) {
	for i, s := range Surrounds {
		if math.Abs(float64(s)-float64(code)) < math.Abs(float64(Surrounds[at])-float64(code)) {
			at = i
		}
	}
	return at
}

// SurroundL returns the lightness CIE L* of a grey of sRGB (IEC 61966-2-1), 0..100.
func SurroundL(code uint8) float64 {
	v := float64(code) / 255
	y := v / 12.92
	if v > 0.04045 {
		y = math.Pow((v+0.055)/1.055, 2.4)
	}
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}
