package measure

import (
	"context"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/scan"
)

// scene16 makes a borderless frame of smooth tones up to peak of full scale
// (values above white are cut there), with grain, then passes codes through f.
func scene16(peak, white, grain float64, f func(v float64, rng *rand.Rand) float64) *scan.Pixels {
	const w, h = 700, 600
	px := &scan.Pixels{Header: scan.Info{Path: "tones.tif", Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3}, Pix: make([]uint16, 3*w*h)}
	rng := rand.New(rand.NewPCG(5, 8))
	for y := range h {
		for x := range w {
			u, v := float64(x)/w, float64(y)/h
			t := 0.5 + 0.25*math.Sin(9*u+3*v) + 0.25*math.Sin(5*v-7*u*v)
			for c := range 3 {
				code := math.Min(white*65535, t*peak*65535+grain*rng.NormFloat64())
				if f != nil {
					code = f(code, rng)
				}
				px.Pix[3*(y*w+x)+c] = uint16(math.Min(65535, math.Max(0, math.Round(code))))
			}
		}
	}
	return px
}

func TestCeiling(t *testing.T) {
	smear := func(sigma float64) func(v float64, rng *rand.Rand) float64 {
		return func(v float64, rng *rand.Rand) float64 { return v + sigma*rng.NormFloat64() }
	}
	eight := func(v float64, _ *rand.Rand) float64 { return math.Floor(math.Max(v, 0)/256) * 256 }
	eightScaled := func(v float64, _ *rand.Rand) float64 { return math.Floor(math.Max(v, 0)/256) * 257 }
	for name, c := range map[string]struct {
		px     *scan.Pixels
		want   int
		within int
		from   EndFrom
	}{
		"full scale":         {scene16(1.2, 1, 300, nil), 65535, 0, EndPileUp},
		"white at 98 %":      {scene16(1.2, 0.98, 300, nil), 64224, 0, EndPileUp},
		"98 % a bit smeared": {scene16(1.2, 0.98, 300, smear(6)), 64224, 40, EndPileUp},
		"8 bits shifted":     {scene16(1.2, 1, 300, eight), 0xFF00, 0, EndPileUp},
		"8 bits scaled":      {scene16(1.2, 1, 300, eightScaled), 65535, 0, EndPileUp},
		"8 shifted, clean":   {scene16(0.6, 1, 300, eight), 0xFF00, 0, EndContainer},
		"clean":              {scene16(0.8, 1, 300, nil), 65535, 0, EndDefault},
		"clean, close":       {scene16(0.96, 1, 300, nil), 65535, 0, EndDefault},
		"clean, no grain":    {scene16(0.965, 1, 0, nil), 65535, 0, EndDefault},
		"bright and flat":    {patches(600, 400, 10000, 30000, 63500), 65535, 0, EndDefault},
	} {
		t.Run(name, func(t *testing.T) {
			l := look(t, c.px, Options{})
			got := l.Ceiling.G
			if got > c.want || got < c.want-c.within || l.CeilingFrom.G != c.from {
				t.Errorf("ceiling %d (%v), want %d - %d (%v)", got, l.CeilingFrom.G, c.want, c.within, c.from)
			}
			// The share cut in making the frame is the share found.
			made := 0.0
			for i := 1; i < len(c.px.Pix); i += 3 {
				if int(c.px.Pix[i]) >= got {
					made++
				}
			}
			if n := l.Blown.G * float64(l.Hist.Pixels); math.Abs(n-made) > 0.01 {
				t.Errorf("%.1f pixels blown, %.0f are", n, made)
			}
		})
	}
}

func TestFloor(t *testing.T) {
	lift := func(black float64) func(v float64, _ *rand.Rand) float64 {
		return func(v float64, _ *rand.Rand) float64 { return math.Max(black, v-6000) }
	}
	for name, c := range map[string]struct {
		px   *scan.Pixels
		want int
		from EndFrom
	}{
		"zero":         {scene16(0.8, 1, 300, lift(0)), 0, EndPileUp},
		"black at 1 %": {scene16(0.8, 1, 300, lift(655)), 655, EndPileUp},
		"clean":        {scene16(0.8, 1, 300, func(v float64, _ *rand.Rand) float64 { return v + 2000 }), 0, EndDefault},
	} {
		t.Run(name, func(t *testing.T) {
			l := look(t, c.px, Options{})
			if l.Floor.G != c.want || l.FloorFrom.G != c.from {
				t.Errorf("floor %d (%v), want %d (%v)", l.Floor.G, l.FloorFrom.G, c.want, c.from)
			}
		})
	}
}

func TestEffectiveBits(t *testing.T) {
	shift := func(n int) func(v float64, _ *rand.Rand) float64 {
		return func(v float64, _ *rand.Rand) float64 {
			return float64(int(math.Max(v, 0)) >> (16 - n) << (16 - n))
		}
	}
	scaled := func(n int) func(v float64, _ *rand.Rand) float64 {
		levels := float64(int(1)<<n - 1)
		return func(v float64, _ *rand.Rand) float64 {
			return math.Round(math.Round(math.Max(v, 0)/65535*levels) * 65535 / levels)
		}
	}
	curved := func(v float64, _ *rand.Rand) float64 {
		return math.Pow(math.Floor(math.Max(v, 0)/256)/255, 1.3) * 65535
	}
	for name, c := range map[string]struct {
		f    func(v float64, _ *rand.Rand) float64
		want int
	}{
		"16": {nil, 16}, "8 shifted": {shift(8), 8}, "12 shifted": {shift(12), 12}, "14 shifted": {shift(14), 14}, "15 shifted": {shift(15), 15},
		"8 scaled": {scaled(8), 8}, "10 scaled": {scaled(10), 10}, "12 scaled": {scaled(12), 12}, "14 scaled": {scaled(14), 14}, "8 through a curve": {curved, 8},
	} {
		l := look(t, scene16(0.9, 1, 300, c.f), Options{})
		if l.EffectiveBits != c.want {
			t.Errorf("%s: %d bits, want %d", name, l.EffectiveBits, c.want)
		}
	}
}

// Within a roll the ceiling is the scanner's: frames that do not reach it take
// it, and a flat bright patch on one frame does not pass for it.
func TestAgreeCodeRange(t *testing.T) {
	under := look(t, scene16(0.5, 0.98, 300, nil), Options{})
	base := look(t, scene16(0.9, 0.98, 300, nil), Options{})
	over := look(t, scene16(1.3, 0.98, 300, nil), Options{})
	lim, changed := AgreeCodeRange([]*Look{under, nil, base, over})
	if lim.Ceiling != (RGB[int]{64224, 64224, 64224}) || lim.CeilingFrom.R != LimitAgreed {
		t.Errorf("%+v", lim)
	}
	for _, i := range changed {
		if i != 0 && i != 2 && i != 3 {
			t.Errorf("changed %v", changed)
		}
	}
	out, err := Agree(context.Background(), []*Look{under, nil, base, over}, 2, func(int) (scan.Source, error) {
		t.Error("read again although no count changes")
		return nil, context.Canceled
	}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if out[0].Ceiling.R != 64224 || out[1] != nil || under.Ceiling.R != 65535 {
		t.Errorf("%v %v", out[0].Ceiling, under.Ceiling)
	}

	// A false claim: another frame has picture beyond it.
	false98 := look(t, scene16(1.3, 0.98, 300, nil), Options{})
	full := look(t, scene16(1.3, 1, 300, nil), Options{})
	lim, changed = AgreeCodeRange([]*Look{false98, full})
	if lim.Ceiling.G != 65535 || len(changed) != 1 || changed[0] != 0 {
		t.Errorf("%+v %v", lim, changed)
	}
}

func TestRecount(t *testing.T) {
	px := scene16(1.3, 1, 300, nil)
	l := look(t, px, Options{})
	area := image.Rect(100, 50, 400, 351)
	n, err := l.Recount(context.Background(), px, Options{Area: &area})
	if err != nil {
		t.Fatal(err)
	}
	fresh := look(t, px, Options{Area: &area})
	if n.Blown != fresh.Blown || n.Mean != fresh.Mean || n.Area != area || n.AreaFrom != AreaByHand || n.Hist.Pixels != uint64(area.Dx()*area.Dy()) {
		t.Errorf("%+v %+v", n.Blown, fresh.Blown)
	}
	if l.Area == area || l.Hist.Pixels == n.Hist.Pixels {
		t.Error("the look itself was changed")
	}
	outside := image.Rect(9000, 0, 9010, 10)
	if _, err := l.Recount(context.Background(), px, Options{Area: &outside}); err == nil {
		t.Error("an area outside the picture was taken")
	}
	other := scene16(1, 1, 0, nil)
	other.Header.Width, other.Header.Height = 600, 700
	if _, err := l.Recount(context.Background(), other, Options{}); err == nil {
		t.Error("another picture was taken")
	}
}

// 8-bit files: a quiet sky below white is no ceiling, white written at 250 is.
func TestCeilingOfEightBits(t *testing.T) {
	const w, h = 500, 400
	make8 := func(f func(u float64, rng *rand.Rand) float64) *scan.Pixels {
		px := &scan.Pixels{Header: scan.Info{Path: "8.tif", Format: "TIFF", Width: w, Height: h, Bits: 8, Channels: 3}, Pix: make([]uint16, 3*w*h)}
		rng := rand.New(rand.NewPCG(2, 2))
		for i := range px.Pix {
			px.Pix[i] = uint16(math.Min(255, math.Max(0, math.Round(f(float64(i/3%w)/w, rng)))))
		}
		return px
	}
	sky := look(t, make8(func(u float64, rng *rand.Rand) float64 { return math.Min(245, 400*u) + 1.1*rng.NormFloat64() }), Options{})
	if sky.Ceiling.G != 255 || sky.Blown.Any != 0 {
		t.Errorf("a quiet sky: ceiling %d", sky.Ceiling.G)
	}
	white := look(t, make8(func(u float64, rng *rand.Rand) float64 { return math.Min(250, 400*u+2*rng.NormFloat64()) }), Options{})
	if white.Ceiling.G != 250 || white.CeilingFrom.G != EndPileUp {
		t.Errorf("white at 250: ceiling %d (%v)", white.Ceiling.G, white.CeilingFrom.G)
	}
}

// One frame with a white blot beyond the scanner's ceiling, a number on the
// holder say, must not make the clipping of all others vanish.
func TestOneOddFrameDoesNotUndoTheCeiling(t *testing.T) {
	d, err := simulate.NewDemo("reversal")
	if err != nil {
		t.Fatal(err)
	}
	var looks []*Look
	for i := range d.Stops() {
		p, err := scan.Hold(t.Context(), d.Open(i))
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			c := *p
			c.Pix = slices.Clone(p.Pix)
			for y := 400; y < 500; y++ {
				for x := 400; x < 550; x++ {
					at := 3 * (y*c.Header.Width + x)
					c.Pix[at], c.Pix[at+1], c.Pix[at+2] = 65535, 65535, 65535
				}
			}
			p = &c
		}
		l, err := NewLook(t.Context(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		looks = append(looks, l)
	}
	lim, _ := AgreeCodeRange(looks)
	if want := (RGB[int]{64224, 64224, 64224}); lim.Ceiling != want {
		t.Errorf("the roll's ceiling is %v, want the scanner's %v", lim.Ceiling, want)
	}
}
