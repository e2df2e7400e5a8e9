package scene

import (
	"bytes"
	"context"
	"image"
	"math"
	"runtime"
	"slices"
	"testing"
)

func place(t testing.TB, name string) Place {
	t.Helper()
	for _, p := range Places() {
		if p.Name == name {
			return p
		}
	}
	t.Fatalf("no place %q", name)
	return Place{}
}

func courtyardPicture(t testing.TB) *Radiance {
	t.Helper()
	r, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestEmbeddedIsRendered renders small parts of the courtyard again, with all
// its samples, and compares them with the embedded picture, so that the picture
// cannot drift from the code that claims to make it.
func TestEmbeddedIsRendered(t *testing.T) {
	r := courtyardPicture(t)
	if r.W != EmbeddedWidth || r.H != EmbeddedHeight {
		t.Fatalf("embedded scene is %d x %d", r.W, r.H)
	}
	for _, at := range []image.Point{{100, 300}, {460, 760}, {780, 805}, {640, 40}, {1190, 420}} {
		region := image.Rectangle{at, at.Add(image.Pt(6, 6))}
		got, err := RenderRegion(context.Background(), r.W, r.H, EmbeddedSamples, region, nil)
		if err != nil {
			t.Fatal(err)
		}
		// Half a step of the packed form, and rounding. Other processors fuse
		// multiplications, which sends single paths elsewhere: there, only the
		// sampling's own noise is asked for.
		limit := 1.0/(2*packSteps) + 1e-3
		if runtime.GOARCH != "amd64" {
			limit = 0.5
		}
		worst := 0.0
		for y := range region.Dy() {
			for x := range region.Dx() {
				for c := range 3 {
					a := float64(got.Pix[3*(y*6+x)+c])
					b := float64(r.Pix[3*((at.Y+y)*r.W+at.X+x)+c])
					worst = math.Max(worst, math.Abs(math.Log2(a/b)))
				}
			}
		}
		if worst > limit {
			t.Errorf("at %v the embedded scene is up to %.3f stops off a new rendering: run go generate ./assets", at, worst)
		}
	}
}

func TestGreys(t *testing.T) {
	r := courtyardPicture(t)
	for _, p := range Places() {
		if p.Reflectance == 0 {
			continue
		}
		m := r.Mean(p)
		for c, v := range m {
			// The scale lies lower than the card and sees more of the paving:
			// up to 4 % of a difference in light is real.
			if e := v/p.Reflectance - 1; math.Abs(e) > 0.04 {
				t.Errorf("%s channel %d: light %.4f, reflectance %.4f (%+.1f %%)", p.Name, c, v, p.Reflectance, 100*e)
			}
		}
	}
	card := r.Mean(place(t, "grey card"))
	for c, v := range card {
		if math.Abs(v/0.18-1) > 0.01 {
			t.Errorf("grey card channel %d: %.4f, want 0.18 within 1 %%", c, v)
		}
	}
}

// TestRange holds the scene to the range of light that a test roll needs, in
// stops against the sunlit card.
func TestRange(t *testing.T) {
	r := courtyardPicture(t)
	for _, c := range []struct {
		name   string
		lo, hi float64
	}{
		{"sunlit white wall", 1.7, 2.7},
		{"clouds", 1.7, 3.2},
		{"blue sky", 0, 1.8},
		{"shaded white wall", 0, 1.3},
		{"deep shade", -6, -3},
		{"tiled floor in shade", -6, -3},
	} {
		s := math.Log2(r.Mean(place(t, c.name))[1] / 0.18)
		t.Logf("%-22s %+.2f stops", c.name, s)
		if s < c.lo || s > c.hi {
			t.Errorf("%s lies at %+.2f stops, want %v to %v", c.name, s, c.lo, c.hi)
		}
	}
	var all []float64
	for i := 1; i < len(r.Pix); i += 3 {
		all = append(all, math.Log2(float64(r.Pix[i])/0.18))
	}
	slices.Sort(all)
	lo, hi := all[len(all)/200], all[len(all)-len(all)/200]
	t.Logf("99 %% of the picture lies between %+.2f and %+.2f stops", lo, hi)
	if hi-lo < 6 || hi-lo > 11 {
		t.Errorf("the scene spans %.1f stops", hi-lo)
	}
}

func TestFinite(t *testing.T) {
	r := courtyardPicture(t)
	for i, v := range r.Pix {
		if !(v > 0) || v > 1000 {
			t.Fatalf("pixel %d is %v", i/3, v)
		}
	}
}

func TestPlacesInside(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range Places() {
		if seen[p.Name] {
			t.Errorf("two places are named %s", p.Name)
		}
		seen[p.Name] = true
		if !(0 <= p.X0 && p.X0 < p.X1 && p.X1 <= 1 && 0 <= p.Y0 && p.Y0 < p.Y1 && p.Y1 <= 1) {
			t.Errorf("%+v", p)
		}
	}
}

func TestRenderDeterministic(t *testing.T) {
	region := image.Rect(20, 40, 44, 60)
	old := runtime.GOMAXPROCS(1)
	a, err := RenderRegion(context.Background(), 140, 120, 3, region, nil)
	runtime.GOMAXPROCS(5)
	b, err2 := RenderRegion(context.Background(), 140, 120, 3, region, nil)
	whole, err3 := Render(context.Background(), 140, 120, 3, nil)
	runtime.GOMAXPROCS(old)
	if err != nil || err2 != nil || err3 != nil {
		t.Fatal(err, err2, err3)
	}
	if !slices.Equal(a.Pix, b.Pix) {
		t.Error("the rendering depends on the number of processors")
	}
	for y := range region.Dy() {
		i := 3 * ((region.Min.Y+y)*whole.W + region.Min.X)
		if !slices.Equal(a.Pix[3*region.Dx()*y:][:3*region.Dx()], whole.Pix[i:i+3*region.Dx()]) {
			t.Fatalf("row %d of a region differs from the whole", y)
		}
	}
}

func TestRenderStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Render(ctx, 140, 120, 4, nil); err == nil {
		t.Error("a cancelled rendering succeeded")
	}
	for _, c := range [][3]int{{0, 100, 1}, {100, 100, 0}, {100, 90000, 1}} {
		if _, err := Render(context.Background(), c[0], c[1], c[2], nil); err == nil {
			t.Errorf("%v was taken", c)
		}
	}
}

// TestFurnace checks the light transport against closed forms: a Lambert
// surface of albedo a under a uniform sky L sends back a*L, and in the sun alone
// a*E*cos/pi.
func TestFurnace(t *testing.T) {
	w := &world{mats: []material{{at: func(_, _ vec, _ float64) surface { return surface{albedo: grey(0.4)} }}}}
	const s = 1000
	w.m.flat(0, 0.5, vec{-s, 0, s}, vec{s, 0, s}, vec{s, 0, -s}, vec{-s, 0, -s})
	w.bvh = buildBVH(&w.m)
	w.sky = &skyTable{pix: make([]vec, skyW*skyH)}
	for i := range w.sky.pix {
		w.sky.pix[i] = grey(0.7)
	}
	pt, ok := w.find(vec{0.3, 2, 0.1}, vec{0.1, -1, 0.2}.unit(), true)
	if !ok || math.Abs(pt.p.y) > 1e-5 {
		t.Fatalf("the plane was hit at %+v", pt.p)
	}
	var ind, sun vec
	const n = 4000
	r := rng(3)
	for i := range n {
		a, b := r2(i, 0.1, 0.2)
		ind = ind.add(w.gather(pt.p.add(vec{0, 1e-3, 0}), cosine(pt.n, a, b), &r).mul(pt.albedo).scale(1.0 / n))
		f, _ := w.sun(&pt, a, b)
		sun = sun.add(sunE.mul(pt.albedo).scale(f / n))
	}
	if math.Abs(ind.y/(0.4*0.7)-1) > 0.002 {
		t.Errorf("uniform sky: %.4f, want %.4f", ind.y, 0.4*0.7)
	}
	if want := 0.4 * sunE.y * sunDir.y / math.Pi; math.Abs(sun.y/want-1) > 0.002 {
		t.Errorf("sun: %.4f, want %.4f", sun.y, want)
	}
}

// TestBVH compares the hierarchy with trying every triangle.
func TestBVH(t *testing.T) {
	var m mesh
	r := rng(1)
	v := func(s float64) vec { return vec{r.next() - 0.5, r.next() - 0.5, r.next() - 0.5}.scale(s) }
	for range 800 {
		p := v(10)
		m.flat(0, 0, p, p.add(v(1.5)), p.add(v(1.5)))
	}
	b := buildBVH(&m)
	hits := 0
	for range 3000 {
		ry := newRay(v(14), v(1).unit())
		want := contact{t: math.MaxFloat32}
		any := false
		for i := range b.tris {
			if d, u, w, ok := b.tris[i].hit(&ry, want.t); ok {
				want, any = contact{d, u, w, b.tris[i].src}, true
			}
		}
		got, ok := b.nearest(&ry)
		if ok != any || (ok && (got.t != want.t || got.face != want.face)) {
			t.Fatalf("got %+v %v, want %+v %v", got, ok, want, any)
		}
		if b.blocked(&ry) != any {
			t.Fatal("blocked disagrees")
		}
		if any {
			hits++
		}
	}
	if hits < 500 || hits > 2900 {
		t.Fatalf("%d hits are no test", hits)
	}
}

func TestPack(t *testing.T) {
	c, err := Leaves(211, 97, 9, 4)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := c.Pack(&b); err != nil {
		t.Fatal(err)
	}
	got, err := Unpack(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range got.Pix {
		if e := math.Abs(math.Log2(float64(v) / float64(c.Pix[i]))); e > 1.0/(2*packSteps)+1e-6 {
			t.Fatalf("value %d is %v, was %v", i, v, c.Pix[i])
		}
	}
}

func FuzzUnpack(f *testing.F) {
	c, _ := Ramp(40, 20, 3)
	var b bytes.Buffer
	_ = c.Pack(&b)
	f.Add(b.Bytes())
	f.Add([]byte(packMagic))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 13 && (b[7]|b[8]|b[11]|b[12] != 0 || b[6] > 3 || b[10] > 3) {
			t.Skip("large pictures only take time")
		}
		r, err := Unpack(b)
		if err == nil && len(r.Pix) != 3*r.W*r.H {
			t.Fatal("wrong size")
		}
	})
}

func TestCharts(t *testing.T) {
	w, err := Wedge(220, 40, 11, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range w.Places {
		want := 0.18 * math.Exp2(0.5*float64(5-i))
		if m := w.Mean(p)[1]; math.Abs(m/want-1) > 1e-5 {
			t.Errorf("step %d: %v, want %v", i+1, m, want)
		}
	}
	r, err := Ramp(400, 16, 4)
	if err != nil {
		t.Fatal(err)
	}
	a, _, _ := r.At(0, 3)
	b, _, _ := r.At(399, 3)
	if s := math.Log2(float64(a / b)); math.Abs(s-8*399/400.0) > 1e-4 {
		t.Errorf("the ramp spans %v stops", s)
	}
	p, err := Patches(360, 200, 5)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Places) != 45 {
		t.Errorf("%d patches", len(p.Places))
	}
	for _, c := range []*Chart{p} {
		for _, v := range c.Pix {
			if !(v > 0) {
				t.Fatal("light is not positive")
			}
		}
	}
	l1, _ := Leaves(200, 200, 8, 1)
	l2, _ := Leaves(200, 200, 8, 1)
	l3, _ := Leaves(200, 200, 8, 2)
	if !slices.Equal(l1.Pix, l2.Pix) || slices.Equal(l1.Pix, l3.Pix) {
		t.Error("dead leaves do not follow their seed")
	}
}

func BenchmarkUnpack(b *testing.B) {
	r := courtyardPicture(b)
	var z bytes.Buffer
	if err := r.Pack(&z); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(z.Len()), "bytes")
	for b.Loop() {
		if _, err := Unpack(z.Bytes()); err != nil {
			b.Fatal(err)
		}
	}
}
