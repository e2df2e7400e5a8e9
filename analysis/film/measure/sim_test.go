package measure

import (
	"context"
	"image"
	"math"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/scan"
)

// The demo rolls: image area, ceiling and floor against the simulator's truth,
// and the clipped fractions against counts at the true limits.
func TestDemoRolls(t *testing.T) {
	ctx := context.Background()
	for _, kind := range []string{"reversal", "negative"} {
		d, err := simulate.NewDemo(kind)
		if err != nil {
			t.Fatal(err)
		}
		var looks []*Look
		baseAt := -1
		for i, stop := range d.Stops() {
			l, err := NewLook(ctx, d.Open(i), Options{})
			if err != nil {
				t.Fatal(err)
			}
			looks = append(looks, l)
			truth, err := d.Truth(i)
			if err != nil {
				t.Fatal(err)
			}
			checkArea(t, kind, stop, l, truth.Area)
			if stop == 0 {
				baseAt = i
			}
		}
		looks, err = Agree(ctx, looks, baseAt, func(i int) (scan.Source, error) { return d.Open(i), nil }, Options{})
		if err != nil {
			t.Fatal(err)
		}
		sc := simulate.DefaultScanner()
		ceiling, floor := int(math.Round(sc.Ceiling*65535)), int(math.Round(sc.Floor*65535))
		for i, l := range looks {
			if l.Ceiling != (RGB[int]{ceiling, ceiling, ceiling}) {
				t.Errorf("%s %+g: ceiling %v, want %d", kind, d.Stops()[i], l.Ceiling, ceiling)
			}
			px, err := scan.Hold(ctx, d.Open(i))
			if err != nil {
				t.Fatal(err)
			}
			blown, blocked := countAt(px, l.Area, ceiling, floor)
			if blown != l.Blown.Any {
				t.Errorf("%s %+g: blown %.6f, want %.6f", kind, d.Stops()[i], l.Blown.Any, blown)
			}
			// The negative roll never reaches the floor: nothing shows it, so
			// it stays at zero. Where it is reached it must be found.
			if blocked > 0.001 && blocked != l.Blocked.Any {
				t.Errorf("%s %+g: blocked %.6f, want %.6f", kind, d.Stops()[i], l.Blocked.Any, blocked)
			}
		}
	}
}

func checkArea(t *testing.T, kind string, stop float64, l *Look, want image.Rectangle) {
	t.Helper()
	a := l.Area
	in := [4]int{a.Min.X - want.Min.X, a.Min.Y - want.Min.Y, want.Max.X - a.Max.X, want.Max.Y - a.Max.Y}
	for _, v := range in {
		if v < -2*l.Preview.Factor || v > 4*l.Preview.Factor {
			t.Errorf("%s %+g: area %v is inside the true %v by %v (left, top, right, bottom)", kind, stop, a, want, in)
			return
		}
	}
}

func countAt(px *scan.Pixels, r image.Rectangle, ceiling, floor int) (blown, blocked float64) {
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			at := 3 * (y*px.Header.Width + x)
			p := px.Pix[at : at+3]
			if int(max(p[0], p[1], p[2])) >= ceiling {
				blown++
			}
			if int(min(p[0], p[1], p[2])) <= floor {
				blocked++
			}
		}
	}
	n := float64(r.Dx() * r.Dy())
	return blown / n, blocked / n
}

// 8-bit data in a 16-bit file, white at 98 %: the simulator's ceiling is then
// 0xFA00 (its documentation), and the whole roll must be counted at it.
func TestEightBitRoll(t *testing.T) {
	ctx := context.Background()
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	for _, stock := range []simulate.Stock{simulate.Reversal(), simulate.Negative()} {
		var pix []*scan.Pixels
		var looks []*Look
		for _, stop := range []float64{-2, 0, 3, 4} {
			f, err := simulate.Shoot(ctx, r, stock, simulate.Options{Border: true, EightBitInSixteen: true, W: 900, H: 780}, stop)
			if err != nil {
				t.Fatal(err)
			}
			pix = append(pix, f.Pixels)
			looks = append(looks, look(t, f.Pixels, Options{}))
		}
		looks, err := Agree(ctx, looks, 1, func(i int) (scan.Source, error) { return pix[i], nil }, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, l := range looks {
			if l.Ceiling != (RGB[int]{0xFA00, 0xFA00, 0xFA00}) || l.EffectiveBits != 8 {
				t.Errorf("%s, frame %d: ceiling %v (%v), %d bits", stock.Name, i, l.Ceiling, l.CeilingFrom, l.EffectiveBits)
			}
			if blown, _ := countAt(pix[i], l.Area, 0xFA00, 0); blown != l.Blown.Any {
				t.Errorf("%s, frame %d: blown %.6f, want %.6f", stock.Name, i, l.Blown.Any, blown)
			}
		}
	}
}
