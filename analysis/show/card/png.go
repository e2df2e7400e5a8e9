package card

import (
	"image"
	"image/color"
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
	img := image.NewRGBA(image.Rect(0, 0, px(p.size.Width), px(p.size.Height)))
	c := paint.New(img, pixelsPerMM)
	grey := func(g uint8) color.NRGBA { return color.NRGBA{g, g, g, 255} }
	c.Fill(img.Bounds(), grey(paper))
	for _, b := range p.boxes {
		r := image.Rect(px(b.x), px(b.y), px(b.x+b.w), px(b.y+b.h))
		c.Fill(r, grey(b.fill))
		if b.width > 0 {
			c.Frame(r, b.width, grey(b.grey))
		}
	}
	for _, l := range p.lines {
		if l.y0 == l.y1 {
			c.HLine(px(l.x0), px(l.x1), px(l.y0), l.width, grey(l.grey))
		} else {
			c.Line(c.U(l.x0), c.U(l.y0), c.U(l.x1), c.U(l.y1), l.width, grey(l.grey))
		}
	}
	for _, t := range p.texts {
		c.Text(c.U(t.x), c.U(t.y), t.s, style(t.em, t.bold, t.grey).Aligned(t.align))
	}
	return img
}

// WritePNG writes one page of Images, with its resolution, so that it prints in
// its size.
func WritePNG(w io.Writer, img image.Image) error {
	return pngwrite.Encode(w, img, pngwrite.Meta{PPI: DPI})
}
