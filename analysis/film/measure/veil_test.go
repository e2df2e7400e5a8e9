package measure

import (
	"context"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"stopladder/analysis/scan"
)

// veiledLooks are five frames of smooth tones a stop apart, with a sign of an opacity laid
// over one corner of each.
func veiledLooks(t testing.TB, w, h int, sign image.Rectangle, opacity float64) (looks []*Look) {
	t.Helper()
	for stop := -2.0; stop <= 2; stop++ {
		px := &scan.Pixels{Header: scan.Info{Path: "veiled.tif", Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3}, Pix: make([]uint16, 3*w*h)}
		rnd := rand.New(rand.NewPCG(uint64(10+stop), 1))
		for y := range h {
			for x := range w {
				light := 0.18 * math.Exp2(stop+1.5*math.Sin(float64(x)/40)+1.5*math.Cos(float64(y)/50))
				code := math.Pow(light/(light+0.6), 1/2.2)
				if image.Pt(x, y).In(sign) {
					code = (1-opacity)*code + opacity*0.9
				}
				for c := range 3 {
					px.Pix[3*(y*w+x)+c] = uint16(65535 * min(max(code+0.004*rnd.NormFloat64(), 0), 1))
				}
			}
		}
		l, err := NewLook(context.Background(), px, Options{})
		if err != nil {
			t.Fatal(err)
		}
		looks = append(looks, l)
	}
	return looks
}

// A sign is found where it lies and nothing besides; where there is none, none is.
func TestVeils(t *testing.T) {
	sign := image.Rect(416, 336, 536, 376)
	for _, opacity := range []float64{0.5, 0.8, 0} {
		got := newStillRoll(veiledLooks(t, 600, 440, sign, opacity)).veils()
		if opacity == 0 {
			if got != nil {
				t.Error("a sign is found where none is")
			}
			continue
		}
		if got == nil {
			t.Errorf("opacity %g: not found", opacity)
			continue
		}
		in, out := 0, 0
		near := sign.Inset(-2 * veilSide)
		for k, v := range got {
			switch p := image.Pt(k%600, k/600); {
			case v && p.In(sign):
				in++
			case v && !p.In(near):
				out++
			}
		}
		if in < sign.Dx()*sign.Dy()*95/100 || out > 0 {
			t.Errorf("opacity %g: %d of %d pixels of it found, and %d elsewhere", opacity, in, sign.Dx()*sign.Dy(), out)
		}
	}
}

func BenchmarkVeils(b *testing.B) {
	s := newStillRoll(veiledLooks(b, 2000, 1500, image.Rectangle{}, 0))
	for b.Loop() {
		s.veils()
	}
}
