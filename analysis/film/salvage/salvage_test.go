package salvage

import (
	"context"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// roll is a simulated roll, and the same without grain and scanner noise.
type roll struct {
	frames, clean []response.Frame
	res           *response.Result
	levels        *noise.Levels
	base          int
	truth         []*simulate.Truth
}

// allRolls reports whether every roll is asked for, with STOPLADDER_ALL_ROLLS=1: that belongs
// to a change of salvage and takes minutes. Otherwise each claim is held by one roll at
// least.
func allRolls() bool { return os.Getenv("STOPLADDER_ALL_ROLLS") != "" }

func shoot(t testing.TB, stock simulate.Stock, o simulate.Options) *roll {
	t.Helper()
	return shootAt(t, stock, o, simulate.DefaultStops())
}

// shootBoth makes a roll with the same frames free of noise beside them.
func shootBoth(t testing.TB, stock simulate.Stock, o simulate.Options) *roll {
	t.Helper()
	return shootRoll(t, stock, o, simulate.DefaultStops(), true)
}

func shootAt(t testing.TB, stock simulate.Stock, o simulate.Options, at []float64) *roll {
	t.Helper()
	return shootRoll(t, stock, o, at, false)
}

func shootRoll(t testing.TB, stock simulate.Stock, o simulate.Options, at []float64, clean bool) *roll {
	t.Helper()
	ctx := context.Background()
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	out := &roll{}
	for i, s := range at {
		f, err := simulate.Shoot(ctx, r, stock, o, s)
		if err != nil {
			t.Fatal(err)
		}
		a := f.Truth.FromBase
		area := f.Truth.Area
		look := func(p *scan.Pixels) response.Frame {
			l, err := measure.NewLook(ctx, p, measure.Options{Area: &area})
			if err != nil {
				t.Fatal(err)
			}
			return response.Frame{Look: l, Stop: s, StopKnown: true, Map: a}
		}
		out.frames = append(out.frames, look(f.Pixels))
		out.truth = append(out.truth, f.Truth)
		if clean {
			noiseless, err := f.Truth.NoiseFree(ctx)
			if err != nil {
				t.Fatal(err)
			}
			out.clean = append(out.clean, look(noiseless))
		}
		if s == 0 {
			out.base = i
		}
	}
	for i := range out.clean { // the same limits, which noise must not move
		c, l := out.clean[i].Look, out.frames[i].Look
		c.Ceiling, c.Floor = l.Ceiling, l.Floor
	}
	if out.res, err = response.Fit(ctx, out.frames, out.base, response.Options{}); err != nil {
		t.Fatal(err)
	}
	if out.levels, err = noise.Estimate(ctx, out.res, out.frames, noise.Options{}); err != nil {
		t.Fatal(err)
	}
	// The truth here is that of preview pixels, so noise is asked for at their scale.
	out.levels.Viewing.Step = float64(out.frames[out.base].Look.Preview.Factor)
	return out
}

// Costs of rolls whose truth is known: the same correction measured in frames without
// noise, and the noise from the difference of the two. Figures must agree within 15 %, above
// floors under which nobody sees a difference: 0.3 of a dE00 or L* unit, half a percent
// of area, 3 % of contrast.
func TestCostsAgainstTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: simulated rolls take seconds")
	}
	ctx := context.Background()
	for _, c := range []struct {
		name  string
		stock simulate.Stock
		o     simulate.Options
		more  bool // on request: the other film of a pair that the default has once
	}{
		{"reversal", simulate.Reversal(), simulate.Options{W: 1200, H: 1039}, true},
		{"reversal, moved", simulate.Reversal(), simulate.Options{W: 1200, H: 1039, Seed: 5, MaxShift: 0.005, MaxRotation: 0.2}, false},
		// Wider than a preview, so that previews are reduced.
		{"reversal, finer", simulate.Reversal(), simulate.Options{W: 2400, H: 2078, Seed: 6}, true},
		{"negative, finer", simulate.Negative(), simulate.Options{W: 2400, H: 2078, Seed: 7}, false},
		{"negative", simulate.Negative(), simulate.Options{W: 1200, H: 1039, Seed: 8}, true},
		{"negative, moved", simulate.Negative(), simulate.Options{W: 1200, H: 1039, Seed: 3, MaxShift: 0.005, MaxRotation: 0.2}, true},
	} {
		if c.more && !allRolls() {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := shootBoth(t, c.stock, c.o)
			if strings.HasPrefix(c.name, "negative") {
				checkToe(t, r)
			}
			g, err := NewGrid(ctx, r.frames, r.base, r.res, r.levels)
			if err != nil {
				t.Fatal(err)
			}
			truth, err := newGrid(ctx, r.clean, r.base, r.res, nil, r.levels)
			if err != nil {
				t.Fatal(err)
			}
			between := 0.3
			if strings.Contains(c.name, "moved") {
				between = 0.6 // what reading the frames here between their pixels makes
			}
			apart := func(g *Grid, i int, k Grade, s correction.Settings) *float64 {
				greys, t := r.greys(g, i), s.Tables()
				if k == Balance {
					return known(leastApart(greys, s.Exposure))
				}
				return known(castsApart(greys, func(c int, v float64) float64 { return float64(t[c].At(float32(v))) }))
			}
			n, off := 0, 0
			for i := range r.frames {
				got, err := g.Frame(ctx, i)
				if err != nil || got.Reason != "" {
					t.Errorf("%+g: %v %s", r.frames[i].Stop, err, got.Reason)
					continue
				}
				clean, err := truth.of(ctx, i)
				if err != nil {
					t.Fatal(err)
				}
				for k := range got.Grades {
					a := got.Grades[k].Cost
					lost := pixelsLost(truth, clean)
					share := 0.15
					check := func(what string, a, b *float64, floor float64) {
						if a == nil && strings.Contains(what, "contrast") {
							return // refused, because too little is whole
						}
						if a == nil || b == nil {
							if (a == nil) != (b == nil) {
								t.Errorf("%+g %s: %s is known only once", r.frames[i].Stop, Grade(k), what)
							}
							return
						}
						n++
						if d := math.Abs(*a - *b); d > math.Max(floor, share**b) {
							off++
							t.Errorf("%+g %s: %s %.4f, the truth is %.4f", r.frames[i].Stop, Grade(k), what, *a, *b)
						}
					}
					check("lost area", a.LostArea, lost, 0.005)
					if *lost < 0.5 { // where most is lost other squares are left
						whole, bands := truth.differences(i, got.Grades[k].Settings)
						check("dE00", a.DeltaE, whole[0], 0.3)
						// Squares at the edge of what is lost and colours of which a channel clips:
						// of a reduced preview the model knows the mean alone.
						floor := between
						if *lost > 0.1 {
							floor, share = 0.6, 0.3
						}
						check("dE00, 95 %", a.P95, whole[1], floor)
						for q := range a.Bands {
							check(measure.Band(q).String()+" dE00", a.Bands[q].DeltaE, bands[q], floor)
						}
						share = 0.15
					}
					check("crossover", a.Crossover, apart(truth, i, Grade(k), got.Grades[k].Settings), thin(r.frames[i].Stop))
					noiseL := r.noiseL(i, got.Grades[k].Settings, g)
					check("noise in the shadows", a.Bands[measure.Shadows].NoiseL, noiseL, math.Min(0.4, thin(r.frames[i].Stop)))
					if strings.Contains(c.name, "moved") || k != int(Curves) {
						continue // TestContrastDoesNotHangOnPlacement
					}
					kept := truth.contrast(i, clean, got.Grades[k].Settings)
					check("contrast kept", a.ContrastKept, kept[measure.Bands], 0.03)
					for q := range a.Bands {
						check(measure.Band(q).String()+" contrast", a.Bands[q].ContrastKept, kept[q], 0.03)
					}
				}
			}
			if n < 150 { // frames of which most is lost tell little
				t.Errorf("only %d figures", n)
			}
			t.Logf("%d figures, %d beyond 15 %%", n, off)
		})
	}
}

// thin is how far a crossover may be off: three stops under, the greys of the shadows lie
// where a response rests on little.
func thin(stop float64) float64 {
	if stop < -2 {
		return 2
	}
	return 0.3
}

// pixelsLost is the share of the base frame's image area that a frame without noise has
// lost, pixel by pixel.
func pixelsLost(g *Grid, c *cells) *float64 {
	if c.mask == nil {
		return new(float64)
	}
	n := 0.0
	for _, v := range c.mask {
		if v != 0 {
			n++
		}
	}
	n /= float64(g.area.Dx() * g.area.Dy())
	return &n
}

// differences are the median and the 95th percentile of the colour differences of a frame
// without noise from the base frame's, and the medians by band: over squares of three by
// three cells, pixel by pixel corrected, then averaged over what neither has lost.
func (g *Grid) differences(i int, s correction.Settings) (whole [2]*float64, bands [measure.Bands]*float64) {
	base, frame := g.frames[g.base].Look, g.frames[i].Look
	lost, m, tab := g.boundsOf(i), g.toFrame(i), s.Tables()
	var all []float64
	var of [measure.Bands][]float64
	n := 3 * g.side
	for y0 := g.area.Min.Y; y0+n <= g.area.Max.Y; y0 += n {
		for x0 := g.area.Min.X; x0+n <= g.area.Max.X; x0 += n {
			var a, b [3]float64
			left, shown := 0.0, 0.0
			for y := y0; y < y0+n; y++ {
				for x := x0; x < x0+n; x++ {
					k := 3 * (y*base.Preview.W + x)
					fx, fy := m[0]*(float64(x)+0.5)+m[1]*(float64(y)+0.5)+m[2]-0.5, m[3]*(float64(x)+0.5)+m[4]*(float64(y)+0.5)+m[5]-0.5
					ix, iy := int(math.Floor(fx+1e-6)), int(math.Floor(fy+1e-6))
					if ix < 0 || iy < 0 || ix+1 >= frame.Preview.W || iy+1 >= frame.Preview.H {
						continue
					}
					shown++
					p := base.Preview.Pix[k : k+3]
					gone := g.lostInBase.at(p)&(lostLight|lostDark) != 0
					var u, v [3]float32
					base.Space.Linear(u[:], p)
					for q := range 4 { // between the frame's pixels
						w := float32((1 - math.Abs(fx-float64(ix+q&1))) * (1 - math.Abs(fy-float64(iy+q>>1))))
						o := 3 * ((iy+q>>1)*frame.Preview.W + ix + q&1)
						codes := frame.Preview.Pix[o : o+3]
						gone = gone || w > 0.05 && lost.at(codes)&(lostLight|lostDark) != 0
						var one [3]float32
						frame.Space.Linear(one[:], codes)
						for ch := range v {
							v[ch] += w * one[ch]
						}
					}
					if gone {
						continue
					}
					left++
					for ch := range v {
						a[ch], b[ch] = a[ch]+float64(u[ch]), b[ch]+float64(tab[ch].At(v[ch]))
					}
				}
			}
			if shown == 0 || 2*left < shown {
				continue
			}
			for ch := range a {
				a[ch], b[ch] = a[ch]/left, b[ch]/left
			}
			d := colour.DeltaE2000(colour.LabOf(a[0], a[1], a[2]), colour.LabOf(b[0], b[1], b[2]))
			q := measure.BandOf(colour.Luminance(a[0], a[1], a[2]))
			all, of[q] = append(all, d), append(of[q], d)
		}
	}
	quantile := func(v []float64, f float64) *float64 {
		if len(v) < leastCells/cellsOfBlock {
			return nil
		}
		slices.Sort(v)
		return at(v, f)
	}
	for q := range bands {
		bands[q] = quantile(of[q], 0.5)
	}
	return [2]*float64{quantile(all, 0.5), quantile(all, 0.95)}, bands
}

// greys are the light, by the simulator's own curves, that a frame has of the greys that the
// base frame shows at the mean luminances of the bands; NaN where they are lost.
func (r *roll) greys(g *Grid, i int) (out [measure.Bands][3]float64) {
	base, frame := r.truth[r.base], r.truth[i]
	look := g.frames[g.base].Look
	var sum, n [measure.Bands]float64
	for y := g.area.Min.Y; y < g.area.Max.Y; y++ {
		for x := g.area.Min.X; x < g.area.Max.X; x++ {
			k := 3 * (y*look.Preview.W + x)
			var p [3]float32
			look.Space.Linear(p[:], look.Preview.Pix[k:k+3])
			l := float64(luminance(p[:]))
			b := measure.BandOf(l)
			sum[b], n[b] = sum[b]+l, n[b]+1
		}
	}
	lost := g.boundsOf(i)
	for b := range sum {
		out[b][0] = math.NaN()
		if n[b] < leastBand*float64(g.area.Dx()*g.area.Dy()) {
			continue
		}
		var codes [3]uint16
		for c := range codes {
			lo, hi := -8.0, 8.0
			for range 60 {
				m := (lo + hi) / 2
				if l, _ := base.Light(c, m); l < sum[b]/n[b] {
					lo = m
				} else {
					hi = m
				}
			}
			e := lo + (frame.Exposure-base.Exposure)*math.Log10(2)
			codes[c] = uint16(math.Max(0, math.Min(65535, math.Round(frame.Code(c, e)))))
		}
		if lost.at(codes[:]) != 0 {
			continue
		}
		var p [3]float32
		g.frames[i].Look.Space.Linear(p[:], codes[:])
		out[b] = [3]float64{float64(p[0]), float64(p[1]), float64(p[2])}
	}
	return out
}

// contrast is the true contrast kept of a frame that lies still, by band and of the
// whole: pixel by pixel in frames without noise.
func (g *Grid) contrast(i int, c *cells, s correction.Settings) (out [measure.Bands + 1]*float64) {
	base, frame := g.frames[g.base].Look, g.frames[i].Look
	var sums [measure.Bands + 1][3]float64
	tab := s.Tables()
	for y := range g.h {
		for x := range g.w {
			at := y*g.w + x
			if (g.own.flags[at]|c.flags[at])&(missing|partial|lostLight|lostDark) != 0 {
				continue
			}
			var n, b, bb, f, ff float64
			for v := range g.side {
				for u := range g.side {
					k := 3 * ((g.area.Min.Y+y*g.side+v)*base.Preview.W + g.area.Min.X + x*g.side + u)
					var p, q [3]float32
					base.Space.Linear(p[:], base.Preview.Pix[k:k+3])
					frame.Space.Linear(q[:], frame.Preview.Pix[k:k+3])
					for ch := range q {
						q[ch] = tab[ch].At(q[ch])
					}
					l, m := float64(luminance(p[:])), float64(luminance(q[:]))
					n, b, bb, f, ff = n+1, b+l, bb+l*l, f+m, ff+m*m
				}
			}
			for _, k := range []int{int(g.bands[at]), int(measure.Bands)} {
				sums[k][0], sums[k][1], sums[k][2] = sums[k][0]+n*bb/(b*b)-1, sums[k][1]+n*ff/(f*f)-1, sums[k][2]+1
			}
		}
	}
	for k, v := range sums {
		if v[2] >= leastCells && v[0] > 0 {
			x := math.Sqrt(v[1] / v[0])
			out[k] = &x
		}
	}
	return out
}

// noiseL is the true noise of the base frame's shadows after a correction, in L*
// units, over what neither frame has lost: the standard deviation at one tone. (Where
// the scan cuts noise off at black the tone itself is shifted as well; that is no
// noise.)
func (r *roll) noiseL(i int, s correction.Settings, g *Grid) *float64 {
	a, b := r.frames[i].Look, r.clean[i].Look
	p := a.Preview
	m := g.toFrame(i)
	var fa, fb [3]float32
	tab := s.Tables()
	type tone struct{ n, sum, squares float64 }
	var tones [201]tone // by half units of L* without noise
	n := 0
	c, _ := g.of(context.Background(), i)
	for y := range g.h {
		for x := range g.w {
			at := y*g.w + x
			if g.bands[at] != uint8(measure.Shadows) || (c.flags[at]|g.own.flags[at])&(missing|lostLight|lostDark) != 0 {
				continue
			}
			bx, by := float64(g.area.Min.X+x*g.side)+0.5, float64(g.area.Min.Y+y*g.side)+0.5
			k := 3 * (int(m[3]*bx+m[4]*by+m[5])*p.W + int(m[0]*bx+m[1]*by+m[2]))
			if k < 0 || k+3 > len(p.Pix) {
				continue
			}
			a.Space.Linear(fa[:], p.Pix[k:k+3])
			b.Space.Linear(fb[:], b.Preview.Pix[k:k+3])
			for ch := range 3 {
				fa[ch], fb[ch] = tab[ch].At(fa[ch]), tab[ch].At(fb[ch])
			}
			l := func(v [3]float32) float64 { return colour.LabOf(float64(v[0]), float64(v[1]), float64(v[2])).L }
			d := l(fa) - l(fb)
			v := &tones[int(math.Max(0, math.Min(200, 2*l(fb))))]
			v.n, v.sum, v.squares = v.n+1, v.sum+d, v.squares+d*d
			n++
		}
	}
	if n < leastCells {
		return nil
	}
	sum := 0.0
	for _, v := range tones {
		if v.n > 0 {
			sum += v.squares - v.sum*v.sum/v.n
		}
	}
	v := math.Sqrt(sum / float64(n))
	return &v
}

func TestBaseFrameCostsNothing(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	r := shoot(t, simulate.Reversal(), simulate.Options{W: 700, H: 606})
	g, err := NewGrid(ctx, r.frames, r.base, r.res, r.levels)
	if err != nil {
		t.Fatal(err)
	}
	f, err := g.Frame(ctx, r.base)
	if err != nil {
		t.Fatal(err)
	}
	for k := range f.Grades {
		c := f.Grades[k].Cost
		if *c.DeltaE != 0 || *c.P95 != 0 || *c.LostArea != 0 || math.Abs(*c.ContrastKept-1) > 1e-9 || *c.Crossover != 0 || !f.Grades[k].Settings.IsZero() {
			t.Errorf("%s: dE00 %g, %g; lost %g; contrast %g; crossover %g", Grade(k), *c.DeltaE, *c.P95, *c.LostArea, *c.ContrastKept, *c.Crossover)
		}
	}
	// More effort never fits worse, and the cost of a grade is what CostOf says.
	for i := range r.frames {
		f, err := g.Frame(ctx, i)
		if err != nil {
			t.Fatal(err)
		}
		if i == r.base || f.Reason != "" {
			continue
		}
		e, b, c := *f.Grades[Exposure].Cost.DeltaE, *f.Grades[Balance].Cost.DeltaE, *f.Grades[Curves].Cost.DeltaE
		if b > e*1.15+0.3 || c > b*1.15+0.3 {
			t.Errorf("%+g: dE00 %.2f by exposure, %.2f by balance, %.2f by curves", r.frames[i].Stop, e, b, c)
		}
		for k := range f.Grades {
			if err := f.Grades[k].Settings.Validate(); err != nil {
				t.Error(err)
			}
			quick, ok, err := g.CostOf(ctx, i, f.Grades[k].Settings)
			if err != nil || !ok || math.Abs(*quick.DeltaE-*f.Grades[k].Cost.DeltaE) > 0.15**quick.DeltaE+0.15 {
				t.Errorf("%+g %s: %v, %v", r.frames[i].Stop, Grade(k), quick.DeltaE, err)
			}
		}
		if n := len(f.Lost); n != r.frames[i].Look.Preview.W*r.frames[i].Look.Preview.H {
			t.Errorf("a mask of %d pixels", n)
		}
	}
	// Frames that cannot be compared say so.
	frames := append([]response.Frame(nil), r.frames...)
	frames[0].Unregistered = true
	frames[1].Look = nil
	if g, err = NewGrid(ctx, frames, r.base, nil, nil); err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		if f, err := g.Frame(ctx, i); err != nil || f.Reason == "" {
			t.Errorf("frame %d: %v", i, err)
		}
	}
	if _, err := NewGrid(ctx, frames, -1, nil, nil); err == nil {
		t.Error("a grid without a base frame")
	}
	ended, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := g.Roll(ended, nil); err == nil {
		t.Error("a cancelled roll ends without a word")
	}
}

func BenchmarkRoll(b *testing.B) {
	r := shoot(b, simulate.Reversal(), simulate.Options{W: 2000, H: 1732})
	for b.Loop() {
		g, err := NewGrid(context.Background(), r.frames, r.base, r.res, r.levels)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := g.Roll(context.Background(), nil); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCostOf(b *testing.B) {
	r := shoot(b, simulate.Reversal(), simulate.Options{W: 2000, H: 1732})
	g, err := NewGrid(context.Background(), r.frames, r.base, r.res, r.levels)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := g.CostOf(context.Background(), 1, correction.Settings{Exposure: 1.9}); err != nil {
			b.Fatal(err)
		}
	}
}

// Contrast kept is a matter of the film, not of where a frame lies on the scanner:
// reading between pixels takes fine contrast away, and of the base frame as much is
// taken. Frames a quarter stop off, moved by parts of a pixel and turned, keep it as
// frames that lie still do. Highlights are left out: what little varies there in the
// demo's scene is the noise of its rendering, which the simulator's own reading
// between pixels smooths.
func TestContrastDoesNotHangOnPlacement(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("SKIPPED: simulated rolls take seconds")
	}
	ctx := context.Background()
	kept := func(o simulate.Options) []Cost {
		r := shootAt(t, simulate.Negative(), o, []float64{-1, -0.25, 0, 0.25, 1})
		g, err := NewGrid(ctx, r.frames, r.base, r.res, r.levels)
		if err != nil {
			t.Fatal(err)
		}
		var out []Cost
		for i := range r.frames {
			f, err := g.Frame(ctx, i)
			if err != nil || f.Reason != "" {
				t.Fatalf("%d: %v %s", i, err, f.Reason)
			}
			out = append(out, f.Grades[Curves].Cost)
		}
		return out
	}
	still := kept(simulate.Options{W: 1200, H: 1039, Seed: 11})
	moved := kept(simulate.Options{W: 1200, H: 1039, Seed: 11, MaxShift: 0.004, MaxRotation: 0.2})
	for i := range still {
		for name, v := range map[string][2]*float64{
			"whole":    {still[i].ContrastKept, moved[i].ContrastKept},
			"shadows":  {still[i].Bands[measure.Shadows].ContrastKept, moved[i].Bands[measure.Shadows].ContrastKept},
			"midtones": {still[i].Bands[measure.Midtones].ContrastKept, moved[i].Bands[measure.Midtones].ContrastKept},
		} {
			if v[0] == nil || v[1] == nil || math.Abs(*v[0]-*v[1]) > 0.03 {
				t.Errorf("frame %d, %s: still %v, moved %v", i, name, deref(v[0]), deref(v[1]))
			}
		}
	}
}

func deref(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

// The toe of a negative drowns: somewhere in it a third of a stop is less than the
// noise, above the darkest code that the film gives at all; where the film still
// separates tones it does not.
func checkToe(t *testing.T, r *roll) {
	t.Helper()
	g := &Grid{frames: r.frames, res: r.res, noise: r.levels, bounds: r.levels, base: r.base}
	l := r.frames[r.base].Look
	for c := range 3 {
		light, dark := g.drowned(l, c)
		if light < l.Info.Max() {
			t.Errorf("channel %d: the shoulder drowns at code %d, where grain is finest", c, light)
		}
		if dark <= 0 {
			t.Errorf("channel %d: nothing of the toe drowns", c)
			continue
		}
		// By the arithmetic of the bound itself, from the fitted curve and the noise.
		ratio := func(code int) float64 {
			y := float64(l.Space.Tone()[c][code])
			e, ok := r.res.Curve.LogEOf(c, -math.Log10(y))
			if !ok {
				return math.NaN()
			}
			a, b := r.res.Curve.At(c, e-third/2), r.res.Curve.At(c, e+third/2)
			return math.Abs(math.Pow(10, -a)-math.Pow(10, -b)) / r.levels.Sigma(c, y)
		}
		if at, above := ratio(dark), ratio(dark+200); !(at < 1) || !(above > 1) {
			t.Errorf("channel %d: a third of a stop is %.2f of the noise at the bound, %.2f above it", c, at, above)
		}
	}
}

// The codes that speak lie around the one that speaks best, wherever the scan has put
// the film on its scale.
func TestSpeaking(t *testing.T) {
	const n = 65536
	film := func(lo, toe, shoulder, hi int) func(int) (float64, bool) { // speaks between toe and shoulder, is known from lo to hi
		return func(v int) (float64, bool) {
			mid := (toe + shoulder) / 2
			r := 1 + 5*(1-math.Abs(float64(v-mid))/float64(shoulder-mid))
			return r, v >= lo && v <= hi
		}
	}
	none := func(int) (float64, bool) { return 0, false }
	for name, c := range map[string]struct {
		ratio       func(int) (float64, bool)
		light, dark int
	}{
		"over the whole scale":   {film(0, 3000, 60000, n-1), 60000, 3000},
		"a flat scan, all dark":  {film(0, 2000, 20000, 24000), 20000, 2000},
		"a flat scan, all light": {film(40000, 44000, 62000, n-1), 62000, 44000},
		"no toe within the roll": {film(9000, 100, 60000, n-1), 60000, -1},
		"nothing but straight":   {film(9000, 0, n, 50000), n, -1},
		"nothing is known of it": {none, n, -1},
	} {
		light, dark := speaking(n, c.ratio)
		if math.Abs(float64(light-c.light)) > 32 || math.Abs(float64(dark-c.dark)) > 32 {
			t.Errorf("%s: from %d to %d, want %d to %d", name, dark, light, c.dark, c.light)
		}
	}
}

// What is lost does not hang on how many pixels a scan has: clipped pixels that a
// preview pixel averages away are still clipped. The same frame scanned at 1200 pixels,
// which the preview holds as they are, and at 2400, which it halves. A finer scan has
// less noise for the same piece of film, so the two need not be one; but what half of
// the pixels have lost is lost.
func TestLostDoesNotHangOnTheScansSize(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("SKIPPED: simulated rolls take seconds")
	}
	lost := func(w, h int) (out []float64) {
		r := shootAt(t, simulate.Reversal(), simulate.Options{W: w, H: h}, []float64{-2, -1, 0, 1})
		g, err := NewGrid(context.Background(), r.frames, r.base, r.res, r.levels)
		if err != nil {
			t.Fatal(err)
		}
		for i := range r.frames {
			f, err := g.Frame(context.Background(), i)
			if err != nil || f.Reason != "" {
				t.Fatalf("%d: %v %s", i, err, f.Reason)
			}
			out = append(out, *f.Grades[Balance].Cost.LostArea)
		}
		return out
	}
	small, large := lost(1200, 1039), lost(2400, 2078)
	t.Logf("small %.4f, large %.4f", small, large)
	for i := range small {
		if math.Abs(small[i]-large[i]) > 0.25*small[i]+0.003 {
			t.Errorf("frame %d: %.4f lost of the small scan, %.4f of the large", i, small[i], large[i])
		}
	}
}
