package pane

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/render"
)

// The chrome of a pane is neutral, so that nothing near the picture has a hue
// (ISO 3664 asks for a neutral surround).
var (
	between  = color.NRGBA{0x2b, 0x2b, 0x2b, 0xff}
	chipBack = color.NRGBA{0x16, 0x16, 0x16, 0xc8}
	chipText = color.NRGBA{0xee, 0xee, 0xee, 0xff}
	dimText  = color.NRGBA{0xb4, 0xb4, 0xb4, 0xff}
	outline  = color.NRGBA{0xee, 0xee, 0xee, 0xff}
)

// Pane shows one frame of a Group. Panes are made by the Group.
type Pane struct {
	widget.BaseWidget
	group *Group

	frame *frame      // the frame wanted
	under *frame      // the frame of the edge's other side; nil: no edge stands here
	held  *held       // what stands in its place while a key is held; nil: nothing
	shown *frame      // the frame whose picture stands there
	img   *image.RGBA // the ready buffer; nil: surround
	main  *image.RGBA // of shown: img, but where an edge joins it with another
	join  joined
	mix   *mix // shown in the frame's place; nil: none
	w, h  int  // exact size in device pixels; 0 before the first layout

	raster *canvas.Raster

	painted *image.RGBA // last told to Options.Painted
	thumb   *canvas.Image
	plate   *plate // of shown
	second  *plate // of under
	edge    *canvas.Rectangle
	marks   *edgeMarks
	text    *widget.Label

	spots []*spotMark

	hoverAt  image.Point
	hoverOK  bool
	hovering bool
	cursor   fyne.Position // last hover position, units within the pane
	hoverID  int
	dragged  bool

	grip    hold      // what of the edge the hand has
	gripped hold      // what of the edge the last press took
	pressed time.Time // when it was taken hold of last
	traced  *trace    // nil: no drag is followed
}

func newPane(g *Group) *Pane {
	p := &Pane{group: g}
	p.raster = canvas.NewRaster(p.generate)
	p.raster.ScaleMode = canvas.ImageScalePixels // any other blurs at fractional scales
	p.thumb = &canvas.Image{FillMode: canvas.ImageFillContain, ScaleMode: canvas.ImageScaleFastest}
	p.thumb.Hide()
	p.plate, p.second, p.marks = newPlate(), newPlate(), newEdgeMarks()
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

// blank returns a pixel of the surround.
func (g *Group) blank() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 1, 1))
	img.Set(0, 0, g.grey())
	return img
}

// generate is called by the painter on the toolkit's goroutine. The size that
// it asks for can differ by a pixel from the size that is painted, so it is
// ignored; the ready buffer has the true size.
func (p *Pane) generate(w, h int) image.Image {
	p.measure(w, h)
	if p.img == nil {
		return p.group.blank()
	}
	if p.group.opts.Painted != nil && p.img != p.painted {
		p.painted = p.img
		p.group.opts.Painted(p.plate.label.Text)
	}
	if b := p.img.Bounds(); b.Dx() != p.w || b.Dy() != p.h {
		return matted(p.img, p.w, p.h, p.group.grey())
	}
	return p.img
}

// matted returns a picture of another size in the middle of the surround, cut where
// it is too large: until the new one is rendered the old one stands there in its
// own shape. (The toolkit would stretch it.)
func matted(img *image.RGBA, w, h int, surround color.Color) image.Image {
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

// swap shows a ready buffer of what the pane is to show; an edge joins it with that of its
// other side.
func (p *Pane) swap(img *image.RGBA) {
	was := p.shown
	p.shown, p.main = p.target(), img
	if p.parted() {
		if o := p.underImage(); o != nil {
			if p.join.join(o, img, p.group.edge.over(p.w, p.h)) && p.img == p.join.img {
				p.raster.Refresh()
			}
			img = p.join.img
		}
	}
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
	p.shown, p.main = p.frame, nil
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

// caption writes the labels of the frames that stand there.
func (p *Pane) caption() {
	label, note := p.words(p.shown)
	switch {
	case p.held != nil && p.shown == p.held.frame:
		note = p.held.note
	case p.parted() && p.under == p.shown:
		note += ", on both sides: Left and Right choose another"
	}
	if extra := p.group.sharpness(p); extra != "" && p.shown != nil {
		if note != "" {
			note += ", "
		}
		note += extra
	}
	if p.group.opts.Unmarked && (p.held == nil || p.shown != p.held.frame) {
		label, note = "", ""
	}
	other, small := "", ""
	if p.parted() && p.under != p.shown {
		other, small = p.group.wordsOf(p.under)
	}
	a, b := p.plate.say(label, note), p.second.say(other, small)
	if a || b {
		p.placePlates()
	}
}

// words returns label and note of what stands in the pane.
func (p *Pane) words(f *frame) (label, note string) {
	if f != nil && p.held == nil && p.mix != nil && p.main != nil && p.main == p.mix.shot.img {
		return p.mix.said.Label, p.mix.said.Note
	}
	return p.group.wordsOf(f)
}

// wordsOf returns label and note of a frame as it is shown.
func (g *Group) wordsOf(f *frame) (label, note string) {
	if f == nil {
		return "", ""
	}
	label, note = f.Label, f.Note
	if a := g.differs(f); a != nil {
		note = "difference against " + a.Label
		if d := g.diff.look; d.Kind == render.DifferenceColour {
			note = fmt.Sprintf("colour against %s: black 0, white %.0f ΔE00; %s", a.Label, d.White(), f.Note)
		}
	}
	return label, note
}

// placePlates puts the labels where they stand: at the upper left, and with an edge each on
// its own side, as far as that is in sight.
func (p *Pane) placePlates() {
	size := p.Size()
	if size.Width <= 0 {
		return
	}
	if !p.parted() || p.under == p.shown {
		p.plate.fit(size)
		p.plate.place(fyne.NewPos(p.plate.inset(), p.plate.inset()))
		p.plate.seen(true)
		p.second.fit(size)
		p.second.seen(false)
		return
	}
	half := fyne.NewSize(max(size.Width/2, smallWidth), size.Height)
	p.plate.fit(half)
	p.second.fit(half)
	in := p.plate.inset()
	a, b := p.plate.size, p.second.size
	unit := p.density()
	line := p.group.edge.over(p.w, p.h)
	mine := fyne.NewPos(size.Width-in-a.Width, in) // upper right
	theirs := fyne.NewPos(in, in)                  // upper left
	if p.group.edge.Turn > 45 {                    // the other frame is below
		mine, theirs = fyne.NewPos(in, in), fyne.NewPos(size.Width-in-b.Width, size.Height-in-b.Height)
	} else if line.nx != 0 { // beside the edge, as long as there is room
		y := float64(in+a.Height/2) * unit
		at := float32((line.x-line.ny/line.nx*(y-line.y))/unit) + in
		mine.X = min(mine.X, max(at, in+b.Width+in))
	}
	own := func(at fyne.Position, s fyne.Size, sign float64) bool { // half of it at least on its own side
		return sign*line.dist(float64(at.X+s.Width/2)*unit, float64(at.Y+s.Height/2)*unit) > 0
	}
	p.plate.place(mine)
	p.second.place(theirs)
	p.plate.seen(own(mine, a, 1))
	p.second.seen(own(theirs, b, -1))
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
	p.placePlates()
	p.placeEdge()
}

func (r *paneRenderer) MinSize() fyne.Size { return fyne.NewSize(48, 36) }

func (r *paneRenderer) Refresh() { r.Layout(r.p.Size()); r.p.raster.Refresh() }

func (r *paneRenderer) Objects() []fyne.CanvasObject {
	p := r.p
	out := append([]fyne.CanvasObject{p.raster, p.thumb}, p.spotObjects()...)
	out = append(append(out, p.text), p.marks.objects()...)
	out = append(append(out, p.plate.objects()...), p.second.objects()...)
	return append(out, p.edge)
}

func (r *paneRenderer) Destroy() {}
