package render

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"
	"sync/atomic"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/paint"

	"golang.org/x/image/math/f64"
)

var grey = color.RGBA{0x3a, 0x3a, 0x3a, 0xff}

func canvas(w, h int) *image.RGBA { return image.NewRGBA(image.Rect(0, 0, w, h)) }

// checkExact compares a render pixel by pixel with the file's own pixels: at
// device x, y must stand the file's pixel at (x, y) / side + from.
func checkExact(t *testing.T, name string, got *image.RGBA, pix []uint16, w, h int, from image.Point, side int) {
	t.Helper()
	exact := make([]uint8, 4*len(pix)/3)
	colour.AssumedSRGB(65535).RGBA(exact, pix)
	bad, far := 0, 0
	for y := range got.Rect.Dy() {
		for x := range got.Rect.Dx() {
			c := got.RGBAAt(x, y)
			fx, fy := from.X+x/side, from.Y+y/side
			if fx < 0 || fy < 0 || fx >= w || fy >= h {
				if c != grey {
					bad++
				}
				continue
			}
			at := fy*w + fx
			for k, v := range [3]uint8{c.R, c.G, c.B} {
				if v != exact[4*at+k] {
					bad++
				}
				if !near(v, converted(pix[3*at+k]), 1) {
					far++
				}
			}
		}
	}
	if bad > 0 {
		t.Errorf("%s: %d values are not the file's pixels as colour converts them", name, bad)
	}
	if far > 0 {
		t.Errorf("%s: %d values are more than one display code from IEC 61966-2-1", name, far)
	}
}

func TestOneToOneShowsTheFilesPixels(t *testing.T) {
	s := testScan(400, 300)
	area := image.Rect(20, 15, 380, 285)
	l := lookOf(s, 4, area)
	full := image.Rect(0, 0, 400, 300)
	for _, size := range [][2]int{{160, 120}, {161, 121}, {640, 480}} {
		for _, zoom := range []float64{1, 2, 3, 16} {
			p := Picture{Look: l, Detail: detailOf(s, l, full, 1)}
			p.Prepare(nil)
			v := View{0.47, 0.53, zoom}
			dst := canvas(size[0], size[1])
			Render(dst, p, v, Overlay{})
			pl := Port{area, size[0], size[1]}.Place(v)
			side := int(zoom)
			bx, by := pl.ToBase(0, 0)
			from := image.Pt(int(math.Floor(bx)), int(math.Floor(by)))
			// Shift to the first whole pixel when the buffer starts inside one.
			sub := dst.SubImage(image.Rect(int(math.Round((float64(from.X)-bx)*zoom))+side, int(math.Round((float64(from.Y)-by)*zoom))+side, size[0], size[1])).(*image.RGBA)
			cut := canvas(sub.Rect.Dx(), sub.Rect.Dy())
			for y := range cut.Rect.Dy() {
				copy(cut.Pix[y*cut.Stride:][:cut.Stride], sub.Pix[y*sub.Stride:])
			}
			checkExact(t, fmt.Sprintf("%v at %g:1", size, zoom), cut, s.Pix, 400, 300, from.Add(image.Pt(1, 1)), side)
		}
	}
}

// A scan no larger than its preview needs no detail to be exact.
func TestSmallScanIsExactFromThePreview(t *testing.T) {
	s := testScan(200, 100)
	p := Picture{Look: lookOf(s, 1, image.Rect(0, 0, 200, 100))}
	dst := canvas(200, 100)
	Render(dst, p, View{0.5, 0.5, 1}, Overlay{})
	checkExact(t, "1:1 without detail", dst, s.Pix, 200, 100, image.Point{}, 1)
	if _, _, ok := Wanted(p, View{0.5, 0.5, 4}, 200, 100); ok {
		t.Error("detail is wanted of a preview that is the scan itself")
	}
}

// A frame whose area was found elsewhere shows its own pixels, shifted.
func TestOtherFramesAreExactToo(t *testing.T) {
	s := testScan(400, 300)
	base := image.Rect(10, 10, 390, 290)
	l := lookOf(s, 4, base.Add(image.Pt(5, -3)))
	p := Picture{Look: l, Base: base, Detail: detailOf(s, l, image.Rect(0, 0, 400, 300), 1)}
	dst := canvas(100, 80)
	v := View{0.5, 0.5, 1}
	Render(dst, p, v, Overlay{})
	bx, by := Port{base, 100, 80}.Place(v).ToBase(0, 0)
	checkExact(t, "shifted frame", dst, s.Pix, 400, 300, image.Pt(int(bx)+5, int(by)-3), 1)
	at, ok := FrameAt(p, v, 100, 80, 0.5, 0.5)
	if !ok || at != image.Pt(int(bx)+5, int(by)-3) {
		t.Errorf("FrameAt says %v, %v", at, ok)
	}
}

// The detail takes the preview's place without a jump of place or brightness.
func TestDetailIsSeamless(t *testing.T) {
	s := smoothScan(800, 600)
	l := lookOf(s, 4, image.Rect(0, 0, 800, 600))
	for _, zoom := range []float64{0.3, 0.5, 0.8, 1, 2} {
		v := View{0.5, 0.5, zoom}
		a, b := canvas(240, 180), canvas(240, 180)
		Render(a, Picture{Look: l}, v, Overlay{})
		p := Picture{Look: l}
		r, step, ok := Wanted(p, v, 240, 180)
		if !ok {
			t.Fatalf("no detail wanted at %g", zoom)
		}
		// Half of the view, so that the seam lies in it.
		r.Max.X = r.Min.X + r.Dx()/2
		p.Detail = detailOf(s, l, r, step)
		Render(b, p, v, Overlay{})
		worst := 0
		for i := range a.Pix {
			worst = max(worst, int(a.Pix[i])-int(b.Pix[i]), int(b.Pix[i])-int(a.Pix[i]))
		}
		if worst > 2 {
			t.Errorf("at %g the detail differs from the preview by %d on a smooth picture", zoom, worst)
		}
	}
}

func TestWanted(t *testing.T) {
	s := testScan(800, 600)
	p := Picture{Look: lookOf(s, 4, image.Rect(0, 0, 800, 600))}
	for _, c := range []struct {
		zoom float64
		step int // 0: none wanted
	}{{0.2, 0}, {0.25, 0}, {0.26, 3}, {0.34, 2}, {0.5, 2}, {0.51, 1}, {1, 1}, {7, 1}} {
		r, step, ok := Wanted(p, View{0.5, 0.5, c.zoom}, 100, 80)
		if ok != (c.step > 0) || ok && step != c.step {
			t.Errorf("zoom %g: step %d, %v; want %d", c.zoom, step, ok, c.step)
		}
		if ok && !r.In(image.Rect(0, 0, 800, 600)) {
			t.Errorf("zoom %g: %v lies outside the scan", c.zoom, r)
		}
	}
	if _, _, ok := Wanted(Picture{}, View{}, 10, 10); ok {
		t.Error("detail is wanted of nothing")
	}
}

func TestSurroundAndWholeScan(t *testing.T) {
	s := smoothScan(300, 200)
	l := lookOf(s, 2, image.Rect(30, 20, 270, 180))
	dst := canvas(400, 400)
	v := Port{l.Area, 400, 400}.Fit()
	Render(dst, Picture{Look: l}, v, Overlay{})
	if dst.RGBAAt(200, 2) != grey || dst.RGBAAt(200, 397) != grey {
		t.Error("the surround is not #3A3A3A")
	}
	pl := Port{l.Area, 400, 400}.Place(v)
	_, y := pl.ToDevice(0, 10) // film border, above the image area
	if dst.RGBAAt(200, int(y)) == grey {
		t.Error("the scan outside the image area is not shown")
	}
	Render(dst, Picture{}, v, Overlay{})
	if dst.RGBAAt(200, 200) != grey {
		t.Error("a picture without a look is not plain surround")
	}
}

// A plane of one colour stays that colour at every zoom: no rounding drift.
func TestFlatStaysFlat(t *testing.T) {
	s := testScan(333, 211)
	for i := range s.Pix {
		s.Pix[i] = [3]uint16{12345, 33333, 54321}[i%3]
	}
	l := lookOf(s, 3, image.Rect(0, 0, 333, 211))
	want := color.RGBA{converted(12345), converted(33333), converted(54321), 255}
	for _, zoom := range []float64{0.1, 0.2, 0.33, 0.5, 1, 1.7, 5} {
		dst := canvas(30, 20)
		Render(dst, Picture{Look: l}, View{0.5, 0.5, zoom}, Overlay{})
		for i := 0; i < len(dst.Pix); i += 4 {
			if got := (color.RGBA{dst.Pix[i], dst.Pix[i+1], dst.Pix[i+2], dst.Pix[i+3]}); got != want {
				t.Fatalf("zoom %g: %v, want %v", zoom, got, want)
			}
		}
	}
}

// Fine black and white lines reduce to the grey of half the light (188 in sRGB,
// IEC 61966-2-1), not of half the code (128).
func TestReductionIsInLight(t *testing.T) {
	l := &level{w: 128, h: 128, pix: make([]uint32, 128*128)}
	for i := range l.pix {
		l.pix[i] = opaque
		if i%2 == 0 {
			l.pix[i] = 0xffffffff
		}
	}
	if got := l.half().pix[77] & 255; got != 188 {
		t.Errorf("half of black and white is %d, want 188", got)
	}
	odd := (&level{w: 3, h: 3, pix: []uint32{opaque, opaque, ^uint32(0), opaque, opaque, ^uint32(0), opaque, opaque, ^uint32(0)}}).half()
	if odd.w != 2 || odd.h != 2 || odd.pix[3] != 0xffffffff {
		t.Errorf("an odd level halves to %+v", odd)
	}
}

// A turned map must agree with the straight one where they are the same, and
// must put a pixel where the map says.
func TestTurnedMap(t *testing.T) {
	s := smoothScan(400, 300)
	l := lookOf(s, 2, image.Rect(0, 0, 400, 300))
	a, b := canvas(200, 150), canvas(200, 150)
	v := View{0.5, 0.5, 0.8}
	Render(a, Picture{Look: l}, v, Overlay{})
	tiny := f64.Aff3{1, 1e-9, 0, -1e-9, 1, 0}
	Render(b, Picture{Look: l, ToThis: &tiny}, v, Overlay{})
	for i := range a.Pix {
		if !near(a.Pix[i], b.Pix[i], 1) {
			t.Fatalf("byte %d: straight %d, turned %d", i, a.Pix[i], b.Pix[i])
		}
	}
	quarter := f64.Aff3{0, -1, 349, 1, 0, -51} // a quarter turn about the middle: base x is frame y
	d := detailOf(s, l, image.Rect(0, 0, 400, 300), 1)
	p := Picture{Look: l, ToThis: &quarter, Detail: d}
	Render(b, p, View{0.5, 0.5, 1}, Overlay{})
	for _, at := range []image.Point{{10, 20}, {100, 75}, {190, 140}} {
		f, ok := FrameAt(p, View{0.5, 0.5, 1}, 200, 150, float64(at.X)+0.5, float64(at.Y)+0.5)
		c := b.RGBAAt(at.X, at.Y)
		q := s.Pix[3*(f.Y*400+f.X):][:3]
		if !ok || !near(c.R, converted(q[0]), 1) || !near(c.G, converted(q[1]), 1) || !near(c.B, converted(q[2]), 1) {
			t.Errorf("device %v shows %v, the frame's pixel %v is %v", at, c, f, q)
		}
	}
}

func TestMasks(t *testing.T) {
	s := testScan(240, 160)
	set := func(r image.Rectangle, v uint16) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				s.Pix[3*(y*240+x)+1] = v // one channel is enough
			}
		}
	}
	blown, blocked := image.Rect(40, 40, 80, 80), image.Rect(120, 40, 160, 80)
	border := image.Rect(0, 0, 16, 160)
	set(blown, 65535)
	set(border, 65535)
	set(blocked, 0)
	area := image.Rect(16, 0, 240, 160)
	l := lookOf(s, 4, area)
	rel := &measure.Relation{NoiseLimit: 3, NoiseL: make([]float32, l.Preview.W*l.Preview.H)}
	noisy := image.Rect(40, 100, 80, 140)
	for i := range rel.NoiseL {
		at := image.Pt(i%l.Preview.W*4, i/l.Preview.W*4)
		switch {
		case at.In(noisy):
			rel.NoiseL[i] = 3.5
		case at.X > 200:
			rel.NoiseL[i] = float32(math.NaN())
		default:
			rel.NoiseL[i] = 3 // at the limit is not over it
		}
	}
	for _, withDetail := range []bool{false, true} {
		p := Picture{Look: l, Rel: rel}
		if withDetail {
			p.Detail = detailOf(s, l, image.Rect(0, 0, 240, 160), 1)
		}
		v := View{U: (120.0 - 16) / 224, V: 0.5, Zoom: 1}
		plain, over := canvas(240, 160), canvas(240, 160)
		Render(plain, p, v, Overlay{})
		for _, c := range []struct {
			o    Overlay
			k    paint.Kind
			area image.Rectangle
		}{
			{Overlay{Blown: true}, paint.Blown, blown},
			{Overlay{Blocked: true}, paint.Blocked, blocked},
			{Overlay{Noisy: true}, paint.Noisy, noisy},
		} {
			Render(over, p, v, c.o)
			col := paint.MaskColour(c.k)
			for y := range 160 {
				for x := range 240 {
					want := plain.RGBAAt(x, y)
					if image.Pt(x, y).In(c.area) {
						if a := paint.Pattern(c.k, x, y, true); a == 255 {
							want = color.RGBA{col.R, col.G, col.B, 255}
						} else if a > 0 {
							continue // a tint: between the two
						}
					}
					if got := over.RGBAAt(x, y); got != want {
						t.Fatalf("%+v, detail %v: %d,%d is %v, want %v", c.o, withDetail, x, y, got, want)
					}
				}
			}
		}
	}
}

// The patterns hang on device pixels: where two views both mark a pixel, they
// mark it alike.
func TestPatternsKeepTheirSize(t *testing.T) {
	s := testScan(200, 150)
	for i := range s.Pix {
		s.Pix[i] = 65535
	}
	l := lookOf(s, 2, image.Rect(0, 0, 200, 150))
	var first *image.RGBA
	for _, zoom := range []float64{1, 1.3, 2, 8} {
		dst := canvas(100, 80)
		Render(dst, Picture{Look: l}, View{0.5, 0.5, zoom}, Overlay{Blown: true})
		if first == nil {
			first = dst
		}
		if !bytes.Equal(first.Pix, dst.Pix) {
			t.Errorf("the pattern at zoom %g differs from that at 1", zoom)
		}
	}
	big := canvas(200, 160)
	Render(big, Picture{Look: l}, View{0.5, 0.5, 1}, Overlay{Blown: true, Scale: 2})
	if big.RGBAAt(101, 41) != first.RGBAAt(50, 20) {
		t.Error("at scale 2 the pattern is not twice as large")
	}
}

// The mask of a reduced detail is marked from half of its pixels.
func TestReducedDetailMasks(t *testing.T) {
	s := testScan(64, 64)
	for y := range 64 {
		for x := range 64 {
			if x%4 < 2 && x < 32 || x%4 == 0 && y%4 == 0 {
				s.Pix[3*(y*64+x)] = 65535
			}
		}
	}
	l := lookOf(s, 4, image.Rect(0, 0, 64, 64))
	d := detailOf(s, l, image.Rect(0, 0, 64, 64), 4)
	f := d.flags(l, Flat{})
	for i, v := range f {
		if want := i%16 < 8; (v&flagBlown != 0) != want && d.BlownShare[i] != 127 {
			t.Fatalf("value pixel %d: flagged %v, share %d", i, v, d.BlownShare[i])
		}
	}
	if d.BlownShare[8] == 0 || d.BlownShare[8] >= halfShare {
		t.Errorf("one of sixteen is a share of %d", d.BlownShare[8])
	}
}

func TestCorrectionIsAppliedInLight(t *testing.T) {
	s := smoothScan(200, 150)
	l := lookOf(s, 2, image.Rect(0, 0, 200, 150))
	stop := &Correction{Linear: func(rgb []float32) {
		for i := range rgb {
			rgb[i] /= 2
		}
	}}
	var calls atomic.Int32
	same := &Correction{Linear: func([]float32) { calls.Add(1) }}
	a, b := canvas(100, 75), canvas(100, 75)
	v := View{0.5, 0.5, 0.5}
	Render(a, Picture{Look: l}, v, Overlay{})
	Render(b, Picture{Look: l, Adjust: same}, v, Overlay{})
	if !bytes.Equal(a.Pix, b.Pix) || calls.Load() == 0 {
		t.Error("a correction that changes nothing changes the picture, or was not called")
	}
	flat := testScan(64, 64)
	for i := range flat.Pix {
		flat.Pix[i] = 65535
	}
	fl := lookOf(flat, 2, image.Rect(0, 0, 64, 64))
	Render(b, Picture{Look: fl, Adjust: stop}, View{0.5, 0.5, 1}, Overlay{})
	if got := b.RGBAAt(50, 37).R; got != 188 { // half the light of white
		t.Errorf("white less one stop is %d, want 188", got)
	}
}

func TestPrepareKeepsWhatFits(t *testing.T) {
	l := lookOf(smoothScan(100, 80), 2, image.Rect(0, 0, 100, 80))
	was := Picture{Look: l}
	was.Prepare(nil)
	rel := &measure.Relation{NoiseLimit: 3}
	p := Picture{Look: l, Rel: rel}
	if p.Ready() {
		t.Error("an unprepared picture says it is ready")
	}
	p.Prepare(&was)
	if p.shown != was.shown || p.marks == was.marks || !p.Ready() {
		t.Error("Prepare did not keep the developed preview, or kept old masks")
	}
	p.Adjust = &Correction{}
	if p.Ready() {
		t.Error("a picture of another correction says it is ready")
	}
	p.Prepare(&was)
	if p.shown == was.shown {
		t.Error("a picture of another correction was kept")
	}
}

// Buffers that do not start at 0,0 or have a stride of their own are filled
// within their bounds alone.
func TestSubImage(t *testing.T) {
	s := testScan(100, 80)
	p := Picture{Look: lookOf(s, 1, image.Rect(0, 0, 100, 80))}
	big := canvas(60, 50)
	sub := big.SubImage(image.Rect(10, 5, 40, 45)).(*image.RGBA)
	Render(sub, p, View{0.5, 0.5, 1}, Overlay{})
	ref := canvas(30, 40)
	Render(ref, p, View{0.5, 0.5, 1}, Overlay{})
	for y := range 50 {
		for x := range 60 {
			want := color.RGBA{}
			if image.Pt(x, y).In(sub.Rect) {
				want = ref.RGBAAt(x-10, y-5)
			}
			if big.RGBAAt(x, y) != want {
				t.Fatalf("%d,%d is %v, want %v", x, y, big.RGBAAt(x, y), want)
			}
		}
	}
}

func benchPicture() Picture {
	s := smoothScan(8000, 5000)
	p := Picture{Look: lookOf(s, 4, image.Rect(0, 0, 8000, 5000))}
	n := p.Look.Preview.W * p.Look.Preview.H
	p.Rel = &measure.Relation{NoiseLimit: 3, NoiseL: make([]float32, n)}
	for i := range n {
		if i%7 == 0 {
			p.Rel.NoiseL[i] = 4
		}
		p.Look.BlownShare[i] = uint8(i)
	}
	p.Detail = detailOf(s, p.Look, image.Rect(2800, 1800, 5200, 3200), 1)
	p.Prepare(nil)
	return p
}

func BenchmarkRender1600x1000(b *testing.B) {
	p := benchPicture()
	dst := canvas(1600, 1000)
	all := Overlay{Blown: true, Blocked: true, Noisy: true}
	turned := f64.Aff3{1, 0.002, 3, -0.002, 1, 5}
	for _, c := range []struct {
		name string
		zoom float64
		o    Overlay
		draw func(*image.RGBA, Picture, View, Overlay)
		m    *f64.Aff3
	}{
		{"fit", 0.2, Overlay{}, Render, nil},
		{"fitMasks", 0.2, all, Render, nil},
		{"fitDraft", 0.2, Overlay{}, Draft, nil},
		{"one", 1, Overlay{}, Render, nil},
		{"oneMasks", 1, all, Render, nil},
		{"fitTurned", 0.2, Overlay{}, Render, &turned},
	} {
		b.Run(c.name, func(b *testing.B) {
			q := p
			q.ToThis = c.m
			for b.Loop() {
				c.draw(dst, q, View{0.5, 0.5, c.zoom}, c.o)
			}
		})
	}
}

func BenchmarkDevelopPreview(b *testing.B) {
	p := benchPicture()
	for b.Loop() {
		newShown(p.Look, nil)
	}
}
