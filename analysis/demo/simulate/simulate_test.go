package simulate

import (
	"context"
	"image"
	"math"
	"runtime"
	"slices"
	"testing"

	"stopladder/analysis/demo/charts"
	"stopladder/analysis/demo/scene"
	"stopladder/analysis/numeric/affine"
)

var stocks = []Stock{Reversal(), Negative()}

func shootT(t testing.TB, r *scene.Radiance, s Stock, o Options, stop float64) *Frame {
	t.Helper()
	f, err := Shoot(context.Background(), r, s, o, stop)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// flat is a scene of one neutral light.
func flat(w, h int, v float32) *scene.Radiance {
	r := scene.New(w, h)
	for i := range r.Pix {
		r.Pix[i] = v
	}
	return r
}

func TestCurves(t *testing.T) {
	for _, s := range stocks {
		sign := 1.0
		if s.Kind == ReversalFilm {
			sign = -1
		}
		for c := range 3 {
			last := math.Inf(-1)
			for x := -5.0; x <= 5; x += 0.01 {
				d := sign * s.Density(c, x)
				if d < last-1e-12 {
					t.Fatalf("%s channel %d turns at log H %.2f", s.Name, c, x)
				}
				last = d
				if d := s.Density(c, x); d < s.Layers[c].Dmin-1e-9 || d > s.Layers[c].Dmax+1e-9 || math.IsNaN(d) {
					t.Fatalf("%s channel %d: density %v outside Dmin..Dmax", s.Name, c, d)
				}
			}
			g := s.Gamma(c)
			lo, hi := 1.55, 1.80
			if s.Kind == NegativeFilm {
				lo, hi = 0.55, 0.65
			}
			if g < lo || g > hi {
				t.Errorf("%s channel %d: gamma %.3f, stated %v to %v", s.Name, c, g, lo, hi)
			}
		}
	}
}

// TestSpeed finds the films' speeds from their curves by the standards' rules
// (ISO 5800 and ISO 2240, both from memory), with the meter's 8/S lux s for a
// metered grey (derivation of the ANSI meter equation).
func TestSpeed(t *testing.T) {
	find := func(s *Stock, c int, d float64) float64 {
		sign := 1.0
		if s.Kind == ReversalFilm {
			sign = -1
		}
		return bisect(-4, 4, func(x float64) float64 { return sign * (s.Density(c, x) - d) })
	}
	n := Negative()
	hm := 8 / n.ISO
	var h [3]float64
	for c := range h {
		h[c] = hm * math.Pow(10, find(&n, c, n.Layers[c].Dmin+0.15))
	}
	speed := math.Sqrt2 / math.Sqrt(h[1]*max(h[0], h[1], h[2]))
	if e := math.Log2(speed / n.ISO); math.Abs(e) > 1.0/6 {
		t.Errorf("ISO 5800 gives the negative %.0f, it is rated %.0f", speed, n.ISO)
	}
	r := Reversal()
	hm = 8 / r.ISO
	hs := hm * math.Pow(10, find(&r, 1, r.Layers[1].Dmin+2.00))
	ht := hm * math.Pow(10, find(&r, 1, r.Layers[1].Dmin+0.20))
	// Not held to its rating: see Reversal.
	t.Logf("ISO 2240 gives the reversal %.0f", 10/math.Sqrt(hs*ht))
}

// TestStopArithmetic: a stop is log10 2 = 0.30103 of log exposure,
// and flare, which is light of the scene, keeps to it.
func TestStopArithmetic(t *testing.T) {
	r := flat(64, 64, 0.18)
	for _, s := range stocks {
		a := shootT(t, r, s, Options{}, 0).Truth.LogExposure([3]float64{0.18, 0.18, 0.18})
		for _, stop := range []float64{-3, -1.0 / 3, 0.5, 1, 4} {
			b := shootT(t, r, s, Options{}, stop).Truth.LogExposure([3]float64{0.18, 0.18, 0.18})
			for c := range 3 {
				if math.Abs(b[c]-a[c]-0.3010299957*stop) > 1e-9 {
					t.Errorf("%s: %v stops are %v in log H", s.Name, stop, b[c]-a[c])
				}
			}
		}
		for c := range 3 {
			if want := math.Log10(1 + s.Flare); math.Abs(a[c]-want) > 1e-6 {
				t.Errorf("%s channel %d: metered grey is at log H %v, want %v (flare alone)", s.Name, c, a[c], want)
			}
		}
	}
}

// lstar of linear light, CIE 1976.
func lstar(y float64) float64 {
	if y > 216.0/24389 {
		return 116*math.Cbrt(y) - 16
	}
	return y * 24389 / 27
}

// TestBaseGrey: at stop 0 the grey card is a neutral near L* 50; under- and
// overexposure go opposite ways in colour.
func TestBaseGrey(t *testing.T) {
	r := flat(64, 64, 0.18)
	for _, s := range stocks {
		f := shootT(t, r, s, Options{}, 0)
		h := f.Truth.LogExposure([3]float64{0.18, 0.18, 0.18})
		var l [3]float64
		for c := range l {
			l[c], _ = f.Truth.Light(c, h[c])
		}
		if L := lstar(l[1]); math.Abs(L-49.5) > 1.5 {
			t.Errorf("%s: the grey card is at L* %.2f", s.Name, L)
		}
		if d := max(l[0], l[1], l[2])/min(l[0], l[1], l[2]) - 1; d > 0.01 {
			t.Errorf("%s: the grey card is not neutral: %v", s.Name, l)
		}
		cast := func(stop float64) float64 {
			a, _ := f.Truth.Light(0, h[0]+stop*stopLog)
			b, _ := f.Truth.Light(2, h[2]+stop*stopLog)
			return math.Log10(a / b)
		}
		over, under := cast(1.5), cast(-1.5)
		t.Logf("%s: red over blue at +1.5 %+.3f D, at -1.5 %+.3f D", s.Name, over, under)
		if over*under >= 0 || math.Abs(over)+math.Abs(under) < 0.02 {
			t.Errorf("%s: no crossover: %+.3f over, %+.3f under", s.Name, over, under)
		}
	}
}

// TestLatitude: the reversal loses whites at once and is dark at -3, the
// negative keeps tones apart over more stops above than below.
func TestLatitude(t *testing.T) {
	slope := func(s Stock, stop float64) float64 {
		f := shootT(t, flat(64, 64, 0.18), s, Options{}, 0)
		return (f.Truth.Code(1, (stop+0.1)*stopLog) - f.Truth.Code(1, (stop-0.1)*stopLog)) / 0.2
	}
	rev, neg := stocks[0], stocks[1]
	if a := slope(rev, 4) / slope(rev, 0); a > 0.02 {
		t.Errorf("reversal four stops over still separates: %.3f of the base", a)
	}
	if a, b := slope(neg, 4)/slope(neg, 0), slope(rev, 4)/slope(rev, 0); a < 0.1 || a < 5*b {
		t.Errorf("negative four stops over: %.3f of the base, reversal %.3f", a, b)
	}
	if a, b := slope(neg, 3.5), slope(neg, -3.5); a < b {
		t.Errorf("negative separates %.0f codes a stop at +3.5, %.0f at -3.5", a, b)
	}
}

// TestRendersTruth: with the noises off, pixels are the truth's code values.
func TestRendersTruth(t *testing.T) {
	w, err := charts.Wedge(330, 64, 15, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range stocks {
		for _, stop := range []float64{-3, 0, 4} {
			f := shootT(t, w.Radiance, s, Options{NoGrain: true, NoScannerNoise: true}, stop)
			for _, p := range w.Places {
				x, y := int((p.X0+p.X1)/2*330), 32
				h := f.Truth.LogExposure([3]float64{p.Reflectance, p.Reflectance, p.Reflectance})
				for c := range 3 {
					got := float64(f.Pixels.Pix[3*(y*330+x)+c])
					want := f.Truth.Code(c, h[c])
					if math.Abs(got-want) > 2+want*3e-4 {
						t.Errorf("%s at %+v, %s channel %d: code %v, truth %.1f", s.Name, stop, p.Name, c, got, want)
					}
				}
			}
		}
	}
}

func TestDeterministic(t *testing.T) {
	c, err := charts.Leaves(200, 160, 8, 3)
	if err != nil {
		t.Fatal(err)
	}
	o := Options{Seed: 7, MaxShift: 0.01, MaxRotation: 0.3, Border: true}
	old := runtime.GOMAXPROCS(1)
	a := shootT(t, c.Radiance, stocks[0], o, 1)
	runtime.GOMAXPROCS(7)
	b := shootT(t, c.Radiance, stocks[0], o, 1)
	runtime.GOMAXPROCS(old)
	if !slices.Equal(a.Pixels.Pix, b.Pixels.Pix) {
		t.Error("the frame depends on the number of processors")
	}
	o.Seed = 8
	if d := shootT(t, c.Radiance, stocks[0], o, 1); slices.Equal(a.Pixels.Pix, d.Pixels.Pix) {
		t.Error("the frame does not depend on the seed")
	}
	e := shootT(t, c.Radiance, stocks[0], o, 2)
	if e.Truth.Shift == a.Truth.Shift {
		t.Error("two frames moved alike")
	}
}

// blobs is a scene of bright dots at known places on grey.
func blobs(w, h int, at [][2]float64) *scene.Radiance {
	r := flat(w, h, 0.09)
	for y := range h {
		for x := range w {
			for _, p := range at {
				d := math.Hypot(float64(x)+0.5-p[0], float64(y)+0.5-p[1])
				v := float32(0.5 * math.Exp(-d*d/(2*3.5*3.5)))
				for c := range 3 {
					r.Pix[3*(y*w+x)+c] += v
				}
			}
		}
	}
	return r
}

// TestGeometry locates dots in the moved frames by their centres of light and
// compares with the truth, and checks the signs apart from the code's own maths.
func TestGeometry(t *testing.T) {
	dots := [][2]float64{{60.5, 50.5}, {300, 70}, {80, 250}, {330.5, 260.5}, {200, 160}}
	r := blobs(400, 320, dots)
	for _, border := range []bool{false, true} {
		for _, stop := range []float64{-1, 0, 1, 2} {
			o := Options{Seed: 3, MaxShift: 0.01, MaxRotation: 1, Border: border, NoGrain: true, NoScannerNoise: true}
			f := shootT(t, r, stocks[1], o, stop)
			w := f.Pixels.Header.Width
			for _, d := range dots {
				x, y := affine.At(f.Truth.FromScene, d[0], d[1])
				var sx, sy, s float64
				for j := int(y) - 9; j <= int(y)+9; j++ {
					for i := int(x) - 9; i <= int(x)+9; i++ {
						v := math.Max(float64(f.Pixels.Pix[3*(j*w+i)+1])-float64(f.Pixels.Pix[3*((int(y)-14)*w+int(x))+1]), 0)
						sx += v * (float64(i) + 0.5)
						sy += v * (float64(j) + 0.5)
						s += v
					}
				}
				if e := math.Hypot(sx/s-x, sy/s-y); !(e < 0.12) {
					t.Errorf("border %v stop %+v: dot %v found %.2f,%.2f, truth says %.2f,%.2f", border, stop, d, sx/s, sy/s, x, y)
				}
			}
			tr := f.Truth
			if stop == 0 {
				if tr.Shift != [2]float64{} || tr.Rotation != 0 {
					t.Error("the base frame moved")
				}
				continue
			}
			if math.Abs(tr.Shift[0]) > 0.01*float64(w) || math.Abs(tr.Rotation) > 1 || tr.Rotation == 0 {
				t.Errorf("moved by %v, %v", tr.Shift, tr.Rotation)
			}
			// A point right of the centre goes up (y smaller) for a
			// counter-clockwise rotation, before the shift.
			cx, cy := float64(w)/2, float64(f.Pixels.Header.Height)/2
			x, y := affine.At(tr.FromBase, cx+100, cy)
			if want := -100 * math.Sin(tr.Rotation*math.Pi/180); math.Abs(y-tr.Shift[1]-cy-want) > 1e-9 {
				t.Errorf("rotation %v puts the point at %v, want %v", tr.Rotation, y-tr.Shift[1]-cy, want)
			}
			if want := cx + 100*math.Cos(tr.Rotation*math.Pi/180) + tr.Shift[0]; math.Abs(x-want) > 1e-9 {
				t.Errorf("x %v, want %v", x, want)
			}
			back, _ := affine.Inverse(tr.FromBase)
			bx, by := affine.At(back, x, y)
			if math.Hypot(bx-cx-100, by-cy) > 1e-9 {
				t.Error("the inverse does not go back")
			}
		}
	}
}

// TestBorder: reversal rebate is black and its holder too; the negative's clear
// rebate comes out black and its opaque holder white.
func TestBorder(t *testing.T) {
	for i, s := range stocks {
		f := shootT(t, flat(500, 420, 0.18), s, Options{Border: true, MaxShift: 0.008, MaxRotation: 0.3, Seed: 5}, 1)
		w, h := f.Pixels.Header.Width, f.Pixels.Header.Height
		at := func(x, y int) float64 { return float64(f.Pixels.Pix[3*(y*w+x)+1]) / 65535 }
		holder := at(1, h/2)
		a := f.Truth.Area
		rebate := at((f.Truth.s.window.Min.X+a.Min.X)/2, h/2)
		picture := at(w/2, h/2)
		if rebate > 0.12 || picture < 0.5 {
			t.Errorf("%s: rebate %.3f, picture %.3f", s.Name, rebate, picture)
		}
		if i == 0 && holder > 0.05 || i == 1 && holder < 0.95 {
			t.Errorf("%s: holder %.3f", s.Name, holder)
		}
		// Every pixel of the area is picture; the rows just outside are not.
		for y := a.Min.Y; y < a.Max.Y; y++ {
			for _, x := range []int{a.Min.X + 6, a.Max.X - 7} {
				if y > a.Min.Y+6 && y < a.Max.Y-7 && math.Abs(at(x, y)-picture) > 0.08 {
					t.Fatalf("%s: %d,%d inside the area is %.3f", s.Name, x, y, at(x, y))
				}
			}
		}
		if v := at(w/2, a.Min.Y-8); v > 0.3 {
			t.Errorf("%s: above the area there is %.3f", s.Name, v)
		}
		if !a.In(image.Rect(0, 0, w, h)) || a.Dx() < 480 {
			t.Errorf("%s: area %v", s.Name, a)
		}
	}
}

func TestCeilingAndFloor(t *testing.T) {
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	count := func(f *Frame, code uint16) (n int) {
		for _, v := range f.Pixels.Pix {
			if v == code {
				n++
			}
		}
		return n
	}
	sc := DefaultScanner()
	ceiling, floor := uint16(sc.Ceiling*65535+0.5), uint16(sc.Floor*65535+0.5)
	for _, s := range stocks {
		f := shootT(t, r, s, Options{}, 4)
		share := float64(count(f, ceiling)) / float64(len(f.Pixels.Pix))
		t.Logf("%s +4: %.1f %% at the ceiling", s.Name, 100*share)
		if share < 0.02 {
			t.Errorf("%s: no pile-up at the ceiling", s.Name)
		}
		for _, v := range f.Pixels.Pix {
			if v > ceiling || v < floor {
				t.Fatalf("code %d lies outside %d..%d", v, floor, ceiling)
			}
		}
	}
	f := shootT(t, r, stocks[0], Options{}, -3)
	if share := float64(count(f, floor)) / float64(len(f.Pixels.Pix)); share < 0.01 {
		t.Errorf("reversal at -3: only %.3f %% at the floor", 100*share)
	}
}

func TestSwapAndErrors(t *testing.T) {
	r := flat(64, 64, 0.18)
	o := Options{Swap: [2]float64{1, -2}}
	if e := shootT(t, r, stocks[0], o, 1).Truth.Exposure; e != -2 {
		t.Errorf("swapped +1 was given %v", e)
	}
	if e := shootT(t, r, stocks[0], o, 0).Truth.Exposure; e != 0 {
		t.Errorf("the base was given %v", e)
	}
	e := shootT(t, r, stocks[0], Options{ShutterError: 0.3, Seed: 1}, 2).Truth.Exposure
	if e == 2 || math.Abs(e-2) > 0.3 {
		t.Errorf("with a shutter error of 0.3, +2 was given %v", e)
	}
	for _, o := range []Options{{W: 5, H: 5}, {MaxShift: 1}, {MaxRotation: -1}, {W: 100, H: 90000}} {
		if _, err := Shoot(context.Background(), r, stocks[0], o, 0); err == nil {
			t.Errorf("%+v was taken", o)
		}
	}
	if _, err := Shoot(context.Background(), &scene.Radiance{}, stocks[0], Options{}, 0); err == nil {
		t.Error("an empty scene was taken")
	}
	if _, err := Shoot(context.Background(), r, stocks[0], Options{}, math.NaN()); err == nil {
		t.Error("no stop at all was taken")
	}
}

func TestEightBit(t *testing.T) {
	c, err := charts.Leaves(200, 160, 8, 3)
	if err != nil {
		t.Fatal(err)
	}
	f := shootT(t, c.Radiance, stocks[1], Options{EightBitInSixteen: true}, 1)
	seen := map[uint16]bool{}
	for _, v := range f.Pixels.Pix {
		if v&0xFF != 0 {
			t.Fatalf("code %#x is not an 8-bit code", v)
		}
		seen[v] = true
	}
	if len(seen) < 100 || len(seen) > 256 {
		t.Errorf("%d levels", len(seen))
	}
}

// TestAutoCorrect: levelled by itself, every frame has the same ends; with fixed
// settings it has not.
func TestAutoCorrect(t *testing.T) {
	c, err := charts.Leaves(300, 240, 5, 3)
	if err != nil {
		t.Fatal(err)
	}
	// ends are the 0.5 and 99.5 % points of the green channel, 0..1.
	ends := func(o Options, stop float64) (lo, hi float64) {
		f := shootT(t, c.Radiance, stocks[1], o, stop)
		var v []uint16
		for i := 1; i < len(f.Pixels.Pix); i += 3 {
			v = append(v, f.Pixels.Pix[i])
		}
		slices.Sort(v)
		return float64(v[len(v)/200]) / 65535, float64(v[len(v)-len(v)/200]) / 65535
	}
	for _, stop := range []float64{-2, 0, 2} {
		if lo, hi := ends(Options{AutoCorrect: true}, stop); math.Abs(lo-0.05) > 0.015 || math.Abs(hi-0.95) > 0.015 {
			t.Errorf("at %+v the ends were levelled to %.3f and %.3f, want 0.05 and 0.95", stop, lo, hi)
		}
	}
	_, a0 := ends(Options{}, 0)
	if _, a2 := ends(Options{}, -2); a0-a2 < 0.1 {
		t.Errorf("with fixed settings the light end only fell from %.3f to %.3f", a0, a2)
	}
	// The truth follows the levels.
	o := Options{AutoCorrect: true, NoGrain: true, NoScannerNoise: true}
	f := shootT(t, c.Radiance, stocks[1], o, -2)
	a, b, d := c.At(150, 120)
	h := f.Truth.LogExposure([3]float64{float64(a), float64(b), float64(d)})
	if got, want := float64(f.Pixels.Pix[3*(120*300+150)]), f.Truth.Code(0, h[0]); math.Abs(got-want) > 8+want*1e-3 {
		t.Errorf("code %v, truth %.1f", got, want)
	}
}
