package adversary

import (
	"math"
)

// neutrals are the greys of the bands' levels, as the frame shows them; NaN where the
// frame has lost them or the base frame has no such band.
func (o *seen) neutrals() [3][3]float64 {
	levels := o.v.level
	for b, a := range o.v.area {
		if a < 0.005 {
			levels[b] = math.NaN()
		}
	}
	return o.neutralsAt(levels)
}

// whole leaves out greys of which some channel says nothing: after curves of its own for
// each channel they have no cast to speak of.
func (o *seen) whole(n [3][3]float64) [3][3]float64 {
	for b, p := range n {
		if p[0] != p[0] {
			continue
		}
		var film [3]float64
		for c := range p {
			film[c] = p[c] / o.gain[c]
		}
		e, ok := o.v.m.exposure(film)
		var l [3]float32
		var st [1]uint8
		if ok {
			o.v.develop([]float32{float32(e[0]), float32(e[1]), float32(e[2])}, 0, o.gain, l[:], st[:])
		}
		if !ok || st[0] != 0 {
			n[b] = [3]float64{math.NaN()}
		}
	}
	return n
}

// neutralsAt are the greys of levels of the base frame, as the frame shows them; NaN
// where the frame has lost them.
func (o *seen) neutralsAt(levels [3]float64) (out [3][3]float64) {
	for b, level := range levels {
		out[b] = [3]float64{math.NaN()}
		if !(level > 0) {
			continue
		}
		p, ok := o.v.m.neutral(level, o.s)
		e, _ := o.v.m.exposure([3]float64{level, level, level})
		if !ok {
			continue
		}
		var l [3]float32
		var st [1]uint8
		o.v.develop([]float32{float32(e[0]), float32(e[1]), float32(e[2])}, o.s, o.gain, l[:], st[:])
		if st[0]&gone != 0 {
			continue
		}
		for c := range p {
			p[c] = math.Min(1, p[c]*o.gain[c])
		}
		out[b] = p
	}
	return out
}

// between returns the largest difference between the casts of the bands' neutrals after
// a correction, at one lightness.
func between(n [3][3]float64, t *[3]*tone) float64 {
	var casts []lab
	for _, p := range n {
		if p[0] == p[0] {
			x := labOf([3]float64{t[0].at(p[0]), t[1].at(p[1]), t[2].at(p[2])})
			casts = append(casts, lab{50, x.a, x.b})
		}
	}
	if len(casts) < 2 {
		return math.NaN()
	}
	worst := 0.0
	for i := range casts {
		for j := range i {
			worst = math.Max(worst, difference(casts[i], casts[j]))
		}
	}
	return worst
}

// leastCrossover is what the best balance leaves, beginning from the exposure's gain.
func (o *seen) leastCrossover(t *[3]*tone, n [3][3]float64) float64 {
	g := t[1].y[0] / t[1].x[0]
	at := func(r, b float64) float64 {
		return between(n, &[3]*tone{gainTone(g * g * g * math.Exp2(r)), gainTone(g * g * g), gainTone(g * g * g * math.Exp2(b))})
	}
	r, b := 0.0, 0.0
	best := at(r, b)
	if best != best {
		return best
	}
	for step := 1.0; step > 0.002; {
		moved := false
		for _, d := range [][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, -1}, {1, -1}, {-1, 1}} {
			if x := at(r+step*d[0], b+step*d[1]); x < best {
				best, r, b, moved = x, r+step*d[0], b+step*d[1], true
			}
		}
		if !moved {
			step /= 2
		}
	}
	return best
}
