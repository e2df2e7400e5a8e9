package noise

import (
	"math"
	"sync"
)

// The autocorrelation of the noise is a mixture of kinds of known form: noise of the
// scan's single pixels, and grain blurred by a Gauss of widths from half a pixel to
// four preview pixels, a root of two apart, which together come near to any grain that
// falls off smoothly; and noise whose neighbours differ, which sharpening leaves. The
// power spectrum of each is nowhere negative, and shares are not, so the mixture is the
// autocorrelation of some noise. That it is known beyond the lags that a block tells is
// what makes up for the part that taking out a plane takes away.

// lags are the pairs of distances (preview pixels) at which blocks are read.
var lags = [...][2]int{{0, 0}, {1, 0}, {1, 1}, {2, 0}, {3, 0}, {4, 0}, {6, 0}}

const lagCount = len(lags)

// kind is one kind of noise, whose variance in a pixel of the scan is 1: a sum, in equal
// parts, of products of an autocorrelation along the rows and one along the columns.
type kind [][2]sequence

// sequence is an autocorrelation in one dimension by distance, pixels of the scan; 0
// beyond its end.
type sequence []float64

func (s sequence) at(d int) float64 {
	if d = max(d, -d); d < len(s) {
		return s[d]
	}
	return 0
}

// bell is the autocorrelation of white noise blurred by a Gauss of a standard deviation.
func bell(sd float64) sequence {
	s := make(sequence, int(math.Ceil(6*sd))+1)
	for d := range s {
		s[d] = math.Exp(-float64(d*d) / (4 * sd * sd))
	}
	return s
}

// averaged returns the variance, in one dimension, of the mean over a stretch of side
// pixels of the scan, 1 or more, whose ends cut pixels wherever they fall: the mean over
// all phases.
func (s sequence) averaged(side float64) float64 {
	const phases = 32
	sum := 0.0
	for p := range phases {
		lo := (float64(p) + 0.5) / phases
		hi := lo + side
		if side == math.Floor(side) {
			lo, hi = 0, side // whole pixels
		}
		var w []float64
		for x := 0.0; x < hi; x++ {
			w = append(w, (math.Min(hi, x+1)-math.Max(lo, x))/side)
		}
		for d := range min(len(s), len(w)) {
			pairs := 0.0
			for i := d; i < len(w); i++ {
				pairs += w[i] * w[i-d]
			}
			if d > 0 {
				pairs *= 2
			}
			sum += pairs * s[d] / phases
		}
	}
	return sum
}

// reduced returns the autocovariance, in one dimension, of means over f pixels of the
// scan by distance in such means, n of them.
func (s sequence) reduced(f, n int) sequence {
	out := make(sequence, n)
	for d := range out {
		for m := 1 - f; m < f; m++ {
			out[d] += float64(f-max(m, -m)) / float64(f*f) * s.at(f*d+m)
		}
	}
	return out
}

// shifted returns the autocovariance of noise read between its pixels by straight
// lines: at is the mean of t(1-t) over the places t between them.
func (s sequence) shifted(at float64) sequence {
	out := make(sequence, len(s)-1)
	for d := range out {
		out[d] = (1-2*at)*s[d] + at*(s.at(d-1)+s.at(d+1))
	}
	return out
}

// kindsOf lists the kinds for previews reduced by a factor.
func kindsOf(factor int) (out []kind) {
	white := sequence{1}
	edgy := sequence{1, -0.5} // power 1 - cos w
	out = append(out, kind{{white, white}}, kind{{edgy, white}, {white, edgy}})
	for sd := 0.5; sd < 4*float64(factor)+0.1; sd *= math.Sqrt2 {
		out = append(out, kind{{bell(sd), bell(sd)}})
	}
	return out
}

// averaged returns the variance of the mean over squares of side pixels of the scan.
func (k kind) averaged(side float64) (v float64) {
	if side <= 1 {
		return 1
	}
	for _, t := range k {
		v += t[0].averaged(side) * t[1].averaged(side)
	}
	return v / float64(len(k))
}

// blocks knows what square blocks of noise of each kind read, the plane taken out.
type blocks struct {
	factor, side int
	kinds        []kind
	// seen is the covariance at each lag in a block, of kind k, for noise read between
	// pixels: it goes as a + b x + c y + d x y with the means of t(1-t) along x and y.
	seen [][lagCount][4]float64
	// alike is the trace of the product of the covariance matrices of two kinds.
	alike [][]float64
}

var blocksMade sync.Map

// blocksOf returns the blocks for a reduction of the preview and a side in its pixels.
func blocksOf(factor, side int) *blocks {
	made, _ := blocksMade.LoadOrStore([2]int{factor, side}, sync.OnceValue(func() *blocks { return makeBlocks(factor, side) }))
	return made.(func() *blocks)()
}

func makeBlocks(factor, side int) *blocks {
	b := &blocks{factor: factor, side: side, kinds: kindsOf(factor)}
	type product [2]sequence // along x and y, by preview pixels
	terms := make([][]product, len(b.kinds))
	b.seen = make([][lagCount][4]float64, len(b.kinds))
	for k, of := range b.kinds {
		for _, t := range of {
			x, y := t[0].reduced(factor, side+1), t[1].reduced(factor, side+1)
			terms[k] = append(terms[k], product{x, y})
			const at = 0.25
			var v [4][lagCount]float64
			for i, s := range [4]product{{x, y}, {x.shifted(at), y}, {x, y.shifted(at)}, {x.shifted(at), y.shifted(at)}} {
				v[i] = planeless(side, s[0], s[1])
			}
			for l := range lagCount {
				o, parts := &b.seen[k][l], float64(len(of))
				o[0] += v[0][l] / parts
				o[1] += (v[1][l] - v[0][l]) / at / parts
				o[2] += (v[2][l] - v[0][l]) / at / parts
				o[3] += (v[3][l] - v[2][l] - v[1][l] + v[0][l]) / (at * at) / parts
			}
		}
	}
	b.alike = make([][]float64, len(b.kinds))
	for k := range b.kinds {
		b.alike[k] = make([]float64, len(b.kinds))
		for l := range b.kinds {
			for _, s := range terms[k] {
				for _, t := range terms[l] {
					b.alike[k][l] += trace(side, s[0], s[1], t[0], t[1]) / float64(len(terms[k])*len(terms[l]))
				}
			}
		}
	}
	return b
}

// unitVectors are, in one dimension, a constant and a slope.
func unitVectors(n int) (flat, slope []float64) {
	flat, slope = make([]float64, n), make([]float64, n)
	length := math.Sqrt(float64(n) * float64(n*n-1) / 12)
	for i := range n {
		flat[i], slope[i] = 1/math.Sqrt(float64(n)), (float64(i)-float64(n-1)/2)/length
	}
	return flat, slope
}

// through is the matrix of a sequence times a vector.
func (s sequence) through(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range out {
		for j := range v {
			out[i] += s.at(i-j) * v[j]
		}
	}
	return out
}

func dot(a, b []float64) (s float64) {
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

// planeless returns the expected mean products at all lags in a block of n by n of noise
// with the autocovariance x*y, after its plane is taken out: the covariance matrix
// (1-Q) C (1-Q), with Q the projection on the planes.
func planeless(n int, x, y sequence) (out [lagCount]float64) {
	flat, slope := unitVectors(n)
	at := [3][2][]float64{{flat, flat}, {slope, flat}, {flat, slope}} // along x, along y
	var cx, cy [3][]float64
	var inner [3][3]float64
	for m, v := range at {
		cx[m], cy[m] = x.through(v[0]), y.through(v[1])
	}
	for m := range at {
		for k := range at {
			inner[m][k] = dot(at[m][0], cx[k]) * dot(at[m][1], cy[k])
		}
	}
	for l, lag := range lags {
		sum, pairs := 0.0, 0.0
		for _, d := range [2][2]int{lag, {lag[1], lag[0]}} {
			for v := 0; v+d[1] < n; v++ {
				for u := 0; u+d[0] < n; u++ {
					w, z := u+d[0], v+d[1]
					c := x.at(d[0]) * y.at(d[1])
					for m := range at {
						p, q := at[m][0][u]*at[m][1][v], at[m][0][w]*at[m][1][z]
						c -= p*cx[m][w]*cy[m][z] + q*cx[m][u]*cy[m][v]
						for k := range at {
							c += p * inner[m][k] * at[k][0][w] * at[k][1][z]
						}
					}
					sum += c
					pairs++
				}
			}
		}
		out[l] = sum / pairs
	}
	return out
}

// trace is that of (1-Q) C (1-Q) D, with C and D the covariances a*b and c*d of blocks.
func trace(n int, a, b, c, d sequence) float64 {
	flat, slope := unitVectors(n)
	at := [3][2][]float64{{flat, flat}, {slope, flat}, {flat, slope}}
	whole := func(s, t sequence) (sum float64) {
		for i := range n {
			for j := range n {
				sum += s.at(i-j) * t.at(i-j)
			}
		}
		return sum
	}
	sum := whole(a, c) * whole(b, d)
	var ax, by, cx, dy [3][]float64
	for m, v := range at {
		ax[m], by[m], cx[m], dy[m] = a.through(v[0]), b.through(v[1]), c.through(v[0]), d.through(v[1])
		sum -= 2 * dot(ax[m], cx[m]) * dot(by[m], dy[m])
	}
	for _, v := range at {
		for k := range at {
			sum += dot(v[0], ax[k]) * dot(v[1], by[k]) * dot(v[0], cx[k]) * dot(v[1], dy[k])
		}
	}
	return sum
}

// shape is a mixture: the share of each kind in the variance of a preview pixel, as the
// kind's variance in a pixel of the scan.
type shape []float64

// averaged returns the variance of means over squares of side pixels of the scan, where
// that of a preview pixel is 1.
func (s shape) averaged(of []kind, side float64) (v float64) {
	for k, w := range s {
		if w > 0 {
			v += w * of[k].averaged(side)
		}
	}
	return v
}

// expected is what a block reads at a lag of noise of a shape whose preview pixels vary
// by 1, read between its pixels.
func (b *blocks) expected(s shape, lag int, x, y float64) (v float64) {
	for k, w := range s {
		c := &b.seen[k][lag]
		v += w * (c[0] + c[1]*x + c[2]*y + c[3]*x*y)
	}
	return v
}

// freedom is how many independent values a block of noise of a shape is worth
// (Satterthwaite): the square of the mean of its variance over half the variance of that.
func (b *blocks) freedom(s shape) float64 {
	n := float64(b.side * b.side)
	mean, square := 0.0, 0.0
	for k, w := range s {
		mean += w * b.seen[k][0][0] * n
		for l, v := range s {
			square += w * v * b.alike[k][l]
		}
	}
	return mean * mean / square
}

// normal scales a shape so that the variance of a preview pixel is 1; false where there
// is nothing.
func (s shape) normal(b *blocks) bool {
	sum := s.averaged(b.kinds, float64(b.factor))
	for k := range s {
		s[k] /= sum
	}
	return sum > 0
}

// nonNegative solves a x = y in least squares for an x that is nowhere negative
// (Lawson and Hanson's problem), by descent along one coordinate after another.
func nonNegative(a [][]float64, y []float64) []float64 {
	n := len(a[0])
	g, h := make([][]float64, n), make([]float64, n)
	for i := range n {
		g[i] = make([]float64, n)
		for r := range a {
			h[i] += a[r][i] * y[r]
			for j := range n {
				g[i][j] += a[r][i] * a[r][j]
			}
		}
	}
	x := make([]float64, n)
	for range 20000 {
		moved := 0.0
		for i := range n {
			if g[i][i] <= 0 {
				continue
			}
			v := math.Max(0, x[i]+(h[i]-dot(g[i], x))/g[i][i])
			moved = math.Max(moved, math.Abs(v-x[i]))
			x[i] = v
		}
		if moved < 1e-7 {
			break
		}
	}
	return x
}
