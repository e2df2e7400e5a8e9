package measure

import (
	"context"
	"math"

	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
)

// Noise is what is known of a frame's noise; NaN where it is not.
type Noise interface {
	// SigmaY returns the standard deviation of a luminance, 1 is white, at the viewing
	// scale, and ErrorY its standard error over itself.
	SigmaY(y float64) float64
	ErrorY(y float64) float64
}

const (
	noiseLocal    = 4    // radius of the local mean brightness
	noiseClipped  = 12   // 255ths of a preview pixel's area: more is unknown
	noiseKnownMin = 0.25 // of the shadow areas: less gives no figure
)

// noiseCurve is the noise-level function: sigma of luminance by luminance. It
// is read through a table by the leading bits of a float32 (32 per stop).
type noiseCurve struct {
	ratio []float32 // sigma(Y)/Y
}

const curveShift = 18 // keeps exponent and 5 bits of the mantissa

// curveOf tabulates what is known of the noise. Levels that it does not know stay NaN
// and count as unknown.
func curveOf(noise Noise) *noiseCurve {
	c := &noiseCurve{ratio: make([]float32, 1<<(31-curveShift))}
	for i := range c.ratio {
		y := float64(math.Float32frombits(uint32(i)<<curveShift | 1<<(curveShift-1)))
		c.ratio[i] = float32(math.NaN())
		if y > 0 && !math.IsInf(y, 0) {
			c.ratio[i] = float32(noise.SigmaY(y) / y)
		}
	}
	return c
}

// at is sigma(Y)/Y.
func (c *noiseCurve) at(y float32) float32 {
	return c.ratio[math.Float32bits(y)>>curveShift]
}

// lightnessSlope is Y dL*/dY: what a relative change of luminance is in L*.
func lightnessSlope(y float32) float32 {
	const eps, kappa = 216.0 / 24389, 24389.0 / 27
	if y > eps {
		return 116.0 / 3 * cbrt(y)
	}
	return kappa * y
}

// readNoise fills Noisy, NoiseKnown, NoiseL and BandNoise. For every pixel of
// the frame's image area: brought to the base frame's brightness by the gain
// Yb/Yf (local means), noise sigma(Yf) becomes dL*/dY(Yb) x gain x sigma(Yf) in
// L*. Noisy counts shadow areas alone, as assets/manual/noise.md#noisy says: what is shadow in the
// scene (the base frame's shadows band), and what has fallen below the same
// level in this frame and so is lifted with them.
func (r *Relation) readNoise(ctx context.Context, g *ground, frame *Look, opt Options, workers int) error {
	lum, err := frame.luminance(ctx, workers)
	if err != nil {
		return err
	}
	p := frame.Preview
	r.NoiseL, r.NoiseBase = make([]float32, p.W*p.H), make([]uint8, p.W*p.H)
	nan := float32(math.NaN())
	for i := range r.NoiseL {
		r.NoiseL[i] = nan
	}
	inv, ok := affine.Inverse(r.Map)
	if r.NoiseLater {
		return nil
	}
	if opt.Noise == nil || !ok {
		r.note("Noise cannot be told: it takes two registered frames of scans that are fixed, or large parts of the picture without texture that are not clipped.")
		return nil
	}
	curve := curveOf(opt.Noise)
	local, err := lum.box(ctx, noiseLocal, workers)
	if err != nil {
		return err
	}
	rows := make([]noiseRow, lum.r.Dy())
	limit := float32(r.NoiseLimit)
	gw := g.area.Dx()
	left, top, width, height := float64(g.area.Min.X), float64(g.area.Min.Y), float64(g.area.Dx()), float64(g.area.Dy())
	err = parallel.Chunks(ctx, workers, lum.r.Dy(), 16, func(_, lo, hi int) {
		for j := lo; j < hi; j++ {
			t := &rows[j]
			y := lum.r.Min.Y + j
			for i, yf := range local.row(y) {
				x := lum.r.Min.X + i
				bx, by := affine.At(inv, float64(x)+0.5, float64(y)+0.5)
				if bx -= left; !(bx >= 0 && bx < width) {
					continue
				}
				if by -= top; !(by >= 0 && by < height) {
					continue
				}
				if opt.Marks.At(x, y) {
					continue
				}
				q := int(by)*gw + int(bx)
				band := Band(g.bands[q]) - 1
				shadow := band == Shadows || yf < shadowTop
				if shadow {
					t.shadow++
				}
				at := y*p.W + x
				if !(yf > 0) || frame.BlownShare[at] > noiseClipped || frame.BlockedShare[at] > noiseClipped {
					continue
				}
				noise := g.slope.v[q] * curve.at(yf)
				if noise != noise { // the level is not known
					continue
				}
				t.known++
				t.band[band] += float64(noise)
				t.bandN[band]++
				if !shadow {
					continue
				}
				t.shadowKnown++
				t.dark += float64(yf)
				r.NoiseL[at], r.NoiseBase[at] = noise, g.level[q]
				if noise > limit {
					t.noisy++
				}
			}
		}
	})
	if err != nil {
		return err
	}
	r.pixels = len(lum.v)
	r.sumNoise(rows, r.pixels, opt.Noise)
	r.countNoise()
	r.NoisyError = r.noisyError()
	return nil
}

type noiseRow struct {
	known, shadow, shadowKnown, noisy int
	dark                              float64 // luminance of the shadows, summed
	band                              [Bands]float64
	bandN                             [Bands]int
}

func (r *Relation) sumNoise(rows []noiseRow, pixels int, noise Noise) {
	var t noiseRow
	for _, v := range rows {
		t.known += v.known
		t.shadow += v.shadow
		t.shadowKnown += v.shadowKnown
		t.noisy += v.noisy
		t.dark += v.dark
		for b := range t.band {
			t.band[b] += v.band[b]
			t.bandN[b] += v.bandN[b]
		}
	}
	r.NoiseKnown = float64(t.known) / float64(max(1, pixels))
	for b := range t.band {
		if float64(t.bandN[b]) >= bandLeast*float64(pixels) && t.bandN[b] > 0 {
			m := t.band[b] / float64(t.bandN[b])
			r.BandNoise[b] = &m
		}
	}
	lost := t.shadow - t.shadowKnown
	if float64(t.shadowKnown) < noiseKnownMin*float64(t.shadow) {
		r.note("Noise cannot be measured: %.0f %% of the shadow areas are clipped, and clipped pixels show no noise.", 100*float64(lost)/float64(t.shadow))
		return
	}
	if float64(lost) > 0.01*float64(pixels) {
		r.note("Shadows that take up %.1f %% of the image area are clipped and show no noise: it is unknown there and not counted as Noisy.", 100*float64(lost)/float64(pixels))
	}
	r.noiseError = noise.ErrorY(t.dark / float64(max(1, t.shadowKnown)))
	share := float64(t.noisy) / float64(max(1, pixels))
	r.Noisy = &share
}

// noisyError is by how much Noisy moves when the noise is off by its standard error.
func (r *Relation) noisyError() *float64 {
	if r.Noisy == nil || !(r.noiseError >= 0 && r.noiseError < 1) {
		return nil
	}
	up, down := r.NoisyNear(r.NoiseLimit/(1+r.noiseError), nil), r.NoisyNear(r.NoiseLimit/(1-r.noiseError), nil)
	if up == nil || down == nil {
		return nil
	}
	e := math.Max(0, *up-*down) / 2
	return &e
}
