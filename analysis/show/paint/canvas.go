// Package paint draws flat marks, lines, pictures and type into an image.RGBA in
// device pixels. The window's ladder and the sheet are drawn with it, so that
// both show the very same marks; it knows no window toolkit.
//
// Positions are device pixels (the origin of a pixel is its top left corner);
// sizes of type and stroke widths are units, and Canvas.Scale says how many
// device pixels a unit has. One unit is one toolkit-independent pixel, about
// 1/96 inch at the size shown.
package paint

import (
	"image"
	"image/color"
	"math"

	xdraw "golang.org/x/image/draw"
	"golang.org/x/image/vector"
)

// Canvas is a picture that is drawn upon. It is used by one goroutine at a
// time; canvases over different images may be used at once.
type Canvas struct {
	Img   *image.RGBA
	Scale float64  // device pixels per unit, > 0
	Pal   *Palette // the neutral chrome that marks are chosen against

	clip image.Rectangle
	rast *vector.Rasterizer
	cov  []float32 // scratch of Curve
	tops []float64
}

// New makes a canvas over img, clipped to its bounds, with the Dark palette. A
// scale that is not a positive number is taken as 1.
func New(img *image.RGBA, scale float64) *Canvas {
	if !(scale > 0) || math.IsInf(scale, 0) {
		scale = 1
	}
	return &Canvas{Img: img, Scale: scale, Pal: &Dark, clip: img.Bounds(), rast: &vector.Rasterizer{}}
}

// U converts units to device pixels.
func (c *Canvas) U(units float64) float64 { return units * c.Scale }

// Px converts units to whole device pixels, at least one for anything above 0.
func (c *Canvas) Px(units float64) int {
	n := int(math.Round(units * c.Scale))
	if n == 0 && units > 0 {
		return 1
	}
	return n
}

// Clip returns the rectangle that drawing is limited to.
func (c *Canvas) Clip() image.Rectangle { return c.clip }

// Clipped returns a canvas over the same image that draws only inside r. It
// shares scratch memory with c: use the two from one goroutine.
func (c *Canvas) Clipped(r image.Rectangle) *Canvas {
	d := *c
	d.clip = c.clip.Intersect(r)
	return &d
}

// With returns a canvas over the same image and clip with another palette.
func (c *Canvas) With(p *Palette) *Canvas {
	d := *c
	d.Pal = p
	return &d
}

// Fill covers r with col.
func (c *Canvas) Fill(r image.Rectangle, col color.NRGBA) {
	r = r.Intersect(c.clip)
	if r.Empty() || col.A == 0 {
		return
	}
	img := c.Img
	first := img.Pix[img.PixOffset(r.Min.X, r.Min.Y):]
	n := 4 * r.Dx()
	if col.A == 255 {
		row := first[:n]
		row[0], row[1], row[2], row[3] = col.R, col.G, col.B, 255
		for k := 4; k < n; k *= 2 {
			copy(row[k:], row[:k])
		}
		for y := r.Min.Y + 1; y < r.Max.Y; y++ {
			o := img.PixOffset(r.Min.X, y)
			copy(img.Pix[o:o+n], row)
		}
		return
	}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		o := img.PixOffset(r.Min.X, y)
		row := img.Pix[o : o+n]
		for i := 0; i < n; i += 4 {
			over(row[i:i+4:i+4], col, uint32(col.A))
		}
	}
}

// over places col with alpha a (0..255) on one premultiplied pixel.
func over(p []uint8, col color.NRGBA, a uint32) {
	q := 255 - a
	p[0] = uint8((uint32(col.R)*a + uint32(p[0])*q + 127) / 255)
	p[1] = uint8((uint32(col.G)*a + uint32(p[1])*q + 127) / 255)
	p[2] = uint8((uint32(col.B)*a + uint32(p[2])*q + 127) / 255)
	p[3] = uint8((255*a + uint32(p[3])*q + 127) / 255)
}

// Frame draws the outline of r inside its edges; width in units, at least one
// device pixel.
func (c *Canvas) Frame(r image.Rectangle, width float64, col color.NRGBA) {
	w := c.Px(width)
	if r.Dx() <= 2*w || r.Dy() <= 2*w {
		c.Fill(r, col)
		return
	}
	c.Fill(image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+w), col)
	c.Fill(image.Rect(r.Min.X, r.Max.Y-w, r.Max.X, r.Max.Y), col)
	c.Fill(image.Rect(r.Min.X, r.Min.Y+w, r.Min.X+w, r.Max.Y-w), col)
	c.Fill(image.Rect(r.Max.X-w, r.Min.Y+w, r.Max.X, r.Max.Y-w), col)
}

// HLine draws a pixel-snapped horizontal line from x0 to x1 centred on y.
func (c *Canvas) HLine(x0, x1, y int, width float64, col color.NRGBA) {
	w := c.Px(width)
	if x1 < x0 {
		x0, x1 = x1, x0
	}
	c.Fill(image.Rect(x0, y-w/2, x1, y-w/2+w), col)
}

// VLine draws a pixel-snapped vertical line from y0 to y1 centred on x.
func (c *Canvas) VLine(x, y0, y1 int, width float64, col color.NRGBA) {
	w := c.Px(width)
	if y1 < y0 {
		y0, y1 = y1, y0
	}
	c.Fill(image.Rect(x-w/2, y0, x-w/2+w, y1), col)
}

// VDash draws a dashed, pixel-snapped vertical line; on and off are units.
func (c *Canvas) VDash(x, y0, y1 int, width, on, off float64, col color.NRGBA) {
	step, dash := c.Px(on+off), c.Px(on)
	if step <= 0 {
		return
	}
	for y := y0; y < y1; y += step {
		c.VLine(x, y, min(y+dash, y1), width, col)
	}
}

// HDash draws a dashed, pixel-snapped horizontal line; on and off are units.
func (c *Canvas) HDash(x0, x1, y int, width, on, off float64, col color.NRGBA) {
	step, dash := c.Px(on+off), c.Px(on)
	if step <= 0 {
		return
	}
	for x := x0; x < x1; x += step {
		c.HLine(x, min(x+dash, x1), y, width, col)
	}
}

// maxScaled is the longest side, in pixels, that Picture scales to.
const maxScaled = 1 << 17

// Picture draws src over dst, scaled to fill it; the caller keeps proportions
// (see Fit). A nil or empty picture draws nothing.
func (c *Canvas) Picture(dst image.Rectangle, src *image.RGBA) {
	if src == nil || src.Rect.Empty() || dst.Empty() || dst.Intersect(c.clip).Empty() {
		return
	}
	if dst.Dx() > maxScaled || dst.Dy() > maxScaled {
		return
	}
	target := c.Img
	if !dst.In(c.clip) {
		// The scalers do not clip to less than the image: a sub-image does.
		target = c.Img.SubImage(c.clip).(*image.RGBA)
	}
	if dst.Size() == src.Rect.Size() {
		xdraw.Draw(target, dst, src, src.Rect.Min, xdraw.Src)
		return
	}
	q := xdraw.Scaler(xdraw.CatmullRom)
	if dst.Dx() <= src.Rect.Dx() {
		q = xdraw.BiLinear // a tent as wide as the reduction: no aliasing, no ringing
	}
	q.Scale(target, dst, src, src.Rect, xdraw.Src, nil)
}

// Fit returns the largest rectangle of w:h proportions inside r, centred.
func Fit(r image.Rectangle, w, h int) image.Rectangle {
	if w <= 0 || h <= 0 || r.Empty() {
		return image.Rectangle{Min: r.Min, Max: r.Min}
	}
	fw, fh := r.Dx(), r.Dy()
	if fw*h > fh*w {
		fw = max(1, (fh*w+h/2)/h)
	} else {
		fh = max(1, (fw*h+w/2)/w)
	}
	x := r.Min.X + (r.Dx()-fw)/2
	y := r.Min.Y + (r.Dy()-fh)/2
	return image.Rect(x, y, x+fw, y+fh)
}
