// Package chip is a small button that a click never gives the keyboard: a click on an
// ordinary button of the toolkit moves the focus there, and the arrow keys that move the
// ladder's marker would be lost. Tab reaches it, a ring shows it, Return presses it and so
// does Space, but where a window holds something with that; every other key goes on to the
// window.
package chip

import (
	"image"
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/ui/theme"
)

// Chip is a button or a switch with a text, an optional key in quiet letters
// and an optional swatch.
type Chip struct {
	widget.BaseWidget
	Text     string
	Key      string // shown behind the text, quietly
	Swatch   image.Image
	Wide     string // the widest text that it will carry, so that live figures do not make it jump
	On       bool
	Off      bool // disabled
	Main     bool // the answer that Return gives
	Leading  bool // stands on no ground of its own until the pointer is on it: one of a list
	OnTap    func()
	OnPress  func(down bool)        // told when it is pressed and when it is let go; may be nil
	OnHint   func(string)           // told Hint on entering and "" on leaving
	OnOver   func(c *Chip, in bool) // the pointer came or went; for a card
	Hint     string
	Compact  bool // without the key, where there is little room
	Tab      bool // one of several pages: no ground, a line in the accent under the open one
	hovering bool
	focused  bool
	pressed  bool
}

var (
	_ fyne.Tappable      = (*Chip)(nil)
	_ desktop.Hoverable  = (*Chip)(nil)
	_ desktop.Mouseable  = (*Chip)(nil)
	_ desktop.Cursorable = (*Chip)(nil)
	_ fyne.Focusable     = (*Chip)(nil)
	_ fyne.Disableable   = (*Chip)(nil)
	_ desktop.Keyable    = (*Chip)(nil)
)

// New returns a chip.
func New(text, key string, tap func()) *Chip {
	c := &Chip{Text: text, Key: key, OnTap: tap}
	c.ExtendBaseWidget(c)
	return c
}

// Set changes text and state at once and redraws only when something changed.
func (c *Chip) Set(text string, on, off bool) {
	if c.Text == text && c.On == on && c.Off == off {
		return
	}
	c.Text, c.On, c.Off = text, on, off
	c.Refresh()
}

// Tapped implements fyne.Tappable. The toolkit leaves the keyboard where it is when
// something is clicked that could have it; a click on a chip ends what is being written.
func (c *Chip) Tapped(*fyne.PointEvent) {
	if k := c.canvas(); k != nil && k.Focused() != nil && k.Focused() != fyne.Focusable(c) {
		k.Unfocus()
	}
	c.press()
}

func (c *Chip) canvas() fyne.Canvas { return fyne.CurrentApp().Driver().CanvasForObject(c) }

// FocusGained implements fyne.Focusable.
func (c *Chip) FocusGained() {
	c.focused = true
	if c.OnHint != nil {
		c.OnHint(c.Hint)
	}
	c.Refresh()
}

// FocusLost implements fyne.Focusable.
func (c *Chip) FocusLost() {
	c.focused = false
	if c.OnHint != nil && !c.hovering {
		c.OnHint("")
	}
	c.Refresh()
}

// Focused reports whether the chip has the keyboard.
func (c *Chip) Focused() bool { return c.focused }

// TypedRune implements fyne.Focusable: letters are the window's.
func (c *Chip) TypedRune(r rune) {
	if k := c.canvas(); k != nil && k.OnTypedRune() != nil && r != ' ' {
		k.OnTypedRune()(r)
	}
}

// passes reports whether a key is the window's though the chip has the keyboard: Space is,
// where the window does something for as long as it is held.
func (c *Chip) passes(name fyne.KeyName) bool {
	k := c.canvas()
	d, ok := k.(desktop.Canvas)
	return name != fyne.KeySpace || ok && d.OnKeyDown() != nil && k.Overlays().Top() == nil
}

// TypedKey implements fyne.Focusable.
func (c *Chip) TypedKey(e *fyne.KeyEvent) {
	k := c.canvas()
	switch {
	case e.Name == fyne.KeyReturn || e.Name == fyne.KeyEnter || e.Name == fyne.KeySpace && !c.passes(e.Name):
		c.press()
	default:
		Pass(k, e)
	}
}

// Pass sends on a key that a control has no use for: to the card over the window, else to
// the window. Escape gives the keyboard back where there is no card. k may be nil.
func Pass(k fyne.Canvas, e *fyne.KeyEvent) {
	switch {
	case k == nil:
	case e.Name == fyne.KeyEscape && k.Overlays().Top() == nil:
		k.Unfocus()
	default:
		if card, ok := k.Overlays().Top().(interface{ TypedKey(*fyne.KeyEvent) }); ok { // a card has its own keys, in whichever window
			card.TypedKey(e)
		} else if k.OnTypedKey() != nil {
			k.OnTypedKey()(e)
		}
	}
}

// KeyDown implements desktop.Keyable: keys that are held are the window's.
func (c *Chip) KeyDown(e *fyne.KeyEvent) {
	if k, ok := c.canvas().(desktop.Canvas); ok && k.OnKeyDown() != nil && c.passes(e.Name) {
		k.OnKeyDown()(e)
	}
}

// KeyUp implements desktop.Keyable.
func (c *Chip) KeyUp(e *fyne.KeyEvent) {
	if k, ok := c.canvas().(desktop.Canvas); ok && k.OnKeyUp() != nil && c.passes(e.Name) {
		k.OnKeyUp()(e)
	}
}

// Enable, Disable and Disabled implement fyne.Disableable: Tab passes by what is off.
func (c *Chip) Enable() { c.Set(c.Text, c.On, false) }

// Disable implements fyne.Disableable.
func (c *Chip) Disable() { c.Set(c.Text, c.On, true) }

// Disabled implements fyne.Disableable.
func (c *Chip) Disabled() bool { return c.Off }

func (c *Chip) press() {
	if c.OnOver != nil {
		c.OnOver(c, false)
	}
	if !c.Off && c.OnTap != nil {
		c.OnTap()
	}
}

// MouseDown implements desktop.Mouseable.
func (c *Chip) MouseDown(e *desktop.MouseEvent) {
	if c.OnPress != nil && !c.Off && (e == nil || e.Button != desktop.MouseButtonSecondary) {
		c.pressed, c.On = true, true
		c.OnPress(true)
		c.Refresh()
	}
}

// MouseUp implements desktop.Mouseable.
func (c *Chip) MouseUp(*desktop.MouseEvent) { c.letGo() }

func (c *Chip) letGo() {
	if c.pressed {
		c.pressed, c.On = false, false
		c.OnPress(false)
		c.Refresh()
	}
}

// MouseIn implements desktop.Hoverable.
func (c *Chip) MouseIn(*desktop.MouseEvent) {
	c.hovering = true
	if c.OnHint != nil {
		c.OnHint(c.Hint)
	}
	if c.OnOver != nil {
		c.OnOver(c, true)
	}
	c.Refresh()
}

// MouseMoved implements desktop.Hoverable.
func (c *Chip) MouseMoved(*desktop.MouseEvent) {}

// MouseOut implements desktop.Hoverable.
func (c *Chip) MouseOut() {
	c.letGo()
	c.hovering = false
	if c.OnHint != nil {
		c.OnHint("")
	}
	if c.OnOver != nil {
		c.OnOver(c, false)
	}
	c.Refresh()
}

// Cursor implements desktop.Cursorable.
func (c *Chip) Cursor() desktop.Cursor {
	if c.Off {
		return desktop.DefaultCursor
	}
	return desktop.PointerCursor
}

// CreateRenderer implements fyne.Widget.
func (c *Chip) CreateRenderer() fyne.WidgetRenderer {
	r := &renderer{c: c,
		back: canvas.NewRectangle(color.Transparent),
		text: canvas.NewText("", theme.Text),
		key:  canvas.NewText("", theme.Quiet),
		edge: canvas.NewRectangle(color.Transparent),
	}
	r.text.TextSize, r.key.TextSize = textSize, keySize
	r.back.CornerRadius = 3
	r.objects = []fyne.CanvasObject{r.back, r.text, r.key, r.edge}
	if c.Swatch != nil {
		r.swatch = canvas.NewImageFromImage(c.Swatch)
		r.swatch.ScaleMode = canvas.ImageScalePixels
		r.swatch.FillMode = canvas.ImageFillStretch
		r.objects = append(r.objects, r.swatch)
	}
	r.Refresh()
	return r
}

const (
	textSize = theme.Body
	keySize  = theme.Figure
	padX     = 8
	height   = 26
	swatchW  = 16
	gap      = 6
)

type renderer struct {
	c          *Chip
	back, edge *canvas.Rectangle
	text, key  *canvas.Text
	swatch     *canvas.Image
	objects    []fyne.CanvasObject
}

func (r *renderer) Destroy()                     {}
func (r *renderer) Objects() []fyne.CanvasObject { return r.objects }

func (r *renderer) textWidth() float32 {
	s := r.c.Text
	w := fyne.MeasureText(s, textSize, fyne.TextStyle{}).Width
	if r.c.Wide != "" {
		w = max(w, fyne.MeasureText(r.c.Wide, textSize, fyne.TextStyle{}).Width)
	}
	return w
}

func (r *renderer) MinSize() fyne.Size {
	w := r.textWidth() + 2*padX
	if r.c.Key != "" && !r.c.Compact {
		w += gap + fyne.MeasureText(r.c.Key, keySize, fyne.TextStyle{}).Width
	}
	if r.c.Swatch != nil {
		w += swatchW + gap
	}
	return fyne.NewSize(w, height)
}

func (r *renderer) Layout(size fyne.Size) {
	top := (size.Height - height) / 2
	r.back.Move(fyne.NewPos(0, top))
	r.back.Resize(fyne.NewSize(size.Width, height))
	x := float32(padX)
	if r.swatch != nil {
		r.swatch.Move(fyne.NewPos(x, top+(height-12)/2))
		r.swatch.Resize(fyne.NewSize(swatchW, 12))
		x += swatchW + gap
	}
	ts := fyne.MeasureText("Mg0", textSize, fyne.TextStyle{})
	r.text.Move(fyne.NewPos(x, top+(height-ts.Height)/2))
	r.text.Resize(fyne.NewSize(r.textWidth(), ts.Height))
	x += r.textWidth() + gap
	ks := fyne.MeasureText("Mg0", keySize, fyne.TextStyle{})
	r.key.Move(fyne.NewPos(x, top+(height-ks.Height)/2+0.5))
	r.edge.Move(fyne.NewPos(0, top+height-2))
	r.edge.Resize(fyne.NewSize(size.Width, 2))
}

func (r *renderer) Refresh() {
	c := r.c
	look := Colours(c.On, c.hovering, c.Off, c.Main)
	r.back.FillColor = look.Back
	if (c.Tab || c.Leading && !c.On) && !c.hovering {
		r.back.FillColor = color.Transparent
	}
	r.back.StrokeColor, r.back.StrokeWidth = color.Transparent, 0
	if c.focused {
		r.back.StrokeColor, r.back.StrokeWidth = theme.Accent, 2
	}
	r.text.Text, r.key.Text = legible.Line(c.Text), c.Key
	if c.Compact {
		r.key.Text = ""
	}
	r.text.Color, r.key.Color = look.Text, look.Key
	r.edge.FillColor = color.Transparent
	if c.On {
		r.edge.FillColor = theme.Text
		if c.Tab {
			r.edge.FillColor = theme.Accent
		}
	} else if c.Tab && !c.hovering {
		r.text.Color = theme.Quiet
	}
	r.Layout(c.Size())
	for _, o := range r.objects {
		o.Refresh()
	}
}

// Look are the colours of a chip.
type Look struct{ Back, Text, Key color.NRGBA }

// Colours returns the colours of a chip in each of its states. Text and key have a contrast
// of at least 4.5 to 1 in all of them, and what is off stands without a ground of its own.
func Colours(on, hovering, off, main bool) Look {
	l := Look{theme.Raised, theme.Text, theme.Quiet}
	switch {
	case off:
		l = Look{theme.Surface, theme.Quiet, theme.Quiet}
	case main: // neutral, as the rest: nothing coloured lies beside pictures that are judged
		l = Look{theme.Main, theme.OnMain, theme.OnMain}
		if hovering {
			l.Back = theme.Text
		}
	case on && hovering:
		l = Look{color.NRGBA{0x66, 0x66, 0x66, 0xFF}, theme.Text, theme.Text}
	case on:
		l = Look{theme.Line, theme.Text, theme.Text}
	case hovering:
		l = Look{theme.Hover, theme.Text, theme.Text}
	}
	return l
}

// Row lays chips side by side and leaves their keys out when there is less room
// than they want; the gaps between groups are objects of other kinds.
type Row struct {
	Spare float32 // width that is to be left to the left of the row
	Left  bool    // from the left edge; else it ends at the right one
}

// Layout implements fyne.Layout.
func (r *Row) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	compact := r.width(objects, false)+r.Spare > size.Width
	x := size.Width - r.width(objects, compact)
	if r.Left {
		x = 0
	}
	for _, o := range objects {
		if !o.Visible() {
			continue
		}
		if c, ok := o.(*Chip); ok && c.Compact != compact {
			c.Compact = compact
			c.Refresh()
		}
		w := o.MinSize().Width
		o.Move(fyne.NewPos(x, 0))
		o.Resize(fyne.NewSize(w, size.Height))
		x += w + rowGap
	}
}

const rowGap = 4

// width returns what the row wants with or without keys.
func (r *Row) width(objects []fyne.CanvasObject, compact bool) (w float32) {
	for _, o := range objects {
		if !o.Visible() {
			continue
		}
		if c, ok := o.(*Chip); ok {
			was := c.Compact
			c.Compact = compact
			w += c.MinSize().Width
			c.Compact = was
		} else {
			w += o.MinSize().Width
		}
		w += rowGap
	}
	return w - rowGap
}

// MinSize implements fyne.Layout: the row without its keys.
func (r *Row) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(r.width(objects, true), height)
}
