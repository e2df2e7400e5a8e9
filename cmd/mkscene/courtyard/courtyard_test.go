package courtyard

import (
	"context"
	"fmt"
	"image"
	"math"
	"runtime"
	"slices"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/valuenoise"
)

func embedded(t testing.TB) *scene.Radiance {
	t.Helper()
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// project returns the picture position 0..1 of a point.
func (c *camera) project(p vec, aspect float64) (u, v float64) {
	d := p.sub(c.eye)
	z := d.dot(c.forward)
	return (d.dot(c.right)/z/c.half + 1) / 2, 1 - c.rise - d.y/z/(2*c.half/aspect)
}

// greyPlaces returns where the grey card and the steps of the grey scale, from
// light to dark, lie in the picture: for each the upright rectangle inside its
// four projected corners (the board is seen at an angle), less a rim.
func greyPlaces() []scene.Place {
	cam := courtyardCamera()
	project := func(name string, r rect, inset, reflectance float64) scene.Place {
		ix, iy := inset*(r.x1-r.x0), inset*(r.y1-r.y0)
		ul, vl := cam.project(vec{r.x0 + ix, r.y1 - iy, r.z}, Aspect)
		ur, vr := cam.project(vec{r.x1 - ix, r.y1 - iy, r.z}, Aspect)
		dl, wl := cam.project(vec{r.x0 + ix, r.y0 + iy, r.z}, Aspect)
		dr, wr := cam.project(vec{r.x1 - ix, r.y0 + iy, r.z}, Aspect)
		return scene.Place{Name: name, X0: math.Max(ul, dl), Y0: math.Max(vl, vr), X1: math.Min(ur, dr), Y1: math.Min(wl, wr), Reflectance: reflectance}
	}
	p := []scene.Place{project("grey card", cardRect, 0.1, cardGrey)}
	for i, v := range greySteps() {
		p = append(p, project(fmt.Sprintf("grey step %d", i+1), stepRect(i), 0.14, v))
	}
	return p
}

// TestGreyPlaces holds the places that package scene names to the geometry.
func TestGreyPlaces(t *testing.T) {
	want := greyPlaces()
	for i, w := range want {
		g := scene.Places[i]
		if g.Name != w.Name || math.Abs(g.Reflectance/w.Reflectance-1) > 1e-5 ||
			math.Max(math.Max(math.Abs(g.X0-w.X0), math.Abs(g.X1-w.X1)), math.Max(math.Abs(g.Y0-w.Y0), math.Abs(g.Y1-w.Y1))) > 1e-5 {
			t.Errorf("place %d is %+v, the geometry gives %+v", i, g, w)
		}
	}
}

// TestEmbeddedIsRendered renders small parts of the courtyard again, with all
// its samples, and compares them with the embedded picture, so that the picture
// cannot drift from the code that claims to make it.
func TestEmbeddedIsRendered(t *testing.T) {
	r := embedded(t)
	if r.W != scene.EmbeddedWidth || r.H != scene.EmbeddedHeight {
		t.Fatalf("embedded scene is %d x %d", r.W, r.H)
	}
	for _, at := range []image.Point{{100, 300}, {460, 760}, {780, 805}, {640, 40}, {1190, 420}} {
		region := image.Rectangle{at, at.Add(image.Pt(6, 6))}
		got, err := RenderRegion(context.Background(), r.W, r.H, scene.EmbeddedSamples, region, nil)
		if err != nil {
			t.Fatal(err)
		}
		// Half a step of the packed form, and rounding. Other processors fuse
		// multiplications, which sends single paths elsewhere: there, only the
		// sampling's own noise is asked for.
		limit := 1.0/(2*scene.StepsPerStop) + 1e-3
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
	r := valuenoise.Rand(3)
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
	r := valuenoise.Rand(1)
	v := func(s float64) vec { return vec{r.Next() - 0.5, r.Next() - 0.5, r.Next() - 0.5}.scale(s) }
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
