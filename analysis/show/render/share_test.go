package render

import (
	"fmt"
	"image"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/show/paint"
)

// Masks that are computed elsewhere are laid like the others, are exchanged
// without the fixed ones being made anew, and win over the relation's own.
func TestSharesAreLaidAndExchanged(t *testing.T) {
	p := Picture{Look: lookOf(smoothScan(300, 200), 1, image.Rect(0, 0, 300, 200))}
	n := p.Look.Preview.W * p.Look.Preview.H
	left := make([]uint8, n)
	for i := range left {
		if i%p.Look.Preview.W < p.Look.Preview.W/2 {
			left[i] = 255
		}
	}
	draw := func(p Picture, o Overlay) *image.RGBA {
		dst := image.NewRGBA(image.Rect(0, 0, 300, 200))
		Render(dst, p, Port{Area: p.BaseArea(), W: 300, H: 200}.Fit(), o)
		return dst
	}
	bare := draw(p, Overlay{Lost: true})
	p.Lost = &Share{Pix: left}
	was := p
	was.Prepare(nil)
	p.Noise = &Share{Pix: left}
	p.Prepare(&was)
	if p.marks.fixed != was.marks.fixed {
		t.Error("the fixed masks were made anew though only Noisy changed")
	}
	for _, c := range []struct {
		o    Overlay
		kind paint.Kind
	}{{Overlay{Lost: true}, paint.Lost}, {Overlay{Noisy: true}, paint.Noisy}} {
		got := draw(p, c.o)
		changed, wrong := 0, 0
		for y := range 200 {
			for x := range 300 {
				same := got.RGBAAt(x, y) == bare.RGBAAt(x, y)
				if marked := x < 149 && paint.Pattern(c.kind, x, y, true) > 0; marked && !same {
					changed++
				} else if x > 151 && !same {
					wrong++
				}
			}
		}
		if changed < 1000 || wrong > 0 {
			t.Errorf("%v: %d marked pixels changed, %d others", c.kind, changed, wrong)
		}
	}
	p.Lost = nil
	if p.Ready() {
		t.Error("a picture with another mask counts as ready")
	}
}

func BenchmarkMarksExchanged(b *testing.B) {
	p := Picture{Look: lookOf(smoothScan(2048, 1600), 1, image.Rect(0, 0, 2048, 1600))}
	p.Prepare(nil)
	pix := make([]uint8, p.Look.Preview.W*p.Look.Preview.H)
	for b.Loop() {
		p.Noise = &Share{Pix: pix}
		p.Prepare(nil)
	}
}

// One step of a drag of the shadow lift with the mask of Noisy: the mask, its sizes
// and the picture, in the picture's place of a window of 1280 x 800 and of one of
// 2560 x 1440.
func BenchmarkNoisyStep(b *testing.B) {
	look := lookOf(smoothScan(2048, 1700), 1, image.Rect(0, 0, 2048, 1700))
	n := 2048 * 1700
	rel := &measure.Relation{NoiseLimit: 3, NoiseL: make([]float32, n), NoiseBase: make([]uint8, n)}
	for i := range rel.NoiseL { // a gradient with grain
		rel.NoiseL[i], rel.NoiseBase[i] = 1+5*float32(i%2048)/2048+float32(i*7919%101)/50, uint8(100+i/2048%60)
	}
	tone := func(y float64) float64 { return 2 * y }
	for _, size := range [][2]int{{680, 640}, {1200, 1100}} {
		b.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(b *testing.B) {
			was := &Picture{Look: look, Rel: rel}
			was.Prepare(nil)
			dst := canvas(size[0], size[1])
			all := correction.Settings{Lift: 1}
			for b.Loop() {
				all.Lift += 0.001
				noise := ShareBy(func() []uint8 { pix, _ := rel.NoisyAt(3, tone); return pix })
				p := &Picture{Look: look, Rel: rel, Adjust: perChannel(all), Noise: noise}
				p.Prepare(was)
				Render(dst, *p, View{0.5, 0.5, float64(size[0]) / 2048}, Overlay{Noisy: true})
				was = p
			}
		})
	}
}
