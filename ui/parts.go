package ui

import (
	"image"
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/paint"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/paper"
	"stopladder/ui/theme"
)

func newGap(width float32) fyne.CanvasObject {
	r := canvas.NewRectangle(color.Transparent)
	r.SetMinSize(fyne.NewSize(width, 1))
	return r
}

// newClip lets an object be cut off instead of widening the window.
func newClip(o fyne.CanvasObject) fyne.CanvasObject {
	return container.New(&clipLayout{}, container.NewClip(o))
}

type clipLayout struct{}

func (*clipLayout) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	for _, o := range objects {
		o.Resize(size)
		o.Move(fyne.Position{})
	}
}

func (*clipLayout) MinSize(objects []fyne.CanvasObject) fyne.Size {
	h := float32(0)
	for _, o := range objects {
		if c, ok := o.(*container.Clip); ok {
			h = max(h, c.Content.MinSize().Height)
		}
	}
	return fyne.NewSize(60, h)
}

// tapArea is anything that can be clicked and says what the click does.
type tapArea struct {
	widget.BaseWidget
	content fyne.CanvasObject
	tap     func()
	onHint  func(string)
	hint    string
}

func newTapArea(content fyne.CanvasObject, tap func(), onHint func(string), hint string) *tapArea {
	t := &tapArea{content: content, tap: tap, onHint: onHint, hint: hint}
	t.ExtendBaseWidget(t)
	return t
}

func (t *tapArea) CreateRenderer() fyne.WidgetRenderer { return widget.NewSimpleRenderer(t.content) }
func (t *tapArea) Tapped(*fyne.PointEvent)             { t.tap() }
func (t *tapArea) MouseIn(*desktop.MouseEvent)         { t.onHint(t.hint) }
func (t *tapArea) MouseMoved(*desktop.MouseEvent)      {}
func (t *tapArea) MouseOut()                           { t.onHint("") }
func (t *tapArea) Cursor() desktop.Cursor              { return desktop.PointerCursor }

// statusLine is the last line of the window: at the left what is under the
// pointer, at the right how far the reading is.
type statusLine struct {
	object   fyne.CanvasObject
	text     *canvas.Text
	progress *canvas.Text
	track    *fyne.Container // a bar of how far it is
	bar      *canvas.Rectangle
	cancel   *chip.Chip
	over     string // of the control under the pointer; goes before figures
	please   string // what the next click is for; stands in for over
	figures  string
	echo     func(string) // is told what is shown, for the page of a window without a roll
}

func newStatusLine(cancel func()) *statusLine {
	s := &statusLine{text: canvas.NewText("", theme.Quiet), progress: canvas.NewText("", theme.Text)}
	s.text.TextSize, s.progress.TextSize = theme.Small, theme.Small
	s.cancel = chip.New("Stop", "", cancel)
	s.cancel.Hide()
	ground := canvas.NewRectangle(theme.Well)
	ground.SetMinSize(fyne.NewSize(progressWidth, 4))
	s.bar = canvas.NewRectangle(theme.Text)
	s.track = container.NewStack(ground, container.NewWithoutLayout(s.bar))
	s.track.Hide()
	s.object = page.Padded(0, 4, 10, 10, container.NewBorder(nil, nil, nil,
		container.NewHBox(container.NewCenter(s.progress), container.NewCenter(s.track), s.cancel),
		newClip(container.NewBorder(newGap(1), newGap(1), nil, nil, s.text))))
	return s
}

func (s *statusLine) hint(text string) {
	s.over = text
	s.show()
}

// asks shows what the next click on a picture is for, "" for nothing of its own.
func (s *statusLine) asks(please string) {
	if s.please != please {
		s.please, s.over = please, ""
		s.show()
	}
}

func (s *statusLine) figure(text string) {
	if s.figures != text {
		s.figures = text
		s.show()
	}
}

func (s *statusLine) show() {
	t := s.figures
	if s.please != "" {
		t = s.please
	}
	if s.over != "" {
		t = s.over
	}
	if t = legible.Line(t); t != s.text.Text {
		s.text.Text = t
		s.text.Refresh()
		s.tell()
	}
}

func (s *statusLine) tell() {
	if s.echo == nil {
		return
	}
	words := s.progress.Text
	if words == "" {
		words = s.text.Text
	}
	s.echo(words)
}

// progressWidth is the length of the bar of how far the reading is, toolkit units.
const progressWidth = 120

func (s *statusLine) reading(text string, running bool, share float64) {
	if size := fyne.NewSize(progressWidth*float32(share), 4); s.bar.Size() != size {
		s.bar.Resize(size)
		s.bar.Refresh()
	}
	if running != s.track.Visible() {
		if running {
			s.track.Show()
		} else {
			s.track.Hide()
		}
	}
	if text = legible.Line(text); s.progress.Text != text {
		s.progress.Text = text
		s.progress.Refresh()
		s.tell()
	}
	if running != s.cancel.Visible() {
		if running {
			s.cancel.Show()
		} else {
			s.cancel.Hide()
		}
	}
}

// swatch returns a small piece of a mask's pattern, as it lies over the picture.
func swatch(draw func(c *paint.Canvas, r image.Rectangle)) image.Image {
	img := image.NewRGBA(image.Rect(0, 0, 32, 24))
	c := paint.New(img, 2)
	c.Fill(img.Rect, c.Pal.Well)
	draw(c, img.Rect)
	return img
}

// dragPaper is a paper on which something is dragged. Positions are device
// pixels inside it.
type dragPaper struct {
	paper.Paper
	onPress func(x, y, unit float64)
	onDrag  func(x, y float64)
}

func newDragPaper(draw func(c *paint.Canvas, r image.Rectangle), press func(x, y, unit float64), drag func(x, y float64)) *dragPaper {
	d := &dragPaper{onPress: press, onDrag: drag}
	d.Draw = draw
	d.SetMinSize(fyne.NewSize(200, 160))
	d.ExtendBaseWidget(d)
	return d
}

func (d *dragPaper) rect() image.Rectangle {
	w, h, _ := paper.Device(d)
	return image.Rect(0, 0, w, h)
}

// MouseDown implements desktop.Mouseable.
func (d *dragPaper) MouseDown(e *desktop.MouseEvent) {
	s := d.Scale()
	d.onPress(float64(e.Position.X)*s, float64(e.Position.Y)*s, s)
}

// MouseUp implements desktop.Mouseable.
func (d *dragPaper) MouseUp(*desktop.MouseEvent) {}

// Dragged implements fyne.Draggable.
func (d *dragPaper) Dragged(e *fyne.DragEvent) {
	s := d.Scale()
	d.onDrag(float64(e.Position.X)*s, float64(e.Position.Y)*s)
}

// DragEnd implements fyne.Draggable.
func (d *dragPaper) DragEnd() {}

// headWidth is what the title wants beside the chips, toolkit units.
const headWidth = 200

// headLayout gives the chips what they want at the right and the title the rest.
type headLayout struct{}

func (headLayout) Layout(o []fyne.CanvasObject, size fyne.Size) {
	title, chips := o[0], o[1]
	w := min(size.Width, max(chips.MinSize().Width, size.Width-headWidth))
	chips.Move(fyne.NewPos(size.Width-w, 0))
	chips.Resize(fyne.NewSize(w, size.Height)) // decides on the keys
	used := w
	if c, ok := chips.(*fyne.Container); ok { // the title may have what the chips leave free
		used = 0
		for _, x := range c.Objects {
			used += x.MinSize().Width + 4
		}
	}
	title.Move(fyne.NewPos(0, 0))
	title.Resize(fyne.NewSize(max(0, size.Width-used-8), size.Height))
}

func (headLayout) MinSize(o []fyne.CanvasObject) fyne.Size {
	a, b := o[0].MinSize(), o[1].MinSize()
	return fyne.NewSize(b.Width, max(a.Height, b.Height))
}
