package render

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/numeric/affine"

	"golang.org/x/image/math/f64"
)

func about(a, b, tol float64) bool { return math.Abs(a-b) <= tol }

// ports are sizes that occur, odd ones among them.
func randomPort(r *rand.Rand) Port {
	x, y := r.IntN(300), r.IntN(300)
	return Port{Area: image.Rect(x, y, x+50+r.IntN(9000), y+50+r.IntN(9000)), W: 1 + r.IntN(3000), H: 1 + r.IntN(2000)}
}

func randomView(r *rand.Rand, p Port) View {
	least, most := p.ZoomLimits()
	return View{U: r.Float64(), V: r.Float64(), Zoom: least * math.Pow(most/least, r.Float64())}
}

func TestFitTouchesOneSideAndShowsAll(t *testing.T) {
	for _, c := range []struct {
		area image.Rectangle
		w, h int
		zoom float64
	}{
		{image.Rect(0, 0, 1000, 500), 500, 500, 0.5},
		{image.Rect(100, 50, 1100, 550), 2000, 500, 1},
		{image.Rect(7, 7, 47, 27), 400, 400, 10},
	} {
		v := Port{c.area, c.w, c.h}.Fit()
		if v.Zoom != c.zoom || v.U != 0.5 || v.V != 0.5 {
			t.Errorf("Fit(%v, %d, %d) = %+v, want zoom %g centred", c.area, c.w, c.h, v, c.zoom)
		}
	}
	r := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		p := randomPort(r)
		pl := p.Place(p.Fit())
		x0, y0 := pl.ToDevice(float64(p.Area.Min.X), float64(p.Area.Min.Y))
		x1, y1 := pl.ToDevice(float64(p.Area.Max.X), float64(p.Area.Max.Y))
		if x0 < -1 || y0 < -1 || x1 > float64(p.W)+1 || y1 > float64(p.H)+1 {
			t.Fatalf("%+v: the image area falls at %g,%g - %g,%g, outside the buffer", p, x0, y0, x1, y1)
		}
	}
}

func TestRoundTrips(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		p := randomPort(r)
		pl := p.Place(randomView(r, p))
		x, y := r.Float64()*float64(p.W), r.Float64()*float64(p.H)
		bx, by := pl.ToBase(x, y)
		gx, gy := pl.ToDevice(bx, by)
		if !about(gx, x, 1e-6) || !about(gy, y, 1e-6) {
			t.Fatalf("device %g,%g -> base %g,%g -> device %g,%g", x, y, bx, by, gx, gy)
		}
		a := r.Float64() - 0.5
		m := f64.Aff3{math.Cos(a) * 1.1, -math.Sin(a), 30 * r.Float64(), math.Sin(a), math.Cos(a) * 0.9, -20 * r.Float64()}
		inv, ok := affine.Inverse(m)
		fx, fy := affine.At(m, bx, by)
		ux, uy := affine.At(inv, fx, fy)
		if !ok || !about(ux, bx, 1e-6) || !about(uy, by, 1e-6) {
			t.Fatalf("base %g,%g -> frame -> base %g,%g", bx, by, ux, uy)
		}
		d2f := pl.deviceToFrame(m)
		cx, cy := affine.At(d2f, x, y)
		if !about(cx, fx, 1e-5) || !about(cy, fy, 1e-5) {
			t.Fatalf("chained map gives %g,%g, the steps %g,%g", cx, cy, fx, fy)
		}
	}
	if _, ok := affine.Inverse(f64.Aff3{1, 2, 0, 2, 4, 0}); ok {
		t.Error("a singular map was inverted")
	}
}

// The offsets of a placement are whole: at 1:1 pixel corners fall on pixel corners.
func TestPlacementIsWhole(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 1000 {
		p := randomPort(r)
		pl := p.Place(randomView(r, p))
		if pl.X != math.Trunc(pl.X) || pl.Y != math.Trunc(pl.Y) {
			t.Fatalf("placement %+v of %+v is not whole", pl, p)
		}
	}
}

func TestZoomAtKeepsThePointUnderTheCursor(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	kept := 0
	for range 3000 {
		p := randomPort(r)
		v := p.Clamp(randomView(r, p))
		x, y := r.Float64()*float64(p.W), r.Float64()*float64(p.H)
		before := [2]float64{}
		cx, cy := p.centre(v)
		before[0], before[1] = cx+(x-float64(p.W)/2)/v.Zoom, cy+(y-float64(p.H)/2)/v.Zoom
		n := p.ZoomAt(v, x, y, math.Pow(2, 4*r.Float64()-2))
		if n != p.Clamp(n) {
			t.Fatalf("ZoomAt gave %+v, outside the limits", n)
		}
		if u, w := p.reach(n.Zoom); math.Abs(n.U-0.5) >= u-1e-12 || math.Abs(n.V-0.5) >= w-1e-12 {
			continue // the limits won
		}
		kept++
		cx, cy = p.centre(n)
		after := [2]float64{cx + (x-float64(p.W)/2)/n.Zoom, cy + (y-float64(p.H)/2)/n.Zoom}
		if !about(before[0], after[0], 1e-6) || !about(before[1], after[1], 1e-6) {
			t.Fatalf("the point under the cursor went from %v to %v", before, after)
		}
		// As drawn, whole-pixel placement may cost half a device pixel.
		gx, gy := p.Place(n).ToDevice(before[0], before[1])
		if !about(gx, x, 0.51) || !about(gy, y, 0.51) {
			t.Fatalf("the point is drawn %g,%g device pixels from the cursor", gx-x, gy-y)
		}
	}
	if kept < 1500 {
		t.Errorf("only %d of 3000 cases tested the invariant", kept)
	}
}

func TestZoomInAndOutComesBack(t *testing.T) {
	p := Port{image.Rect(30, 20, 6030, 4020), 1601, 1001}
	v := View{0.4, 0.6, 0.5}
	w := v
	for range 8 {
		w = p.ZoomAt(w, 777, 333, math.Sqrt2)
	}
	for range 8 {
		w = p.ZoomAt(w, 777, 333, 1/math.Sqrt2)
	}
	if !about(w.U, v.U, 1e-9) || !about(w.V, v.V, 1e-9) || !about(w.Zoom, v.Zoom, 1e-9) {
		t.Errorf("in and out again led from %+v to %+v", v, w)
	}
}

func TestOneToOneIsExactlyOne(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for range 500 {
		p := randomPort(r)
		if z := p.OneToOne(randomView(r, p), 10, 10).Zoom; z != 1 {
			t.Fatalf("OneToOne in %+v gave zoom %v", p, z)
		}
	}
}

func TestPanMovesByWholePixels(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	for range 1000 {
		p := Port{Area: image.Rect(0, 0, 4000, 3000), W: 500 + r.IntN(3), H: 400 + r.IntN(3)}
		v := View{0.3 + 0.4*r.Float64(), 0.3 + 0.4*r.Float64(), []float64{1, 2, 0.5, 0.37, 5}[r.IntN(5)]}
		if r.IntN(3) == 0 {
			v.U, v.V = 0.5, 0.5 // exact halves in odd buffers
		}
		a := p.Place(v)
		b := p.Place(p.Pan(v, 7, -11))
		if b.X-a.X != 7 || b.Y-a.Y != -11 {
			t.Fatalf("%+v in %+v: a pan by 7, -11 moved the picture by %g, %g", v, p, b.X-a.X, b.Y-a.Y)
		}
	}
}

func TestClamp(t *testing.T) {
	p := Port{image.Rect(0, 0, 8000, 5000), 1600, 1000}
	fit := p.Fit().Zoom
	for _, c := range []struct {
		in   View
		want View
	}{
		{View{0.5, 0.5, 1000}, View{0.5, 0.5, 16}},
		{View{0.5, 0.5, 1e-9}, View{0.5, 0.5, 0.8 * fit}},
		{View{-3, 9, 1}, View{0, 1, 1}}, // (8000-1600)/2 + 800 of 8000 from the middle
		{View{-3, 0.5, fit}, View{0.4, 0.5, fit}},
		{View{math.NaN(), 0, 1}, p.Fit()},
		{View{0.5, 0.5, math.Inf(1)}, p.Fit()},
		{View{0.5, 0.5, -1}, p.Fit()},
		{View{}, p.Fit()},
	} {
		if got := p.Clamp(c.in); got != c.want {
			t.Errorf("Clamp(%+v) = %+v, want %+v", c.in, got, c.want)
		}
	}
	// Some of the picture stays in sight up to 1.5:1; beyond, the film border may
	// fill the buffer.
	for z := 0.8 * fit; z < 1.5; z *= 1.1 {
		for _, u := range []float64{-9, 9} {
			pl := p.Place(View{u, u, z})
			x0, _ := pl.ToDevice(0, 0)
			x1, _ := pl.ToDevice(8000, 0)
			if shown := math.Min(x1, 1600) - math.Max(x0, 0); shown < 300 {
				t.Errorf("zoom %g: only %g pixels of the picture can be in sight", z, shown)
			}
		}
	}
	// A picture smaller than the window can still be seen at 1:1, and at its fit.
	small := Port{image.Rect(0, 0, 40, 30), 1600, 1000}
	if least, most := small.ZoomLimits(); least > 1 || most < small.Fit().Zoom {
		t.Errorf("limits of a small picture are %g..%g", least, most)
	}
}

func TestAreaMap(t *testing.T) {
	base := image.Rect(100, 80, 6100, 4080)
	for _, c := range []struct {
		name  string
		frame image.Rectangle
		want  f64.Aff3
	}{
		{"same", base, affine.Identity},
		{"shifted", base.Add(image.Pt(13, -7)), f64.Aff3{1, 0, 13, 0, 1, -7}},
		{"edge found 10 px tighter", image.Rect(110, 90, 6090, 4070), affine.Identity},
		{"half the resolution", image.Rect(50, 40, 3050, 2040), f64.Aff3{0.5, 0, 0, 0, 0.5, 0}},
		{"nothing known", image.Rectangle{}, affine.Identity},
	} {
		if got := AreaMap(base, c.frame); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
