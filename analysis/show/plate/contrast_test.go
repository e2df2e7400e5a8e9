package plate

import (
	"image/color"

	"stopladder/analysis/scan/colour"
)

// ratioOf returns the contrast of two colours (WCAG 2.2).
func ratioOf(a color.NRGBA, b any) float64 {
	lum := func(c color.NRGBA) float64 {
		v := func(x uint8) float64 { return colour.DecodeSRGB(float64(x) / 255) }
		return colour.Luminance(v(c.R), v(c.G), v(c.B))
	}
	x, y := lum(a), lum(b.(color.NRGBA))
	if x < y {
		x, y = y, x
	}
	return (x + 0.05) / (y + 0.05)
}
