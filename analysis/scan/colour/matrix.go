package colour

// mat3 is a 3x3 matrix, rows first.
type mat3 [3][3]float64

func (m mat3) mul(n mat3) (p mat3) {
	for r := range 3 {
		for c := range 3 {
			for k := range 3 {
				p[r][c] += m[r][k] * n[k][c]
			}
		}
	}
	return p
}

func (m mat3) apply(v [3]float64) (w [3]float64) {
	for r := range 3 {
		w[r] = m[r][0]*v[0] + m[r][1]*v[1] + m[r][2]*v[2]
	}
	return w
}

func (m mat3) det() float64 {
	return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) -
		m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) +
		m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
}

// inverse by cofactors; the caller knows that m is not singular.
func (m mat3) inverse() (n mat3) {
	d := 1 / m.det()
	for r := range 3 {
		for c := range 3 {
			a, b := (c+1)%3, (c+2)%3
			e, f := (r+1)%3, (r+2)%3
			n[r][c] = d * (m[a][e]*m[b][f] - m[a][f]*m[b][e])
		}
	}
	return n
}

// pcsWhite is the D50 of the ICC profile connection space (ICC.1, 7.2.16).
var pcsWhite = [3]float64{0.9642, 1, 0.8249}

// bradford is the cone matrix of Lam 1985 that ICC.1 Annex E prescribes.
var bradford = mat3{
	{0.8951, 0.2664, -0.1614},
	{-0.7502, 1.7135, 0.0367},
	{0.0389, -0.0685, 1.0296},
}

// adaptation returns the Bradford matrix from one white to another, both XYZ.
func adaptation(from, to [3]float64) mat3 {
	a, b := bradford.apply(from), bradford.apply(to)
	scale := mat3{{b[0] / a[0]}, {0, b[1] / a[1]}, {0, 0, b[2] / a[2]}}
	return bradford.inverse().mul(scale).mul(bradford)
}

// xyToXYZ returns XYZ of a chromaticity at luminance 1.
func xyToXYZ(xy [2]float64) [3]float64 {
	return [3]float64{xy[0] / xy[1], 1, (1 - xy[0] - xy[1]) / xy[1]}
}

// rgbToXYZ derives the matrix from linear RGB to XYZ from the chromaticities of
// the primaries and of white, white being RGB (1, 1, 1) and Y = 1.
func rgbToXYZ(primaries [3][2]float64, white [2]float64) mat3 {
	var m mat3
	for c, xy := range primaries {
		p := xyToXYZ(xy)
		for r := range 3 {
			m[r][c] = p[r]
		}
	}
	s := m.inverse().apply(xyToXYZ(white))
	for r := range 3 {
		for c := range 3 {
			m[r][c] *= s[c]
		}
	}
	return m
}

// Primaries and white of sRGB (IEC 61966-2-1:1999).
var (
	srgbPrimaries = [3][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}
	whiteD65      = [2]float64{0.3127, 0.3290}
)

// Shares of linear R, G and B on the sRGB primaries in the luminance Y of white = 1
// (D65): the Y row of the matrix that follows from the chromaticities above, to 7
// digits.
const LumR, LumG, LumB = 0.2126390, 0.7151687, 0.0721923

// Luminance returns the luminance Y of linear light on the sRGB primaries, white
// = 1.
func Luminance(r, g, b float64) float64 { return LumR*r + LumG*g + LumB*b }

// srgbToPCS takes linear sRGB to XYZ in the connection space: the matrix is
// derived, not printed, so that it and its inverse undo each other exactly.
var (
	srgbToPCS = adaptation(xyToXYZ(whiteD65), pcsWhite).mul(rgbToXYZ(srgbPrimaries, whiteD65))
	pcsToSRGB = srgbToPCS.inverse()
)
