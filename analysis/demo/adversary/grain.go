package adversary

import (
	"math"
	"math/rand/v2"
)

// gaussKernel returns the taps of a Gauss blur of a standard deviation in pixels, such
// that white noise of variance 1 keeps that of 1 in one dimension only when scaled by
// unit; the taps themselves add up to 1.
func gaussKernel(sd float64) []float32 {
	r := int(math.Ceil(3.5 * sd))
	k := make([]float32, 2*r+1)
	sum := 0.0
	for i := range k {
		v := math.Exp(-float64((i-r)*(i-r)) / (2 * sd * sd))
		k[i] = float32(v)
		sum += v
	}
	for i := range k {
		k[i] /= float32(sum)
	}
	return k
}

// power returns the sum of the squares of the taps: by how much a blur lowers the
// variance of white noise, in one dimension.
func power(k []float32) (s float64) {
	for _, v := range k {
		s += float64(v) * float64(v)
	}
	return s
}

func blurRow(dst, src []float32, k []float32) {
	r, w := len(k)/2, len(src)
	for x := range dst {
		var s float32
		if x >= r && x < w-r {
			for i, t := range k {
				s += t * src[x-r+i]
			}
		} else {
			for i, t := range k {
				s += t * src[min(w-1, max(0, x-r+i))]
			}
		}
		dst[x] = s
	}
}

func blurRows(dst, src []float32, w, h int, k []float32) {
	bands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			blurRow(dst[y*w:(y+1)*w], src[y*w:(y+1)*w], k)
		}
	})
}

func blurColumns(dst, src []float32, w, h int, k []float32) {
	r := len(k) / 2
	bands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			out := dst[y*w : (y+1)*w]
			clear(out)
			for i, t := range k {
				row := src[min(h-1, max(0, y-r+i))*w:]
				for x := range out {
					out[x] += t * row[x]
				}
			}
		}
	})
}

// field is a stream of rows of grain: noise of mean 0 and variance 1, blurred by a
// Gauss. Each row of its white noise has a seed of its own, so that parts of a frame can
// be made apart and agree.
type field struct {
	seed, id uint64
	w        int
	k        []float32
	unit     float32
	held     [][]float32 // blurred along the row, by row modulo the length of k
	at       []int
}

func newField(seed, id uint64, w int, sd float64) *field {
	f := &field{seed: seed, id: id, w: w, k: gaussKernel(sd)}
	f.unit = float32(1 / power(f.k))
	f.held = make([][]float32, len(f.k))
	f.at = make([]int, len(f.k))
	for i := range f.at {
		f.at[i] = math.MinInt
	}
	return f
}

// row fills out with row y.
func (f *field) row(out []float32, y int) {
	r := len(f.k) / 2
	clear(out)
	for i, t := range f.k {
		src := f.white(y - r + i)
		t *= f.unit
		for x := range out {
			out[x] += t * src[x]
		}
	}
}

// white is row y of the noise, blurred along itself.
func (f *field) white(y int) []float32 {
	n := len(f.k)
	slot := ((y % n) + n) % n
	if f.at[slot] == y {
		return f.held[slot]
	}
	r := n / 2
	rnd := rand.New(rand.NewPCG(f.seed*0x9e3779b97f4a7c15+f.id, uint64(int64(y))))
	raw := make([]float32, f.w+2*r)
	for x := range raw {
		raw[x] = float32(rnd.NormFloat64())
	}
	if f.held[slot] == nil {
		f.held[slot] = make([]float32, f.w)
	}
	out := f.held[slot]
	for x := range out {
		var s float32
		for i, t := range f.k {
			s += t * raw[x+i]
		}
		out[x] = s
	}
	f.at[slot] = y
	return out
}

// left returns the standard deviation that is left of noise of variance 1, made by a
// Gauss blur of sd pixels, when areas of side by side pixels are averaged that lie wall
// to wall; side may be any number from 1.
func left(sd, side float64) float64 {
	if side <= 1 {
		return 1
	}
	k := gaussKernel(sd)
	rho := make([]float64, len(k))
	for d := range rho {
		for i := d; i < len(k); i++ {
			rho[d] += float64(k[i]) * float64(k[i-d])
		}
		rho[d] /= power(k)
	}
	// One dimension's variance: that of two is its square, of which this is the root.
	return areaVariance(side, func(d int) float64 {
		if d >= len(rho) {
			return 0
		}
		return rho[d]
	})
}

// areaVariance returns the mean variance, in one dimension, of the means over stretches of
// pixels that follow on each other, for an autocorrelation rho.
func areaVariance(side float64, rho func(d int) float64) float64 {
	const phases = 100
	sum := 0.0
	for p := range phases {
		_, lo := math.Modf(float64(p) * side)
		hi := lo + side
		var w []float64
		for x := 0.0; x < hi; x++ {
			w = append(w, (math.Min(hi, x+1)-math.Max(lo, x))/side)
		}
		for i := range w {
			for j := range w {
				sum += w[i] * w[j] * rho(max(i-j, j-i)) / phases
			}
		}
	}
	return sum
}
