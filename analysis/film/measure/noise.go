package measure

import (
	"context"
	"image"
	"math"
	"slices"

	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
)

// Noise of a frame at the preview's size, in linear luminance, after the
// scene's structure is taken out (assets/manual/noise.md).
//
// Blocks of 8 x 8 are read with the kernel of Immerkaer, "Fast Noise Variance
// Estimation", CVIU 64(2), 1996, which answers 0 to any plane. Texture only adds
// to what it reads, so of the blocks of about one level the low ones tell the
// noise: the lower envelope of Liu et al., CVPR 2006. Blocks with clipped pixels
// are left out: clipped pixels look noiseless and are not.
//
// On the simulator's textured demo scene, 2200 pixels wide, levels read 0.7 to
// 1.6 times the truth on the grainy negative, and 1.0 to 3.2 times on the fine
// reversal, where the scene's own texture fills every block of some levels: up
// to 0.5 L* too much at the frame's own brightness. Underexposed frames, for
// whose sake Noisy exists, read 0.9 to 1.5 times.
//
// What this first version does not do: noise that is correlated over several
// preview pixels (a scan that is hardly reduced) is underestimated, colour
// noise is left out, and a level that has textured blocks alone reads high.
const (
	noiseBlock    = 8
	noiseLocal    = 4   // radius of the local mean brightness
	noisePerStop  = 4   // bins of level per stop
	noiseLowest   = -16 // stops
	noiseBins     = 17 * noisePerStop
	noiseLeast    = 40   // blocks in a bin
	noiseQuantile = 0.05 // of a bin's blocks
	noiseRise     = 0.15 // stops of relative noise per stop of level, at most, upwards
	noiseFall     = 2    // and downwards: 1 where sigma itself is constant, more where a shoulder flattens it
	noiseClipped  = 12   // 255ths of a preview pixel's area: more is unknown
	noiseKnownMin = 0.25 // of the shadow areas: less gives no figure
)

// noiseQuantileBias is the 0.05 quantile of the block estimate for white
// Gaussian noise of sigma 1, found by simulation; TestNoiseQuantileBias repeats it.
const noiseQuantileBias = 0.6789

// noiseCurve is the noise-level function: sigma of luminance by luminance. It
// is read through a table by the leading bits of a float32 (32 per stop).
type noiseCurve struct {
	ok    bool
	ratio []float32 // sigma(Y)/Y
}

const curveShift = 18 // keeps exponent and 5 bits of the mantissa

// immerkaer is the mean of |kernel * image| over the inside of the block at x,
// y, scaled to the standard deviation of white Gaussian noise.
func immerkaer(p plane, x, y, w, h int) float64 {
	stride := p.r.Dx()
	var s float64
	for j := y + 1; j < y+h-1; j++ {
		a, b, c := p.v[(j-1)*stride:], p.v[j*stride:], p.v[(j+1)*stride:]
		for i := x + 1; i < x+w-1; i++ {
			v := a[i-1] + a[i+1] + c[i-1] + c[i+1] - 2*(a[i]+b[i-1]+b[i+1]+c[i]) + 4*b[i]
			if v < 0 {
				v = -v
			}
			s += float64(v)
		}
	}
	return math.Sqrt(math.Pi/2) / 6 * s / float64((w-2)*(h-2))
}

// noiseOf makes the frame's noise-level function from its luminance.
func (l *Look) noiseOf(ctx context.Context, lum plane, workers int) (*noiseCurve, error) {
	l.cache.mu.Lock()
	defer l.cache.mu.Unlock()
	if l.cache.noise != nil {
		return l.cache.noise, nil
	}
	bw, bh := lum.r.Dx()/noiseBlock, lum.r.Dy()/noiseBlock
	type block struct{ mean, sigma float64 }
	blocks := make([]block, max(0, bw*bh))
	err := parallel.Chunks(ctx, workers, bh, 4, func(_, lo, hi int) {
		for by := lo; by < hi; by++ {
			for bx := range bw {
				x, y := bx*noiseBlock, by*noiseBlock
				if l.anyClipped(lum.r, x, y) {
					continue
				}
				m := 0.0
				for j := y; j < y+noiseBlock; j++ {
					for _, v := range lum.v[j*lum.r.Dx()+x : j*lum.r.Dx()+x+noiseBlock] {
						m += float64(v)
					}
				}
				blocks[by*bw+bx] = block{m / (noiseBlock * noiseBlock), immerkaer(lum, x, y, noiseBlock, noiseBlock)}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	var bins [noiseBins][]float64
	for _, b := range blocks {
		if b.mean <= 0 {
			continue
		}
		k := int(math.Floor((math.Log2(b.mean) - noiseLowest) * noisePerStop))
		k = min(max(k, 0), noiseBins-1)
		// Relative, so that the width of the bin does not matter.
		bins[k] = append(bins[k], b.sigma/b.mean)
	}
	l.cache.noise = curveOf(bins[:])
	return l.cache.noise, nil
}

func (l *Look) anyClipped(r image.Rectangle, x, y int) bool {
	for j := r.Min.Y + y; j < r.Min.Y+y+noiseBlock; j++ {
		at := j*l.Preview.W + r.Min.X + x
		for i := at; i < at+noiseBlock; i++ {
			if l.BlownShare[i]|l.BlockedShare[i] != 0 {
				return true
			}
		}
	}
	return false
}

// curveOf takes the lower envelope of the bins (relative sigma of each block)
// and interpolates between them; beyond the first and last bin the absolute
// sigma stays below, the relative one above.
func curveOf(bins [][]float64) *noiseCurve {
	type point struct{ stop, ratio float64 }
	var pts []point
	for k, b := range bins {
		if len(b) < noiseLeast {
			continue
		}
		slices.Sort(b)
		pts = append(pts, point{noiseLowest + (float64(k)+0.5)/noisePerStop, b[int(noiseQuantile*float64(len(b)-1))] / noiseQuantileBias})
	}
	c := &noiseCurve{}
	if len(pts) == 0 {
		return c
	}
	// Noise changes slowly with level, texture does not care: a level that reads
	// much noisier than its neighbours is held down by them.
	held := slices.Clone(pts)
	for i := range held {
		for _, o := range pts {
			d := pts[i].stop - o.stop
			reach := noiseRise * d
			if d < 0 {
				reach = -noiseFall * d
			}
			held[i].ratio = math.Min(held[i].ratio, o.ratio*math.Exp2(reach))
		}
	}
	pts = held
	c.ok = true
	c.ratio = make([]float32, 1<<(31-curveShift))
	for i := range c.ratio {
		y := float64(math.Float32frombits(uint32(i)<<curveShift | 1<<(curveShift-1)))
		if y <= 0 || math.IsInf(y, 0) || math.IsNaN(y) {
			continue
		}
		s := math.Log2(y)
		switch k := slices.IndexFunc(pts, func(p point) bool { return p.stop > s }); {
		case k == 0:
			c.ratio[i] = float32(math.Min(pts[0].ratio*math.Exp2(pts[0].stop-s), math.MaxFloat32))
		case k < 0:
			c.ratio[i] = float32(pts[len(pts)-1].ratio)
		default:
			a, b := pts[k-1], pts[k]
			t := (s - a.stop) / (b.stop - a.stop)
			c.ratio[i] = float32(a.ratio + t*(b.ratio-a.ratio))
		}
	}
	return c
}

// curveFrom tabulates a noise-level function that is known already; nil for nil.
// Levels that it does not know stay NaN and count as unknown.
func curveFrom(sigma func(y float64) float64) *noiseCurve {
	if sigma == nil {
		return nil
	}
	c := &noiseCurve{ok: true, ratio: make([]float32, 1<<(31-curveShift))}
	for i := range c.ratio {
		y := float64(math.Float32frombits(uint32(i)<<curveShift | 1<<(curveShift-1)))
		c.ratio[i] = float32(math.NaN())
		if y > 0 && !math.IsInf(y, 0) {
			c.ratio[i] = float32(sigma(y) / y)
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
	curve := curveFrom(opt.Noise)
	if curve == nil {
		if curve, err = frame.noiseOf(ctx, lum, workers); err != nil {
			return err
		}
	}
	p := frame.Preview
	r.NoiseL, r.NoiseBase = make([]float32, p.W*p.H), make([]uint8, p.W*p.H)
	nan := float32(math.NaN())
	for i := range r.NoiseL {
		r.NoiseL[i] = nan
	}
	inv, ok := affine.Inverse(r.Map)
	if !curve.ok || !ok {
		r.note("Noise cannot be measured: the image area holds no level with enough unclipped picture.")
		return nil
	}
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
	r.sumNoise(rows, r.pixels)
	r.countNoise()
	return nil
}

type noiseRow struct {
	known, shadow, shadowKnown, noisy int
	band                              [Bands]float64
	bandN                             [Bands]int
}

func (r *Relation) sumNoise(rows []noiseRow, pixels int) {
	var t noiseRow
	for _, v := range rows {
		t.known += v.known
		t.shadow += v.shadow
		t.shadowKnown += v.shadowKnown
		t.noisy += v.noisy
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
	share := float64(t.noisy) / float64(max(1, pixels))
	r.Noisy = &share
}
