package measure

import (
	"context"
	"fmt"
	"image"
	"slices"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/scan"
)

// A strip of one density along one side, 1 % of the width, is the same in all frames
// while their light changes by stops: it is left out, whatever its code. A roll without
// one is measured whole.
func TestStrip(t *testing.T) {
	stops := []float64{-2, 0, 2}
	for k, where := range []side{left, bottom} {
		r := adversary.Roll{Film: adversary.Stocks()["negative"], Scene: []string{"foliage", "brick"}[k], Seed: 3, Size: 900, Stops: stops, Grain: 0.02, Blur: [2]float64{0.8, 1.4}, ReadSD: 1.5e-4}
		var shot []*scan.Pixels
		for i := range stops {
			shot = append(shot, r.Frame(i).Pixels)
		}
		for _, code := range []uint16{0, 8, 40, 140, 240} {
			name := fmt.Sprintf("code %d at the %v", code, where)
			var looks []*Look
			var scans []*scan.Pixels
			for i := range stops {
				p := &scan.Pixels{Header: shot[i].Header, Pix: slices.Clone(shot[i].Pix)}
				w, h := p.Header.Width, p.Header.Height
				strip := image.Rect(0, 0, 9, h)
				if where == bottom {
					strip = image.Rect(0, h-9, w, h)
				}
				for y := strip.Min.Y; code > 0 && y < strip.Max.Y; y++ {
					for x := strip.Min.X; x < strip.Max.X; x++ {
						for c := range 3 {
							p.Pix[3*(y*w+x)+c] = code * 257
						}
					}
				}
				l, err := NewLook(context.Background(), p, Options{})
				if err != nil {
					t.Fatal(err)
				}
				looks, scans = append(looks, l), append(scans, p)
			}
			out, err := Agree(context.Background(), looks, 1, func(i int) (scan.Source, error) { return scans[i], nil }, Options{})
			if err != nil {
				t.Fatal(err)
			}
			for i, l := range out {
				got := l.Area.Min.X
				if where == bottom {
					got = l.Info.Height - l.Area.Max.Y
				}
				if code == 0 && got != 0 || code > 0 && (got < 9 || got > 16) {
					t.Errorf("%s, %+g: %d pixels are left out: %s", name, stops[i], got, l.AreaNote)
				}
			}
		}
	}
}
