package simulate

import (
	"context"
	"math"
	"testing"
)

// interval is the 99.9 % confidence interval of a standard deviation from n
// independent normal samples, as factors of the measured one; for large n the
// deviation of s is s/sqrt(2n).
func interval(n float64) (lo, hi float64) {
	e := 3.29 / math.Sqrt(2*n)
	return 1 - e, 1 + e
}

func TestGaussian(t *testing.T) {
	var m, v, k float64
	for _, g := range gauss {
		x := float64(g)
		m += x
		v += x * x
		k += x * x * x * x
	}
	if m /= 4096; math.Abs(m) > 1e-6 {
		t.Errorf("mean %v", m)
	}
	if v /= 4096; math.Abs(v-1) > 1e-5 {
		t.Errorf("variance %v", v)
	}
	// A normal's fourth moment is 3; the tails end at 3.7 sigma.
	if k /= 4096; math.Abs(k-3) > 0.05 {
		t.Errorf("fourth moment %v", k)
	}
}

// TestWhite: noise before smoothing must be uncorrelated, between pixels and
// between channels.
func TestWhite(t *testing.T) {
	const n = 400
	get := func(x, y, c int) float64 { return float64(gauss[at(42, x, y)>>(12*c)&4095]) }
	for _, d := range [][3]int{{1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {0, 0, 1}, {2, 0, 0}, {1, -1, 2}} {
		s := 0.0
		for y := range n {
			for x := range n {
				s += get(x, y, 0) * get(x+d[0], y+d[1], d[2])
			}
		}
		// The mean of N products of independent unit normals has deviation 1/sqrt N.
		if r := s / (n * n); math.Abs(r) > 4.0/n {
			t.Errorf("correlation %v at %v", r, d)
		}
	}
}

// TestGranularity measures the grain as a microdensitometer would: the standard
// deviation of density over a 48 um disc. RMS granularity is defined so
// (a circular aperture of 48 um, mean density 1.0); Selwyn's law gives the pixel.
func TestGranularity(t *testing.T) {
	const pitch = 3.0 // um
	const side, step, radius = 1200, 20, 8
	s := Reversal()
	g := newGrain(11, side, 0)
	rows := make([][]float32, side)
	for y := range rows {
		rows[y] = make([]float32, 3*side)
		g.next(rows[y])
	}
	// One pixel first.
	var v float64
	for _, r := range rows {
		for _, x := range r {
			v += float64(x) * float64(x)
		}
	}
	n := float64(3 * side * side)
	sigma := math.Sqrt(v / n)
	// Neighbours are correlated: the kernel leaves about a third as many
	// independent samples.
	lo, hi := interval(n / 3)
	if grainShare < sigma*lo || grainShare > sigma*hi {
		t.Errorf("a pixel's share is %.4f, stated %.4f", sigma, grainShare)
	}
	for c := range 3 {
		pixel := s.Granularity(c, 1.0) * pixelShare(pitch)
		var sum float64
		discs := 0
		for cy := radius; cy < side-radius; cy += step {
			for cx := radius; cx < side-radius; cx += step {
				var m, k float64
				for y := -radius; y <= radius; y++ {
					for x := -radius; x <= radius; x++ {
						if float64(x*x+y*y)*pitch*pitch <= 24*24 {
							m += float64(rows[cy+y][3*(cx+x)+c])
							k++
						}
					}
				}
				m *= pixel / k
				sum += m * m
				discs++
			}
		}
		rms := 1000 * math.Sqrt(sum/float64(discs))
		lo, hi := interval(float64(discs))
		// The disc of whole pixels is 2 % off 48 um's area, and the kernel
		// takes 1 to 2 % at its rim.
		if s.RMS < rms*lo*0.97 || s.RMS > rms*hi*1.04 {
			t.Errorf("channel %d: RMS granularity %.2f from %d discs, stated %.1f", c, rms, discs, s.RMS)
		}
	}
}

// TestSelwyn checks the pixel's sigma against a table that was
// computed from RMS 10 by Selwyn's law, apart from this code.
func TestSelwyn(t *testing.T) {
	for _, c := range []struct{ ppi, want float64 }{{2000, 0.0335}, {3200, 0.0536}, {4000, 0.0670}, {5300, 0.0888}} {
		if got := 0.010 * pixelShare(25400/c.ppi); math.Abs(got-c.want) > 0.00006 {
			t.Errorf("%v ppi: %.4f, want %.4f", c.ppi, got, c.want)
		}
	}
}

// TestSigma compares the scatter of the pixels of flat scenes with the truth's
// sigma, in levels from deep shade to light, for both films.
func TestSigma(t *testing.T) {
	const w, h = 240, 200
	for _, s := range stocks {
		for _, stop := range []float64{-2, -1, 0, 1} {
			f := shootT(t, flat(w, h, 0.18), s, Options{Seed: 4}, stop)
			lh := f.Truth.LogExposure([3]float64{0.18, 0.18, 0.18})
			for c := range 3 {
				var m, v float64
				for i := c; i < len(f.Pixels.Pix); i += 3 {
					m += float64(f.Pixels.Pix[i])
				}
				m /= w * h
				for i := c; i < len(f.Pixels.Pix); i += 3 {
					d := float64(f.Pixels.Pix[i]) - m
					v += d * d
				}
				got := math.Sqrt(v / (w*h - 1))
				want := math.Hypot(f.Truth.Sigma(c, lh[c]), math.Sqrt(1.0/12))
				lo, hi := interval(w * h / 3)
				// First order only: the curve's bend adds a little.
				if want < got*lo*0.99 || want > got*hi*1.01 {
					t.Errorf("%s at %+v, channel %d: sigma %.2f codes, truth %.2f", s.Name, stop, c, got, want)
				}
				if e := math.Abs(m - f.Truth.Code(c, lh[c])); e > 4*got/math.Sqrt(w*h)+0.004*m {
					t.Errorf("%s at %+v, channel %d: mean %.1f, truth %.1f", s.Name, stop, c, m, f.Truth.Code(c, lh[c]))
				}
			}
		}
	}
}

func TestNoiseFree(t *testing.T) {
	f := shootT(t, flat(64, 48, 0.18), stocks[0], Options{Seed: 4}, 0)
	p, err := f.Truth.NoiseFree(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range p.Pix {
		if v != p.Pix[i%3] {
			t.Fatal("a flat scene without noise is not flat")
		}
	}
	if p.Pix[0] == f.Pixels.Pix[0] && p.Pix[3] == f.Pixels.Pix[3] && p.Pix[6] == f.Pixels.Pix[6] {
		t.Error("the frame itself has no noise")
	}
}
