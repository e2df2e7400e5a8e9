package render

import (
	"image"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/view"
)

// The fast way shows what the exact way would, to a byte; where a black point falls
// in the middle of a table's cell and is lifted by stops, to three.
func TestPerChannelIsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	p := Picture{Look: lookOf(smoothScan(256, 200), 1, image.Rect(0, 0, 256, 200))}
	for n := range 40 {
		s := view.Settings{Exposure: r.Float64()*8 - 4, RG: r.Float64() - 0.5, BG: r.Float64() - 0.5,
			Lift: 4 * r.Float64(), Black: r.Float64() * view.MaxBlack, Highlights: r.Float64()}
		if n%3 == 0 {
			s.Curves[1] = []view.Point{{X: -6, Y: -5}, {X: -2, Y: -2.5}}
		}
		tab := s.Tables()
		fast := newShown(p.Look, PerChannel(func(c int, x float32) float32 { return tab[c].At(x) })).levels[0]
		slow := newShown(p.Look, &Correction{Linear: func(rgb []float32) {
			for i, v := range rgb {
				rgb[i] = float32(s.At(i%3, float64(v)))
			}
		}}).levels[0]
		worst, off, all := 0, 0, 0
		for i := range fast.pix {
			for k := range 3 {
				d := int(fast.pix[i]>>(8*k)&255) - int(slow.pix[i]>>(8*k)&255)
				worst = max(worst, d, -d)
				if all++; d > 1 || d < -1 {
					off++
				}
			}
		}
		if worst > 3 || off*200 > all {
			t.Errorf("%+v: off by up to %d of 255, by more than one in %d of %d", s, worst, off, all)
		}
	}
}

// What a slide costs while it is dragged: a preview developed anew.
func BenchmarkDevelopCorrected(b *testing.B) {
	p := Picture{Look: lookOf(smoothScan(2048, 1600), 1, image.Rect(0, 0, 2048, 1600))}
	for b.Loop() {
		b.StopTimer()
		s := view.Settings{Exposure: 1, Lift: 2}
		b.StartTimer()
		t := s.Tables()
		newShown(p.Look, PerChannel(func(c int, x float32) float32 { return t[c].At(x) }))
	}
}

func BenchmarkDevelopAsScanned(b *testing.B) {
	p := Picture{Look: lookOf(smoothScan(2048, 1600), 1, image.Rect(0, 0, 2048, 1600))}
	for b.Loop() {
		newShown(p.Look, nil)
	}
}
