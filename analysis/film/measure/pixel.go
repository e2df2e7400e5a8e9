package measure

import (
	"image"
	"math"

	"stopladder/analysis/scan/colour"
)

// Pixel is what the readout shows of a spot. Codes, light and colour are means
// over the spot; colour is that of the mean light.
type Pixel struct {
	X, Y    int          // as asked for, full-resolution pixels
	N       int          // preview pixels along each side of the spot
	Codes   RGB[float64] // mean code values
	Linear  RGB[float64] // linear light on the sRGB primaries, white = 1
	L, A, B float64      // CIELAB D50
	Density RGB[float64] // -log10 of each channel's own light (Space.Tone); +Inf for none
	InArea  bool         // the spot's centre lies in the image area
	Blown   float64      // share 0..1 of the spot's pixels with a channel at the ceiling
	Blocked float64      // and at the floor
}

// PixelAt reads the spot of n x n preview pixels around the full-resolution
// position x, y, cut at the picture's edges. n below 1 is 1. ok is false outside
// the picture.
func PixelAt(l *Look, x, y, n int) (p Pixel, ok bool) {
	if !image.Pt(x, y).In(l.whole()) {
		return p, false
	}
	n = max(n, 1)
	f := l.Preview.Factor
	px, py := x/f, y/f
	r := image.Rect(px-(n-1)/2, py-(n-1)/2, px+n/2+1, py+n/2+1)
	there := l.whole()
	r = r.Intersect(image.Rect(there.Min.X/f, there.Min.Y/f, (there.Max.X+f-1)/f, (there.Max.Y+f-1)/f))
	p = Pixel{X: x, Y: y, N: n, InArea: image.Pt(x, y).In(l.Area)}
	tone := l.Space.Tone()
	var codes, lin, own [3]float64
	buf := make([]float32, 3*r.Dx())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		at := y*l.Preview.W + r.Min.X
		row := l.Preview.Pix[3*at : 3*(at+r.Dx())]
		l.Space.Linear(buf, row)
		for i, v := range row {
			c := i % 3
			codes[c] += float64(v)
			lin[c] += float64(buf[i])
			own[c] += float64(tone[c][v])
		}
		for i := at; i < at+r.Dx(); i++ {
			p.Blown += float64(l.BlownShare[i]) / 255
			p.Blocked += float64(l.BlockedShare[i]) / 255
		}
	}
	k := 1 / float64(r.Dx()*r.Dy())
	density := func(v float64) float64 {
		if v <= 0 {
			return math.Inf(1)
		}
		return math.Abs(-math.Log10(v*k)) * sign(1-v*k)
	}
	p.Codes = RGB[float64]{codes[0] * k, codes[1] * k, codes[2] * k}
	p.Linear = RGB[float64]{lin[0] * k, lin[1] * k, lin[2] * k}
	p.Density = RGB[float64]{density(own[0]), density(own[1]), density(own[2])}
	p.Blown *= k
	p.Blocked *= k
	lab := colour.LabOf(p.Linear.R, p.Linear.G, p.Linear.B)
	p.L, p.A, p.B = lab.L, lab.A, lab.B
	return p, true
}

// sign keeps white at density 0 rather than -0.
func sign(v float64) float64 {
	if v < 0 {
		return -1
	}
	return 1
}
