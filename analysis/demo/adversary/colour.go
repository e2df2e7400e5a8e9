package adversary

import "math"

// lab is a CIELAB colour under D50.
type lab struct{ l, a, b float64 }

// luma are the luminance weights of the sRGB primaries (IEC 61966-2-1).
var luma = [3]float64{0.2126390, 0.7151687, 0.0721923}

// toPCS takes linear sRGB light to XYZ under D50 (Bradford), derived from the
// primaries.
var toPCS = [3][3]float64{
	{0.4360053, 0.3850738, 0.1431147},
	{0.2224691, 0.7168952, 0.0606315},
	{0.0139300, 0.0971068, 0.7143447},
}

// white is what toPCS makes of (1, 1, 1): neutrals are then neutral to the last digit.
var white = func() (w [3]float64) {
	for i, row := range toPCS {
		w[i] = row[0] + row[1] + row[2]
	}
	return w
}()

// labOf returns the CIELAB colour of linear light (CIE 15).
func labOf(rgb [3]float64) lab {
	var f [3]float64
	for i, row := range toPCS {
		t := (row[0]*rgb[0] + row[1]*rgb[1] + row[2]*rgb[2]) / white[i]
		if t > 216.0/24389 {
			f[i] = math.Cbrt(t)
		} else {
			f[i] = (24389.0/27*t + 16) / 116
		}
	}
	return lab{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

// Lightness returns L* of a relative luminance.
func Lightness(y float64) float64 {
	if y > 216.0/24389 {
		return 116*math.Cbrt(y) - 16
	}
	return 24389.0 / 27 * y
}

func luminance(rgb [3]float64) float64 {
	return luma[0]*rgb[0] + luma[1]*rgb[1] + luma[2]*rgb[2]
}

// encode returns the sRGB code value 0..1 of linear light.
func encode(x float64) float64 {
	if x <= 0.0031308 {
		return 12.92 * x
	}
	return 1.055*math.Pow(x, 1/2.4) - 0.055
}

// difference returns the CIEDE2000 difference of two colours (Sharma, Wu & Dalal 2005,
// equations 2 to 22).
func difference(p, q lab) float64 {
	const deg = math.Pi / 180
	c1, c2 := math.Hypot(p.a, p.b), math.Hypot(q.a, q.b)
	m := math.Pow((c1+c2)/2, 7)
	g := 0.5 * (1 - math.Sqrt(m/(m+6103515625))) // 25^7
	a1, a2 := (1+g)*p.a, (1+g)*q.a
	c1, c2 = math.Hypot(a1, p.b), math.Hypot(a2, q.b)
	hue := func(a, b float64) float64 {
		if a == 0 && b == 0 {
			return 0
		}
		h := math.Atan2(b, a) / deg
		if h < 0 {
			h += 360
		}
		return h
	}
	h1, h2 := hue(a1, p.b), hue(a2, q.b)
	dh, mean := h2-h1, (h1+h2)/2
	if c1*c2 == 0 {
		dh, mean = 0, h1+h2
	} else if math.Abs(h1-h2) > 180+1e-9 { // hues that stand opposite do so to rounding
		if dh > 0 {
			dh -= 360
		} else {
			dh += 360
		}
		if h1+h2 < 360 {
			mean += 180
		} else {
			mean -= 180
		}
	}
	dL, dC := q.l-p.l, c2-c1
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(dh/2*deg)
	l, c := (p.l+q.l)/2, (c1+c2)/2
	t := 1 - 0.17*math.Cos((mean-30)*deg) + 0.24*math.Cos(2*mean*deg) + 0.32*math.Cos((3*mean+6)*deg) - 0.20*math.Cos((4*mean-63)*deg)
	sl := 1 + 0.015*(l-50)*(l-50)/math.Sqrt(20+(l-50)*(l-50))
	sc, sh := 1+0.045*c, 1+0.015*c*t
	c7 := math.Pow(c, 7)
	turn := 30 * math.Exp(-(mean-275)/25*(mean-275)/25)
	rt := -2 * math.Sqrt(c7/(c7+6103515625)) * math.Sin(2*turn*deg)
	x, y, z := dL/sl, dC/sc, dH/sh
	return math.Sqrt(math.Max(0, x*x+y*y+z*z+rt*y*z))
}
