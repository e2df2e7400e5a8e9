package register

import (
	"context"
	"math"

	"stopladder/analysis/film/measure"
)

// Sizes of the working levels, longest side in pixels. The finest is where the
// answer is read; 1400 keeps small scans whole and halves a full preview.
const (
	finestSide   = 1400
	coarsestSide = 180
	leastSide    = 24 // a finest level with a shorter side holds too little to register
)

// level is a frame's signal at one reduction: the mean over the channels of the
// cube root of light, which spreads dark and light tones as the eye does. All
// that follows compares frames through a tone curve of its own, so the cube root
// only has to be sensible, not right.
type level struct {
	w, h   int
	f      float64   // full-resolution pixels per level pixel
	cx, cy float64   // the picture's centre in level pixels
	v      []float32 // w*h
	soft   []float32 // v under the cubic B-spline's own weights (1 4 1)/6, both ways
	ok     []bool    // picture, not border; nil: all
}

// pyramid is a frame ready to be registered, finest level first.
type pyramid struct {
	look   *measure.Look
	levels []*level
}

func newPyramid(ctx context.Context, l *measure.Look) (*pyramid, error) {
	p := &pyramid{look: l}
	pv := l.Preview
	r := (max(pv.W, pv.H) + finestSide - 1) / finestSide
	// A last column or row that is not whole has its centre elsewhere: left out.
	f := pv.Factor * r
	lv := &level{w: max(l.Info.Width/f, 1), h: max(l.Info.Height/f, 1), f: float64(f)}
	lv.v = make([]float32, lv.w*lv.h)
	root := roots(l)
	inv := 1 / float32(3*r*r)
	for y := range lv.h {
		if y%64 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		out := lv.v[y*lv.w : (y+1)*lv.w]
		for k := range r {
			row := min(y*r+k, pv.H-1)
			src := pv.Pix[3*row*pv.W : 3*(row+1)*pv.W]
			for x := range out {
				i := 3 * x * r
				s := src[i : i+3*min(r, pv.W)]
				for j := 0; j+2 < len(s); j += 3 {
					out[x] += root[0][s[j]] + root[1][s[j+1]] + root[2][s[j+2]]
				}
			}
		}
		for x := range out {
			out[x] *= inv
		}
	}
	p.mark(lv)
	for {
		lv.cx, lv.cy = float64(l.Info.Width)/2/lv.f, float64(l.Info.Height)/2/lv.f
		lv.soft = make([]float32, len(lv.v))
		soften(lv.soft, lv.v, lv.w, lv.h)
		p.levels = append(p.levels, lv)
		if max(lv.w, lv.h) < 2*coarsestSide || min(lv.w, lv.h) < 2*leastSide {
			return p, ctx.Err()
		}
		lv = lv.half()
	}
}

// roots returns the tables from code value to cube root of light, scaled so that the
// scan's own white is about 1.
func roots(l *measure.Look) [3][]float32 {
	tone := l.Space.Tone()
	var out [3][]float32
	for c := range out {
		if c > 0 && &tone[c][0] == &tone[0][0] {
			out[c] = out[0]
			continue
		}
		t := make([]float32, len(tone[c]))
		for i, v := range tone[c] {
			t[i] = float32(math.Cbrt(math.Max(float64(v), 0)))
		}
		out[c] = t
	}
	return out
}

// mark leaves out what is not picture: border, missing rows. The image area is
// found on each frame by itself and may be a little off, so a margin is left.
func (p *pyramid) mark(lv *level) {
	l := p.look
	a := l.Area
	if a.Dx() >= l.Info.Width && a.Dy() >= l.Info.Height && l.MissingRows == 0 {
		return
	}
	const margin = 0.008
	m := margin * float64(max(a.Dx(), a.Dy()))
	x0, y0 := (float64(a.Min.X)+m)/lv.f, (float64(a.Min.Y)+m)/lv.f
	x1, y1 := (float64(a.Max.X)-m)/lv.f, (float64(a.Max.Y)-m)/lv.f
	lv.ok = make([]bool, lv.w*lv.h)
	for y := range lv.h {
		if float64(y) < y0 || float64(y+1) > y1 {
			continue
		}
		for x := range lv.w {
			lv.ok[y*lv.w+x] = float64(x) >= x0 && float64(x+1) <= x1
		}
	}
}

// half averages 2 x 2 pixels; an odd last row or column falls away.
func (l *level) half() *level {
	o := &level{w: l.w / 2, h: l.h / 2, f: 2 * l.f}
	o.v = make([]float32, o.w*o.h)
	if l.ok != nil {
		o.ok = make([]bool, o.w*o.h)
	}
	for y := range o.h {
		a, b := l.v[2*y*l.w:(2*y+1)*l.w], l.v[(2*y+1)*l.w:(2*y+2)*l.w]
		for x := range o.w {
			o.v[y*o.w+x] = (a[2*x] + a[2*x+1] + b[2*x] + b[2*x+1]) / 4
			if l.ok != nil {
				i := 2*y*l.w + 2*x
				o.ok[y*o.w+x] = l.ok[i] && l.ok[i+1] && l.ok[i+l.w] && l.ok[i+l.w+1]
			}
		}
	}
	return o
}

// soften places the cubic B-spline's own weights over v, a picture of w x h.
func soften(dst, v []float32, w, h int) {
	tmp := make([]float32, w*3)
	line := func(y int, dst []float32) {
		s := v[y*w : (y+1)*w]
		l, c := s[0], s[0]
		for x := range dst {
			r := s[min(x+1, w-1)]
			dst[x] = (l + 4*c + r) * (1.0 / 6)
			l, c = c, r
		}
	}
	rows := [3][]float32{tmp[:w], tmp[w : 2*w], tmp[2*w:]}
	line(0, rows[1])
	copy(rows[0], rows[1])
	for y := range h {
		line(min(y+1, h-1), rows[2])
		out := dst[y*w : (y+1)*w]
		a, b, c := rows[0][:w], rows[1][:w], rows[2][:w]
		for x := range out {
			out[x] = (a[x] + 4*b[x] + c[x]) * (1.0 / 6)
		}
		rows[0], rows[1], rows[2] = rows[1], rows[2], rows[0]
	}
}
