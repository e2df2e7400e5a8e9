package noise

import (
	"math"

	"stopladder/analysis/film/measure"
)

// Where the preview is reduced it has lost the noise of single pixels of the scan. Tiles
// of the scan itself tell it: the variance of pixels about the mean of their preview
// pixel. It is the finest detail that a scan has, of which a picture has least.

// tile is what a tile of the scan tells of a plane.
type tile struct {
	stop   float64 // its level
	within float64 // variance of pixels about the means of their preview pixels
}

// tilesOf reads the tiles of a frame that have no clipped pixel.
func tilesOf(l *measure.Look) (out [planes][]tile) {
	t, f := l.Preview.Tiles, l.Preview.Factor
	if t.N() == 0 || l.Space == nil {
		return out
	}
	tone := l.Space.Tone()
	n := t.Side * t.Side
	lin, v := make([]float32, 3*n), make([]float64, n)
	low, high := [3]int{l.Floor.R, l.Floor.G, l.Floor.B}, [3]int{l.Ceiling.R, l.Ceiling.G, l.Ceiling.B}
each:
	for i := range t.N() {
		codes := t.At(i)
		for k, c := range codes {
			if int(c) <= low[k%3] || int(c) >= high[k%3] {
				continue each
			}
		}
		l.Space.Linear(lin, codes)
		for p := range planes {
			for q := range v {
				if p == lumPlane {
					v[q] = luminance(lin[3*q:])
				} else {
					v[q] = float64(tone[p][min(int(codes[3*q+p]), len(tone[p])-1)])
				}
			}
			mean, within := scatter(v, t.Side, f)
			if mean > 0 {
				out[p] = append(out[p], tile{math.Log2(mean), within})
			}
		}
	}
	return out
}

// scatter returns the mean of a square of side, and the variance of its pixels about the
// means of squares of f.
func scatter(v []float64, side, f int) (mean, within float64) {
	for y := 0; y < side; y += f {
		for x := 0; x < side; x += f {
			s, ss := 0.0, 0.0
			for j := range f {
				for _, p := range v[(y+j)*side+x : (y+j)*side+x+f] {
					s += p
					ss += p * p
				}
			}
			n := float64(f * f)
			mean += s
			within += ss - s*s/n
		}
	}
	n := float64(side * side)
	return mean / n, within / n
}

// inPixels returns, by zone, the variance of pixels about the means of their preview
// pixels over the variance of those; NaN where no tiles tell. As levels are, it is read
// from a quantile below the middle: picture only adds.
func (l *level) inPixels(tiles []tile) (out [zones]float64) {
	var all [zones][]share
	at := l.knotted()
	for _, t := range tiles {
		r := t.within / at.variance(knotAt(t.stop))
		z, f := zone(t.stop)
		all[z] = append(all[z], share{ratio: r, weight: 1 - f})
		all[z+1] = append(all[z+1], share{ratio: r, weight: f})
	}
	// Of a preview pixel's own pixels two slopes vary most where grain is larger than a
	// pixel, all but the mean where it is not.
	const slopes = 2
	alone := quantileOf(quantile, slopes*measure.TileCells*measure.TileCells)
	var q quantiles
	for z, s := range all {
		if out[z] = math.NaN(); weigh(s) >= leastSum {
			q.of(s, math.Inf(1))
			out[z] = q.at(quantile) / alone
		}
	}
	return out
}
