package publish

import (
	"context"
	"image"
	"image/color"
	"io"

	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/pngwrite"
)

// PNG writes a page with 8 or 16 bits a channel, tagged with its space and its size on
// paper.
func PNG(ctx context.Context, w io.Writer, j Job, depth int, software string) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	size := j.Page.Pixels()
	b := newBands(j)
	marks := inSpace(j.Page.List, j.Space)
	ground := groundOf(j.Page, j.Space)
	return pngwrite.Stream(ctx, w, pngwrite.Rows{W: size.X, H: size.Y, Depth: depth, Band: func(ctx context.Context, dst []byte, y0, y1 int) error {
		return b.paint(ctx, &marks, ground, size, dst, y0, y1, depth)
	}}, pngwrite.Meta{PPI: j.Page.PPI(), Title: j.Page.Title, Software: software, Space: j.Space})
}

func groundOf(p *plate.Page, space colour.Display) color.NRGBA {
	g := space.Byte(p.Ground)
	return color.NRGBA{g[0], g[1], g[2], 255}
}

// paint fills dst with rows of the page.
func (b *bands) paint(ctx context.Context, marks *drawing.List, ground color.NRGBA, size image.Point, dst []byte, y0, y1, depth int) error {
	pics, err := b.at(ctx, y0, y1)
	if err != nil {
		return err
	}
	stride := size.X * 3 * depth / 8
	for y := y0; y < y1; y++ {
		row, from := dst[(y-y0)*stride:(y-y0+1)*stride], b.row(marks, ground, size, y)
		bare(pics, y, size.X, func(x0, x1 int) {
			if depth == 16 {
				for x := x0; x < x1; x++ {
					for k := range 3 {
						row[6*x+2*k], row[6*x+2*k+1] = from[4*x+k], from[4*x+k]
					}
				}
				return
			}
			for x := x0; x < x1; x++ {
				row[3*x], row[3*x+1], row[3*x+2] = from[4*x], from[4*x+1], from[4*x+2]
			}
		})
		for _, p := range pics {
			if y < p.Min.Y || y >= p.Max.Y {
				continue
			}
			codes := p.deep.Pix[3*p.deep.W*(y-p.Min.Y):][:3*p.deep.W]
			if depth == 16 {
				to := row[6*p.Min.X:]
				for i, v := range codes {
					to[2*i], to[2*i+1] = byte(v>>8), byte(v)
				}
			} else {
				to := row[3*p.Min.X:]
				for i, v := range codes {
					to[i] = byte((uint32(v) + 128) / 257)
				}
			}
		}
	}
	return nil
}

// bare calls each with the runs of a row that no picture covers. Pictures do not
// overlap.
func bare(pics []placedPicture, y, width int, each func(x0, x1 int)) {
	x := 0
	for x < width {
		next, to := width, width
		for _, p := range pics {
			if y >= p.Min.Y && y < p.Max.Y && p.Max.X > x && p.Min.X < next {
				next, to = max(x, p.Min.X), p.Max.X
			}
		}
		if next > x {
			each(x, next)
		}
		x = max(to, x+1)
	}
}

// stripRows is how many rows of marks are painted at a time. Strips lie where they lie
// whatever bands are asked for: the edge of a slanted line is not cut elsewhere, and the same
// page has the same pixels however it is written.
const stripRows = 256

// row returns a row of the page without its pictures.
func (b *bands) row(marks *drawing.List, ground color.NRGBA, size image.Point, y int) []byte {
	if b.strip == nil || y < b.strip.Rect.Min.Y || y >= b.strip.Rect.Max.Y {
		from := y / stripRows * stripRows
		r := image.Rect(0, from, size.X, min(from+stripRows, size.Y))
		if b.strip == nil || b.strip.Rect.Size() != r.Size() {
			b.strip = image.NewRGBA(r)
		}
		b.strip.Rect = r
		c := paint.New(b.strip, b.g.job.Page.Scale())
		c.Fill(b.strip.Rect, ground)
		marks.Paint(c, image.Rect(0, 0, size.X, size.Y))
	}
	return b.strip.Pix[b.strip.PixOffset(0, y):]
}

// inSpace returns a list with its colours in another space.
func inSpace(l drawing.List, space colour.Display) drawing.List {
	if space == colour.SRGB {
		return l
	}
	to := func(c color.NRGBA) color.NRGBA {
		b := space.Byte([3]uint8{c.R, c.G, c.B})
		return color.NRGBA{b[0], b[1], b[2], c.A}
	}
	out := l
	out.Marks = make([]drawing.Mark, len(l.Marks))
	for i, m := range l.Marks {
		switch m := m.(type) {
		case drawing.Line:
			m.Col = to(m.Col)
			out.Marks[i] = m
		case drawing.Area:
			m.Col = to(m.Col)
			out.Marks[i] = m
		case drawing.Frame:
			m.Col = to(m.Col)
			out.Marks[i] = m
		case drawing.Dot:
			m.Col = to(m.Col)
			out.Marks[i] = m
		case drawing.Text:
			m.Style.Col = to(m.Style.Col)
			out.Marks[i] = m
		}
	}
	return out
}

// Image paints a page whole, as sRGB: what is shown before it is written.
func Image(ctx context.Context, j Job) (*image.RGBA, error) {
	j.Space = colour.SRGB
	return whole(ctx, j)
}
