package render

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"

	"github.com/lucasb-eyer/go-colorful"
	"golang.org/x/image/math/f64"
)

// by is PerChannel for what takes no time to make.
func by(f func(c int, x float32) float32) *Correction {
	return PerChannel(func() func(c int, x float32) float32 { return f })
}

// perChannel is the correction by settings one after another, as a window makes it.
func perChannel(all ...correction.Settings) *Correction {
	var tabs []*[3]correction.Table
	for _, s := range all {
		tabs = append(tabs, s.Tables())
	}
	return by(func(c int, x float32) float32 {
		for _, t := range tabs {
			x = t[c].At(x)
		}
		return x
	})
}

func randomSettings(r *rand.Rand, curve bool) correction.Settings {
	s := correction.Settings{Exposure: r.Float64()*12 - 6, RG: r.Float64() - 0.5, BG: r.Float64() - 0.5,
		Lift: correction.MaxLift * r.Float64(), Highlights: r.Float64()}
	if r.IntN(2) == 0 {
		s.Black = r.Float64() * correction.MaxBlack
	}
	if curve {
		s.Curves[1] = []correction.Point{{X: -6, Y: -5}, {X: -2, Y: -2.5}}
	}
	return s
}

// allCodes is a scan with every code value of each channel, the channels shuffled
// against each other, dark codes more often than others.
func allCodes() *scan.Pixels {
	p := testScan(512, 192)
	for i := range 512 * 192 {
		for k, step := range [3]int{1, 5, 7} {
			p.Pix[3*i+k] = uint16(i * step)
			if i >= 1<<16 {
				p.Pix[3*i+k] = uint16(i * step % 9000)
			}
		}
	}
	return p
}

// spaces are sRGB and one so wide that much of it has light below 0 in sRGB.
func spaces(t testing.TB) map[string]*colour.Space {
	wide, err := colour.FromICC(colour.MatrixProfile("Widest, gamma 1.8", [3][2]float64{{.7347, .2653}, {.1596, .8404}, {.0366, .0001}}, [2]float64{.3457, .3585}, 1.8), 3, 65535)
	if err != nil {
		t.Fatal(err)
	}
	return map[string]*colour.Space{"sRGB": colour.AssumedSRGB(65535), "wide": wide}
}

// display is the exact display byte of light after corrections.
func displayed(light float64, c int, all []correction.Settings) int {
	for _, s := range all {
		light = s.At(c, light)
	}
	return int(math.Round(255 * colorful.LinearRgb(min(max(light, 0), 1), 0, 0).R))
}

func TestRenderedCorrectionIsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	s := allCodes()
	for name, space := range spaces(t) {
		l := lookOf(s, 1, image.Rect(0, 0, 512, 192))
		l.Space = space
		lin := make([]float32, len(s.Pix))
		space.Linear(lin, s.Pix)
		var was *Picture
		dst := canvas(512, 192)
		for n := range 8 {
			all := []correction.Settings{randomSettings(r, n%3 == 0)}
			if n%4 == 0 { // a salvage, and then the correction of all frames
				all = append(all, randomSettings(r, false))
			}
			p := &Picture{Look: l, Adjust: perChannel(all...)}
			p.Prepare(was)
			was = p
			Render(dst, *p, View{0.5, 0.5, 1}, Overlay{})
			worst, at := 0, ""
			for i := range 512 * 192 {
				for k := range 3 {
					want := displayed(float64(lin[3*i+k]), k, all)
					if d := max(want-int(dst.Pix[4*i+k]), int(dst.Pix[4*i+k])-want); d > worst {
						worst, at = d, fmt.Sprintf("channel %d, light %g: %d, exact %d", k, lin[3*i+k], dst.Pix[4*i+k], want)
					}
				}
			}
			if worst > 1 {
				t.Errorf("%s, %+v: off by %d of 255: %s", name, all, worst, at)
			}
		}
	}
}

// Between the pixels of a scan, on reductions of it and through maps that turn it,
// a corrected picture is what a calculator makes of the code values there.
func TestInterpolatedCorrectionIsExact(t *testing.T) {
	sc := smoothScan(400, 300)
	l := lookOf(sc, 1, image.Rect(10, 5, 390, 290))
	s := correction.Settings{Exposure: 0.7, RG: 0.1, BG: -0.05, Lift: 1, Black: 0.01, Highlights: 0.5}
	lin := make([]float32, 3)
	for _, c := range []struct {
		zoom float64
		m    *f64.Aff3
		full bool // with full resolution over a preview of a quarter
	}{
		{0.8, nil, false}, {0.4, nil, false}, {0.17, nil, false}, {2.5, nil, false}, {1, nil, true}, {0.9, nil, true},
		{0.8, &f64.Aff3{1, 0.05, 3, -0.05, 1, 5}, false}, {0.45, &f64.Aff3{-1, 0, 399, 0, 1, 0}, false},
		{1, &f64.Aff3{1, 0.05, 3, -0.05, 1, 5}, true},
	} {
		p := Picture{Look: l, Adjust: perChannel(s), ToThis: c.m, Base: l.Area}
		if c.full {
			p.Look = lookOf(sc, 4, l.Area)
			p.Detail = detailOf(sc, p.Look, image.Rect(0, 0, 400, 300), 1)
		}
		p.Prepare(nil)
		v := View{0.5, 0.5, c.zoom}
		dst := canvas(230, 170)
		Render(dst, p, v, Overlay{})
		m, port := p.deviceMap(v, 230, 170)
		lv, lay := p.codesFor(m, port)
		asIs := canvas(230, 170)
		q := Picture{Look: p.Look, ToThis: c.m, Base: l.Area, Detail: p.Detail}
		Render(asIs, q, v, Overlay{})
		worst, seen := 0.0, 0
		for y := range 170 {
			for x := range 230 {
				i := dst.PixOffset(x, y)
				if (asIs.RGBAAt(x, y) == grey) != (dst.RGBAAt(x, y) == grey) {
					t.Fatalf("%+v: at %d, %d the correction moves the surround", c, x, y)
				}
				if asIs.RGBAAt(x, y) == grey {
					continue
				}
				seen++
				fx, fy := affine.At(m, float64(x)+0.5, float64(y)+0.5)
				u, w := fx/lay.scale-0.5, fy/lay.scale-0.5
				if filesOwn(m, lay.scale) {
					u, w = math.Floor(u+0.5), math.Floor(w+0.5)
				}
				u, w = min(max(u, 0), float64(lv.w-1)), min(max(w, 0), float64(lv.h-1))
				x0, y0 := int(u), int(w)
				x1, y1 := min(x0+1, lv.w-1), min(y0+1, lv.h-1)
				a, b := u-float64(x0), w-float64(y0)
				for k := range 3 {
					at := func(x, y int) float64 { return float64(lv.pix[3*(y*lv.w+x)+k]) }
					code := (at(x0, y0)*(1-a)+at(x1, y0)*a)*(1-b) + (at(x0, y1)*(1-a)+at(x1, y1)*a)*b
					one := uint16(math.Round(code))
					l.ColourSpace().Linear(lin, []uint16{one, one, one})
					worst = max(worst, math.Abs(float64(displayed(float64(lin[k]), k, []correction.Settings{s}))-float64(dst.Pix[i+k])))
				}
			}
		}
		if worst > 1 || seen < 2000 {
			t.Errorf("%+v: off by %g of 255 in %d pixels", c, worst, seen)
		}
	}
}

// Reductions made in the scan's light and then corrected look like the corrected
// picture reduced.
func TestCorrectionsOfBothKindsLookAlike(t *testing.T) {
	l := lookOf(smoothScan(512, 400), 1, image.Rect(0, 0, 512, 400))
	s := correction.Settings{Exposure: -0.5, RG: 0.1, Lift: 1.5}
	for _, zoom := range []float64{0.25, 0.6, 1, 3} {
		fast, slow := canvas(140, 110), canvas(140, 110)
		Render(fast, Picture{Look: l, Adjust: perChannel(s)}, View{0.5, 0.5, zoom}, Overlay{})
		Render(slow, Picture{Look: l, Adjust: &Correction{Linear: s.Linear()}}, View{0.5, 0.5, zoom}, Overlay{})
		for i, v := range fast.Pix {
			if !near(v, slow.Pix[i], 2) {
				t.Fatalf("zoom %g, byte %d: %d and %d", zoom, i, v, slow.Pix[i])
			}
		}
	}
}

// A correction leaves the masks alone, and the picture as scanned at hand.
func TestAsScannedIsOneKeyAway(t *testing.T) {
	sc := smoothScan(256, 200)
	for i := range 256 * 40 {
		sc.Pix[3*i] = 65535
	}
	l := lookOf(sc, 2, image.Rect(0, 0, 256, 200))
	d := detailOf(sc, l, image.Rect(0, 0, 256, 200), 1)
	scanned := Picture{Look: l, Detail: d}
	scanned.Prepare(nil)
	before, developed := scanned.shown, d.shown.pic
	for n := range 3 {
		p := Picture{Look: l, Detail: d, Adjust: perChannel(correction.Settings{Exposure: float64(n) + 0.5})}
		if p.Ready() {
			t.Error("a picture without masks says it is ready")
		}
		p.Prepare(&scanned)
		if !p.Ready() || p.marks != scanned.marks {
			t.Error("the masks were made anew")
		}
		scanned = p
	}
	back := Picture{Look: l, Detail: d}
	back.Adopt(&scanned)
	if !back.Ready() || back.shown != before || d.shown.pic != developed {
		t.Error("the scan as it is would have to be developed again")
	}
	// Black shows all patterns alike.
	black := by(func(int, float32) float32 { return 0 })
	for _, zoom := range []float64{0.3, 1} {
		a, b := canvas(100, 80), canvas(100, 80)
		Render(a, Picture{Look: l, Detail: d, Adjust: black}, View{0.5, 0.2, zoom}, Overlay{Blown: true})
		Render(b, Picture{Look: l, Detail: d, Adjust: &Correction{Linear: func(rgb []float32) { clear(rgb) }}}, View{0.5, 0.2, zoom}, Overlay{Blown: true})
		if string(a.Pix) != string(b.Pix) {
			t.Errorf("zoom %g: the correction moves the masks", zoom)
		}
	}
}

// A frame a stop under, brought up by a stop, differs by nothing.
func TestDifferenceAsShown(t *testing.T) {
	base := smoothScan(200, 150)
	under := smoothScan(200, 150)
	for i, v := range base.Pix {
		under.Pix[i] = uint16(math.Round(65535 * colorful.LinearRgb(colour.DecodeSRGB(float64(v)/65535)/2, 0, 0).R))
	}
	area := image.Rect(0, 0, 200, 150)
	a, b := Picture{Look: lookOf(under, 1, area)}, Picture{Look: lookOf(base, 1, area)}
	o := DifferenceOptions{Kind: DifferenceColour, AsIs: true}
	brightest := func() (most uint8) {
		dst := canvas(100, 75)
		NewSampler(0).Difference(dst, a, b, View{0.5, 0.5, 0.5}, o, false)
		for i := 0; i < len(dst.Pix); i += 4 {
			most = max(most, dst.Pix[i])
		}
		return
	}
	if got := brightest(); got < 100 {
		t.Errorf("as scanned they differ by %d of 255", got)
	}
	a.Adjust = perChannel(correction.Settings{Exposure: 1})
	if got := brightest(); got > 1 {
		t.Errorf("as shown they differ by %d of 255", got)
	}
}

func TestCorrectedDraft(t *testing.T) {
	l := lookOf(testScan(300, 200), 1, image.Rect(0, 0, 300, 200))
	p := Picture{Look: l, Adjust: perChannel(correction.Settings{Exposure: 1})}
	fine, draft := canvas(150, 100), canvas(150, 100)
	Render(fine, p, View{0.5, 0.5, 0.7}, Overlay{})
	Draft(draft, p, View{0.5, 0.5, 0.7}, Overlay{})
	if string(fine.Pix) != string(draft.Pix) {
		t.Error("the picture flickers while a slide is dragged")
	}
}

// What one step of a slide costs the frame in sight: a new correction, in a window
// of 1600 x 1100 device pixels, and all tables anew.
func BenchmarkCorrectedStep1600x1100(b *testing.B) {
	all := correction.Settings{Exposure: 1, RG: 0.1, BG: -0.1, Lift: 2, Black: 0.01, Highlights: 0.5}
	turned := f64.Aff3{1, 0.002, 3, -0.002, 1, 5}
	dst := canvas(1600, 1100)
	for name, space := range spaces(b) {
		l := lookOf(smoothScan(2048, 1600), 1, image.Rect(0, 0, 2048, 1600))
		l.Space = space
		for _, c := range []struct {
			name string
			zoom float64
			m    *f64.Aff3
		}{{"fit", 0.68, nil}, {"fitTurned", 0.68, &turned}, {"one", 1, nil}} {
			b.Run(name+"/"+c.name, func(b *testing.B) {
				was := &Picture{Look: l, ToThis: c.m}
				was.Prepare(nil)
				for b.Loop() {
					p := &Picture{Look: l, ToThis: c.m, Adjust: perChannel(all)}
					p.Prepare(was)
					Render(dst, *p, View{0.5, 0.5, c.zoom}, Overlay{})
					was = p
				}
			})
		}
	}
}

func BenchmarkCorrectionTables(b *testing.B) {
	s := correction.Settings{Exposure: 1, RG: 0.1, BG: -0.1, Lift: 2, Black: 0.01, Highlights: 0.5}
	for b.Loop() {
		perChannel(s).tables()
	}
}

// Between two corrections lies their mean, channel by channel; none counts as none,
// and one and the same is itself.
func TestBlend(t *testing.T) {
	a := by(func(c int, x float32) float32 { return x * float32(c+1) })
	b := by(func(c int, x float32) float32 { return x / 2 })
	for _, w := range []float64{0, 0.25, 1} {
		got, none := []float32{0.2, 0.2, 0.2}, []float32{0.2, 0.2, 0.2}
		Blend(a, b, w).Linear(got)
		Blend(nil, b, w).Linear(none)
		for c := range 3 {
			if want := (1-w)*0.2*float64(c+1) + w*0.1; math.Abs(float64(got[c])-want) > 1e-6 {
				t.Errorf("channel %d at %g: %g, want %g", c, w, got[c], want)
			}
			if want := (1-w)*0.2 + w*0.1; math.Abs(float64(none[c])-want) > 1e-6 {
				t.Errorf("from none, channel %d at %g: %g, want %g", c, w, none[c], want)
			}
		}
	}
	if Blend(a, a, 0.5) != a || Blend(nil, nil, 0.5) != nil {
		t.Error("a blend of one and the same")
	}
}
