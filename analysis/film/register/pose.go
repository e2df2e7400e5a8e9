package register

import "math"

// pose is a similarity in coordinates about the two pictures' centres:
// z' = exp(grow) R(turn) z + (x, y), turn in radians, counter-clockwise on the
// screen with y down.
type pose struct{ x, y, turn, grow float64 }

// ab returns the two entries of the matrix (a, b; -b, a).
func (p pose) ab() (a, b float64) {
	s := math.Exp(p.grow)
	sin, cos := math.Sincos(p.turn)
	return s * cos, s * sin
}

func (p pose) at(x, y float64) (float64, float64) {
	a, b := p.ab()
	return a*x + b*y + p.x, a*y - b*x + p.y
}

// then returns p followed by q.
func (p pose) then(q pose) pose {
	x, y := q.at(p.x, p.y)
	return pose{x, y, p.turn + q.turn, p.grow + q.grow}
}

func (p pose) inverse() pose {
	q := pose{turn: -p.turn, grow: -p.grow}
	a, b := q.ab()
	q.x, q.y = -(a*p.x + b*p.y), -(a*p.y - b*p.x)
	return q
}

// in re-expresses a pose in pixels that are 1/kb (base) and 1/kf (frame) of the
// present ones: a pose in full-resolution pixels becomes one of a reduced level
// with kb = kf = level pixels per full-resolution pixel.
func (p pose) in(kb, kf float64) pose {
	return pose{p.x * kf, p.y * kf, p.turn, p.grow + math.Log(kf/kb)}
}

// cov4 is a covariance of a pose (x, y, turn, grow), row by row.
type cov4 [16]float64

// through carries a covariance of a pose along with a pose that follows it.
func (c cov4) through(q pose) cov4 {
	a, b := q.ab()
	m := [16]float64{a, b, 0, 0, -b, a, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1}
	var t, out cov4
	for i := range 4 {
		for j := range 4 {
			for k := range 4 {
				t[4*i+j] += m[4*i+k] * c[4*k+j]
			}
		}
	}
	for i := range 4 {
		for j := range 4 {
			for k := range 4 {
				out[4*i+j] += t[4*i+k] * m[4*j+k]
			}
		}
	}
	return out
}

func (c cov4) plus(d cov4) cov4 {
	for i := range c {
		c[i] += d[i]
	}
	return c
}

func (c cov4) errors(scale float64) Errors {
	return Errors{
		DX: math.Sqrt(math.Max(c[0], 0)), DY: math.Sqrt(math.Max(c[5], 0)),
		Rotation: math.Sqrt(math.Max(c[10], 0)) * 180 / math.Pi,
		Scale:    math.Sqrt(math.Max(c[15], 0)) * scale,
	}
}

// within returns the probability that x and y are right within px and the turn within
// deg, for normal errors taken as independent.
func (c cov4) within(px, deg float64) float64 {
	e := c.errors(1)
	return normalWithin(px, e.DX) * normalWithin(px, e.DY) * normalWithin(deg, e.Rotation)
}

func normalWithin(limit, sigma float64) float64 {
	if !(sigma > 0) {
		if sigma == 0 {
			return 1
		}
		return 0
	}
	return math.Erf(limit / (sigma * math.Sqrt2))
}
