package pane

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/render"
)

// The chrome of a pane is neutral, so that nothing near the picture has a hue
// (ISO 3664 asks for a neutral surround).
var (
	surround = color.NRGBA{0x3a, 0x3a, 0x3a, 0xff}
	between  = color.NRGBA{0x2b, 0x2b, 0x2b, 0xff}
	chipBack = color.NRGBA{0x16, 0x16, 0x16, 0xc8}
	chipText = color.NRGBA{0xee, 0xee, 0xee, 0xff}
	dimText  = color.NRGBA{0xb4, 0xb4, 0xb4, 0xff}
	outline  = color.NRGBA{0xee, 0xee, 0xee, 0xff}
)

const (
	chipSize = 13 // units of type
	noteSize = 11
	inset    = 6 // of the chip from the pane's corner
	chipPad  = 5
)

// Pane shows one frame of a Group. Panes are made by the Group.
type Pane struct {
	widget.BaseWidget
	group *Group

	frame *frame      // the frame wanted
	shown *frame      // the frame whose picture stands there
	img   *image.RGBA // the ready buffer; nil: surround
	mix   *mix        // shown in the frame's place; nil: none
	w, h  int         // exact size in device pixels; 0 before the first layout

	raster *canvas.Raster

	painted *image.RGBA // last told to Options.Painted
	thumb   *canvas.Image
	chip    *canvas.Rectangle
	label   *canvas.Text
	note    *canvas.Text
	edge    *canvas.Rectangle
	text    *widget.Label

	spots []*spotMark

	hoverAt  image.Point
	hoverOK  bool
	hovering bool
	cursor   fyne.Position // last hover position, units within the pane
	dragged  bool
	traced   *trace // nil: no drag is followed
}

func newPane(g *Group) *Pane {
	p := &Pane{group: g}
	p.raster = canvas.NewRaster(p.generate)
	p.raster.ScaleMode = canvas.ImageScalePixels // any other blurs at fractional scales
	p.thumb = &canvas.Image{FillMode: canvas.ImageFillContain, ScaleMode: canvas.ImageScaleFastest}
	p.thumb.Hide()
	p.chip = canvas.NewRectangle(chipBack)
	p.chip.CornerRadius = 3
	p.label = canvas.NewText("", chipText)
	p.label.TextSize = chipSize
	p.label.TextStyle.Bold = true
	p.note = canvas.NewText("", dimText)
	p.note.TextSize = noteSize
	p.edge = canvas.NewRectangle(color.Transparent)
	p.edge.StrokeColor, p.edge.StrokeWidth = outline, 2
	p.edge.Hide()
	p.text = widget.NewLabel("")
	p.text.Wrapping = fyne.TextWrapWord
	p.text.Alignment = fyne.TextAlignCenter
	p.text.Hide()
	p.ExtendBaseWidget(p)
	return p
}

var blank = func() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 1, 1))
	img.Set(0, 0, surround)
	return img
}()

// generate is called by the painter on the toolkit's goroutine. The size that
// it asks for can differ by a pixel from the size that is painted, so it is
// ignored; the ready buffer has the true size.
func (p *Pane) generate(w, h int) image.Image {
	p.measure(w, h)
	if p.img == nil {
		return blank
	}
	if p.group.opts.Painted != nil && p.img != p.painted {
		p.painted = p.img
		p.group.opts.Painted(p.label.Text)
	}
	if b := p.img.Bounds(); b.Dx() != p.w || b.Dy() != p.h {
		return matted(p.img, p.w, p.h)
	}
	return p.img
}

// matted returns a picture of another size in the middle of the surround, cut where
// it is too large: until the new one is rendered the old one stands there in its
// own shape. (The toolkit would stretch it.)
func matted(img *image.RGBA, w, h int) image.Image {
	if w <= 0 || h <= 0 {
		return img
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Rect, image.NewUniform(surround), image.Point{}, draw.Src)
	b := img.Bounds()
	at := image.Pt((w-b.Dx())/2, (h-b.Dy())/2)
	draw.Draw(out, b.Sub(b.Min).Add(at), img, b.Min, draw.Src)
	return out
}

// measure finds the exact size in device pixels that the pane covers. w and h
// are used where there is no canvas to ask.
func (p *Pane) measure(w, h int) {
	d := fyne.CurrentApp().Driver()
	if c := d.CanvasForObject(p.raster); c != nil {
		pos := d.AbsolutePositionForObject(p.raster)
		x0, y0 := c.PixelCoordinateForPosition(pos)
		x1, y1 := c.PixelCoordinateForPosition(pos.AddXY(p.Size().Width, p.Size().Height))
		w, h = x1-x0, y1-y0
	}
	if w == p.w && h == p.h || w <= 0 || h <= 0 {
		return
	}
	p.w, p.h = w, h
	p.group.sized()
}

// density returns device pixels per unit.
func (p *Pane) density() float64 {
	if s := p.Size(); s.Width > 0 && p.w > 0 {
		return float64(p.w) / float64(s.Width)
	}
	return 1
}

// device converts a position in the pane to device pixels.
func (p *Pane) device(pos fyne.Position) (x, y float64) {
	s := p.Size()
	if s.Width <= 0 || s.Height <= 0 {
		return 0, 0
	}
	return float64(pos.X) * float64(p.w) / float64(s.Width), float64(pos.Y) * float64(p.h) / float64(s.Height)
}

// swap shows a ready buffer.
func (p *Pane) swap(img *image.RGBA) {
	was := p.shown
	p.shown = p.frame
	if p.img != img {
		p.img = img
		p.raster.Refresh()
	}
	if was != p.shown {
		p.caption()
	}
	p.still()
}

// still hides what is shown in place of a picture.
func (p *Pane) still() {
	if p.thumb.Visible() {
		p.thumb.Hide()
	}
	if p.text.Visible() {
		p.text.Hide()
	}
}

// placeholder shows what there is of a frame that has no picture.
func (p *Pane) placeholder() {
	p.shown = p.frame
	if p.img != nil {
		p.img = nil
		p.raster.Refresh()
	}
	f := p.frame
	words := ""
	switch {
	case f == nil:
	case f.Message != "":
		words = f.Message
	case f.State == Failed:
		words = "This frame could not be read."
	case f.State == Waiting:
		words = "waiting..."
	default:
		words = "reading..."
	}
	if f != nil && f.Thumb != nil && f.State != Failed {
		if p.thumb.Image != f.Thumb {
			p.thumb.Image = f.Thumb
			p.thumb.Refresh()
		}
		p.thumb.Show()
		words = ""
	} else {
		p.thumb.Hide()
	}
	if words != p.text.Text {
		p.text.SetText(legible.Line(words))
	}
	if words == "" {
		p.text.Hide()
	} else {
		p.text.Show()
	}
	p.caption()
}

// caption writes the chip of the frame that stands there.
func (p *Pane) caption() {
	label, note := "", ""
	if p.shown != nil {
		label, note = p.shown.Label, p.shown.Note
		if p.mix != nil && p.img != nil && p.img == p.mix.shot.img {
			label, note = p.mix.said.Label, p.mix.said.Note
		} else if a := p.group.differs(p.shown); a != nil {
			note = "difference against " + a.Label
			if d := p.group.diff.look; d.Kind == render.DifferenceColour {
				note = fmt.Sprintf("colour against %s: black 0, white %.0f ΔE00; %s", a.Label, d.White(), p.shown.Note)
			}
		}
		if extra := p.group.sharpness(p); extra != "" {
			if note != "" {
				note += ", "
			}
			note += extra
		}
	}
	if label == p.label.Text && note == p.note.Text && p.chip.Visible() == (label+note != "") {
		return
	}
	p.label.Text, p.note.Text = legible.Line(label), legible.Line(note)
	if label+note == "" {
		p.chip.Hide()
	} else {
		p.chip.Show()
	}
	p.placeChip()
	p.label.Refresh()
	p.note.Refresh()
}

func (p *Pane) placeChip() {
	l, n := p.label.MinSize(), p.note.MinSize()
	at := float32(inset + chipPad)
	width := float32(2 * chipPad)
	if p.label.Text != "" {
		width += l.Width
	}
	if p.note.Text != "" {
		width += n.Width
		if p.label.Text != "" {
			width += chipPad
		}
	}
	// A note that does not fit is left out: the label must stay readable.
	if room := p.Size().Width - 2*inset; width > room && p.note.Text != "" && room > 0 {
		p.note.Hide()
		width -= n.Width + chipPad
	} else {
		p.note.Show()
	}
	height := l.Height + 4
	p.chip.Move(fyne.NewPos(inset, inset))
	p.chip.Resize(fyne.NewSize(width, height))
	p.label.Move(fyne.NewPos(at, inset+2))
	p.label.Resize(l)
	if p.label.Text != "" {
		at += l.Width + chipPad
	}
	p.note.Move(fyne.NewPos(at, inset+2+(l.Height-n.Height)*0.7))
	p.note.Resize(n)
}

// mark draws or removes the outline of the active frame.
func (p *Pane) mark(on bool) {
	if on == p.edge.Visible() {
		return
	}
	if on {
		p.edge.Show()
		p.edge.Refresh()
	} else {
		p.edge.Hide()
	}
}

// CreateRenderer implements fyne.Widget.
func (p *Pane) CreateRenderer() fyne.WidgetRenderer { return &paneRenderer{p} }

type paneRenderer struct{ p *Pane }

func (r *paneRenderer) Layout(size fyne.Size) {
	p := r.p
	p.raster.Resize(size)
	p.thumb.Resize(size)
	p.edge.Resize(size)
	w := min(size.Width, 460)
	h := p.text.MinSize().Height
	p.text.Resize(fyne.NewSize(w, h))
	h = p.text.MinSize().Height // wrapping is known once the width is
	p.text.Resize(fyne.NewSize(w, h))
	p.text.Move(fyne.NewPos((size.Width-w)/2, max(0, (size.Height-h)/2)))
	p.placeChip()
}

func (r *paneRenderer) MinSize() fyne.Size { return fyne.NewSize(48, 36) }

func (r *paneRenderer) Refresh() { r.Layout(r.p.Size()); r.p.raster.Refresh() }

func (r *paneRenderer) Objects() []fyne.CanvasObject {
	p := r.p
	out := append([]fyne.CanvasObject{p.raster, p.thumb}, p.spotObjects()...)
	return append(out, p.text, p.chip, p.label, p.note, p.edge)
}

func (r *paneRenderer) Destroy() {}
