package noise

import (
	"context"
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// greyLook is a scan of w by h greys of given light, 16 bit, with sRGB's curve.
func greyLook(t *testing.T, w, h int, light func(x, y int) float64) *measure.Look {
	t.Helper()
	px := &scan.Pixels{Header: scan.Info{Path: "grey.tif", Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3}, Pix: make([]uint16, 3*w*h)}
	tone := colour.AssumedSRGB(65535).Tone()[1]
	for y := range h {
		for x := range w {
			v := float32(light(x, y))
			lo, hi := 0, 65535
			for hi-lo > 1 {
				if m := (lo + hi) / 2; tone[m] <= v {
					lo = m
				} else {
					hi = m
				}
			}
			for c := range 3 {
				px.Pix[3*(y*w+x)+c] = uint16(lo)
			}
		}
	}
	area := image.Rect(0, 0, w, h)
	l, err := measure.NewLook(context.Background(), px, measure.Options{Area: &area})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// A frame by itself: where two thirds of the picture are calm its noise is read, also
// where grain is blurred, by which the kernel of Immerkaer (1996) is misled; where texture
// is everywhere it is not told. The figure of 10 over 128 is that of Immerkaer's own check.
func TestAlone(t *testing.T) {
	rnd := rand.New(rand.NewPCG(9, 15))
	const w = 1000
	for _, blur := range []float64{0, 1.2, 2} {
		const rel = 10.0 / 128
		f := field(rnd, w, blur)
		l := greyLook(t, w, w, func(x, y int) float64 {
			v := 0.02 + 0.3*float64(x)/w
			if y%300 < 100 { // a third of the picture is textured
				v *= 1 + 0.3*math.Sin(float64(x)*1.3)*math.Sin(float64(y)*0.9)
			}
			return v * (1 + rel*f[y*w+x])
		})
		got, err := Alone(context.Background(), l, Options{})
		if err != nil {
			t.Fatalf("blur %g: %v", blur, err)
		}
		for _, y := range []float64{0.06, 0.1, 0.2} {
			if v := got.SigmaY(y) / y; math.Abs(v/rel-1) > 0.1 {
				t.Errorf("blur %g: noise over light %.4f at %g, made with %.4f +/- %.2f", blur, v, y, rel, got.ErrorY(y))
			}
		}
	}
	f := field(rnd, w, 1.2)
	l := greyLook(t, w, w, func(x, y int) float64 { // scales of texture, nowhere calm
		v := 0.1 * (1 + 0.5*math.Sin(float64(x)/90)*math.Sin(float64(y)/70))
		for _, s := range []float64{2.1, 5.3, 11.7, 23} {
			v *= 1 + 0.1*math.Sin(float64(x)/s+3*math.Sin(float64(y)/(9*s)))*(1+math.Sin(float64(x)/171)*math.Sin(float64(y)/133))
		}
		return v * (1 + 0.02*f[y*w+x])
	})
	switch got, err := Alone(context.Background(), l, Options{}); {
	case errors.Is(err, ErrAlone):
	case err != nil:
		t.Fatal(err)
	default:
		for _, y := range []float64{0.06, 0.1, 0.14} {
			if v := got.SigmaY(y) / y; math.Abs(v/0.02-1) > 0.3 {
				t.Errorf("texture told as noise: %.4f at %g, made with 0.02", v, y)
			}
		}
	}
}
