package render

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/scan"

	"golang.org/x/image/math/f64"
)

func TestWithinCountsSteps(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		n := rng.IntN(40)
		a, d := rng.Int64N(400)-200, rng.Int64N(41)-20
		from := rng.Int64N(400) - 200
		to := from + rng.Int64N(300) - 20
		lo, hi := within(n, a, d, from, to)
		if lo < 0 || hi > n || lo > hi {
			t.Fatalf("within(%d, %d, %d, %d, %d) = %d, %d", n, a, d, from, to, lo, hi)
		}
		for x := range n {
			p := a + int64(x)*d
			if in := p >= from && p < to; in != (x >= lo && x < hi) {
				t.Fatalf("within(%d, %d, %d, %d, %d) = %d, %d, but step %d is at %d", n, a, d, from, to, lo, hi, x, p)
			}
		}
	}
}

// around turns by degrees and scales about a point, then shifts.
func around(cx, cy, degrees, scale, dx, dy float64) f64.Aff3 {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	s, c := scale*sin, scale*cos
	return f64.Aff3{c, s, cx - c*cx - s*cy + dx, -s, c, cy + s*cx - c*cy + dy}
}

// bilinear is the textbook formula in double precision over display bytes, at a
// continuous frame position; pixel centres lie at halves.
func bilinear(l *level, x, y float64, k uint) float64 {
	x, y = x-0.5, y-0.5
	fx, fy := math.Floor(x), math.Floor(y)
	at := func(i, j float64) float64 {
		i, j = math.Min(math.Max(i, 0), float64(l.w-1)), math.Min(math.Max(j, 0), float64(l.h-1))
		return float64(l.pix[int(j)*l.w+int(i)] >> (8 * k) & 255)
	}
	wx, wy := x-fx, y-fy
	return (at(fx, fy)*(1-wx)+at(fx+1, fy)*wx)*(1-wy) + (at(fx, fy+1)*(1-wx)+at(fx+1, fy+1)*wx)*wy
}

// A registered frame is resampled where its map says, at any angle: against the
// formula in double precision. The tolerance in bytes is that of weights in
// 1/256 over a step of 255, rounded twice.
func TestTurnedMapAgainstTheFormula(t *testing.T) {
	s := testScan(500, 400)
	l := lookOf(s, 1, image.Rect(10, 10, 490, 390))
	p := Picture{Look: l}
	p.Prepare(nil)
	for _, m := range []f64.Aff3{
		around(250, 200, 0.5, 1.003, 3.3, -2.7), around(250, 200, -0.5, 0.998, -4.1, 5.5),
		around(250, 200, 0.2, 1, 0.25, 0.75), around(250, 200, 170, 1.1, 0, 0), around(250, 200, 90, 1, 0.5, 0.25),
	} {
		p.ToThis = &m
		for _, zoom := range []float64{1, 1.7, 2, 0.8} {
			v := View{0.48, 0.55, zoom}
			dst := canvas(301, 203)
			Render(dst, p, v, Overlay{})
			pl := Port{l.Area, 301, 203}.Place(v)
			worst := 0.0
			for y := range 203 {
				for x := range 301 {
					bx, by := pl.ToBase(float64(x)+0.5, float64(y)+0.5)
					fx, fy := affine.At(m, bx, by)
					c := dst.RGBAAt(x, y)
					if fx < -0.01 || fy < -0.01 || fx > 500.01 || fy > 400.01 {
						if c != grey {
							t.Fatalf("%v at %g: %d,%d lies outside and is %v", m, zoom, x, y, c)
						}
						continue
					}
					if fx < 0.01 || fy < 0.01 || fx > 499.99 || fy > 399.99 {
						continue
					}
					for k, got := range [3]uint8{c.R, c.G, c.B} {
						worst = math.Max(worst, math.Abs(float64(got)-bilinear(p.shown.levels[0], fx, fy, uint(k))))
					}
				}
			}
			if worst > 2.5 {
				t.Errorf("%v at %g: off by %.2f display codes", m, zoom, worst)
			}
		}
	}
}

// sceneScan draws one analytic scene as a frame sees it through a map from base
// pixels.
func sceneScan(w, h int, toThis f64.Aff3) *scan.Pixels {
	inv, _ := affine.Inverse(toThis)
	p := testScan(w, h)
	for i := range w * h {
		bx, by := affine.At(inv, float64(i%w)+0.5, float64(i/w)+0.5)
		p.Pix[3*i] = uint16(30000 + 12000*math.Sin(bx/9)*math.Cos(by/13))
		p.Pix[3*i+1] = uint16(30000 + 12000*math.Sin(bx/17+by/11))
		p.Pix[3*i+2] = uint16(30000 + 12000*math.Cos(bx/23-by/7))
	}
	return p
}

// Frames of one scene lie on each other once they are registered, and do not
// without.
func TestRegisteredFramesLieOnEachOther(t *testing.T) {
	m := around(300, 200, 0.5, 1.002, 5.4, -3.6)
	base, other := sceneScan(600, 400, affine.Identity), sceneScan(600, 400, m)
	area := image.Rect(30, 20, 570, 380)
	for _, factor := range []int{1, 2} {
		a := Picture{Look: lookOf(base, factor, area)}
		b := Picture{Look: lookOf(other, factor, area), Base: area}
		for _, zoom := range []float64{0.4, 0.7, 1, 2} {
			v := View{0.5, 0.5, zoom}
			x, y, z := canvas(200, 140), canvas(200, 140), canvas(200, 140)
			Render(x, a, v, Overlay{})
			b.ToThis = nil
			Render(y, b, v, Overlay{})
			b.ToThis = &m
			Render(z, b, v, Overlay{})
			without, with := rms(x, y), rms(x, z)
			if with > 2 || without < 4*with {
				t.Errorf("factor %d at %g: %.2f display codes RMS apart registered, %.2f without", factor, zoom, with, without)
			}
		}
	}
}

func rms(a, b *image.RGBA) float64 {
	sum := 0.0
	for i := range a.Pix {
		d := float64(a.Pix[i]) - float64(b.Pix[i])
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(a.Pix)*3/4))
}

// A turn too small to be seen leaves the file's own pixels; one that is seen is
// said to be resampled.
func TestSmallTurnsKeepTheFilesPixels(t *testing.T) {
	s := testScan(900, 700)
	l := lookOf(s, 3, image.Rect(0, 0, 900, 700))
	for _, c := range []struct {
		degrees   float64
		resampled bool
	}{{0, false}, {0.02, false}, {0.1, true}, {0.5, true}} {
		m := around(450, 350, c.degrees, 1, 7.3, -2.2)
		p := Picture{Look: l, ToThis: &m, Detail: detailOf(s, l, image.Rect(0, 0, 900, 700), 1)}
		p.Prepare(nil)
		v := View{0.5, 0.5, 1}
		if got := Resampled(p, v, 400, 300); got != c.resampled {
			t.Errorf("%g degrees: resampled %v", c.degrees, got)
		}
		if c.resampled {
			continue
		}
		dst := canvas(400, 300)
		Render(dst, p, v, Overlay{})
		from, ok := FrameAt(p, v, 400, 300, 0.5, 0.5)
		if !ok {
			t.Fatal("nothing at the corner")
		}
		checkExact(t, fmt.Sprintf("%g degrees", c.degrees), dst, s.Pix, 900, 700, from, 1)
	}
	m := around(450, 350, 0.5, 1, 0, 0)
	p := Picture{Look: l, ToThis: &m}
	if Resampled(p, View{0.5, 0.5, 0.5}, 400, 300) || Resampled(p, View{0.5, 0.5, 8}, 400, 300) {
		t.Error("below 1:1, and where pixels are squares, nothing is to be said")
	}
}
