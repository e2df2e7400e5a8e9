package ui

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/ladder"
	"stopladder/ui/page"
	"stopladder/ui/theme"
)

// Widths of the desk, toolkit units and shares.
const (
	ladderShare  = 0.30 // of the window, for a ladder of small multiples
	ladderLeast  = 330.0
	ladderMost   = 560.0
	pictureShare = 0.55 // the pictures' least: they are the matter
	roomyShare   = 0.62 // what a page beside the whole ladder must leave them; else it lies over its figures
	gripWidth    = 5.0
)

// desk lays out the ladder, the page that is open, the pictures, and the bar under page and
// pictures. The ladder is as wide as was asked for, or as small multiples need; a page lies
// over its figures; the pictures never get less than pictureShare.
type desk struct {
	left, page, right, foot fyne.CanvasObject
	grip                    *grip
	share                   float64 // of the width, as dragged; 0: chosen by itself
	width                   float32 // of all, as laid out last
}

// ladderWidth returns the width of the ladder.
func (d *desk) ladderWidth(all float32) float32 {
	w := min(max(ladderLeast, ladderShare*all), ladderMost)
	if d.share > 0 {
		w = max(ladder.MarksWidth, float32(d.share)*all)
	}
	if d.page.Visible() && all-w-page.Width < roomyShare*all {
		// The axis alone, where marks and a page would leave the pictures too little.
		if w := float32(ladder.MarksWidth); w+page.Width <= (1-pictureShare)*all {
			return w
		}
		return ladder.AxisWidth
	}
	return max(ladder.AxisWidth, min(w, (1-pictureShare)*all))
}

// Layout implements fyne.Layout.
func (d *desk) Layout(_ []fyne.CanvasObject, size fyne.Size) {
	d.width = size.Width
	x := float32(0)
	put := func(o fyne.CanvasObject, w, h float32) {
		o.Move(fyne.NewPos(x, 0))
		o.Resize(fyne.NewSize(w, h))
		x += w
	}
	put(d.left, d.ladderWidth(size.Width), size.Height)
	d.grip.Move(fyne.NewPos(x-gripWidth/2, 0))
	d.grip.Resize(fyne.NewSize(gripWidth, size.Height))
	rest := max(0, size.Width-x)
	low := d.foot.MinSize().Height
	d.foot.Move(fyne.NewPos(x, size.Height-low))
	d.foot.Resize(fyne.NewSize(rest, low))
	if d.page.Visible() {
		put(d.page, max(page.Width, d.page.MinSize().Width), size.Height-low)
	}
	put(d.right, max(0, size.Width-x), size.Height-low)
}

// MinSize implements fyne.Layout.
func (d *desk) MinSize([]fyne.CanvasObject) fyne.Size {
	foot := d.foot.MinSize()
	return fyne.NewSize(ladder.AxisWidth+max(d.right.MinSize().Width, foot.Width), max(d.left.MinSize().Height, d.right.MinSize().Height+foot.Height))
}

// dragTo gives the ladder's right edge a place; the least leaves marks alone.
func (d *desk) dragTo(x float32) {
	if d.width > 0 && !d.page.Visible() {
		d.share = float64(max(ladder.MarksWidth, min(x, (1-pictureShare)*d.width)) / d.width)
	}
}

// grip is the edge between the ladder and the pictures. It is dragged, and a double
// click gives the ladder its own width back.
type grip struct {
	widget.BaseWidget
	line   *canvas.Rectangle
	onDrag func(x float32)
	onBack func()
	onHint func(string)
}

var (
	_ fyne.Draggable     = (*grip)(nil)
	_ desktop.Hoverable  = (*grip)(nil)
	_ desktop.Cursorable = (*grip)(nil)
)

func newGrip(onDrag func(x float32), onBack func(), onHint func(string)) *grip {
	g := &grip{line: canvas.NewRectangle(color.Transparent), onDrag: onDrag, onBack: onBack, onHint: onHint}
	g.ExtendBaseWidget(g)
	return g
}

// CreateRenderer implements fyne.Widget.
func (g *grip) CreateRenderer() fyne.WidgetRenderer { return widget.NewSimpleRenderer(g.line) }

// Dragged implements fyne.Draggable.
func (g *grip) Dragged(e *fyne.DragEvent) { g.onDrag(g.Position().X + e.Position.X) }

// DragEnd implements fyne.Draggable.
func (g *grip) DragEnd() {}

// DoubleTapped implements fyne.DoubleTappable.
func (g *grip) DoubleTapped(*fyne.PointEvent) { g.onBack() }

// MouseIn implements desktop.Hoverable.
func (g *grip) MouseIn(*desktop.MouseEvent) {
	g.line.FillColor = theme.Quiet
	g.line.Refresh()
	g.onHint("Drag for a wider or narrower ladder: marks, small multiples, figures. Double-click: its own width.")
}

// MouseMoved implements desktop.Hoverable.
func (g *grip) MouseMoved(*desktop.MouseEvent) {}

// MouseOut implements desktop.Hoverable.
func (g *grip) MouseOut() {
	g.line.FillColor = color.Transparent
	g.line.Refresh()
	g.onHint("")
}

// Cursor implements desktop.Cursorable.
func (g *grip) Cursor() desktop.Cursor { return desktop.HResizeCursor }
