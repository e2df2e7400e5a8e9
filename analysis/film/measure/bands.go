package measure

import (
	"context"
	"image"
	"sync"

	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
)

// The bands' limits in relative luminance: one stop to either side of 18 %.
const (
	shadowTop    = 0.09
	highlightLow = 0.36
)

// How the bands are fixed on the base frame, in preview pixels: the luminance
// is averaged over 5 x 5 so that grain does not fray the bands, and what lies
// within 3 of another band is left out of the reading, so that a few pixels of
// misregistration do no harm.
const (
	bandSmooth = 2
	bandErode  = 3
	bandLeast  = 0.005 // of the image area: less is not measured
	coreLeast  = 0.0005
)

// ground is what Relate needs of the base frame; it is made once.
type ground struct {
	area  image.Rectangle // preview pixels
	bands []uint8         // over area: 1 + Band
	core  []uint8         // bands without their edges; 0 elsewhere
	share [Bands]float64
	mean  [Bands]float64 // luminance
	cores [Bands]int
	own   [Bands]bandSum // the base frame's own colours
	slope plane          // lightnessSlope of luminance averaged as the noise wants it
	level []uint8        // and its baseLevel
}

// lookCache keeps what is derived from a look on first use.
type lookCache struct {
	mu     sync.Mutex
	ground *ground
}

func (l *Look) makeGround(ctx context.Context, workers int) (*ground, error) {
	l.cache.mu.Lock()
	defer l.cache.mu.Unlock()
	if l.cache.ground != nil {
		return l.cache.ground, nil
	}
	lum, err := l.luminance(ctx, workers)
	if err != nil {
		return nil, err
	}
	g := &ground{area: lum.r}
	smooth, err := lum.box(ctx, min(bandSmooth, min(lum.r.Dx(), lum.r.Dy())/32), workers)
	if err != nil {
		return nil, err
	}
	if g.slope, err = lum.box(ctx, noiseLocal, workers); err != nil {
		return nil, err
	}
	g.level = make([]uint8, len(g.slope.v))
	if err = parallel.Chunks(ctx, workers, len(g.level), 1<<16, func(_, lo, hi int) {
		for i := lo; i < hi; i++ {
			y := g.slope.v[i]
			g.slope.v[i], g.level[i] = lightnessSlope(y), baseLevel(y)
		}
	}); err != nil {
		return nil, err
	}
	g.bands = make([]uint8, len(smooth.v))
	var n [Bands]int
	for i, y := range smooth.v {
		b := bandOf(y)
		g.bands[i] = 1 + uint8(b)
		n[b]++
		g.mean[b] += float64(y)
	}
	r := min(bandErode, min(g.area.Dx(), g.area.Dy())/64)
	g.core = erode(g.bands, g.area.Dx(), g.area.Dy(), r)
	for _, b := range g.core {
		if b > 0 {
			g.cores[b-1]++
		}
	}
	for b := range n {
		g.share[b] = float64(n[b]) / float64(max(1, len(g.bands)))
		g.mean[b] /= float64(max(1, n[b]))
	}
	if g.own, err = sumBands(ctx, g, l, affine.Identity, nil, workers); err != nil {
		return nil, err
	}
	l.cache.ground = g
	return g, nil
}

func bandOf(y float32) Band {
	switch {
	case y < shadowTop:
		return Shadows
	case y <= highlightLow:
		return Midtones
	}
	return Highlights
}

// erode keeps a label where the square of side 2r+1 around it has no other and
// lies inside the picture.
func erode(in []uint8, w, h, r int) []uint8 {
	out := make([]uint8, len(in))
	if r == 0 {
		copy(out, in)
		return out
	}
	mid := make([]uint8, len(in))
	for y := range h {
		keepRuns(mid[y*w:(y+1)*w], in[y*w:(y+1)*w], r)
	}
	// Columns: run[x] is how many rows up to y hold the same label at x.
	run := make([]int, w)
	for y := range h {
		for x := range w {
			i := y*w + x
			switch {
			case mid[i] == 0:
				run[x] = 0
			case y > 0 && mid[i-w] == mid[i]:
				run[x]++
			default:
				run[x] = 1
			}
			if run[x] >= 2*r+1 {
				out[i-r*w] = mid[i]
			}
		}
	}
	return out
}

// keepRuns keeps labels that have r equal neighbours at both sides.
func keepRuns(dst, src []uint8, r int) {
	run := 0
	for x, b := range src {
		switch {
		case b == 0:
			run = 0
		case x > 0 && src[x-1] == b:
			run++
		default:
			run = 1
		}
		if run >= 2*r+1 {
			dst[x-r] = b
		}
	}
}

// BandCodes are the mean code values of the base frame's own tonal bands, read
// over the same places as their colours; n is how many preview pixels each mean
// is of, 0 where the base frame has no such band.
func (l *Look) BandCodes(ctx context.Context) (codes [Bands][3]float64, n [Bands]int, err error) {
	g, err := l.makeGround(ctx, Options{}.workers())
	if err != nil {
		return codes, n, err
	}
	w := g.area.Dx()
	for i, b := range g.core {
		if b == 0 {
			continue
		}
		at := (g.area.Min.Y+i/w)*l.Preview.W + g.area.Min.X + i%w
		n[b-1]++
		for c := range 3 {
			codes[b-1][c] += float64(l.Preview.Pix[3*at+c])
		}
	}
	for b := range codes {
		for c := range 3 {
			codes[b][c] /= float64(max(1, n[b]))
		}
	}
	return codes, n, nil
}

// BandLevels returns the mean luminance of the base frame's own tonal bands, edges and
// all; 0 where the base frame has no such band.
func (l *Look) BandLevels(ctx context.Context) (y [Bands]float64, err error) {
	g, err := l.makeGround(ctx, Options{}.workers())
	if err != nil {
		return y, err
	}
	for b := range y {
		if g.share[b] >= bandLeast {
			y[b] = g.mean[b]
		}
	}
	return y, nil
}

// BandOf is the tonal band of a relative luminance of the base frame.
func BandOf(y float64) Band { return bandOf(float32(y)) }
