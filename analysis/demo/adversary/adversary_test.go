package adversary

import (
	"image"
	"image/color"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"
	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/stat"

	"stopladder/analysis/judge/criteria"
)

func near(t *testing.T, what string, got, want, off float64) {
	t.Helper()
	if !(math.Abs(got-want) <= off) {
		t.Errorf("%s: %.5f, want %.5f within %g", what, got, want, off)
	}
}

// Sharma, Wu & Dalal 2005, table 1, all pairs.
func TestDifference(t *testing.T) {
	for i, p := range [][7]float64{
		{50.0000, 2.6772, -79.7751, 50.0000, 0.0000, -82.7485, 2.0425},
		{50.0000, 3.1571, -77.2803, 50.0000, 0.0000, -82.7485, 2.8615},
		{50.0000, 2.8361, -74.0200, 50.0000, 0.0000, -82.7485, 3.4412},
		{50.0000, -1.3802, -84.2814, 50.0000, 0.0000, -82.7485, 1.0000},
		{50.0000, -1.1848, -84.8006, 50.0000, 0.0000, -82.7485, 1.0000},
		{50.0000, -0.9009, -85.5211, 50.0000, 0.0000, -82.7485, 1.0000},
		{50.0000, 0.0000, 0.0000, 50.0000, -1.0000, 2.0000, 2.3669},
		{50.0000, -1.0000, 2.0000, 50.0000, 0.0000, 0.0000, 2.3669},
		{50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0009, 7.1792},
		{50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0010, 7.1792},
		{50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0011, 7.2195},
		{50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0012, 7.2195},
		{50.0000, -0.0010, 2.4900, 50.0000, 0.0009, -2.4900, 4.8045},
		{50.0000, -0.0010, 2.4900, 50.0000, 0.0010, -2.4900, 4.8045},
		{50.0000, -0.0010, 2.4900, 50.0000, 0.0011, -2.4900, 4.7461},
		{50.0000, 2.5000, 0.0000, 50.0000, 0.0000, -2.5000, 4.3065},
		{50.0000, 2.5000, 0.0000, 73.0000, 25.0000, -18.0000, 27.1492},
		{50.0000, 2.5000, 0.0000, 61.0000, -5.0000, 29.0000, 22.8977},
		{50.0000, 2.5000, 0.0000, 56.0000, -27.0000, -3.0000, 31.9030},
		{50.0000, 2.5000, 0.0000, 58.0000, 24.0000, 15.0000, 19.4535},
		{50.0000, 2.5000, 0.0000, 50.0000, 3.1736, 0.5854, 1.0000},
		{50.0000, 2.5000, 0.0000, 50.0000, 3.2972, 0.0000, 1.0000},
		{50.0000, 2.5000, 0.0000, 50.0000, 1.8634, 0.5757, 1.0000},
		{50.0000, 2.5000, 0.0000, 50.0000, 3.2592, 0.3350, 1.0000},
		{60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644},
		{63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630},
		{61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731},
		{35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645},
		{22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373},
		{36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146},
		{90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441},
		{90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381},
		{6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377},
		{2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082},
	} {
		got := difference(lab{p[0], p[1], p[2]}, lab{p[3], p[4], p[5]})
		if math.Abs(got-p[6]) > 5e-5 {
			t.Errorf("pair %d: %.5f, want %.4f", i+1, got, p[6])
		}
	}
}

// CIE 15 for grey; the red, green and blue of a published 24-patch chart (2005 values,
// 8-bit sRGB of them rounded, so within 0.6).
func TestLab(t *testing.T) {
	near(t, "L* of 18 %", labOf([3]float64{0.18, 0.18, 0.18}).l, 49.4961, 1e-4)
	near(t, "L* of 10 %", Lightness(0.10), 37.8424, 1e-4)
	near(t, "sRGB of 18 %", encode(0.18), 0.4613561, 1e-7)
	for _, p := range [][6]float64{
		{180, 49, 57, 42.101, 53.378, 28.190}, {67, 149, 74, 55.261, -38.342, 31.370}, {35, 63, 147, 28.778, 14.179, -50.297},
	} {
		var l [3]float64
		for c := range 3 {
			l[c] = math.Pow((p[c]/255+0.055)/1.055, 2.4)
		}
		x := labOf(l)
		near(t, "L*", x.l, p[3], 0.6)
		near(t, "a*", x.a, p[4], 0.6)
		near(t, "b*", x.b, p[5], 0.6)
	}
}

func TestFilm(t *testing.T) {
	for name, f := range Stocks() {
		m := newModel(f)
		near(t, name+": mid-grey", m.expose([3]float64{})[1], mid, 1e-5)
		for _, e := range [][3]float64{{-3, -2.5, -3.2}, {0.2, -0.4, 0.1}, {1.1, 0.7, 0.9}} {
			back, ok := m.exposure(m.expose(e))
			for c := range 3 {
				if !ok {
					t.Errorf("%s: no exposure gives what %v gave", name, e)
				}
				near(t, name+": exposure", back[c], e[c], 2e-3)
			}
		}
		last := -1.0
		for s := -6.0; s <= 5; s += 0.25 {
			y := m.expose([3]float64{s, s, s})[0]
			if y <= last {
				t.Errorf("%s: light does not rise at %g stops", name, s)
			}
			last = y
		}
		if name[:4] == "grey" {
			for _, v := range []float64{0.01, 0.18, 0.6} {
				for _, s := range []float64{-3, -1, 2} {
					x, _ := m.cast(v, s)
					near(t, name+": cast of a grey", math.Hypot(x.a, x.b), 0, 1e-3)
				}
			}
		}
	}
	for _, size := range []float64{1, 3, 8, 20} {
		near(t, "imposed cast", Stocks()["negative"].WithCast(size).largestCast(), size, 0.02)
	}
	// The logistic's steepest slope and a point of the normal: known answers.
	near(t, "logistic", (reversalLogistic(-0.42+1e-4)-reversalLogistic(-0.42-1e-4))/2e-4, -1.9, 1e-4)
	near(t, "normal's middle", reversalNormal(-0.36), (0.14+3.1)/2, 1e-9)
}

// Variance as asked for, and the autocorrelation of the Gauss blur of twice the
// variance, by gonum's Fourier transform.
func TestGrain(t *testing.T) {
	const w, h = 2048, 400
	for _, sd := range []float64{0.8, 1.6, 3} {
		f := newField(5, 1, w, sd)
		all := make([]float64, 0, w*h)
		row := make([]float32, w)
		fft := fourier.NewFFT(w)
		power := make([]float64, w/2+1)
		for y := range h {
			f.row(row, y)
			line := make([]float64, w)
			for x, v := range row {
				line[x] = float64(v)
			}
			all = append(all, line...)
			for k, c := range fft.Coefficients(nil, line) {
				power[k] += cmplx.Abs(c) * cmplx.Abs(c)
			}
		}
		mean, dev := stat.MeanStdDev(all, nil)
		near(t, "mean", mean, 0, 0.03)
		near(t, "standard deviation", dev, 1, 0.02)
		spec := make([]complex128, len(power))
		for k, p := range power {
			spec[k] = complex(p, 0)
		}
		rho := fft.Sequence(nil, spec)
		for d := 1; d <= 3; d++ {
			near(t, "autocorrelation", rho[d]/rho[0], math.Exp(-float64(d*d)/(4*sd*sd)), 0.03)
		}
		// Averaged over areas of 2 and of 1.5 pixels' side.
		near(t, "left of it at 2", stat.StdDev(averaged(all, w, h, 2), nil), left(sd, 2), 0.02)
		near(t, "left of it at 1.5", stat.StdDev(averaged(all, w, h, 1.5), nil), left(sd, 1.5), 0.02)
	}
	// Parts of a frame that are made apart agree.
	a, b := newField(3, 2, 100, 1.2), newField(3, 2, 100, 1.2)
	x, y := make([]float32, 100), make([]float32, 100)
	for k := range 50 {
		a.row(x, k)
	}
	b.row(y, 49)
	if !slices.Equal(x, y) {
		t.Error("row 49 depends on what was asked for before it")
	}
}

func averaged(v []float64, w, h int, side float64) (out []float64) {
	for y := 0.0; y+side+1 < float64(h); y += side {
		for x := 0.0; x+side+1 < float64(w); x += side {
			sum := 0.0
			for j := int(y); float64(j) < y+side; j++ {
				for i := int(x); float64(i) < x+side; i++ {
					a := math.Min(x+side, float64(i+1)) - math.Max(x, float64(i))
					b := math.Min(y+side, float64(j+1)) - math.Max(y, float64(j))
					sum += v[j*w+i] * a * b
				}
			}
			out = append(out, sum/side/side)
		}
	}
	return out
}

// The texture's power falls about as 1/f^2 in the plane, which is 1/f along a row.
func TestTexture(t *testing.T) {
	const w, h = 2048, 200
	p := fractal(w, h, 4)
	fft := fourier.NewFFT(w)
	power := make([]float64, w/2+1)
	for y := range h {
		line := make([]float64, w)
		for x := range line {
			line[x] = float64(p[y*w+x]) * (1 - math.Cos(2*math.Pi*float64(x)/w))
		}
		for k, c := range fft.Coefficients(nil, line) {
			power[k] += real(c)*real(c) + imag(c)*imag(c)
		}
	}
	var x, y []float64
	for k := 8; k < 256; k++ {
		x, y = append(x, math.Log(float64(k))), append(y, math.Log(power[k]))
	}
	_, slope := stat.LinearRegression(x, y, nil, false)
	near(t, "slope of a row's power", slope, -1, 0.35)
}

// Between dots the scene is read as golang.org/x/image/draw's Catmull-Rom reads it.
func TestSampling(t *testing.T) {
	s := &scene{w: 2*margin + 40, h: 2*margin + 40}
	img := image.NewRGBA64(image.Rect(0, 0, s.w, s.h))
	rnd := rand.New(rand.NewPCG(1, 2))
	for c := range 3 {
		s.pix[c] = make([]float32, s.w*s.h)
	}
	for i := range s.pix[0] {
		v := uint16(20000 + rnd.IntN(20000))
		for c := range 3 {
			s.pix[c][i] = float32(v) / 65535
		}
		img.SetRGBA64(i%s.w, i/s.w, color.RGBA64{v, v, v, 65535})
	}
	out := image.NewRGBA64(img.Bounds())
	draw.CatmullRom.Transform(out, f64.Aff3{1, 0, -0.3, 0, 1, -0.75}, img, img.Bounds(), draw.Src, nil)
	for k := range 30 {
		x, y := 5+k, 7+k/2
		got := s.at(float64(x)+0.3, float64(y)+0.75)[0]
		near(t, "light between dots", float64(got), float64(out.RGBA64At(x+margin, y+margin).R)/65535, 2e-4)
	}
}

func small(r Roll) *Roll {
	r.Size, r.Scene = 300, "even"
	if r.Stops == nil {
		r.Stops = []float64{-1, 0, 1}
	}
	return &r
}

func TestMoves(t *testing.T) {
	f := Stocks()["slide"]
	still := small(Roll{Film: f}).frame(2, false).Pixels
	moved := small(Roll{Film: f, Camera: []Move{{}, {}, {DX: 3, DY: -2}}})
	got := moved.frame(2, false).Pixels
	w, h := got.Header.Width, got.Header.Height
	for y := 4; y < h-4; y++ {
		for x := 4; x < w-4; x++ {
			if a, b := still.Pix[3*(y*w+x)], got.Pix[3*((y-2)*w+x+3)]; a != b {
				t.Fatalf("%d at %d,%d went to %d", a, x, y, b)
			}
		}
	}
	m := moved.Map(2)
	near(t, "map", m[2], 3, 1e-9)
	// Turned a quarter about the centre: right of it comes to lie above.
	m = small(Roll{Film: f, Scanner: []Move{{Rotation: 90}}}).Map(0)
	x, y := m[0]*250+m[1]*100+m[2], m[3]*250+m[4]*100+m[5]
	near(t, "turned x", x, 150, 1e-9)
	near(t, "turned y", y, 0, 1e-9)
	// A film moved in the scanner takes the border along, a camera does not.
	edge := func(r Roll) int {
		r.Border = true
		p := small(r).frame(0, false).Pixels
		for x := range p.Header.Width {
			if p.Pix[3*(p.Header.Height/2*p.Header.Width+x)+1] > 3000 {
				return x
			}
		}
		return -1
	}
	plain, film, camera := edge(Roll{Film: f}), edge(Roll{Film: f, Scanner: []Move{{DX: 4}}}), edge(Roll{Film: f, Camera: []Move{{DX: 4}}})
	if film-plain != 4 || camera != plain {
		t.Errorf("the border began at %d, with the film moved at %d, with the camera moved at %d", plain, film, camera)
	}
}

func TestSeed(t *testing.T) {
	r := small(Roll{Film: Stocks()["negative-dyes"], Grain: 0.03, Blur: [2]float64{0.8, 1.6}, ReadSD: 1e-4, FilmDust: 0.017})
	a, b := r.Frame(0).Pixels.Pix, r.Frame(0).Pixels.Pix
	if !slices.Equal(a, b) {
		t.Error("one seed gave two frames")
	}
	r.Seed++
	if slices.Equal(a, r.Frame(0).Pixels.Pix) {
		t.Error("two seeds gave one frame")
	}
}

func TestDirt(t *testing.T) {
	d := newDirt(900, 600, 0.017, rand.New(rand.NewPCG(1, 1)))
	n := 0
	for _, v := range d.d {
		if v != 0 {
			n++
		}
	}
	near(t, "share under dust", float64(n)/float64(len(d.d)), 0.017, 0.0003)
}

func TestGainsAndBits(t *testing.T) {
	r := small(Roll{Film: Stocks()["slide"], Gains: [][3]float64{{1, 1, 0.9}}, Bits: 8})
	p := r.frame(0, false).Pixels
	plain := small(Roll{Film: Stocks()["slide"]}).frame(0, false).Pixels
	for i := 0; i < len(p.Pix); i += 999 {
		v := math.Pow((float64(plain.Pix[i])/65535+0.055)/1.055, 2.4)
		if plain.Pix[i] < 3000 || plain.Pix[i] == 65535 {
			continue
		}
		if i%3 == 2 {
			v *= 0.9
		}
		near(t, "code", float64(p.Pix[i]), 255*encode(v), 0.52)
	}
}

// Noise of the shadows as the truth has it, and as the difference of a noisy and a
// noise-free rendering has it; and what each frame's own place on the ladder costs.
func TestTruth(t *testing.T) {
	for _, name := range []string{"slide-dyes", "negative-dyes"} {
		r := &Roll{Film: Stocks()[name], Scene: "brick", Size: 600, Stops: []float64{-2, 0, 1}, Grain: 0.02, Blur: [2]float64{0.8, 1.4}, ReadSD: 1e-4}
		tr := r.Truth()
		for i := range r.Stops {
			f := tr.Frame(i)
			noisy, clean, base := r.Frame(i).Pixels.Pix, r.frame(i, false).Pixels.Pix, r.frame(1, false).Pixels.Pix
			linear := func(p []uint16, k int) (v [3]float64) {
				for c := range 3 {
					if u := float64(p[k+c]) / 65535; u > 0.04045 {
						v[c] = math.Pow((u+0.055)/1.055, 2.4)
					} else {
						v[c] = u / 12.92
					}
				}
				return v
			}
			o := tr.view.look(r.Stops[i], [3]float64{1, 1, 1}, nil)
			tone := o.curves()
			var sum, n float64
			for k := 0; k < len(noisy); k += 3 {
				if b := luminance(linear(base, k)); b < mid/2 {
					x := Lightness(luminance(apply(tone, linear(noisy, k)))) - Lightness(luminance(apply(tone, linear(clean, k))))
					// Only what is not lost: where the clean frame has a tone to bring back.
					if l := linear(clean, k); min(l[0], l[1], l[2]) > 0.003 {
						sum += x * x
						n++
					}
				}
			}
			got := math.Sqrt(sum / n)
			t.Logf("%s %+g: %.3f rendered, %.3f true", name, r.Stops[i], got, f.Grades[Curves].Noise)
			if r.Stops[i] >= 0 {
				near(t, name+": noise of the shadows", f.Grades[Curves].Noise/got, 1, 0.1)
			}
		}
		if c := tr.CostAt(0); c.Lost != 0 || c.DeltaE > 1e-3 || math.Abs(c.Contrast-1) > 1e-3 || c.Crossover > 0.01 {
			t.Errorf("%s: the base frame costs %+v", name, c)
		}
		// What ends of ranges are found from is what is said of the frames.
		for i := range r.Stops {
			at, frame := tr.CostAt(r.Exposure(i)), tr.Frame(i).Grades[Curves]
			if at.Lost != frame.Lost || math.Abs(at.DeltaE-frame.DeltaE) > 1e-9 {
				t.Errorf("%s %+g: lost %.4f and %.4f, dE00 %.4f and %.4f", name, r.Stops[i], at.Lost, frame.Lost, at.DeltaE, frame.DeltaE)
			}
		}
		lo, hi := tr.Ends(criteria.Default(), true)
		lo2, hi2 := tr.Ends(criteria.Default(), false)
		if lo.Stop < lo2.Stop || hi.Stop > hi2.Stop {
			t.Errorf("%s: holds %v %v beyond strains %v %v", name, lo, hi, lo2, hi2)
		}
	}
}
