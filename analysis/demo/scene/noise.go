package scene

import "math"

// hash32 mixes integer coordinates into 32 random bits.
func hash32(a, b, c uint32) uint32 {
	h := a*0x9E3779B1 ^ b*0x85EBCA77 ^ c*0xC2B2AE3D
	h ^= h >> 15
	h *= 0x2C1B3C6D
	h ^= h >> 12
	h *= 0x297A2D39
	h ^= h >> 15
	return h
}

// unit is a random number 0..1 for integer coordinates.
func unit(a, b, c int) float64 {
	return float64(hash32(uint32(a), uint32(b), uint32(c))) / (1 << 32)
}

func fade(t float64) float64 { return t * t * t * (t*(t*6-15) + 10) }

func mix(a, b, t float64) float64 { return a + (b-a)*t }

func clamp(x, lo, hi float64) float64 { return math.Min(math.Max(x, lo), hi) }

func smooth(a, b, x float64) float64 {
	t := clamp((x-a)/(b-a), 0, 1)
	return t * t * (3 - 2*t)
}

// noise2 is value noise -1..1 with a period of one unit.
func noise2(x, y float64, seed int) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	ix, iy := int(fx), int(fy)
	u, v := fade(x-fx), fade(y-fy)
	a := mix(unit(ix, iy, seed), unit(ix+1, iy, seed), u)
	b := mix(unit(ix, iy+1, seed), unit(ix+1, iy+1, seed), u)
	return 2*mix(a, b, v) - 1
}

// fbm2 sums octaves of noise2, each turned a little to hide the lattice.
func fbm2(x, y float64, octaves, seed int) float64 {
	s, a := 0.0, 0.5
	for i := range octaves {
		s += a * noise2(x, y, seed+i)
		x, y = 1.6*x+1.2*y+3.1, -1.2*x+1.6*y+1.7
		a *= 0.5
	}
	return s
}
