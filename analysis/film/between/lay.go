package between

import (
	"math"

	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"

	"golang.org/x/image/math/f64"
)

// Lay resamples a frame's preview on a grid of w x h pixels by bilinear
// interpolation: 3*w*h code values into dst. view takes grid pixels (centres at
// +0.5) to the base frame's full-resolution pixels; the frame's registration does
// the rest. Beyond the frame's edge its edge is repeated. It reports whether there
// was such a frame and dst is large enough.
func (r *Roll) Lay(dst []uint16, w, h int, frame int, view f64.Aff3) bool {
	if frame < 0 || frame >= len(r.frames) || w <= 0 || h <= 0 || len(dst) < 3*w*h {
		return false
	}
	f := &r.frames[frame]
	if f.Look == nil || f.Look.Preview == nil || f.Look.Preview.W <= 0 || f.Look.Preview.H <= 0 {
		return false
	}
	p := f.Look.Preview
	m := affine.Reduced(affine.After(f.Map, view), 1, float64(max(1, p.Factor)))
	parallel.Bands(h, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range w {
				fx, fy := affine.At(m, float64(x)+0.5, float64(y)+0.5)
				fx, fy = fx-0.5, fy-0.5
				fx = math.Min(math.Max(fx, 0), float64(p.W-1))
				fy = math.Min(math.Max(fy, 0), float64(p.H-1))
				if math.IsNaN(fx) || math.IsNaN(fy) {
					fx, fy = 0, 0
				}
				ix, iy := min(int(fx), max(0, p.W-2)), min(int(fy), max(0, p.H-2))
				u, t := float32(fx-float64(ix)), float32(fy-float64(iy))
				right, down := min(1, p.W-1), min(1, p.H-1)
				i := 3 * (iy*p.W + ix)
				j := i + 3*down*p.W
				for c := range 3 {
					p00, p01 := float32(p.Pix[i+c]), float32(p.Pix[i+3*right+c])
					p10, p11 := float32(p.Pix[j+c]), float32(p.Pix[j+3*right+c])
					q0 := p00 + u*(p01-p00)
					q1 := p10 + u*(p11-p10)
					dst[3*(y*w+x)+c] = uint16(q0 + t*(q1-q0) + 0.5)
				}
			}
		}
	})
	return true
}
