// Package paper lets package ink draw a widget in exact device pixels: the
// toolkit's raster asks for a size that can differ by a pixel from the one it
// shows, which blurs fine lines at fractional scales.
package paper

import (
	"image"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/show/paint"
)

// Paper is a widget that is drawn with paint. Draw runs on the toolkit's
// goroutine and should take a few milliseconds at most.
type Paper struct {
	widget.BaseWidget
	Draw    func(c *paint.Canvas, r image.Rectangle)
	OnHover func(x, y float64, ok bool) // device pixels inside the paper; ok false: the pointer left
	min     fyne.Size
	raster  *canvas.Raster
	sheets  Sheets
	scale   float64
}

var _ desktop.Hoverable = (*Paper)(nil)

// New returns a paper of at least that size.
func New(min fyne.Size, draw func(c *paint.Canvas, r image.Rectangle)) *Paper {
	p := &Paper{Draw: draw, min: min, scale: 1}
	p.ExtendBaseWidget(p)
	return p
}

// Self returns the widget that the toolkit knows: a type that embeds a Paper is another.
func (p *Paper) Self() fyne.CanvasObject {
	if p.raster != nil {
		return p.raster
	}
	return p
}

// SetMinSize changes the least size and says whether it was another.
func (p *Paper) SetMinSize(s fyne.Size) bool {
	if p.min == s {
		return false
	}
	p.min = s
	return true
}

// MinSize implements fyne.Widget.
func (p *Paper) MinSize() fyne.Size { return p.min }

// Scale returns device pixels per unit, as last drawn.
func (p *Paper) Scale() float64 { return p.scale }

// CreateRenderer implements fyne.Widget.
func (p *Paper) CreateRenderer() fyne.WidgetRenderer {
	p.raster = canvas.NewRaster(func(_, _ int) image.Image { return p.paint() })
	p.raster.ScaleMode = canvas.ImageScalePixels
	return widget.NewSimpleRenderer(p.raster)
}

// Refresh implements fyne.Widget.
func (p *Paper) Refresh() {
	if p.raster != nil {
		p.raster.Refresh()
	}
}

func (p *Paper) paint() image.Image {
	w, h, scale := Device(p.Self())
	img := p.sheets.Next(w, h)
	p.scale = scale
	c := paint.New(img, scale)
	c.Fill(img.Rect, c.Pal.Surround)
	p.Draw(c, img.Rect)
	return img
}

// MouseIn implements desktop.Hoverable.
func (p *Paper) MouseIn(e *desktop.MouseEvent) { p.MouseMoved(e) }

// MouseMoved implements desktop.Hoverable.
func (p *Paper) MouseMoved(e *desktop.MouseEvent) {
	if p.OnHover != nil {
		p.OnHover(float64(e.Position.X)*p.scale, float64(e.Position.Y)*p.scale, true)
	}
}

// MouseOut implements desktop.Hoverable.
func (p *Paper) MouseOut() {
	if p.OnHover != nil {
		p.OnHover(0, 0, false)
	}
}

// Device returns the size of an object in device pixels, exactly as the toolkit will
// place it, and the device pixels of one unit.
func Device(o fyne.CanvasObject) (w, h int, scale float64) {
	size := o.Size()
	d := fyne.CurrentApp().Driver()
	c := d.CanvasForObject(o)
	if c == nil || size.Height <= 0 {
		return max(1, int(size.Width)), max(1, int(size.Height)), 1
	}
	pos := d.AbsolutePositionForObject(o)
	x0, y0 := c.PixelCoordinateForPosition(pos)
	x1, y1 := c.PixelCoordinateForPosition(pos.Add(size))
	return max(1, x1-x0), max(1, y1-y0), float64(y1-y0) / float64(size.Height)
}

// Sheets are two buffers that take turns: the toolkit may still read the last.
type Sheets struct {
	buf  [2]*image.RGBA
	turn int
}

// Next returns the buffer to draw on, of exactly that size.
func (s *Sheets) Next(w, h int) *image.RGBA {
	s.turn = 1 - s.turn
	if b := s.buf[s.turn]; b == nil || b.Rect.Dx() != w || b.Rect.Dy() != h {
		s.buf[s.turn] = image.NewRGBA(image.Rect(0, 0, w, h))
	}
	return s.buf[s.turn]
}
