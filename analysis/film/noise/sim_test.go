package noise

import (
	"context"
	"math"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
)

// roll is a simulated roll of the courtyard: full of texture, in sun and in deep
// shade. clean are the same frames without grain and scanner noise.
type roll struct {
	frames []response.Frame
	clean  []*measure.Look
	res    *response.Result
	base   int
}

func shoot(t testing.TB, stock simulate.Stock, o simulate.Options) *roll {
	t.Helper()
	ctx := context.Background()
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	out := &roll{}
	for i, s := range simulate.DefaultStops() {
		f, err := simulate.Shoot(ctx, r, stock, o, s)
		if err != nil {
			t.Fatal(err)
		}
		noiseless, err := f.Truth.NoiseFree(ctx)
		if err != nil {
			t.Fatal(err)
		}
		area := f.Truth.Area
		l, err := measure.NewLook(ctx, f.Pixels, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		c, err := measure.NewLook(ctx, noiseless, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		a := f.Truth.FromBase
		out.frames = append(out.frames, response.Frame{Look: l, Stop: s, StopKnown: true, Map: a})
		out.clean = append(out.clean, c)
		if s == 0 {
			out.base = i
		}
	}
	if out.res, err = response.Fit(ctx, out.frames, out.base, response.Options{}); err != nil {
		t.Fatal(err)
	}
	return out
}

// truth is what the noise of a frame's preview is, by level of one plane.
type truth struct{ light, sigma, share float64 }

func (r *roll) truth(i, plane int) (out []truth) {
	a, b := r.frames[i].Look, r.clean[i]
	p := a.Preview
	f := p.Factor
	var n, s, m [48]float64
	all := 0.0
	lin, lib := make([]float32, 3*p.W), make([]float32, 3*p.W)
	for y := a.Area.Min.Y/f + 2; y < a.Area.Max.Y/f-2; y++ {
		a.Space.Linear(lin, p.Pix[3*p.W*y:3*p.W*(y+1)])
		b.Space.Linear(lib, b.Preview.Pix[3*p.W*y:3*p.W*(y+1)])
		for x := a.Area.Min.X/f + 2; x < a.Area.Max.X/f-2; x++ {
			all++
			k := p.W*y + x
			if a.BlownShare[k]|a.BlockedShare[k]|b.BlownShare[k]|b.BlockedShare[k] != 0 {
				continue
			}
			var u, v float64
			if plane == lumPlane {
				u, v = luminance(lin[3*x:]), luminance(lib[3*x:])
			} else {
				u, v = float64(a.Space.Tone()[plane][p.Pix[3*k+plane]]), float64(b.Space.Tone()[plane][b.Preview.Pix[3*k+plane]])
			}
			if !(v > 0) {
				continue
			}
			q := min(max(int(math.Floor(math.Log2(v)*2+32)), 0), len(n)-1)
			n[q]++
			s[q] += (u - v) * (u - v)
			m[q] += v
		}
	}
	for q := range n {
		if n[q] > 0.01*all {
			out = append(out, truth{m[q] / n[q], math.Sqrt(s[q] / n[q]), n[q] / all})
		}
	}
	return out
}

// The courtyard is full of texture, in the sun and in deep shade, and texture must
// not be taken for noise: levels of all frames and planes against the same frames
// without noise. Above the scanner's floor, where its read noise is less than half
// of the variance, levels must be within 10 %; one in fifty may be further
// off, and none further than 12 %.
func TestLevelsAgainstSimulator(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: simulated rolls take seconds")
	}
	for _, c := range []struct {
		name  string
		stock simulate.Stock
		o     simulate.Options
	}{
		{"reversal", simulate.Reversal(), simulate.Options{W: 1200, H: 1039}},
		{"negative, moved", simulate.Negative(), simulate.Options{W: 1200, H: 1039, Seed: 3, MaxShift: 0.005, MaxRotation: 0.3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := shoot(t, c.stock, c.o)
			l, err := Estimate(context.Background(), r.res, r.frames, Options{})
			if err != nil {
				t.Fatal(err)
			}
			for k := range planes {
				var all []truth
				for i := range r.frames {
					all = append(all, r.truth(i, k)...)
				}
				floor := math.Sqrt2 * simulate.DefaultScanner().Read
				if k == lumPlane { // of three channels with noises of their own
					floor *= math.Sqrt(0.2126*0.2126 + 0.7152*0.7152 + 0.0722*0.0722)
				}
				n, off, sum, squares := 0, 0, 0.0, 0.0
				for _, v := range all {
					if v.sigma <= floor {
						continue
					}
					got := l.plane[k].at(v.light) / v.sigma
					n++
					sum += got - 1
					squares += (got - 1) * (got - 1)
					if !(got >= 0.9 && got <= 1.1) {
						off++
					}
					if !(got >= 0.88 && got <= 1.12) {
						t.Errorf("plane %d: light %.5f has noise %.5f, read is %.2f of it", k, v.light, v.sigma, got)
					}
				}
				if n < 40 || off*50 > n {
					t.Errorf("plane %d: %d of %d levels are more than 10 %% off", k, off, n)
				}
				t.Logf("plane %d: %d levels, %d beyond 10 %%, mean %+.1f %%, root mean square %.1f %%", k, n, off, 100*sum/float64(n), 100*math.Sqrt(squares/float64(n)))
			}
		})
	}
}

func TestTooLittle(t *testing.T) {
	if _, err := Estimate(context.Background(), nil, nil, Options{}); err != ErrTooLittle {
		t.Error(err)
	}
	res := &response.Result{Curve: &response.Curve{}}
	if _, err := Estimate(context.Background(), res, []response.Frame{{}, {}}, Options{}); err != ErrTooLittle {
		t.Error(err)
	}
}

// ISO 15739: signal over noise (from memory); the marks 40 and 10 of ISO 12232,
// and what they are in L* at 18 % grey by CIE 15.
func TestArithmetic(t *testing.T) {
	if SNR(0.2, 0.02) != 10 || !math.IsNaN(SNR(0.2, 0)) || !math.IsNaN(SNR(math.NaN(), 1)) {
		t.Error("SNR")
	}
	for snr, want := range map[float64]string{40: "excellent", 39.9: "acceptable", 10: "acceptable", 9.9: "poor"} {
		if got := Word(snr); got != want {
			t.Errorf("S/N %g is %q", snr, got)
		}
	}
	for snr, want := range map[float64]float64{10: 2.18, 40: 0.546} {
		if got := InL(0.18, 0.18/snr); math.Abs(got-want) > 0.01 {
			t.Errorf("S/N %g at 18 %%: %.3f L*", snr, got)
		}
	}
	// Below the join L* is linear: dL*/dY is kappa everywhere.
	if got := InL(0.001, 0.0001); math.Abs(got-0.09033) > 1e-4 {
		t.Errorf("deep: %g", got)
	}
}

func BenchmarkEstimate(b *testing.B) {
	r := shoot(b, simulate.Reversal(), simulate.Options{W: 2000, H: 1732})
	for b.Loop() {
		if _, err := Estimate(context.Background(), r.res, r.frames, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
