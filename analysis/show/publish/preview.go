package publish

import (
	"context"
	"image"
	"math"

	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/render"
)

// Preview is a sheet as it will be written, drawn smaller.
type Preview struct {
	Image  *image.RGBA
	Pixels image.Point // of the sheet itself
	Paper  [2]float64  // its size on paper, millimetres; 0 where it has none
}

// Preview draws the page as it will be written, w pixels wide or fewer, and, where it is
// not much higher than wide, h high or less: a ladder is scrolled.
func (s *Sheet) Preview(ctx context.Context, w, h int) (*Preview, error) {
	w, h = max(w, 16), max(h, 16)
	j, err := s.page()
	if err != nil {
		return nil, err
	}
	j.Space = colour.SRGB
	out := &Preview{Pixels: j.Page.Pixels(), Paper: [2]float64{j.Page.W / 72 * 25.4, j.Page.H / 72 * 25.4}}
	share := float64(w) / float64(out.Pixels.X)
	if j.Page.H < 2.2*j.Page.W {
		share = math.Min(share, float64(h)/float64(out.Pixels.Y))
	}
	j.shrunk = math.Min(1, share)
	j.Page.Options.Width = max(1, int(math.Round(float64(out.Pixels.X)*j.shrunk)))
	out.Image, err = whole(ctx, j)
	return out, err
}

// reduced returns a picture at another size: the mean of what each pixel covers.
func reduced(d *render.Deep, w, h int) *render.Deep {
	if d == nil || d.W == w && d.H == h {
		return d
	}
	out := &render.Deep{W: w, H: h, Pix: make([]uint16, 3*w*h), Stood: d.Stood}
	for y := range h {
		y0, y1 := y*d.H/h, max(y*d.H/h+1, (y+1)*d.H/h)
		for x := range w {
			x0, x1 := x*d.W/w, max(x*d.W/w+1, (x+1)*d.W/w)
			var sum [3]uint64
			for yy := y0; yy < y1; yy++ {
				for xx := x0; xx < x1; xx++ {
					for k := range 3 {
						sum[k] += uint64(d.Pix[3*(yy*d.W+xx)+k])
					}
				}
			}
			n := uint64((y1 - y0) * (x1 - x0))
			for k := range 3 {
				out.Pix[3*(y*w+x)+k] = uint16(sum[k] / n)
			}
		}
	}
	return out
}
