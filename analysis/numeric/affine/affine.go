// Package affine maps the plane by f64.Aff3: x' = m[0] x + m[1] y + m[2],
// y' = m[3] x + m[4] y + m[5].
package affine

import (
	"math"

	"golang.org/x/image/math/f64"
)

// Identity leaves every point in its place.
var Identity = f64.Aff3{1, 0, 0, 0, 1, 0}

// At maps a point.
func At(m f64.Aff3, x, y float64) (float64, float64) {
	return m[0]*x + m[1]*y + m[2], m[3]*x + m[4]*y + m[5]
}

// After returns the map that takes a point through n and then through m.
func After(m, n f64.Aff3) f64.Aff3 {
	return f64.Aff3{
		m[0]*n[0] + m[1]*n[3], m[0]*n[1] + m[1]*n[4], m[0]*n[2] + m[1]*n[5] + m[2],
		m[3]*n[0] + m[4]*n[3], m[3]*n[1] + m[4]*n[4], m[3]*n[2] + m[4]*n[5] + m[5],
	}
}

// leastDet is the determinant under which a map folds the plane: a picture would
// be a millionth of its size.
const leastDet = 1e-12

// Inverse returns the way back; ok is false for a map that folds the plane, or is
// no number.
func Inverse(m f64.Aff3) (inv f64.Aff3, ok bool) {
	if m == Identity {
		return m, true
	}
	det := m[0]*m[4] - m[1]*m[3]
	if !(math.Abs(det) > leastDet) || math.IsInf(det, 0) {
		return Identity, false
	}
	return f64.Aff3{
		m[4] / det, -m[1] / det, (m[1]*m[5] - m[2]*m[4]) / det,
		-m[3] / det, m[0] / det, (m[2]*m[3] - m[0]*m[5]) / det,
	}, true
}

// Reduced returns m between pictures of which the first is reduced by from and
// the second by to: a pixel of theirs is so many of m's.
func Reduced(m f64.Aff3, from, to float64) f64.Aff3 {
	return f64.Aff3{m[0] * from / to, m[1] * from / to, m[2] / to, m[3] * from / to, m[4] * from / to, m[5] / to}
}
