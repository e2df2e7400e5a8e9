package render

import (
	"math"

	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

// level is a picture in display bytes. A pixel is one uint32: R in the lowest
// byte, then G, B and 255, the order of image.RGBA in memory.
type level struct {
	w, h int
	pix  []uint32
}

const opaque = 0xff000000

// develop takes code values to display bytes: codes -> linear light -> view
// correction -> sRGB.
func develop(space *colour.Space, adjust *Correction, codes []uint16, w, h int) *level {
	l := &level{w: w, h: h, pix: make([]uint32, w*h)}
	parallel.Bands(h, func(y0, y1 int) {
		row := make([]uint8, 4*w)
		var lin []float32
		if adjust != nil && adjust.Linear != nil {
			lin = make([]float32, 3*w)
		}
		for y := y0; y < y1; y++ {
			c := codes[3*w*y : 3*w*(y+1)]
			if lin == nil {
				space.RGBA(row, c)
			} else {
				space.Linear(lin, c)
				adjust.rgba(row, lin)
			}
			out := l.pix[w*y : w*(y+1)]
			for x := range out {
				p := row[4*x : 4*x+4 : 4*x+4]
				out[x] = uint32(p[0]) | uint32(p[1])<<8 | uint32(p[2])<<16 | opaque
			}
		}
	})
	return l
}

// Pictures are halved in light, not in display bytes: the mean of black and
// white is the grey that the eye sees from afar. 12 bits are kept while summing
// four, which is finer than a display byte everywhere above the deepest blacks.
const lightMax = 1<<14 - 1

var lightOf = func() (t [256]uint32) {
	for i := range t {
		t[i] = uint32(math.Round(lightMax * colour.DecodeSRGB(float64(i)/255)))
	}
	return
}()

var byteOf = func() *[4*lightMax + 1]uint8 {
	t := new([4*lightMax + 1]uint8)
	colour.FillBytes(t[:])
	return t
}()

// half reduces by two; a last odd column or row is averaged with itself.
func (l *level) half() *level {
	o := &level{w: (l.w + 1) / 2, h: (l.h + 1) / 2}
	o.pix = make([]uint32, o.w*o.h)
	parallel.Bands(o.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			a := l.pix[l.w*2*y : l.w*(2*y+1)]
			b := a
			if 2*y+1 < l.h {
				b = l.pix[l.w*(2*y+1) : l.w*(2*y+2)]
			}
			out := o.pix[o.w*y : o.w*(y+1)]
			for x := range out {
				i := 2 * x
				j := min(i+1, l.w-1)
				p, q, r, s := a[i], a[j], b[i], b[j]
				out[x] = mean4(p, q, r, s)
			}
		}
	})
	return o
}

func mean4(p, q, r, s uint32) uint32 {
	red := byteOf[lightOf[p&255]+lightOf[q&255]+lightOf[r&255]+lightOf[s&255]]
	green := byteOf[lightOf[p>>8&255]+lightOf[q>>8&255]+lightOf[r>>8&255]+lightOf[s>>8&255]]
	blue := byteOf[lightOf[p>>16&255]+lightOf[q>>16&255]+lightOf[r>>16&255]+lightOf[s>>16&255]]
	return uint32(red) | uint32(green)<<8 | uint32(blue)<<16 | opaque
}
