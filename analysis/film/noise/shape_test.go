package noise

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// field is Gaussian noise of variance 1, w by w pixels, blurred by a Gauss of sd pixels.
func field(rnd *rand.Rand, w int, sd float64) []float64 {
	f := make([]float64, w*w)
	for i := range f {
		f[i] = rnd.NormFloat64()
	}
	if sd == 0 {
		return f
	}
	r := int(4 * sd)
	tap := make([]float64, 2*r+1)
	power := 0.0
	for i := range tap {
		tap[i] = math.Exp(-float64((i-r)*(i-r)) / (2 * sd * sd))
		power += tap[i] * tap[i]
	}
	at := func(v int) int { return (v + w) % w }
	for range 2 { // along rows, turned over, and again
		out := make([]float64, len(f))
		for y := range w {
			for x := range w {
				s := 0.0
				for i, t := range tap {
					s += t * f[y*w+at(x+i-r)]
				}
				out[x*w+y] = s / math.Sqrt(power)
			}
		}
		f = out
	}
	return f
}

// What a block of noise reads at each lag once its plane is taken out, and how many
// values it is worth, against blocks of simulated noise, at home and read between its
// pixels.
func TestBlocksOfNoise(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 4))
	const side, w = 16, 1024
	for _, sd := range []float64{0, math.Sqrt2, 2 * math.Sqrt2} {
		b := blocksOf(1, side)
		s := make(shape, len(b.kinds))
		if s[0] = 1; sd > 0 {
			s[0] = 0
			s[2+int(math.Round(2*math.Log2(sd/0.5)))] = 1
		}
		f := field(rnd, w, sd)
		for _, at := range [][2]float64{{0, 0}, {0.5, 0.25}} {
			var got [lagCount]float64
			var n, v, vv float64
			wk := newWork(side)
			for y := 0; y+side < w; y += side {
				for x := 0; x+side < w; x += side {
					for j := range side {
						for i := range side {
							p := f[(y+j)*w+x+i:]
							p = p[:min(len(p), w+2)]
							wk.a[j*side+i] = 10 + (1-at[0])*(1-at[1])*p[0] + at[0]*(1-at[1])*p[1]
							if at[1] > 0 {
								wk.a[j*side+i] += (1-at[0])*at[1]*p[w] + at[0]*at[1]*p[w+1]
							}
						}
					}
					for i := range wk.b {
						wk.b[i] = 10
					}
					o, ok := wk.observe(10, 1, 0, 0)
					if !ok {
						t.Fatal("a block of noise was refused")
					}
					n++
					v += o.v
					vv += o.v * o.v
					for l := range got {
						got[l] += float64(o.lag[l])
					}
				}
			}
			for l := range got {
				want := b.expected(s, l, at[0]*(1-at[0]), at[1]*(1-at[1]))
				if math.Abs(got[l]/n-want) > 0.015 {
					t.Errorf("blur %.1f read at %v, lag %v: %.3f, expected %.3f", sd, at, lags[l], got[l]/n, want)
				}
			}
			if at[0] == 0 {
				free := 2 * (v / n) * (v / n) / (vv/n - v/n*v/n)
				if want := b.freedom(s); math.Abs(free/want-1) > 0.12 {
					t.Errorf("blur %.1f: a block is worth %.1f values, expected %.1f", sd, free, want)
				}
			}
		}
	}
}

// pairsOf lays two fields of noise, s1 and s2 times as high, on one grey and reads the
// blocks of their difference.
func pairsOf(a, b []float64, w, side int, s1, s2 float64) (out []observation) {
	const grey = 0.2
	k := newWork(side)
	for y := 0; y+side <= w; y += side {
		for x := 0; x+side <= w; x += side {
			for j := range side {
				for i := range side {
					k.a[j*side+i] = grey + s1*a[(y+j)*w+x+i]
					k.b[j*side+i] = grey + s2*b[(y+j)*w+x+i]
				}
			}
			if o, ok := k.observe(grey, 1, 0, 0); ok {
				o.room = [2]float64{grey, grey}
				out = append(out, o)
			}
		}
	}
	return out
}

// The height and the autocorrelation that blocks of known fields tell: against the height
// that they were made with, and against the autocorrelation of the whole field, computed
// independently: the inverse transform of its power spectrum (Wiener and Khinchin), by
// gonum's FFT.
func TestAutocorrelation(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 15))
	const w, sigma = 768, 0.01
	for _, c := range []struct{ blur, white float64 }{{0, 0}, {0.8, 0}, {1.2, 0}, {1.6, 0.5}, {2, 0}, {3, 0}} {
		make1 := func() []float64 {
			f := field(rnd, w, c.blur)
			for i := range f {
				f[i] += c.white * rnd.NormFloat64()
			}
			return f
		}
		a, b := make1(), make1()
		side := sides[0]
		if c.blur > 1.5 {
			side = sides[1]
		}
		of := blocksOf(1, side)
		l := &Levels{factor: 1, kinds: of.kinds, Viewing: Scale{Step: 1}}
		l.plane[lumPlane] = fit(pairsOf(a, b, w, side, sigma, sigma), nil, of)
		want := sigma * math.Sqrt(1+c.white*c.white)
		if got := l.SigmaY(0.2); math.Abs(got/want-1) > 0.05 {
			t.Errorf("blur %g, white %g: height %.5f, made with %.5f", c.blur, c.white, got, want)
		}
		rho := autocorrelation(a, w)
		for d := 0; d <= 6; d++ {
			if got := l.Alike(0.2, d); math.Abs(got-rho[d]) > 0.04 {
				t.Errorf("blur %g, white %g: alike %.3f at %d pixels, by the spectrum %.3f", c.blur, c.white, got, d, rho[d])
			}
		}
		// Means over squares, cut out of the field wherever they fall.
		for _, side := range []float64{1.318, 2, 3.4, 8} {
			want := sigma * math.Sqrt(meansOf(a, w, side))
			if got := l.Mean(lumPlane, 0.2, side); math.Abs(got/want-1) > 0.06 {
				t.Errorf("blur %g, white %g: means over %.3g pixels vary by %.5f, the field's by %.5f", c.blur, c.white, side, got, want)
			}
		}
	}
}

// autocorrelation is that of a field along its rows.
func autocorrelation(f []float64, w int) []float64 {
	fft := fourier.NewFFT(w)
	power := make([]complex128, w/2+1)
	for y := range w {
		for i, c := range fft.Coefficients(nil, f[y*w:(y+1)*w]) {
			power[i] += c * cmplx.Conj(c)
		}
	}
	power[0] = 0
	out := fft.Sequence(nil, power)
	for d := len(out) - 1; d >= 0; d-- {
		out[d] /= out[0]
	}
	return out
}

// meansOf is the variance of the means over squares of side that lie wall to wall.
func meansOf(f []float64, w int, side float64) float64 {
	cut := func(v func(i int) float64) []float64 {
		var out []float64
		for n := 0; float64(n+1)*side < float64(w); n++ {
			lo, hi := float64(n)*side, float64(n+1)*side
			s := 0.0
			for i := int(lo); float64(i) < hi; i++ {
				s += v(i) * (math.Min(hi, float64(i+1)) - math.Max(lo, float64(i)))
			}
			out = append(out, s/side)
		}
		return out
	}
	var rows [][]float64
	for y := range w {
		rows = append(rows, cut(func(i int) float64 { return f[y*w+i] }))
	}
	var n, s, ss float64
	for x := range rows[0] {
		for _, v := range cut(func(i int) float64 { return rows[i][x] }) {
			n, s, ss = n+1, s+v, ss+v*v
		}
	}
	return ss/n - s*s/n/n
}

// Within is the variance in squares of preview pixels, also where they were read between.
func TestWithin(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 15))
	const w, side = 900, 4
	f := field(rnd, w, math.Sqrt2)
	of := blocksOf(1, 16)
	l := &Levels{factor: 1, kinds: of.kinds, Viewing: Scale{Step: 1}}
	l.plane[lumPlane] = fit(pairsOf(f, field(rnd, w, math.Sqrt2), w, 16, 0.01, 0.01), nil, of)
	for _, at := range []float64{0, 0.3} {
		var sum, n float64
		for y := 0; y+side+1 < w; y += side {
			for x := 0; x+side+1 < w; x += side {
				var s, ss float64
				for j := range side {
					for i := range side {
						p := f[(y+j)*w+x+i:]
						v := (1-at)*((1-at)*p[0]+at*p[1]) + at*((1-at)*p[w]+at*p[w+1])
						s, ss = s+v, ss+v*v
					}
				}
				sum += (ss - s*s/side/side) / (side*side - 1)
				n++
			}
		}
		kept := (1 - 2*at*(1-at)) * (1 - 2*at*(1-at))
		if got, want := l.Within(0.2, side, kept), 1e-4*sum/n; math.Abs(got/want-1) > 0.08 {
			t.Errorf("read at %g: %.3g, the field has %.3g", at, got, want)
		}
	}
}

// Light cut off at a ceiling, against draws.
func TestClipped(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 15))
	for _, mean := range []float64{0.5, 0.9, 0.97, 1.02} {
		const n, sigma = 400_000, 0.05
		var s, ss float64
		for range n {
			v := math.Min(1, mean+sigma*rnd.NormFloat64())
			s, ss = s+v, ss+v*v
		}
		want := math.Sqrt(ss/n - s*s/n/n)
		if got := Clipped(mean, sigma, 1); math.Abs(got/want-1) > 0.01 {
			t.Errorf("light %g: %.5f, drawn %.5f", mean, got, want)
		}
	}
	if !math.IsNaN(Clipped(0.5, math.NaN(), 1)) {
		t.Error("unknown noise became known")
	}
}

// The viewing scale: 2048 pixels along the longest side, or the scan's own.
func TestViewing(t *testing.T) {
	for longest, want := range map[int]Scale{900: {900, 1, true}, 2048: {2048, 1, false}, 4096: {2048, 2, false}, 7000: {2048, 7000.0 / 2048, false}} {
		if got := ViewingOf(longest); got != want {
			t.Errorf("%d pixels: %+v", longest, got)
		}
	}
}
