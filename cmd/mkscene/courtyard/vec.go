package courtyard

import "math"

// vec is a point, a direction or a colour.
type vec struct{ x, y, z float64 }

func (a vec) add(b vec) vec             { return vec{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a vec) sub(b vec) vec             { return vec{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vec) mul(b vec) vec             { return vec{a.x * b.x, a.y * b.y, a.z * b.z} }
func (a vec) scale(s float64) vec       { return vec{a.x * s, a.y * s, a.z * s} }
func (a vec) dot(b vec) float64         { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vec) len() float64              { return math.Sqrt(a.dot(a)) }
func (a vec) unit() vec                 { return a.scale(1 / math.Max(a.len(), 1e-30)) }
func (a vec) lerp(b vec, t float64) vec { return a.add(b.sub(a).scale(t)) }
func (a vec) cross(b vec) vec {
	return vec{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
}

// frame returns two directions at right angles to n and to each other.
func (n vec) frame() (t, b vec) {
	// Duff et al., "Building an Orthonormal Basis, Revisited", JCGT 6(1), 2017.
	s := math.Copysign(1, n.z)
	a := -1 / (s + n.z)
	c := n.x * n.y * a
	return vec{1 + s*n.x*n.x*a, s * c, -s * n.x}, vec{c, s + n.y*n.y*a, -n.y}
}

func grey(v float64) vec { return vec{v, v, v} }

func mix(a, b, t float64) float64 { return a + (b-a)*t }

func clamp(x, lo, hi float64) float64 { return math.Min(math.Max(x, lo), hi) }

func smooth(a, b, x float64) float64 {
	t := clamp((x-a)/(b-a), 0, 1)
	return t * t * (3 - 2*t)
}
