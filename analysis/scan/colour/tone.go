package colour

import (
	"math"
	"sort"
)

// OfTone returns light as Linear does, on the sRGB primaries, of what Tone makes of
// code values: between whole codes interpolated. Light beyond full scale keeps its
// proportions.
func (s *Space) OfTone(light [3]float64) (r, g, b float64) {
	if over := max(light[0], light[1], light[2]); over > 1 {
		r, g, b = s.OfTone([3]float64{light[0] / over, light[1] / over, light[2] / over})
		return r * over, g * over, b * over
	}
	var code, part [3]float64
	for c, t := range s.Tone() {
		code[c], part[c] = position(t, light[c])
	}
	var codes [24]uint16
	for k := range 8 {
		for c := range 3 {
			codes[3*k+c] = uint16(code[c]) + uint16(k>>c&1)*uint16(math.Ceil(part[c]))
		}
	}
	var linear [24]float32
	s.Linear(linear[:], codes[:])
	var out [3]float64
	for k := range 8 {
		w := 1.0
		for c := range 3 {
			if k>>c&1 == 1 {
				w *= part[c]
			} else {
				w *= 1 - part[c]
			}
		}
		for c := range 3 {
			out[c] += w * float64(linear[3*k+c])
		}
	}
	return out[0], out[1], out[2]
}

// position finds light on a rising table: the code below it, and the part of the way
// to the next.
func position(t []float32, light float64) (code, part float64) {
	v := float32(light)
	i := sort.Search(len(t), func(i int) bool { return t[i] > v }) - 1
	switch {
	case i < 0:
		return 0, 0
	case i >= len(t)-1:
		return float64(len(t) - 1), 0
	}
	return float64(i), float64((v - t[i]) / (t[i+1] - t[i]))
}
