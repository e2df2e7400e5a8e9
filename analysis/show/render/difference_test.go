package render

import (
	"image"
	"math"
	"testing"

	"stopladder/analysis/scan/colour"

	"github.com/lucasb-eyer/go-colorful"
	"golang.org/x/image/math/f64"
)

// Frames that are the same differ nowhere, whatever the map and the zoom.
func TestNoDifferenceOfAFrameToItself(t *testing.T) {
	s := testScan(300, 200)
	area := image.Rect(10, 10, 290, 190)
	l, twin := hist(lookOf(s, 2, area), s.Pix), hist(lookOf(s, 2, area), s.Pix)
	m := around(150, 100, 0.3, 1.001, 2, 1)
	for _, to := range []*f64.Aff3{nil, &m} {
		for _, zoom := range []float64{0.2, 0.6, 1, 2} {
			for _, o := range []DifferenceOptions{{}, {AsIs: true}, {Amplify: 50}, {Kind: DifferenceColour}} {
				dst := canvas(120, 90)
				NewSampler(1<<20).Difference(dst, Picture{Look: l, ToThis: to}, Picture{Look: twin, ToThis: to}, View{0.5, 0.5, zoom}, o, false)
				want := uint8(levelGrey)
				if o.Kind == DifferenceColour {
					want = 0
				}
				for i := 0; i < len(dst.Pix); i += 4 {
					c := dst.RGBAAt(i/4%120, i/4/120)
					if c != grey && (c.R != want || c.G != want || c.B != want || c.A != 255) {
						t.Fatalf("zoom %g, %+v: pixel %d is %v", zoom, o, i/4, c)
					}
				}
			}
		}
	}
}

// What is lighter in one is darker in the other, by the same amount.
func TestDifferenceIsSymmetric(t *testing.T) {
	a, b := smoothScan(200, 150), smoothScan(200, 150)
	for i := range b.Pix {
		b.Pix[i] -= uint16(2000 + i%7*100)
	}
	full := image.Rect(0, 0, 200, 150)
	p, q := Picture{Look: lookOf(a, 1, full)}, Picture{Look: lookOf(b, 1, full)}
	x, y := canvas(200, 150), canvas(200, 150)
	var s *Sampler
	o := DifferenceOptions{AsIs: true, Amplify: 2}
	s.Difference(x, p, q, View{0.5, 0.5, 1}, o, false)
	s.Difference(y, q, p, View{0.5, 0.5, 1}, o, false)
	tone := colour.AssumedSRGB(65535).Tone()[0]
	for i := range 200 * 150 {
		u, w := int(x.Pix[4*i])-levelGrey, int(y.Pix[4*i])-levelGrey
		if u <= 0 || w >= 0 || u+w < -1 || u+w > 1 {
			t.Fatalf("pixel %d: %+d one way, %+d the other", i, u, w)
		}
		d := 0.0
		for k := range 3 {
			d += math.Log10((float64(tone[a.Pix[3*i+k]])+lightFloor)/(float64(tone[b.Pix[3*i+k]])+lightFloor)) / 3
		}
		if want := 127 * 2 * d; math.Abs(float64(u)-want) > 1.5 {
			t.Fatalf("pixel %d is %+d, the formula gives %+.1f", i, u, want)
		}
	}
}

// Two exposures of one scene match: no difference is left, though the codes are
// far apart.
func TestDifferenceAfterMatching(t *testing.T) {
	a, b := smoothScan(300, 200), smoothScan(300, 200)
	tone := colour.AssumedSRGB(65535).Tone()
	for i := range b.Pix { // a stop lighter, through a curve of its own
		light := math.Pow(float64(tone[i%3][a.Pix[i]]), 0.8) * 1.2
		b.Pix[i] = uint16(math.Round(65535 * math.Min(colorful.LinearRgb(light, 0, 0).R, 1)))
	}
	full := image.Rect(0, 0, 300, 200)
	p, q := Picture{Look: hist(lookOf(a, 1, full), a.Pix)}, Picture{Look: hist(lookOf(b, 1, full), b.Pix)}
	dst := canvas(300, 200)
	var s *Sampler
	s.Difference(dst, q, p, View{0.5, 0.5, 1}, DifferenceOptions{AsIs: true}, false)
	if got := dst.RGBAAt(150, 100).R; got < 170 {
		t.Errorf("unmatched, the lighter frame is %d", got)
	}
	s.Difference(dst, q, p, View{0.5, 0.5, 1}, DifferenceOptions{}, false)
	for i := 0; i < len(dst.Pix); i += 4 {
		if v := int(dst.Pix[i]); v < levelGrey-3 || v > levelGrey+3 {
			t.Fatalf("matched, pixel %d is %d", i/4, v)
		}
	}
}

// A frame that lies two pixels beside the other shows it along every edge, and
// not once its map says so.
func TestKnownShiftIsVisible(t *testing.T) {
	edge := func(at int) Picture {
		s := smoothScan(200, 150)
		for i := range 200 * 150 {
			v := uint16(20000)
			if i%200 >= at {
				v = 40000
			}
			s.Pix[3*i], s.Pix[3*i+1], s.Pix[3*i+2] = v, v, v
		}
		return Picture{Look: hist(lookOf(s, 1, image.Rect(0, 0, 200, 150)), s.Pix)}
	}
	a, b := edge(102), edge(100)
	dst := canvas(200, 150)
	var s *Sampler
	v := View{0.5, 0.5, 1}
	s.Difference(dst, a, b, v, DifferenceOptions{AsIs: true}, false)
	for x := range 200 {
		want := uint8(levelGrey)
		if x == 100 || x == 101 {
			want = 0 // a is still dark where b is light: more than a sixth of a density
		}
		if got := dst.RGBAAt(x, 70).R; got != want {
			t.Errorf("column %d is %d, want %d", x, got, want)
		}
	}
	a.ToThis = &f64.Aff3{1, 0, 2, 0, 1, 0}
	s.Difference(dst, a, b, v, DifferenceOptions{AsIs: true}, false)
	for x := range 198 {
		if got := dst.RGBAAt(x, 70).R; got != levelGrey {
			t.Errorf("registered, column %d is %d", x, got)
		}
	}
	if dst.RGBAAt(199, 70) != grey {
		t.Error("where one frame ends there is no surround")
	}
	// Half a pixel is seen as well, at both sides alike.
	a.ToThis = &f64.Aff3{1, 0, 2.5, 0, 1, 0}
	half := View{0.5, 0.5, 0.99} // below 1:1, where pixels are interpolated
	s.Difference(dst, a, b, half, DifferenceOptions{AsIs: true}, false)
	least, most := uint8(255), uint8(0)
	for x := 60; x < 140; x++ {
		least, most = min(least, dst.RGBAAt(x, 70).R), max(most, dst.RGBAAt(x, 70).R)
	}
	if most < levelGrey+40 {
		t.Errorf("half a pixel shows as %d to %d", least, most)
	}
}

// Channels that one frame has clipped say nothing.
func TestClippedIsLeftOut(t *testing.T) {
	a, b := smoothScan(100, 80), smoothScan(100, 80)
	for i := range a.Pix {
		switch {
		case i%3 == 0:
			a.Pix[i] = 65535
		case i < 3*100*40:
			b.Pix[i] = 0
		}
	}
	full := image.Rect(0, 0, 100, 80)
	dst := canvas(100, 80)
	(*Sampler)(nil).Difference(dst, Picture{Look: lookOf(a, 1, full)}, Picture{Look: lookOf(b, 1, full)}, View{0.5, 0.5, 1}, DifferenceOptions{AsIs: true}, false)
	for i := 0; i < len(dst.Pix); i += 4 {
		if dst.Pix[i] != levelGrey {
			t.Fatalf("pixel %d is %d", i/4, dst.Pix[i])
		}
	}
}

// The ramp of colour differences is linear in ΔE00 and as colour says.
func TestColourDifference(t *testing.T) {
	a, b := smoothScan(100, 80), smoothScan(100, 80)
	for i := range b.Pix {
		if i%3 == 1 {
			b.Pix[i] += 3000
		}
	}
	full := image.Rect(0, 0, 100, 80)
	p, q := Picture{Look: lookOf(a, 1, full)}, Picture{Look: lookOf(b, 1, full)}
	dst := canvas(100, 80)
	(*Sampler)(nil).Difference(dst, p, q, View{0.5, 0.5, 1}, DifferenceOptions{Kind: DifferenceColour, AsIs: true, Amplify: 2}, false)
	lab := func(pix []uint16) colour.LAB {
		light := func(c uint16) float64 { return colour.DecodeSRGB(float64(c) / 65535) }
		return colour.LabOf(light(pix[0]), light(pix[1]), light(pix[2]))
	}
	for i := 0; i < 8000; i += 37 {
		e := colour.DeltaE2000(lab(a.Pix[3*i:]), lab(b.Pix[3*i:]))
		if want := math.Min(255, 255*2*e/FullColour); math.Abs(float64(dst.Pix[4*i])-want) > 1 {
			t.Fatalf("pixel %d is %d, ΔE00 %.2f gives %.1f", i, dst.Pix[4*i], e, want)
		}
	}
}

// A draft shows every fourth pixel, four wide and high.
func TestColourDraft(t *testing.T) {
	a, b := smoothScan(103, 81), testScan(103, 81)
	m := f64.Aff3{1, 0, 9, 0, 1, 0}
	full := image.Rect(0, 0, 103, 81)
	p, q := Picture{Look: lookOf(a, 1, full)}, Picture{Look: lookOf(b, 1, full), ToThis: &m}
	fine, draft := canvas(103, 81), canvas(103, 81)
	o := DifferenceOptions{Kind: DifferenceColour, AsIs: true}
	(*Sampler)(nil).Difference(fine, p, q, View{0.5, 0.5, 1}, o, false)
	(*Sampler)(nil).Difference(draft, p, q, View{0.5, 0.5, 1}, o, true)
	for y := range 81 {
		for x := range 103 {
			want := fine.RGBAAt(x/4*4, y/4*4)
			if x >= 94 {
				want = grey
			}
			if got := draft.RGBAAt(x, y); got != want {
				t.Fatalf("%d,%d is %v, want %v", x, y, got, want)
			}
		}
	}
}

func TestMatching(t *testing.T) {
	n := func(codes ...int) []uint64 {
		h := make([]uint64, 256)
		for _, c := range codes {
			h[c]++
		}
		return h
	}
	same := n(10, 20, 20, 30, 200)
	for c, v := range matchChannel(same, same, 255, 255) {
		if int(v) != c {
			t.Errorf("equal histograms match %d to %d", c, v)
		}
	}
	m := matchChannel(n(10, 20, 30), n(110, 120, 130), 255, 255)
	for c, want := range map[int]uint16{10: 110, 15: 115, 20: 120, 30: 130, 8: 108, 40: 140, 255: 255} {
		if m[c] != want {
			t.Errorf("code %d matches %d, want %d", c, m[c], want)
		}
	}
	for c := 1; c < 256; c++ {
		if m[c] < m[c-1] {
			t.Errorf("the match falls at %d", c)
		}
	}
	if m := matchChannel(nil, nil, 255, 65535); m[255] != 65535 || m[0] != 0 {
		t.Errorf("without histograms 255 matches %d", m[255])
	}
}
