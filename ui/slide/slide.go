// Package slide is a value on a track: its name, its figure with the unit, and a
// handle that is dragged. It never takes the keyboard, because the arrow keys
// move the ladder's marker.
package slide

import (
	"image"
	"math"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"

	"stopladder/analysis/show/paint"
	"stopladder/ui/paper"
	"stopladder/ui/theme"
)

// Slide is one value. Set the fields before it is shown.
type Slide struct {
	paper.Paper
	Name string
	// Words writes a value with its unit, as shown at the right.
	Words    func(v float64) string
	Lo, Hi   float64
	Rest     float64                    // value of a double tap; drawn as a tick
	Step     float64                    // one notch of the wheel, and the grid of dragging
	OnChange func(v float64, done bool) // done: the drag has ended
	Off      bool                       // shown, but not to be moved

	marks    []Mark
	zones    []Zone
	value    float64
	dragging bool
	hover    bool
}

var (
	_ fyne.Draggable      = (*Slide)(nil)
	_ fyne.Tappable       = (*Slide)(nil)
	_ fyne.DoubleTappable = (*Slide)(nil)
	_ fyne.Scrollable     = (*Slide)(nil)
	_ desktop.Cursorable  = (*Slide)(nil)
)

// Mark is a limit on the track.
type Mark struct {
	At    float64
	Words string // what it is of, with its value
}

// Zone is a part of the track that the limits suggest the same for.
type Zone struct {
	Lo, Hi float64
	Level  int // 2 holds, 1 strains, 0 breaks
}

// Heights of a slide in toolkit units, without limits on its track and with them.
const (
	Height      = 36
	LimitHeight = 50
)

const margin = 7 // of the track at both ends, units

// New returns a slide over lo..hi in steps.
func New(name string, lo, hi, rest, step float64, words func(v float64) string) *Slide {
	s := &Slide{Name: name, Lo: lo, Hi: hi, Rest: rest, Step: step, Words: words, value: rest}
	s.Draw = s.paint
	s.SetMinSize(fyne.NewSize(140, Height))
	s.OnHover = func(_, _ float64, ok bool) {
		if ok == s.hover {
			return
		}
		s.hover = ok
		s.Refresh()
	}
	s.ExtendBaseWidget(s)
	return s
}

// Value returns what the slide stands at.
func (s *Slide) Value() float64 { return s.value }

// Set moves the slide without telling OnChange; a drag goes on undisturbed.
func (s *Slide) Set(v float64) {
	if s.dragging || v == s.value {
		return
	}
	s.value = v
	s.Refresh()
}

// SetLimits draws limits on the track, and what they suggest along it; none takes them away.
// It reports whether the height that the slide needs has changed.
func (s *Slide) SetLimits(zones []Zone, marks []Mark) bool {
	if slices.Equal(zones, s.zones) && slices.Equal(marks, s.marks) {
		return false
	}
	s.zones, s.marks = zones, marks
	h := float32(Height)
	if len(zones) > 0 {
		h = LimitHeight
	}
	taller := s.SetMinSize(fyne.NewSize(140, h))
	s.Refresh()
	return taller
}

// Limits returns the limits that are drawn on the track.
func (s *Slide) Limits() []Mark { return s.marks }

// Disable shows the slide as not to be moved, or movable again.
func (s *Slide) Disable(off bool) {
	if s.Off != off {
		s.Off = off
		s.Refresh()
	}
}

func (s *Slide) clamp(v float64) float64 {
	if s.Step > 0 {
		v = math.Round(v/s.Step) * s.Step
	}
	return math.Max(s.Lo, math.Min(s.Hi, v))
}

func (s *Slide) move(v float64, done bool) {
	if s.Off {
		return
	}
	v = s.clamp(v)
	if v == s.value && !done {
		return
	}
	s.value = v
	s.Refresh()
	if s.OnChange != nil {
		s.OnChange(v, done)
	}
}

// at returns the value under a position.
func (s *Slide) at(x float32) float64 {
	w := s.Size().Width - 2*margin
	if w <= 0 {
		return s.value
	}
	return s.Lo + (s.Hi-s.Lo)*math.Max(0, math.Min(1, float64((x-margin)/w)))
}

// Dragged implements fyne.Draggable.
func (s *Slide) Dragged(e *fyne.DragEvent) {
	s.dragging = true
	s.move(s.at(e.Position.X), false)
}

// DragEnd implements fyne.Draggable.
func (s *Slide) DragEnd() {
	if s.dragging {
		s.dragging = false
		s.move(s.value, true)
	}
}

// Tapped implements fyne.Tappable.
func (s *Slide) Tapped(e *fyne.PointEvent) { s.move(s.at(e.Position.X), true) }

// DoubleTapped implements fyne.DoubleTappable.
func (s *Slide) DoubleTapped(*fyne.PointEvent) { s.move(s.Rest, true) }

// Scrolled implements fyne.Scrollable.
func (s *Slide) Scrolled(e *fyne.ScrollEvent) {
	switch {
	case e.Scrolled.DY > 0:
		s.move(s.value+s.Step, true)
	case e.Scrolled.DY < 0:
		s.move(s.value-s.Step, true)
	}
}

// Cursor implements desktop.Cursorable.
func (s *Slide) Cursor() desktop.Cursor {
	if s.Off {
		return desktop.DefaultCursor
	}
	return desktop.HResizeCursor
}

func (s *Slide) paint(c *paint.Canvas, r image.Rectangle) {
	mid := r.Min.Y + c.Px(19)
	text, dim := c.Pal.Text, c.Pal.Dim
	if s.Off {
		text, dim = c.Pal.Strong, c.Pal.Strong
	}
	line := image.Rect(r.Min.X+c.Px(2), r.Min.Y, r.Max.X-c.Px(2), mid)
	words := ""
	if s.Words != nil {
		words = s.Words(s.value)
	}
	if s.value == s.Rest {
		text = dim
	}
	w := c.TextIn(line, words, paint.Style{Size: theme.Small, Col: text, Align: paint.Right})
	line.Max.X -= int(w) + c.Px(6)
	c.TextIn(line, s.Name, paint.Style{Size: theme.Small, Col: dim})
	x := func(v float64) float64 {
		return float64(r.Min.X) + c.U(margin) + (v-s.Lo)/(s.Hi-s.Lo)*(float64(r.Dx())-2*c.U(margin))
	}
	y := mid + c.Px(6)
	c.Fill(image.Rect(int(x(s.Lo)), y-c.Px(1.5), int(x(s.Hi)), y+c.Px(1.5)), theme.Well)
	if s.Rest > s.Lo && s.Rest < s.Hi {
		c.VLine(int(math.Round(x(s.Rest))), y-c.Px(5), y+c.Px(5), 1, c.Pal.Strong)
	}
	a, b := x(s.Rest), x(s.value)
	if !s.Off {
		c.Fill(image.Rect(int(math.Min(a, b)), y-c.Px(1.5), int(math.Max(a, b)), y+c.Px(1.5)), c.Pal.Dim)
	}
	s.paintLimits(c, r, y, x)
	rad := c.U(5)
	if s.hover || s.dragging {
		rad = c.U(6)
	}
	c.Disc(b, float64(y), rad, c.Pal.Surround)
	c.Disc(b, float64(y), rad-c.U(1), text)
}

// paintLimits draws under the track where the frame holds (a full line), strains (half of
// one) and breaks (none), with the limits as posts and in words where there is room.
func (s *Slide) paintLimits(c *paint.Canvas, r image.Rectangle, y int, x func(float64) float64) {
	top := y + c.Px(6)
	for _, z := range s.zones {
		a, b := int(math.Round(x(z.Lo))), int(math.Round(x(z.Hi)))
		switch z.Level {
		case 2:
			c.Fill(image.Rect(a, top, b, top+c.Px(3)), c.Pal.Text)
		case 1:
			c.Fill(image.Rect(a, top+c.Px(1), b, top+c.Px(2)), c.Pal.Text)
		}
	}
	base := float64(r.Max.Y) - c.U(2)
	free := float64(r.Min.X)
	for _, m := range s.marks {
		at := x(m.At)
		c.VLine(int(math.Round(at)), y-c.Px(5), top+c.Px(5), 1.5, c.Pal.Text)
		style := paint.Style{Size: theme.Figure, Col: c.Pal.Dim}
		w := c.Width(m.Words, style)
		left := math.Max(float64(r.Min.X)+c.U(2), math.Min(at-w/2, float64(r.Max.X)-c.U(2)-w))
		if left < free {
			continue
		}
		c.Text(left, base, m.Words, style)
		free = left + w + c.U(8)
	}
}
