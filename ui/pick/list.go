package pick

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/ui/theme"
)

// list is what a field opens, over all else: a click beside it and Escape close it and
// change nothing.
type list struct {
	widget.BaseWidget
	of     *One
	over   fyne.Canvas
	box    *fyne.Container
	scroll *container.Scroll
	lines  []*line
	at     int // the line under the pointer or the keys
	gone   bool
}

var (
	_ fyne.Tappable          = (*list)(nil)
	_ fyne.SecondaryTappable = (*list)(nil)
	_ fyne.Focusable         = (*list)(nil)
)

const (
	lineHeight = 26
	edge       = 4 // of the list around its lines, and of the window around the list
)

func newList(of *One, over fyne.Canvas) *list {
	l := &list{of: of, over: over, at: max(0, of.SelectedIndex())}
	var objects []fyne.CanvasObject
	for i, s := range of.Options {
		x := &line{list: l, i: i, text: legible.Line(s)}
		x.ExtendBaseWidget(x)
		l.lines, objects = append(l.lines, x), append(objects, x)
	}
	back := canvas.NewRectangle(theme.Raised)
	back.StrokeColor, back.StrokeWidth, back.CornerRadius = theme.Line, 1, 3
	l.scroll = container.NewVScroll(container.New(stacked{}, objects...))
	l.box = container.New(inset{}, back, l.scroll)
	l.ExtendBaseWidget(l)
	return l
}

func (l *list) show() {
	l.over.Overlays().Add(l)
	l.Resize(l.over.Size())
	l.over.Focus(l)
	l.reveal()
}

// close takes the list away; i is what was chosen, -1 for nothing.
func (l *list) close(i int) {
	if l.gone {
		return
	}
	l.gone = true
	l.over.Overlays().Remove(l)
	l.of.closed()
	l.of.SetSelectedIndex(i)
}

// go moves to a line.
func (l *list) turn(i int) {
	i = max(0, min(len(l.lines)-1, i))
	was := l.at
	l.at = i
	l.lines[was].Refresh()
	l.lines[i].Refresh()
}

// reveal scrolls so that the line is seen.
func (l *list) reveal() {
	top, room := float32(l.at)*lineHeight, l.scroll.Size().Height
	if y := l.scroll.Offset.Y; top < y {
		l.scroll.ScrollToOffset(fyne.NewPos(0, top))
	} else if top+lineHeight > y+room {
		l.scroll.ScrollToOffset(fyne.NewPos(0, top+lineHeight-room))
	}
}

// Tapped implements fyne.Tappable.
func (l *list) Tapped(*fyne.PointEvent) { l.close(-1) }

// TappedSecondary implements fyne.SecondaryTappable.
func (l *list) TappedSecondary(*fyne.PointEvent) { l.close(-1) }

// FocusGained implements fyne.Focusable.
func (l *list) FocusGained() {}

// FocusLost implements fyne.Focusable.
func (l *list) FocusLost() {}

// TypedRune implements fyne.Focusable.
func (l *list) TypedRune(r rune) {
	if i := begins(l.of.Options, l.at, r); i >= 0 {
		l.turn(i)
		l.reveal()
	}
}

// TypedKey implements fyne.Focusable.
func (l *list) TypedKey(e *fyne.KeyEvent) {
	page := max(1, int(l.scroll.Size().Height/lineHeight)-1)
	switch e.Name {
	case fyne.KeyUp:
		l.turn(l.at - 1)
	case fyne.KeyDown:
		l.turn(l.at + 1)
	case fyne.KeyPageUp:
		l.turn(l.at - page)
	case fyne.KeyPageDown:
		l.turn(l.at + page)
	case fyne.KeyHome:
		l.turn(0)
	case fyne.KeyEnd:
		l.turn(len(l.lines) - 1)
	case fyne.KeyReturn, fyne.KeyEnter, fyne.KeySpace:
		l.close(l.at)
		return
	case fyne.KeyEscape:
		l.close(-1)
		return
	}
	l.reveal()
}

// AcceptsTab implements fyne.Tabbable: there is nowhere else to go.
func (l *list) AcceptsTab() bool { return true }

// place returns where the list stands in a window: under its field, over it where there is
// more room, and never wider or higher than the window.
func (l *list) place(window fyne.Size) (fyne.Position, fyne.Size) {
	field, size := fyne.CurrentApp().Driver().AbsolutePositionForObject(l.of), l.of.Size()
	w := size.Width
	for _, x := range l.lines {
		w = max(w, width(x.text)+2*padX+2*edge)
	}
	w = min(w, window.Width-2*edge)
	h := float32(len(l.lines))*lineHeight + 2*edge
	below, above := window.Height-(field.Y+size.Height)-edge, field.Y-edge
	x := max(edge, min(field.X, window.Width-edge-w))
	switch {
	case h <= below:
		return fyne.NewPos(x, field.Y+size.Height+1), fyne.NewSize(w, h)
	case h <= above:
		return fyne.NewPos(x, field.Y-h-1), fyne.NewSize(w, h)
	case below >= above:
		return fyne.NewPos(x, field.Y+size.Height+1), fyne.NewSize(w, below)
	}
	return fyne.NewPos(x, edge), fyne.NewSize(w, above)
}

// CreateRenderer implements fyne.Widget.
func (l *list) CreateRenderer() fyne.WidgetRenderer { return &listRenderer{l} }

type listRenderer struct{ l *list }

func (r *listRenderer) Destroy()                     {}
func (r *listRenderer) MinSize() fyne.Size           { return fyne.NewSize(1, 1) }
func (r *listRenderer) Objects() []fyne.CanvasObject { return []fyne.CanvasObject{r.l.box} }
func (r *listRenderer) Refresh()                     { canvas.Refresh(r.l) }
func (r *listRenderer) Layout(size fyne.Size) {
	at, s := r.l.place(size)
	r.l.box.Move(at)
	r.l.box.Resize(s)
}

// inset lays a ground and what stands on it.
type inset struct{}

func (inset) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(1, 1) }

func (inset) Layout(o []fyne.CanvasObject, s fyne.Size) {
	o[0].Resize(s)
	o[1].Move(fyne.NewPos(edge, edge))
	o[1].Resize(fyne.NewSize(s.Width-2*edge, s.Height-2*edge))
}

// stacked lays lines under each other.
type stacked struct{}

func (stacked) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(1, float32(len(o))*lineHeight)
}

func (stacked) Layout(o []fyne.CanvasObject, s fyne.Size) {
	for i, x := range o {
		x.Move(fyne.NewPos(0, float32(i)*lineHeight))
		x.Resize(fyne.NewSize(s.Width, lineHeight))
	}
}

// line is one thing of the list.
type line struct {
	widget.BaseWidget
	list *list
	i    int
	text string
}

var (
	_ fyne.Tappable     = (*line)(nil)
	_ desktop.Hoverable = (*line)(nil)
)

// Tapped implements fyne.Tappable.
func (x *line) Tapped(*fyne.PointEvent) { x.list.close(x.i) }

// MouseIn implements desktop.Hoverable.
func (x *line) MouseIn(*desktop.MouseEvent) { x.list.turn(x.i) }

// MouseMoved implements desktop.Hoverable.
func (x *line) MouseMoved(*desktop.MouseEvent) {}

// MouseOut implements desktop.Hoverable.
func (x *line) MouseOut() {}

// CreateRenderer implements fyne.Widget.
func (x *line) CreateRenderer() fyne.WidgetRenderer {
	r := &lineRenderer{x: x, back: canvas.NewRectangle(color.Transparent), text: canvas.NewText(x.text, theme.Text)}
	r.back.CornerRadius = 2
	r.text.TextSize = theme.Body
	r.Refresh()
	return r
}

type lineRenderer struct {
	x    *line
	back *canvas.Rectangle
	text *canvas.Text
}

func (r *lineRenderer) Destroy()                     {}
func (r *lineRenderer) MinSize() fyne.Size           { return fyne.NewSize(minimum, lineHeight) }
func (r *lineRenderer) Objects() []fyne.CanvasObject { return []fyne.CanvasObject{r.back, r.text} }

func (r *lineRenderer) Layout(size fyne.Size) {
	r.back.Resize(size)
	r.text.Text = fitted(r.x.text, size.Width-2*padX)
	h := r.text.MinSize().Height
	r.text.Move(fyne.NewPos(padX-edge, (size.Height-h)/2))
	r.text.Resize(fyne.NewSize(size.Width-padX, h))
}

func (r *lineRenderer) Refresh() {
	r.back.FillColor = color.Transparent
	if r.x.i == r.x.list.at {
		r.back.FillColor = theme.Line
	}
	r.text.Color = theme.Quiet
	if r.x.i == r.x.list.at || r.x.text == legible.Line(r.x.list.of.Selected) {
		r.text.Color = theme.Text
	}
	r.back.Refresh()
	r.text.Refresh()
}
