package render

import (
	"bytes"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/film/measure"

	"golang.org/x/image/math/f64"
)

// tablesOf makes tables of a move and a weight.
func tablesOf(f func(k, code int) (moved, weight int)) *[3][]uint32 {
	t := new([3][]uint32)
	for k := range t {
		t[k] = make([]uint32, 1<<16)
		for c := range t[k] {
			m, w := f(k, c)
			t[k][c] = uint32(min(max(m, 0), 65535))<<16 | uint32(w)
		}
	}
	return t
}

func stay(weight int) *[3][]uint32 {
	return tablesOf(func(_, c int) (int, int) { return c, weight })
}

// On a rung the picture is the frame's own: byte for byte when it is said to be
// exact, and by the tables when they say the same.
func TestBetweenIsExactOnTheRungs(t *testing.T) {
	s, other := testScan(400, 300), smoothScan(400, 300)
	area := image.Rect(10, 10, 390, 290)
	full := image.Rect(0, 0, 400, 300)
	turned := around(200, 150, 0.4, 1, 3, 2)
	for _, m := range []*f64.Aff3{nil, {1, 0, 4, 0, 1, -3}, &turned} {
		for _, zoom := range []float64{0.3, 0.7, 1, 3} {
			l, u := lookOf(s, 2, area), lookOf(other, 2, area)
			p := Picture{Look: l, ToThis: m, Detail: detailOf(s, l, full, 1)}
			q := Picture{Look: u, Detail: detailOf(other, u, full, 1)}
			p.Prepare(nil)
			v := View{0.5, 0.5, zoom}
			want, got := canvas(201, 151), canvas(201, 151)
			o := Overlay{Blown: true, Blocked: true}
			Render(want, p, v, o)
			NewSampler(1<<20).Between(got, &Between{Lower: p, Upper: q, Exact: true}, v, o, false)
			if !bytes.Equal(want.Pix, got.Pix) {
				t.Errorf("zoom %g: an exact picture is not the frame's own", zoom)
			}
			if m == &turned || zoom < 1 {
				continue // bytes or codes are interpolated: not the same to the last code
			}
			(*Sampler)(nil).Between(got, &Between{Lower: p, Upper: q, LowerTable: stay(1000), UpperTable: stay(0)}, v, o, false)
			if !bytes.Equal(want.Pix, got.Pix) {
				t.Errorf("zoom %g: tables of Lower's own rung do not give Lower", zoom)
			}
			Render(want, q, v, o)
			(*Sampler)(nil).Between(got, &Between{Lower: p, Upper: q, LowerTable: stay(0), UpperTable: stay(1000)}, v, o, false)
			if m == nil && !bytes.Equal(want.Pix, got.Pix) {
				t.Errorf("zoom %g: tables of Upper's own rung do not give Upper", zoom)
			}
		}
	}
}

// The same on the preview, where Render interpolates bytes and this one codes:
// no step is seen at a rung.
func TestBetweenMeetsTheRungs(t *testing.T) {
	s := smoothScan(800, 600)
	l := lookOf(s, 2, image.Rect(0, 0, 800, 600))
	m := around(400, 300, 0.3, 1.001, 2.2, -1.4)
	p := Picture{Look: l, ToThis: &m}
	p.Prepare(nil)
	for _, zoom := range []float64{0.1, 0.3, 0.5, 1.5} {
		v := View{0.5, 0.5, zoom}
		a, b := canvas(160, 120), canvas(160, 120)
		Render(a, p, v, Overlay{})
		(*Sampler)(nil).Between(b, &Between{Lower: p, Upper: p, LowerTable: stay(7), UpperTable: stay(9)}, v, Overlay{}, false)
		for i := range a.Pix {
			if !near(a.Pix[i], b.Pix[i], 2) {
				t.Fatalf("zoom %g: byte %d is %d, Render has %d", zoom, i, b.Pix[i], a.Pix[i])
			}
		}
	}
}

// The mix is the formula's, checked at 1:1 where codes are not interpolated.
func TestBetweenAgainstTheFormula(t *testing.T) {
	a, b := testScan(200, 150), smoothScan(200, 150)
	full := image.Rect(0, 0, 200, 150)
	l, u := lookOf(a, 1, full), lookOf(b, 1, full)
	rng := rand.New(rand.NewPCG(3, 4))
	random := func(int, int) (int, int) { return rng.IntN(65536), rng.IntN(4) * 21845 }
	bt := &Between{Lower: Picture{Look: l}, Upper: Picture{Look: u}, LowerTable: tablesOf(random), UpperTable: tablesOf(random)}
	dst := canvas(200, 150)
	NewSampler(1<<30).Between(dst, bt, View{0.5, 0.5, 1}, Overlay{}, false)
	for i := range 200 * 150 {
		for k := range 3 {
			x, y := bt.LowerTable[k][a.Pix[3*i+k]], bt.UpperTable[k][b.Pix[3*i+k]]
			wx, wy := float64(x&0xffff), float64(y&0xffff)
			if wx+wy == 0 {
				wx, wy = 1, 1
			}
			want := converted(uint16(math.Round((wx*float64(x>>16) + wy*float64(y>>16)) / (wx + wy))))
			if got := dst.Pix[4*i+k]; !near(got, want, 1) {
				t.Fatalf("pixel %d channel %d is %d, the formula gives %d", i, k, got, want)
			}
		}
	}
	half := canvas(200, 150)
	NewSampler(1<<30).Between(half, bt, View{0.5, 0.5, 1}, Overlay{}, true)
	for y := range 150 {
		for x := range 200 {
			if half.RGBAAt(x, y) != dst.RGBAAt(x/2*2, y/2*2) {
				t.Fatalf("the draft's pixel %d,%d is not that of its square", x, y)
			}
		}
	}
}

// Masks say what the synthesised codes say, and lie within the image area alone.
func TestBetweenMasks(t *testing.T) {
	s := smoothScan(120, 100)
	area := image.Rect(10, 0, 120, 100)
	l := lookOf(s, 1, area)
	p := Picture{Look: l, Flat: &Flat{Light: [3]int{50000, 65536, 65536}, Dark: [3]int{-1, -1, -1}}}
	up := tablesOf(func(_, c int) (int, int) { return c + 20000, 1 })
	bt := &Between{Lower: p, Upper: p, LowerTable: up, UpperTable: up}
	plain, got := canvas(110, 100), canvas(110, 100)
	v := View{0.5, 0.5, 1}
	var sm *Sampler
	sm.Between(plain, bt, v, Overlay{}, false)
	sm.Between(got, bt, v, Overlay{Blown: true, Noisy: true}, false)
	var strong, weak, none int
	for y := range 100 {
		for x := range 110 {
			c := s.Pix[3*(y*120+x+10):][:3]
			clipped := int(max(c[0], c[1], c[2]))+20000 >= 65535
			flat := int(c[0])+20000 >= 50000
			same := plain.RGBAAt(x, y) == got.RGBAAt(x, y)
			switch {
			case clipped && !same:
				strong++
			case !clipped && flat && !same:
				weak++
			case !clipped && !flat && !same:
				t.Fatalf("%d,%d is marked: codes %v", x, y, c)
			default:
				none++
			}
		}
	}
	if strong == 0 || weak == 0 || none == 0 {
		t.Errorf("marked strongly %d, weakly %d, not %d", strong, weak, none)
	}
	l.Area = image.Rect(10, 0, 60, 100) // half of it is measured
	sm.Between(plain, bt, View{1, 0.5, 1}, Overlay{}, false)
	sm.Between(got, bt, View{1, 0.5, 1}, Overlay{Blown: true}, false)
	for x := 56; x < 110; x++ {
		if plain.RGBAAt(x, 50) != got.RGBAAt(x, 50) {
			t.Fatalf("marked outside the image area at %d", x)
		}
	}
}

// Where one frame ends the other stands alone, and beyond both is surround.
func TestBetweenAtTheEdges(t *testing.T) {
	s := smoothScan(100, 80)
	l := lookOf(s, 1, image.Rect(0, 0, 100, 80))
	right := f64.Aff3{1, 0, -20, 0, 1, 0} // this frame's content lies 20 pixels to the right
	bt := &Between{Lower: Picture{Look: l}, Upper: Picture{Look: l, ToThis: &right, Base: l.Area}}
	dst := canvas(160, 100)
	(*Sampler)(nil).Between(dst, bt, View{0.5, 0.5, 1}, Overlay{}, false)
	pl := Port{l.Area, 160, 100}.Place(View{0.5, 0.5, 1})
	at := func(bx int) uint8 { x, _ := pl.ToDevice(float64(bx), 0); return dst.RGBAAt(int(x), 50).R }
	code := func(x int) uint16 { return s.Pix[3*(40*100+x)] }
	for bx, want := range map[int]uint8{-1: 0x3a, 0: converted(code(0)), 19: converted(code(19)), 100: converted(code(80)), 119: converted(code(99)), 120: 0x3a,
		50: converted(uint16((uint32(code(50)) + uint32(code(30)) + 1) / 2))} {
		if got := at(bx); !near(got, want, 1) {
			t.Errorf("base column %d is %d, want %d", bx, got, want)
		}
	}
	far := f64.Aff3{1, 0, -130, 0, 1, 0}
	bt.Upper.ToThis = &far
	wide := canvas(300, 100)
	(*Sampler)(nil).Between(wide, bt, View{0.5, 0.5, 1}, Overlay{}, false)
	pl = Port{l.Area, 300, 100}.Place(View{0.5, 0.5, 1})
	x, _ := pl.ToDevice(115, 0)
	if wide.RGBAAt(int(x), 50) != grey {
		t.Error("between two frames that do not meet there is no surround")
	}
}

// What is kept is used, and a frame that moves is sampled anew.
func TestSamplerKeeps(t *testing.T) {
	l := lookOf(smoothScan(100, 80), 1, image.Rect(0, 0, 100, 80))
	p := Picture{Look: l}
	s := NewSampler(3 * 6 * 50 * 40)
	v := View{0.5, 0.5, 1}
	first := s.of(&p, v, 50, 40, 1)
	if s.of(&p, v, 50, 40, 1) != first {
		t.Error("the same view is sampled twice")
	}
	if s.of(&p, v, 50, 40, 2) != first {
		t.Error("a draft is sampled although all is at hand")
	}
	half := s.of(&p, View{0.4, 0.5, 1}, 50, 40, 2)
	if s.of(&p, View{0.4, 0.5, 1}, 50, 40, 1) == half {
		t.Error("a fine picture is made of a draft's samples")
	}
	q := p
	q.ToThis = &f64.Aff3{1, 0, 1, 0, 1, 0}
	if s.of(&q, v, 50, 40, 1) == first {
		t.Error("a moved frame has the samples of the unmoved one")
	}
	for i := range 5 {
		s.of(&p, View{0.5, 0.5, 1.1 + float64(i)}, 50, 40, 1)
	}
	if s.used > s.keep || len(s.held) > 3 {
		t.Errorf("%d bytes held of %d", s.used, s.keep)
	}
	s.Forget()
	if s.of(&p, v, 50, 40, 1) == first {
		t.Error("forgotten samples are still there")
	}
}

// Flat codes are marked weakly, from the preview and from the detail alike.
func TestFlatMarks(t *testing.T) {
	s := smoothScan(240, 160)
	l := lookOf(s, 2, image.Rect(0, 0, 240, 160))
	p := Picture{Look: l, Flat: &Flat{Light: [3]int{40000, 1 << 16, 1 << 16}, Dark: [3]int{-1, 9000, -1}}}
	for _, detail := range []bool{false, true} {
		if detail {
			p.Detail = detailOf(s, l, image.Rect(0, 0, 240, 160), 1)
		}
		plain, got := canvas(240, 160), canvas(240, 160)
		Render(plain, p, View{0.5, 0.5, 1}, Overlay{})
		Render(got, p, View{0.5, 0.5, 1}, Overlay{Blown: true, Blocked: true})
		marked := 0
		for y := range 160 {
			for x := range 240 {
				c := s.Pix[3*(y*240+x):][:3]
				if near := 400; int(c[0]) > 40000-near && int(c[0]) < 40000+near || int(c[1]) < 9000+near && int(c[1]) > 9000-near {
					continue // the preview's mean may lie on either side
				}
				same := plain.RGBAAt(x, y) == got.RGBAAt(x, y)
				if !same {
					marked++
				}
				if flat := c[0] >= 40000 || c[1] <= 9000; !flat && !same {
					t.Fatalf("detail %v: %d,%d is marked, codes %v", detail, x, y, c)
				}
			}
		}
		if marked < 500 {
			t.Errorf("detail %v: %d pixels marked", detail, marked)
		}
	}
	strong := Picture{Look: l}
	strong.Look.BlownShare[0] = 255
	strong.Flat = &Flat{Light: [3]int{0, 0, 0}, Dark: [3]int{-1, -1, -1}}
	strong.Prepare(nil)
	if f := strong.marks.levels[0].pix[0]; f != flagBlown {
		t.Errorf("a clipped pixel has flags %b", f)
	}
	before := strong.marks
	strong.Flat = &Flat{Light: [3]int{9, 9, 9}, Dark: [3]int{-1, -1, -1}}
	if strong.Ready() {
		t.Error("a picture of other flat codes says it is ready")
	}
	strong.Prepare(nil)
	if strong.marks == before {
		t.Error("masks of other flat codes were kept")
	}
}

// hist fills in what measure counts, here over the whole picture.
func hist(l *measure.Look, pix []uint16) *measure.Look {
	for k := range l.Hist.Counts {
		l.Hist.Counts[k] = make([]uint64, 65536)
	}
	for i, c := range pix {
		l.Hist.Counts[i%3][c]++
	}
	return l
}

func BenchmarkBetween1400x1200(b *testing.B) {
	p := benchPicture()
	q := p
	turned := f64.Aff3{1, 0.002, 3, -0.002, 1, 5}
	q.ToThis = &turned
	dst := canvas(1400, 1200)
	v := View{0.5, 0.5, 0.2}
	noisy := p
	noisy.codes = nil
	pv := *p.Look.Preview
	look := *p.Look
	look.Preview = &pv
	pv.Pix = make([]uint16, len(pv.Pix))
	for i := range pv.Pix { // film grain, so that the tables are used all over
		pv.Pix[i] = uint16(int(p.Look.Preview.Pix[i]) + (i*7919)%4001 - 2000)
	}
	noisy.Look = &look
	lower := tablesOf(func(_, c int) (int, int) { return c, c })
	upper := tablesOf(func(_, c int) (int, int) { return c + c/3, 65535 - c })
	all := Overlay{Blown: true, Blocked: true}
	s := NewSampler(100 << 20)
	bt := &Between{Lower: noisy, Upper: q, LowerTable: lower, UpperTable: upper}
	for _, c := range []struct {
		name  string
		draft bool
		o     Overlay
		s     *Sampler
	}{{"fine", false, Overlay{}, s}, {"fineMasks", false, all, s}, {"draft", true, Overlay{}, s}, {"newView", false, Overlay{}, nil}, {"newViewDraft", true, Overlay{}, nil}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				c.s.Between(dst, bt, v, c.o, c.draft)
			}
		})
	}
}

func BenchmarkDifference1400x1200(b *testing.B) {
	p := benchPicture()
	q := p
	v := View{0.5, 0.5, 0.2}
	dst := canvas(1400, 1200)
	s := NewSampler(100 << 20)
	for name, o := range map[string]DifferenceOptions{"light": {}, "colour": {Kind: DifferenceColour}} {
		b.Run(name+"Nudged", func(b *testing.B) {
			for i := 0; b.Loop(); i++ {
				m := f64.Aff3{1, 0.002, 3 + float64(i%100), -0.002, 1, 5}
				q.ToThis = &m
				s.Difference(dst, p, q, v, o, false)
			}
		})
	}
}

func BenchmarkHalveCodes(b *testing.B) {
	p := benchPicture()
	for b.Loop() {
		newCodes(p.Look).level(1)
	}
}
