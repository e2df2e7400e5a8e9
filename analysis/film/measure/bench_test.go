package measure

import (
	"context"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/scan"
)

// busyPixels is a made-up picture with grain: gradients and tiles at all levels
// in a near-black border.
func busyPixels(w, h int) *scan.Pixels {
	px := &scan.Pixels{Header: scan.Info{Path: "busy.tif", Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3}}
	px.Pix = make([]uint16, 3*w*h)
	rng := rand.New(rand.NewPCG(1, 2))
	bx, by := w/25, h/20
	for y := range h {
		for x := range w {
			at := 3 * (y*w + x)
			level := 900
			if x >= bx && x < w-bx && y >= by && y < h-by {
				level = (x*50000/w + (y/64%7)*9000 + (x/97%5)*1500)
			}
			for c := range 3 {
				v := level + level*c/20 + int(rng.Int32N(801)) - 400
				px.Pix[at+c] = uint16(min(max(v, 0), 65535))
			}
		}
	}
	return px
}

func BenchmarkNewLook(b *testing.B) {
	px := busyPixels(7000, 7000)
	b.ResetTimer()
	for b.Loop() {
		if _, err := NewLook(context.Background(), px, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRelate(b *testing.B) {
	base := look(b, busyPixels(7000, 7000), Options{})
	frame := *base
	for b.Loop() {
		frame.cache = new(lookCache)
		if _, err := Relate(context.Background(), base, &frame, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkStopHistogram(b *testing.B) {
	l := look(b, busyPixels(7000, 1000), Options{})
	for b.Loop() {
		StopHistogram(l, -12, 0.5, 240)
	}
}
