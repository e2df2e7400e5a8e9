package simulate

import "math"

// gauss holds 4096 quantiles of the normal distribution, scaled to variance 1.
var gauss = func() (g [4096]float32) {
	var sum float64
	for i := range g {
		p := (float64(i) + 0.5) / 4096
		v := math.Sqrt2 * math.Erfinv(2*p-1)
		sum += v * v
		g[i] = float32(v)
	}
	s := float32(1 / math.Sqrt(sum/4096))
	for i := range g {
		g[i] *= s
	}
	return g
}()

// mix64 is the finaliser of splitmix64 (Steele, Lea & Flood, OOPSLA 2014).
func mix64(x uint64) uint64 {
	x ^= x >> 30
	x *= 0xBF58476D1CE4E5B9
	x ^= x >> 27
	x *= 0x94D049BB133111EB
	return x ^ x>>31
}

// at returns the random word of one pixel: it depends on nothing but its arguments, so
// rows can be made in any order.
func at(seed uint64, x, y int) uint64 {
	return mix64(seed + uint64(uint32(x))*0x9E3779B97F4A7C15 + uint64(uint32(y))*0xD1B54A32D192ED03)
}

// unit returns a random number 0..1.
func unit(seed, n uint64) float64 { return float64(mix64(seed^mix64(n+1))>>11) / (1 << 53) }

// grainSide is the outer weight of the grain's smoothing kernel (side, 1-2*side,
// side), along both axes: what the scanner's aperture and the size of the dye
// clouds do to white noise. Its weights add up to 1, so noise over an aperture of
// many pixels keeps Selwyn's law.
const grainSide = 0.12

// grainShare is the pixel's standard deviation after the kernel over before.
const grainShare = 2*grainSide*grainSide + (1-2*grainSide)*(1-2*grainSide)

// grain makes rows of smoothed noise, 3 values a pixel, of standard deviation 1
// before smoothing (grainShare after it).
type grain struct {
	seed uint64
	w    int
	y    int
	ring [3][]float32 // rows y-1, y, y+1, smoothed along x
	raw  []float32
}

func newGrain(seed uint64, w, y int) *grain {
	g := &grain{seed: seed, w: w, y: y, raw: make([]float32, 3*(w+2))}
	for i := range g.ring {
		g.ring[i] = make([]float32, 3*w)
		g.fill(g.ring[i], y-1+i)
	}
	return g
}

func (g *grain) fill(dst []float32, y int) {
	for x := range g.w + 2 {
		h := at(g.seed, x-1, y)
		r := g.raw[3*x : 3*x+3 : 3*x+3]
		r[0], r[1], r[2] = gauss[h&4095], gauss[h>>12&4095], gauss[h>>24&4095]
	}
	a, b, c := g.raw[:3*g.w], g.raw[3:][:3*g.w], g.raw[6:][:3*g.w]
	for i := range dst {
		dst[i] = grainSide*(a[i]+c[i]) + (1-2*grainSide)*b[i]
	}
}

// next puts the current row's noise into dst and steps on.
func (g *grain) next(dst []float32) {
	a, b, c := g.ring[0][:len(dst)], g.ring[1][:len(dst)], g.ring[2][:len(dst)]
	for i := range dst {
		dst[i] = grainSide*(a[i]+c[i]) + (1-2*grainSide)*b[i]
	}
	g.ring[0], g.ring[1], g.ring[2] = g.ring[1], g.ring[2], g.ring[0]
	g.y++
	g.fill(g.ring[2], g.y+1)
}

// Apertures of granularity: the 48 um circle of the RMS figure.
const apertureArea = math.Pi * 24 * 24 // um2

// pixelShare takes RMS granularity at 48 um to the standard deviation of a square
// pixel of a pitch in um: Selwyn's law, sigma*sqrt(area) constant.
func pixelShare(pitch float64) float64 { return math.Sqrt(apertureArea) / pitch }
