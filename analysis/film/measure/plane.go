package measure

import (
	"context"
	"image"
	"math"
	"sync"

	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

// plane is one figure per preview pixel inside a rectangle of the preview.
type plane struct {
	r image.Rectangle
	v []float32
}

func newPlane(r image.Rectangle) plane { return plane{r, make([]float32, r.Dx()*r.Dy())} }

func (p plane) row(y int) []float32 {
	w := p.r.Dx()
	return p.v[(y-p.r.Min.Y)*w : (y-p.r.Min.Y+1)*w]
}

// previewArea returns the image area in preview pixels: those that lie wholly inside
// it, or, when the area is smaller than that, those that it touches.
func (l *Look) previewArea() image.Rectangle {
	f := l.Preview.Factor
	in := image.Rect((l.Area.Min.X+f-1)/f, (l.Area.Min.Y+f-1)/f, l.Area.Max.X/f, l.Area.Max.Y/f)
	// The last column and row are whole when the area reaches the picture's end.
	if l.Area.Max.X == l.Info.Width {
		in.Max.X = l.Preview.W
	}
	if l.Area.Max.Y == l.Info.Height {
		in.Max.Y = l.Preview.H
	}
	if in.Dx() <= 0 || in.Dy() <= 0 {
		in = image.Rect(l.Area.Min.X/f, l.Area.Min.Y/f, (l.Area.Max.X+f-1)/f, (l.Area.Max.Y+f-1)/f)
	}
	return in
}

// luminanceWeights are the shares of linear sRGB primaries in the Y of the
// connection space (D50), taken from colour so that Y and L* never disagree.
var luminanceWeights = sync.OnceValue(func() [3]float32 {
	v := []float32{1, 0, 0, 0, 1, 0, 0, 0, 1}
	colour.XYZ(v, v)
	return [3]float32{v[1], v[4], v[7]}
})

// luminance fills a plane with relative luminance Y (white = 1) of the area.
// Out-of-gamut negatives count as no light.
func (l *Look) luminance(ctx context.Context, workers int) (plane, error) {
	p := newPlane(l.previewArea())
	w := luminanceWeights()
	lin := make([][]float32, workers)
	err := parallel.Chunks(ctx, workers, p.r.Dy(), 16, func(wk, lo, hi int) {
		if lin[wk] == nil {
			lin[wk] = make([]float32, 3*p.r.Dx())
		}
		buf := lin[wk]
		for y := p.r.Min.Y + lo; y < p.r.Min.Y+hi; y++ {
			at := 3 * (y*l.Preview.W + p.r.Min.X)
			l.Space.Linear(buf, l.Preview.Pix[at:at+len(buf)])
			for i, out := 0, p.row(y); i < len(out); i++ {
				q := buf[3*i : 3*i+3 : 3*i+3]
				out[i] = max(0, w[0]*q[0]+w[1]*q[1]+w[2]*q[2])
			}
		}
	})
	return p, err
}

// box averages over squares of side 2r+1, cut at the plane's edges.
func (p plane) box(ctx context.Context, r, workers int) (plane, error) {
	if r == 0 {
		return p, ctx.Err()
	}
	w, h := p.r.Dx(), p.r.Dy()
	mid, out := newPlane(p.r), newPlane(p.r)
	err := parallel.Chunks(ctx, workers, h, 32, func(_, lo, hi int) {
		for y := lo; y < hi; y++ {
			boxRow(mid.v[y*w:(y+1)*w], p.v[y*w:(y+1)*w], r)
		}
	})
	if err != nil {
		return out, err
	}
	sums := make([][]float64, workers)
	// The running sums start anew at each chunk: chunks are the same whatever
	// the number of workers, and so is the rounding.
	err = parallel.Chunks(ctx, workers, h, 128, func(wk, lo, hi int) {
		if sums[wk] == nil {
			sums[wk] = make([]float64, w)
		}
		s := sums[wk]
		clear(s)
		for y := max(0, lo-r); y < min(h, lo+r); y++ {
			for x, v := range mid.v[y*w : (y+1)*w] {
				s[x] += float64(v)
			}
		}
		for y := lo; y < hi; y++ {
			if add := y + r; add < h {
				for x, v := range mid.v[add*w : (add+1)*w] {
					s[x] += float64(v)
				}
			}
			if sub := y - r - 1; sub >= 0 && y > lo {
				for x, v := range mid.v[sub*w : (sub+1)*w] {
					s[x] -= float64(v)
				}
			}
			n := 1 / float64(min(h, y+r+1)-max(0, y-r))
			o := out.v[y*w : (y+1)*w]
			for x := range o {
				o[x] = float32(s[x] * n)
			}
		}
	})
	return out, err
}

func boxRow(dst, src []float32, r int) {
	n := len(src)
	sum := 0.0
	for x := 0; x < min(r, n); x++ {
		sum += float64(src[x])
	}
	for x := range dst {
		if x+r < n {
			sum += float64(src[x+r])
		}
		if x-r-1 >= 0 {
			sum -= float64(src[x-r-1])
		}
		dst[x] = float32(sum / float64(min(n, x+r+1)-max(0, x-r)))
	}
}

// labF is the f of CIELAB (CIE 15:2004) in float32: colour.Lab is exact and too
// slow for whole previews.
func labF(t float32) float32 {
	const eps, kappa = 216.0 / 24389, 24389.0 / 27
	if t > eps {
		return cbrt(t)
	}
	return (kappa*t + 16) / 116
}

// cbrt returns the cube root of t > 0: a guess x from the exponent, near to 4 percent,
// and five terms of the series of (t/x^3)^(1/3) (relative error below 3e-7, see the
// test).
func cbrt(t float32) float32 {
	x := math.Float32frombits(math.Float32bits(t)/3 + 709921077)
	d := t/(x*x*x) - 1
	return x + x*d*(1.0/3-d*(1.0/9-d*(5.0/81-d*(10.0/243-d*(22.0/729)))))
}

// labRow turns interleaved linear light into CIELAB in place.
func labRow(v []float32) {
	colour.XYZ(v, v)
	white := labWhite()
	for i := 0; i+2 < len(v); i += 3 {
		fx, fy, fz := labF(v[i]*white[0]), labF(v[i+1]), labF(v[i+2]*white[2])
		v[i], v[i+1], v[i+2] = 116*fy-16, 500*(fx-fy), 200*(fy-fz)
	}
}

// labWhite is 1/X, 1, 1/Z of sRGB white in the connection space, so that white
// has a* = b* = 0 exactly as far as float32 goes.
var labWhite = sync.OnceValue(func() [3]float32 {
	v := []float32{1, 1, 1}
	colour.XYZ(v, v)
	return [3]float32{1 / v[0], 1, 1 / v[2]}
})
