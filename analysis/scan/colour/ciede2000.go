package colour

import "math"

// DeltaE2000 returns the CIEDE2000 colour difference of two CIELAB colours with kL =
// kC = kH = 1, after Sharma, Wu & Dalal, "The CIEDE2000 Color-Difference Formula:
// Implementation Notes, Supplementary Test Data, and Mathematical Observations", Color
// Res. Appl. 30(1), 2005 (their equations 2 to 22). The result is >= 0 and does not
// depend on the order of a and b.
func DeltaE2000(a, b LAB) float64 {
	c1, c2 := length(a.A, a.B), length(b.A, b.B)
	g := 0.5 * (1 - math.Sqrt(share7((c1+c2)/2)))
	a1, a2 := (1+g)*a.A, (1+g)*b.A
	c1, c2 = length(a1, a.B), length(a2, b.B)
	h1, h2 := hueDegrees(a1, a.B), hueDegrees(a2, b.B)

	dL, dC, dh := b.L-a.L, c2-c1, h2-h1
	hMean := h1 + h2
	switch {
	case c1*c2 == 0:
		dh = 0
	case math.Abs(dh) <= 180:
		hMean /= 2
	default:
		if dh > 0 {
			dh -= 360
		} else {
			dh += 360
		}
		if hMean < 360 {
			hMean += 360
		} else {
			hMean -= 360
		}
		hMean /= 2
	}
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(dh*math.Pi/360)

	lMean, cMean := (a.L+b.L)/2, (c1+c2)/2
	l50 := (lMean - 50) * (lMean - 50)
	sL := 1 + 0.015*l50/math.Sqrt(20+l50)
	sC := 1 + 0.045*cMean
	sH := 1 + 0.015*cMean*hueWeight(hMean)
	l, c, h := dL/sL, dC/sC, dH/sH
	sum := l*l + c*c + h*h
	// The cross term turns blues alone: 40 units of turn further it is under 1e-17.
	if turn := (hMean - 275) * (hMean - 275) / 625; turn < 40 {
		sum -= math.Sin(math.Pi/3*math.Exp(-turn)) * 2 * math.Sqrt(share7(cMean)) * c * h
	}
	// It can take the sum a rounding error below zero.
	return math.Sqrt(max(0, sum))
}

// length is that of a vector. math.Hypot guards against overflow, which colours do not
// reach, and costs several times as much in a loop over a roll.
func length(x, y float64) float64 { return math.Sqrt(x*x + y*y) }

// share7 is c^7/(c^7+25^7).
func share7(c float64) float64 {
	c2 := c * c
	c7 := c2 * c2 * c2 * c
	return c7 / (c7 + 6103515625)
}

// hueDegrees is the angle of a colour, 0 to 360 degrees; 0 where there is none.
func hueDegrees(x, y float64) float64 {
	h := math.Atan2(y, x) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

// Sines and cosines of the constant angles in T, whose multiples of the hue follow from
// one sine and one cosine.
var (
	sin30, cos30 = math.Sincos(30 * math.Pi / 180)
	sin6, cos6   = math.Sincos(6 * math.Pi / 180)
	sin63, cos63 = math.Sincos(63 * math.Pi / 180)
)

// hueWeight is T of a mean hue in degrees: 1 - 0.17 cos(h-30) + 0.24 cos(2h) +
// 0.32 cos(3h+6) - 0.20 cos(4h-63).
func hueWeight(h float64) float64 {
	s, c := math.Sincos(h * math.Pi / 180)
	s2, c2 := 2*s*c, 1-2*s*s
	s3, c3 := s2*c+c2*s, c2*c-s2*s
	s4, c4 := 2*s2*c2, 1-2*s2*s2
	return 1 - 0.17*(c*cos30+s*sin30) + 0.24*c2 + 0.32*(c3*cos6-s3*sin6) - 0.20*(c4*cos63+s4*sin63)
}
