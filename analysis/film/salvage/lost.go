package salvage

import (
	"context"
	"image"
	"math"
	"sort"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"

	"golang.org/x/image/math/f64"
)

// dead are the bounds of codes that say nothing, per channel.
type dead struct{ light, dark [3]int }

// boundsOf are those of frame i: where its scan is clipped, and where the film says
// nothing that the noise does not drown.
func (g *Grid) boundsOf(i int) dead {
	l := g.frames[i].Look
	d := dead{[3]int{l.Ceiling.R, l.Ceiling.G, l.Ceiling.B}, [3]int{l.Floor.R, l.Floor.G, l.Floor.B}}
	if g.res == nil {
		return d
	}
	if g.model != nil && l.Space != nil { // what the model calls lost
		tone := l.Space.Tone()
		for c, ends := range g.model.Silent() {
			if g.noise != nil {
				d.light[c], d.dark[c] = g.halfClipped(l, c, d.light[c], d.dark[c])
			}
			d.light[c] = min(d.light[c], sort.Search(len(tone[c]), func(v int) bool { return float64(tone[c][v]) >= ends[0] }))
			d.dark[c] = max(d.dark[c], sort.Search(len(tone[c]), func(v int) bool { return float64(tone[c][v]) > ends[1] })-1)
		}
		return d
	}
	if g.bounds == nil || g.res.Curve == nil || l.Space == nil {
		if light, dark, ok := g.res.FlatCodes(i); ok {
			for c := range 3 {
				d.light[c], d.dark[c] = min(d.light[c], light[c]), max(d.dark[c], dark[c])
			}
		}
		return d
	}
	for c := range 3 {
		d.light[c], d.dark[c] = g.halfClipped(l, c, d.light[c], d.dark[c])
		light, dark := g.drowned(l, c)
		d.light[c], d.dark[c] = min(d.light[c], light), max(d.dark[c], dark)
	}
	return d
}

// halfClipped are the codes of preview pixels half of whose own pixels are clipped,
// from the codes at which those are: the rule of the masks. Where noise of the
// standard deviation s carries a tone at the floor to both sides of it and the scan
// cuts off what lies below, the mean is s/sqrt(2 pi) above the floor; so it is at the
// ceiling. The noise of single pixels is taken to be that of the preview's times the
// reduction, as the scanner's own is, which is what there is at the floor.
func (g *Grid) halfClipped(l *measure.Look, c, light, dark int) (int, int) {
	tone, f := l.Space.Tone()[c], l.Preview.Factor
	if f <= 1 || light <= dark {
		return light, dark
	}
	beyond := func(code int) float64 {
		if g.bounds == nil {
			return 0
		}
		s := g.bounds.Mean(c, float64(tone[code]), 1) * float64(f)
		if !(s > 0) { // not known
			return 0
		}
		return s / math.Sqrt(2*math.Pi)
	}
	if dark >= 0 && dark < len(tone) {
		for top := float64(tone[dark]) + beyond(dark); dark+1 < light && float64(tone[dark+1]) <= top; {
			dark++
		}
	}
	if light >= 0 && light < len(tone) {
		for low := float64(tone[light]) - beyond(light); light-1 > dark && float64(tone[light-1]) >= low; {
			light--
		}
	}
	return light, dark
}

// third of a stop in log10 exposure.
const third = 0.30102999566398119521 / 3

// drowned are the codes of channel c from which on, and down to which, a third of a
// stop is less than the noise; beyond the container where there are none.
func (g *Grid) drowned(l *measure.Look, c int) (light, dark int) {
	tone := l.Space.Tone()[c]
	k := g.res.Curve
	return speaking(len(tone), func(code int) (ratio float64, known bool) {
		y := float64(tone[code])
		if !(y > 0) {
			return 0, false
		}
		e, ok := k.LogEOf(c, -math.Log10(y))
		if !ok {
			return 0, false
		}
		a, b, s := k.At(c, e-third/2), k.At(c, e+third/2), g.bounds.Sigma(c, y)
		ratio = math.Abs(math.Pow(10, -a)-math.Pow(10, -b)) / s
		return ratio, ratio == ratio
	})
}

// speaking finds among n codes those from which on (light) and down to which (dark)
// a tone says nothing: ratio is a third of a stop over the noise at a code, where the
// roll knows it. The search goes outward from the code at which the film speaks best:
// beyond the first that says nothing it only gets flatter, and beyond what the roll
// covers lie no tones but noise about its end. Where nothing is known, or all of it
// speaks, light is n and dark is -1.
func speaking(n int, ratio func(code int) (r float64, known bool)) (light, dark int) {
	light, dark = n, -1
	step := max(1, n/4096)
	best, most := -1, 0.0
	for v := 0; v < n; v += step {
		if r, ok := ratio(v); ok && r > most {
			best, most = v, r
		}
	}
	if best < 0 {
		return light, dark
	}
	silent := func(v int) bool {
		r, ok := ratio(v)
		return ok && r < 1
	}
	for v := best; v < n; v += step {
		if silent(v) {
			light = v
			break
		}
	}
	for v := best; v >= 0; v -= step {
		if silent(v) {
			dark = v
			break
		}
	}
	return light, dark
}

// at says what a pixel has lost: nothing, light or dark tones, or (partial) a
// channel that does not carry half of the luminance.
func (d *dead) at(p []uint16) uint8 {
	var light, dark float32
	for c := range 3 {
		switch v := int(p[c]); {
		case v >= d.light[c]:
			light += weights[c]
		case v <= d.dark[c]:
			dark += weights[c]
		}
	}
	switch {
	case light+dark == 0:
		return 0
	case light+dark < 0.5:
		return partial
	case light >= dark:
		return lostLight | partial
	}
	return lostDark | partial
}

// lostMask marks what is lost on the frame's own preview: 255 where the frame has
// lost what the base frame shows.
func (g *Grid) lostMask(ctx context.Context, i int, d *dead, m f64.Aff3) ([]uint8, error) {
	p, b := g.frames[i].Look.Preview, g.frames[g.base].Look.Preview
	inv, ok := affine.Inverse(m)
	if !ok {
		return nil, nil
	}
	out := make([]uint8, p.W*p.H)
	shown, marks := g.frames[i].Look.PreviewArea(), g.frames[i].Marks
	err := parallel.Chunks(ctx, 0, p.H, 0, func(_, y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range p.W {
				k := y*p.W + x
				if d.at(p.Pix[3*k:3*k+3])&(lostLight|lostDark) == 0 {
					continue
				}
				bx, by := affine.At(inv, float64(x)+0.5, float64(y)+0.5)
				at := image.Pt(int(math.Floor(bx)), int(math.Floor(by)))
				if !at.In(g.area) || !image.Pt(x, y).In(shown) || marks.At(x, y) {
					continue
				}
				if q := 3 * (at.Y*b.W + at.X); g.lostInBase.at(b.Pix[q:q+3])&(lostLight|lostDark) == 0 {
					out[k] = 255
				}
			}
		}
	})
	return out, err
}
