// Package valuenoise gives random numbers, and noise made of them, that follow
// from coordinates and a seed alone: the same everywhere and in any order. The
// demo's courtyard and the charts of the tests take their textures from it.
package valuenoise

import "math"

// Hash mixes integer coordinates into 32 random bits.
func Hash(a, b, c uint32) uint32 {
	h := a*0x9E3779B1 ^ b*0x85EBCA77 ^ c*0xC2B2AE3D
	h ^= h >> 15
	h *= 0x2C1B3C6D
	h ^= h >> 12
	h *= 0x297A2D39
	h ^= h >> 15
	return h
}

// Unit returns a random number 0..1 for integer coordinates.
func Unit(a, b, c int) float64 {
	return float64(Hash(uint32(a), uint32(b), uint32(c))) / (1 << 32)
}

func fade(t float64) float64 { return t * t * t * (t*(t*6-15) + 10) }

func mix(a, b, t float64) float64 { return a + (b-a)*t }

// At returns value noise -1..1 with a period of one unit.
func At(x, y float64, seed int) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	ix, iy := int(fx), int(fy)
	u, v := fade(x-fx), fade(y-fy)
	a := mix(Unit(ix, iy, seed), Unit(ix+1, iy, seed), u)
	b := mix(Unit(ix, iy+1, seed), Unit(ix+1, iy+1, seed), u)
	return 2*mix(a, b, v) - 1
}

// Sum adds octaves of At, each turned a little to hide the lattice.
func Sum(x, y float64, octaves, seed int) float64 {
	s, a := 0.0, 0.5
	for i := range octaves {
		s += a * At(x, y, seed+i)
		x, y = 1.6*x+1.2*y+3.1, -1.2*x+1.6*y+1.7
		a *= 0.5
	}
	return s
}

// Rand is a small generator (PCG-like, 64 to 32 bits); its value is its seed.
type Rand uint64

// Next returns a random number 0..1 and steps on.
func (r *Rand) Next() float64 {
	*r = *r*6364136223846793005 + 1442695040888963407
	x := uint32(((*r >> 18) ^ *r) >> 27)
	x = x*0x9E3779B1 ^ x>>15
	x = (x ^ x>>13) * 0x85EBCA77
	return float64(x^x>>16) / (1 << 32)
}
