package measure

import (
	"context"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/lucasb-eyer/go-colorful"

	"stopladder/analysis/scan"
)

// frameSpec describes a made-up scan: scene light in a gate that may be turned,
// rebate and holder around it. Light levels are linear, white = 1.
type frameSpec struct {
	w, h       int
	gate       [4]float64 // left, top, right, bottom of the picture in pixels
	turn       float64    // degrees
	border     float64    // light of the rebate
	holder     float64    // light of the holder; below 0: none
	holderAt   float64    // pixels from the gate where the holder begins
	gain       float64    // on the scene's light
	noise      float64    // of codes
	seed       uint64
	glow       float64 // flare of the picture into the border, share of 0.18
	plainSky   bool    // top third of the picture of one bright level
	printed    bool    // lettering on the rebate
	sideHolder bool    // the holder is at the right side alone
}

// sceneLight is a texture of several scales, 0.005..0.9, with half of it dark.
func sceneLight(rng *rand.Rand) func(u, v float64) float64 {
	const n = 8
	var fx, fy, ph [n]float64
	for i := range n {
		s := math.Pow(1.9, float64(i)) * 2
		fx[i], fy[i], ph[i] = s*(rng.Float64()*2-1), s*(rng.Float64()*2-1), rng.Float64()*7
	}
	return func(u, v float64) float64 {
		t := 0.0
		for i := range n {
			t += math.Sin(fx[i]*u*6+fy[i]*v*6+ph[i]) / (1 + 0.35*float64(i))
		}
		return math.Min(0.9, 0.06*math.Exp2(t*1.4))
	}
}

func (s frameSpec) pixels() *scan.Pixels {
	rng := rand.New(rand.NewPCG(s.seed, 7))
	light := sceneLight(rand.New(rand.NewPCG(99, 3)))
	px := &scan.Pixels{Header: scan.Info{Path: "made-up.tif", Format: "TIFF", Width: s.w, Height: s.h, Bits: 16, Channels: 3}}
	px.Pix = make([]uint16, 3*s.w*s.h)
	sin, cos := math.Sincos(s.turn * math.Pi / 180)
	cx, cy := float64(s.w)/2, float64(s.h)/2
	for y := range s.h {
		for x := range s.w {
			dx, dy := float64(x)+0.5-cx, float64(y)+0.5-cy
			gx, gy := cos*dx+sin*dy+cx, -sin*dx+cos*dy+cy
			// Distance inside the gate, for a soft edge of two pixels.
			in := min(gx-s.gate[0], gy-s.gate[1], s.gate[2]-gx, s.gate[3]-gy)
			v := s.border
			if s.printed && in < -8 && in > -20 && int(gx/9)%5 == 0 && gx > float64(s.w)*0.6 && gx < float64(s.w)*0.7 {
				v = 0.5
			}
			if s.holder >= 0 && -in > s.holderAt && (!s.sideHolder || gx > s.gate[2]) {
				v = s.holder
			}
			if s.glow > 0 && in < 0 {
				v += s.glow * 0.18 * math.Exp(in/15)
			}
			if a := math.Min(1, math.Max(0, in/2+0.5)); a > 0 {
				l := light(gx/float64(s.w), gy/float64(s.h))
				if s.plainSky && gy < cy*0.8 {
					l = 0.7
				}
				v += a * (math.Min(1, l*s.gain) - v*0.9)
			}
			for c := range 3 {
				code := colorful.LinearRgb(math.Min(1, v*(1+0.04*float64(c))), 0, 0).R*65535 + rng.NormFloat64()*s.noise
				px.Pix[3*(y*s.w+x)+c] = uint16(math.Min(65535, math.Max(0, math.Round(code))))
			}
		}
	}
	return px
}

// inside is the largest upright rectangle in the turned gate.
func (s frameSpec) inside() image.Rectangle {
	t := math.Abs(math.Tan(s.turn * math.Pi / 180))
	ex, ey := t*float64(s.h)/2, t*float64(s.w)/2
	return image.Rect(int(math.Ceil(s.gate[0]+ex)), int(math.Ceil(s.gate[1]+ey)), int(s.gate[2]-ex), int(s.gate[3]-ey))
}

func look(t testing.TB, px scan.Source, opt Options) *Look {
	t.Helper()
	l, err := NewLook(context.Background(), px, opt)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Known truth: the gate is where the frame was made with it. The area must lie
// inside the picture and lose no more than a few pixels of it at each side.
func TestAreaKnownTruth(t *testing.T) {
	plain := frameSpec{w: 900, h: 1000, gate: [4]float64{60, 45, 850, 960}, border: 0.0008, holder: -1, gain: 1, noise: 150}
	with := func(f func(*frameSpec)) frameSpec { s := plain; f(&s); return s }
	cases := map[string]frameSpec{
		"reversal":                  plain,
		"turned +0.5":               with(func(s *frameSpec) { s.turn = 0.5 }),
		"turned -0.4":               with(func(s *frameSpec) { s.turn = -0.4 }),
		"under 2":                   with(func(s *frameSpec) { s.gain = 0.25 }),
		"over 3":                    with(func(s *frameSpec) { s.gain = 8 }),
		"glow":                      with(func(s *frameSpec) { s.gain = 4; s.glow = 0.05 }),
		"white holder":              with(func(s *frameSpec) { s.holder = 1; s.holderAt = 25 }),
		"white holder turned":       with(func(s *frameSpec) { s.holder = 1; s.holderAt = 25; s.turn = 0.3 }),
		"holder at one side":        with(func(s *frameSpec) { s.holder = 1; s.holderAt = 20; s.sideHolder = true }),
		"black holder, orange mask": with(func(s *frameSpec) { s.border = 0.4; s.holder = 0.0004; s.holderAt = 22 }),
		"lettering":                 with(func(s *frameSpec) { s.printed = true }),
		"sky at the top":            with(func(s *frameSpec) { s.plainSky = true }),
		"no right border":           with(func(s *frameSpec) { s.gate[2] = 1200 }),
		"two sides alone":           with(func(s *frameSpec) { s.gate[0] = -300; s.gate[2] = 1200 }),
		"large":                     with(func(s *frameSpec) { s.w, s.h = 2600, 1900; s.gate = [4]float64{130, 90, 2490, 1810}; s.turn = 0.2 }),
	}
	for name, s := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			l := look(t, s.pixels(), Options{})
			want := s.inside().Intersect(image.Rect(0, 0, s.w, s.h))
			loss := 5 * l.Preview.Factor
			if s.turn != 0 {
				loss += 3 * l.Preview.Factor
			}
			slack := 1 + l.Preview.Factor/2
			a := l.Area
			t.Logf("factor %d: got %v want %v (%v) %s", l.Preview.Factor, a, want, l.AreaFrom, l.AreaNote)
			for _, d := range []struct {
				side string
				in   int
			}{{"left", a.Min.X - want.Min.X}, {"top", a.Min.Y - want.Min.Y}, {"right", want.Max.X - a.Max.X}, {"bottom", want.Max.Y - a.Max.Y}} {
				if d.in < -slack || d.in > loss {
					t.Errorf("%s: %d pixels inside the true edge, want %d..%d", d.side, d.in, -slack, loss)
				}
			}
			if l.AreaFrom != AreaFound || l.AreaNote != "" {
				t.Errorf("from %v, note %q", l.AreaFrom, l.AreaNote)
			}
		})
	}
}

// A picture without a border is never cut.
func TestAreaBorderless(t *testing.T) {
	plain := frameSpec{w: 900, h: 800, gate: [4]float64{-500, -500, 2000, 2000}, holder: -1, gain: 1, noise: 150}
	with := func(f func(*frameSpec)) frameSpec { s := plain; f(&s); return s }
	cases := map[string]frameSpec{
		"texture":    plain,
		"plain sky":  with(func(s *frameSpec) { s.plainSky = true }),
		"dark":       with(func(s *frameSpec) { s.gain = 0.02 }),
		"over 4":     with(func(s *frameSpec) { s.gain = 16; s.plainSky = true }),
		"noise free": with(func(s *frameSpec) { s.noise = 0; s.plainSky = true }),
	}
	for name, s := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			l := look(t, s.pixels(), Options{})
			if l.Area != image.Rect(0, 0, s.w, s.h) {
				t.Errorf("cut to %v (%v, %s)", l.Area, l.AreaFrom, l.AreaNote)
			}
			t.Log(l.AreaFrom, l.AreaNote)
		})
	}
}

// A roll with dark frames: where an underexposed frame's edges cannot be told
// from the black rebate, the frame says so, or the roll settles it: after
// Agree every area lies in the true gate and has nearly its size.
func TestAgreeAreasOnDarkFrames(t *testing.T) {
	var specs []frameSpec
	var looks []*Look
	for i, gain := range []float64{1.0 / 600, 1.0 / 90, 1.0 / 16, 1, 4} {
		s := frameSpec{w: 700, h: 620, gate: [4]float64{40, 36, 655, 580}, border: 0.0006, holder: -1, gain: gain, noise: 180, seed: uint64(i)}
		d := float64(i) - 2
		s.gate = [4]float64{40 + d, 36 - d, 655 + d, 580 - d}
		specs = append(specs, s)
		looks = append(looks, look(t, s.pixels(), Options{}))
	}
	if looks[0].AreaFrom == AreaFound && !close4(looks[0].Area, specs[0].inside(), 6) {
		t.Errorf("the darkest frame is sure of a wrong area %v", looks[0].Area)
	}
	if looks[0].AreaFrom != AreaFound && looks[0].AreaNote == "" {
		t.Error("low confidence without a word")
	}
	out, err := Agree(context.Background(), append(looks, nil), 3, func(i int) (scan.Source, error) { return specs[i].pixels(), nil }, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range specs {
		t.Logf("%d: %v (%v) -> %v (%v) true %v %s", i, looks[i].Area, looks[i].AreaFrom, out[i].Area, out[i].AreaFrom, s.inside(), out[i].AreaNote)
		if !close4(out[i].Area, s.inside(), 7) {
			t.Errorf("frame %d: area %v, true %v", i, out[i].Area, s.inside())
		}
		if out[i].AreaFrom == AreaAgreed && out[i].AreaNote == "" {
			t.Errorf("frame %d: no word about the agreed area", i)
		}
		if out[i].Hist.Pixels != uint64(out[i].Area.Dx()*out[i].Area.Dy()) {
			t.Errorf("frame %d: counted over another area", i)
		}
	}
}

func close4(a, b image.Rectangle, px int) bool {
	return max(abs(a.Min.X-b.Min.X), abs(a.Min.Y-b.Min.Y), abs(a.Max.X-b.Max.X), abs(a.Max.Y-b.Max.Y)) <= px
}

// A border found on one frame alone of a borderless roll is a strip of picture;
// an area set by hand is never changed; odd sizes are left alone.
func TestAgreeAreasVotes(t *testing.T) {
	mk := func(w int, r image.Rectangle, from AreaFrom) *Look {
		return &Look{Info: scan.Info{Width: w, Height: 800}, Area: r, AreaFrom: from}
	}
	whole := image.Rect(0, 0, 1000, 800)
	odd := image.Rect(160, 50, 990, 790)
	got := AgreeAreas([]*Look{mk(1000, whole, AreaWhole), mk(1000, odd, AreaFound), mk(1000, whole, AreaWhole), nil}, 0)
	if !got[1].Changed || got[1].Area != whole || got[0].Changed || got[2].Changed {
		t.Errorf("%+v", got)
	}
	gate := image.Rect(50, 40, 950, 760)
	hand := image.Rect(300, 300, 400, 400)
	got = AgreeAreas([]*Look{mk(1000, gate, AreaFound), mk(1000, gate.Add(image.Pt(3, 2)), AreaFound), mk(1000, hand, AreaByHand), mk(1200, image.Rect(0, 0, 1200, 800), AreaUnsure), mk(1000, whole, AreaUnsure), mk(1000, odd, AreaFound)}, 0)
	if got[0].Changed || got[1].Changed || got[2].Changed || got[3].Changed {
		t.Errorf("%+v", got)
	}
	for _, i := range []int{4, 5} {
		if !got[i].Changed || got[i].From != AreaAgreed || got[i].Area.Size() != gate.Size() {
			t.Errorf("%d: %+v", i, got[i])
		}
	}
}
