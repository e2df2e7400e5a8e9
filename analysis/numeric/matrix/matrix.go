// Package matrix has what matrices of three channels need.
package matrix

import "math"

// Of is a matrix of three rows.
type Of [3][3]float64

// Unit changes nothing.
var Unit = Of{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// Inverse returns the inverse by cofactors; ok is false, and the inverse Unit, where the
// determinant is below least in size.
func (m Of) Inverse(least float64) (inv Of, ok bool) {
	det := 0.0
	for i := range 3 {
		for j := range 3 {
			a, b := (i+1)%3, (i+2)%3
			p, q := (j+1)%3, (j+2)%3
			inv[j][i] = m[a][p]*m[b][q] - m[a][q]*m[b][p]
		}
		det += m[i][0] * inv[0][i]
	}
	if !(math.Abs(det) >= least) {
		return Unit, false
	}
	for i := range inv {
		for j := range inv[i] {
			inv[i][j] /= det
		}
	}
	return inv, true
}
