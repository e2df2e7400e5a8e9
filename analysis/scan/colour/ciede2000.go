package colour

import "math"

// DeltaE2000 returns the CIEDE2000 colour difference of two CIELAB colours with kL =
// kC = kH = 1, after Sharma, Wu & Dalal, "The CIEDE2000 Color-Difference Formula:
// Implementation Notes, Supplementary Test Data, and Mathematical Observations", Color
// Res. Appl. 30(1), 2005 (their equations 2 to 22). The result is >= 0 and does not
// depend on the order of a and b.
func DeltaE2000(a, b LAB) float64 {
	const pow25to7 = 6103515625.0
	deg := func(r float64) float64 { return r * 180 / math.Pi }
	rad := func(d float64) float64 { return d * math.Pi / 180 }

	c1, c2 := math.Hypot(a.A, a.B), math.Hypot(b.A, b.B)
	mean7 := math.Pow((c1+c2)/2, 7)
	g := 0.5 * (1 - math.Sqrt(mean7/(mean7+pow25to7)))
	a1, a2 := (1+g)*a.A, (1+g)*b.A
	c1, c2 = math.Hypot(a1, a.B), math.Hypot(a2, b.B)
	hue := func(x, y float64) float64 {
		if x == 0 && y == 0 {
			return 0
		}
		h := deg(math.Atan2(y, x))
		if h < 0 {
			h += 360
		}
		return h
	}
	h1, h2 := hue(a1, a.B), hue(a2, b.B)

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
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(rad(dh/2))

	lMean, cMean := (a.L+b.L)/2, (c1+c2)/2
	t := 1 - 0.17*math.Cos(rad(hMean-30)) + 0.24*math.Cos(rad(2*hMean)) +
		0.32*math.Cos(rad(3*hMean+6)) - 0.20*math.Cos(rad(4*hMean-63))
	c7 := math.Pow(cMean, 7)
	rc := 2 * math.Sqrt(c7/(c7+pow25to7))
	l50 := (lMean - 50) * (lMean - 50)
	sL := 1 + 0.015*l50/math.Sqrt(20+l50)
	sC := 1 + 0.045*cMean
	sH := 1 + 0.015*cMean*t
	turn := (hMean - 275) / 25
	rT := -math.Sin(rad(60*math.Exp(-turn*turn))) * rc

	l, c, h := dL/sL, dC/sC, dH/sH
	// The cross term can take the sum a rounding error below zero.
	return math.Sqrt(max(0, l*l+c*c+h*h+rT*c*h))
}
