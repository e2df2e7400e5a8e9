package simulate

import (
	"math"
	"sync"

	"stopladder/analysis/scan/colour"
)

// Scanner is a scanner with a lab's one fixed setting for the whole roll.
// Linear light is relative to the encoding's full scale.
type Scanner struct {
	Read    float64 // standard deviation of read noise, linear light
	Wells   float64 // full scale in electrons: shot noise variance is light/Wells
	Flare   float64 // stray light that reaches every pixel, linear light
	Black   float64 // taken off as black point, linear light
	Ceiling float64 // highest code written, 0..1 of full scale
	Floor   float64 // lowest code written, 0..1 of full scale
}

// DefaultScanner writes white at 98 % and black at 0.4 % of full scale.
func DefaultScanner() Scanner {
	return Scanner{Read: 0.00022, Wells: 60000, Flare: 0.0005, Black: 0.0016, Ceiling: 0.98, Floor: 0.004}
}

// The encoding of the scans: a matrix profile with gamma 2.2 and primaries a
// little wider than sRGB's, invented.
const (
	ProfileName = "Sample scanner RGB"
	gamma       = 2.2
)

var (
	primaries = [3][2]float64{{0.645, 0.333}, {0.285, 0.615}, {0.151, 0.058}}
	whiteXY   = [2]float64{0.3127, 0.3290}
)

// Profile returns the ICC profile that the frames carry.
var Profile = sync.OnceValue(func() []byte { return colour.MatrixProfile(ProfileName, primaries, whiteXY, gamma) })

// fromScene takes linear sRGB to the scanner's linear RGB.
var fromScene = func() [3][3]float64 {
	srgb := [3][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}} // IEC 61966-2-1
	return matmul(invert(toXYZ(primaries, whiteXY)), toXYZ(srgb, whiteXY))
}()

func toXYZ(p [3][2]float64, w [2]float64) [3][3]float64 {
	var m [3][3]float64
	for i, q := range p {
		m[0][i], m[1][i], m[2][i] = q[0]/q[1], 1, (1-q[0]-q[1])/q[1]
	}
	inv := invert(m)
	wx := [3]float64{w[0] / w[1], 1, (1 - w[0] - w[1]) / w[1]}
	for i := range 3 {
		s := inv[i][0]*wx[0] + inv[i][1]*wx[1] + inv[i][2]*wx[2]
		for j := range 3 {
			m[j][i] *= s
		}
	}
	return m
}

func matmul(a, b [3][3]float64) (c [3][3]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return c
}

func invert(m [3][3]float64) (r [3][3]float64) {
	cof := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	det := m[0][0]*cof(0, 0) + m[0][1]*cof(0, 1) + m[0][2]*cof(0, 2)
	for i := range 3 {
		for j := range 3 {
			r[j][i] = cof(i, j) / det
		}
	}
	return r
}

// The lab's inversion of negatives: density over the mask, over the slope that
// the lab takes every layer to have, is log exposure; a print curve with a long
// soft end towards white makes it light.
const (
	labSlope   = 0.610
	printSlope = 1.50
	printSoft  = 0.34  // log10 H over which whites bend
	printDmax  = 2.40  // density of the print's black
	printBlack = 0.009 // linear light taken off, so that clear film is black
)

// printWhite is where the print curve's line meets white: set so that a metered
// grey prints at 18 %.
var printWhite = bisect(0, 2, func(w float64) float64 {
	return 0.18 - (math.Pow(10, -printDensity(0, w))-printBlack)/(1-printBlack)
})

func printDensity(x, white float64) float64 {
	return printSlope * (softplus(white-x, printSoft) - softplus(white-printDmax/printSlope-x, 0.2))
}

// light returns what the scanner makes of density d of channel c: linear light,
// unclipped, and the standard deviation of the scanner's own noise in it.
func (sc *Scanner) light(s *Stock, c int, d float64) (lin, sigma float64) {
	l := &s.Layers[c]
	if s.Kind == ReversalFilm {
		// White is set a little under clear film, so that clear film clips.
		t := math.Pow(sc.Ceiling, gamma)*math.Pow(10, -(d-l.Dmin-0.02)) + sc.Flare
		return t - sc.Black, sc.noise(t)
	}
	lin = sc.positive(s, c, d)
	const e = 1e-4
	t := math.Pow(10, -(d - l.Dmin))
	slope := math.Abs(sc.positive(s, c, d+e)-sc.positive(s, c, d-e)) / (2 * e)
	return lin, slope * sc.noise(t+sc.Flare) / (t + sc.Flare) / math.Ln10
}

func (sc *Scanner) noise(t float64) float64 {
	return math.Sqrt(math.Max(t, 0)/sc.Wells + sc.Read*sc.Read)
}

func (sc *Scanner) positive(s *Stock, c int, d float64) float64 {
	seen := func(d float64) float64 { return -math.Log10(math.Pow(10, -(d-s.Layers[c].Dmin)) + sc.Flare) }
	x := (seen(d) - seen(s.Density(c, 0))) / labSlope
	return (math.Pow(10, -printDensity(x, printWhite)) - printBlack) / (1 - printBlack)
}

// holder returns the linear light that the opaque holder ends up as.
func (sc *Scanner) holder(s *Stock, c int) float64 {
	if s.Kind == ReversalFilm {
		return sc.Flare - sc.Black
	}
	v, _ := sc.light(s, c, 6)
	return v
}

// code returns the code value 0..65535 of linear light, clipped as the scanner clips,
// not rounded.
func (sc *Scanner) code(lin float64) float64 {
	v := 0.0
	if lin > 0 {
		v = math.Pow(lin, 1/gamma)
	}
	return 65535 * math.Min(math.Max(v, sc.Floor), sc.Ceiling)
}
