// Package courtyard builds the demo's scene, an invented sunlit courtyard, and
// traces its light.
package courtyard

import (
	"context"
	"fmt"
	"image"
	"math"
	"slices"

	"stopladder/analysis/demo/scene"
)

// Aspect is width over height of the courtyard: roll film 6x7, 70 x 60 parts.
const Aspect = 7.0 / 6.0

// margin is how far the cleaning of indirect light reaches, in pixels.
const margin = 18

// Render traces the courtyard. The picture depends on w, h and samples only;
// samples is the number of paths a pixel (64 is clean enough for print, 256 for
// looking closely). progress, where not nil, is called from several goroutines,
// one at a time.
func Render(ctx context.Context, w, h, samples int, progress func(done float64)) (*scene.Radiance, error) {
	return RenderRegion(ctx, w, h, samples, image.Rect(0, 0, w, h), progress)
}

// RenderRegion renders the part r of what Render would: the pixels are equal.
func RenderRegion(ctx context.Context, w, h, samples int, r image.Rectangle, progress func(done float64)) (*scene.Radiance, error) {
	if err := scene.CheckSize(w, h); err != nil {
		return nil, err
	}
	if samples < 1 || samples > 1<<16 {
		return nil, fmt.Errorf("%d samples a pixel were asked for: give 1 to 65536", samples)
	}
	full := image.Rect(0, 0, w, h)
	if !r.In(full) || r.Empty() {
		return nil, fmt.Errorf("the region %v does not lie in the scene's %d x %d pixels", r, w, h)
	}
	wd := courtyard()
	grown := r.Inset(-margin).Intersect(full)
	pix := make([]pixel, grown.Dx()*grown.Dy())
	err := rows(ctx, grown.Dy(), progress, func(y int) {
		for x := range grown.Dx() {
			if x%32 == 0 && ctx.Err() != nil {
				return
			}
			pix[y*grown.Dx()+x] = wd.sample(grown.Min.X+x, grown.Min.Y+y, w, h, samples)
		}
	})
	if err != nil {
		return nil, err
	}
	if err := clean(ctx, pix, grown); err != nil {
		return nil, err
	}
	out := scene.New(r.Dx(), r.Dy())
	for y := range r.Dy() {
		for x := range r.Dx() {
			p := &pix[(y+r.Min.Y-grown.Min.Y)*grown.Dx()+x+r.Min.X-grown.Min.X]
			c := p.direct.add(p.albedo.mul(p.light)).mul(wd.gain)
			out.Set(x, y, f3(vec{math.Max(c.x, 0), math.Max(c.y, 0), math.Max(c.z, 0)}))
		}
	}
	return out, nil
}

// clean smooths the indirect light by an edge-avoiding a-trous wavelet
// (Dammertz et al., HPG 2010), guided by surface, depth and the light's own
// variance. Texture, the sun's shadows and the sky are not touched.
func clean(ctx context.Context, pix []pixel, r image.Rectangle) error {
	w, h := r.Dx(), r.Dy()
	kernel := [3]float64{3.0 / 8, 1.0 / 4, 1.0 / 16}
	next := make([]vec, len(pix))
	nextVar := make([]float64, len(pix))
	despeckle(pix, w, h)
	blurNoise(pix, w, h)
	for step := 1; step <= 4; step *= 2 {
		err := rows(ctx, h, nil, func(y int) {
			for x := range w {
				i := y*w + x
				p := &pix[i]
				next[i], nextVar[i] = p.light, p.noise
				if p.depth == 0 {
					continue
				}
				l0 := lum(p.light)
				tol := 3*math.Sqrt(p.noise) + 0.01*l0 + 1e-6
				var sum vec
				var ws, vs float64
				for j := -2; j <= 2; j++ {
					yy := y + j*step
					if yy < 0 || yy >= h {
						continue
					}
					for k := -2; k <= 2; k++ {
						xx := x + k*step
						if xx < 0 || xx >= w {
							continue
						}
						q := &pix[yy*w+xx]
						if q.depth == 0 {
							continue
						}
						nn := p.n.dot(q.n)
						if nn < 0.5 {
							continue
						}
						dz := (q.depth - p.depth) / (0.02 * p.depth)
						dl := (lum(q.light) - l0) / tol
						wt := kernel[max(j, -j)] * kernel[max(k, -k)] * math.Pow(nn, 24) * math.Exp(-dz*dz-dl*dl)
						sum = sum.add(q.light.scale(wt))
						vs += wt * wt * q.noise
						ws += wt
					}
				}
				if ws > 0 {
					next[i], nextVar[i] = sum.scale(1/ws), vs/(ws*ws)
				}
			}
		})
		if err != nil {
			return err
		}
		for i := range pix {
			pix[i].light, pix[i].noise = next[i], nextVar[i]
		}
	}
	return nil
}

// blurNoise averages the variance over neighbours on the same surface: the
// variance of few samples is itself uncertain, and none at all where every
// sample happened to be dark.
func blurNoise(pix []pixel, w, h int) {
	out := make([]float64, len(pix))
	for y := range h {
		for x := range w {
			p := &pix[y*w+x]
			var s, n float64
			for yy := max(y-2, 0); yy <= min(y+2, h-1); yy++ {
				for xx := max(x-2, 0); xx <= min(x+2, w-1); xx++ {
					q := &pix[yy*w+xx]
					if q.depth > 0 && p.n.dot(q.n) > 0.5 {
						s += q.noise
						n++
					}
				}
			}
			if n > 0 {
				out[y*w+x] = s / n
			}
		}
	}
	for i := range pix {
		pix[i].noise = out[i]
	}
}

// despeckle limits indirect light to twice the level that one in five of its
// neighbours passes: a single path that found a sun patch is no light to see by.
func despeckle(pix []pixel, w, h int) {
	limit := make([]float64, len(pix))
	var near []float64
	for y := range h {
		for x := range w {
			p := &pix[y*w+x]
			near = near[:0]
			for yy := max(y-2, 0); yy <= min(y+2, h-1); yy++ {
				for xx := max(x-2, 0); xx <= min(x+2, w-1); xx++ {
					q := &pix[yy*w+xx]
					if q != p && q.depth > 0 && p.n.dot(q.n) > 0.5 {
						near = append(near, lum(q.light))
					}
				}
			}
			limit[y*w+x] = math.Inf(1)
			if len(near) >= 5 {
				slices.Sort(near)
				limit[y*w+x] = 2 * near[len(near)*4/5]
			}
		}
	}
	for i := range pix {
		p := &pix[i]
		if l := lum(p.light); l > limit[i] && l > 0 {
			k := limit[i] / l
			p.light = p.light.scale(k)
			p.noise *= k * k
		}
	}
}
