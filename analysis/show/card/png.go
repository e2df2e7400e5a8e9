package card

import (
	"image"
	"io"
	"math"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/pngwrite"
)

// DPI is the resolution of the PNG card: that of photo printers.
const DPI = 300

const pixelsPerMM = DPI / 25.4

// Images draws the card, one picture for each page.
func Images(f *plan.File, size Size) ([]*image.RGBA, error) {
	ps, err := pages(f, size)
	if err != nil {
		return nil, err
	}
	var out []*image.RGBA
	for _, p := range ps {
		out = append(out, p.image())
	}
	return out, nil
}

func (p *page) image() *image.RGBA {
	px := func(mm float64) int { return int(math.Round(mm * pixelsPerMM)) }
	img := image.NewRGBA(image.Rect(0, 0, px(p.W), px(p.H)))
	c := paint.New(img, pixelsPerMM)
	c.Fill(img.Rect, ink(paper))
	p.Paint(c, img.Rect)
	return img
}

// WritePNG writes one page of Images, with its resolution, so that it prints in
// its size.
func WritePNG(w io.Writer, img image.Image) error {
	return pngwrite.Encode(w, img, pngwrite.Meta{PPI: DPI, Software: pngwrite.Program})
}
