// Package ladder is the widget on the left of the window: the stop axis with
// every frame on its rung at its true stop, the judge's two posts and the
// playhead. The marks on a rung are drawn by analysis/rung, as on the sheet;
// this package adds what is touched.
package ladder

import (
	"image"
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/row"
	"stopladder/ui/session"
)

// Ladder shows a session.
type Ladder struct {
	widget.BaseWidget
	// OnContext asks for the menu of a frame at an absolute position.
	OnContext func(frame int, at fyne.Position)
	// OnVerdict asks for a verdict, after a tap on the verdict column.
	OnVerdict func(frame int, at fyne.Position)
	// OnLimit moves a limit of a criterion, by its place in row.Criteria, to a
	// value; done says that the drag has ended.
	OnLimit func(criterion int, l row.Limit, v float64, done bool)
	// OnHint tells what the pointer is over, "" for nothing.
	OnHint func(string)

	sess    *session.Session
	columns []row.Column
	geo     geometry
	offset  float64
	picture drawing

	grip    grip
	limit   limitGrip   // of a grip that is limitLine, held or pointed at
	trial   *roll.Range // the range while a post is dragged
	over    grip        // what the pointer is over, for the cursor
	hot     int         // frame under the pointer, -1 none
	wheel   float64     // scrolled but not yet a whole frame
	pressed fyne.Position

	limitMoved bool
	limitAtX   float64 // value that a held limit was moved to
}

// grip is what a press took hold of.
type grip int

const (
	nothing grip = iota
	playhead
	lowerPost
	upperPost
	rungs
	limitLine
)

// limitGrip says which line of which criterion is meant.
type limitGrip struct {
	criterion int
	limit     row.Limit
}

var (
	_ fyne.Draggable     = (*Ladder)(nil)
	_ fyne.Scrollable    = (*Ladder)(nil)
	_ desktop.Mouseable  = (*Ladder)(nil)
	_ desktop.Hoverable  = (*Ladder)(nil)
	_ desktop.Cursorable = (*Ladder)(nil)
)

// New returns an empty ladder with the given columns.
func New(columns []row.Column) *Ladder {
	l := &Ladder{columns: columns, hot: -1}
	l.picture.init()
	l.ExtendBaseWidget(l)
	return l
}

// SetColumns shows other readings.
func (l *Ladder) SetColumns(columns []row.Column) {
	l.columns = columns
	l.picture.placed = nil
	l.picture.forget()
	l.Refresh()
}

// SetSession shows another roll.
func (l *Ladder) SetSession(s *session.Session) {
	l.sess, l.offset, l.trial, l.grip, l.hot = s, 0, nil, nothing, -1
	l.picture.forget()
	l.Refresh()
}

// Changed redraws what a change of the session touches.
func (l *Ladder) Changed(c session.Changed) {
	if c&(session.PlayheadMoved|session.RollChanged) != 0 {
		l.follow()
	}
	l.Refresh()
}

// follow scrolls so that the rung under the playhead is seen.
func (l *Ladder) follow() {
	if l.sess == nil || l.sess.Empty() || l.grip == playhead {
		return
	}
	l.layout()
	l.offset = l.geo.reveal(l.sess.Roll.Frames[l.sess.Current()].Stop)
}

func (l *Ladder) layout() {
	var stops []float64
	if l.sess != nil {
		for _, f := range l.sess.Roll.Frames {
			stops = append(stops, f.Stop)
		}
	}
	l.geo = place(stops, math.Max(1, float64(l.Size().Height)-headerHeight), l.offset)
	l.offset = l.geo.offset
}

// MinSize implements fyne.Widget: the axis and a strip of thumbnails.
func (l *Ladder) MinSize() fyne.Size { return fyne.NewSize(axisWidth+84, 240) }

// CreateRenderer implements fyne.Widget.
func (l *Ladder) CreateRenderer() fyne.WidgetRenderer {
	l.picture.raster = canvas.NewRaster(func(_, _ int) image.Image { return l.draw() })
	l.picture.raster.ScaleMode = canvas.ImageScalePixels
	return widget.NewSimpleRenderer(l.picture.raster)
}

// postReach is how near, in units, a press must be to a post.
const postReach = 9

// at says what stands at a position inside the widget.
func (l *Ladder) at(p fyne.Position) grip {
	if l.sess == nil || l.sess.Empty() || p.Y < headerHeight {
		return nothing
	}
	if p.X >= axisWidth {
		if g, ok := l.limitAt(p.X); ok {
			l.limit = g
			return limitLine
		}
		return rungs
	}
	y := float64(p.Y) - headerHeight
	lo, hi := l.posts()
	dLo, dHi := math.Abs(l.geo.y(lo)-y), math.Abs(l.geo.y(hi)-y)
	switch {
	case math.Min(dLo, dHi) > postReach:
		return playhead
	case dLo == dHi: // both posts on one stop: pull apart towards the pointer
		if y > l.geo.y(lo) {
			return lowerPost
		}
		return upperPost
	case dLo < dHi:
		return lowerPost
	}
	return upperPost
}

// posts are the stops of the two posts. Without a range they wait at the ends.
func (l *Ladder) posts() (lo, hi float64) {
	if l.trial != nil {
		return l.trial.Lo, l.trial.Hi
	}
	if r := l.sess.Range(); r != nil {
		return r.Lo, r.Hi
	}
	return l.sess.Bounds()
}

// MouseDown implements desktop.Mouseable.
func (l *Ladder) MouseDown(e *desktop.MouseEvent) {
	if l.sess == nil || l.sess.Empty() {
		return
	}
	l.layout()
	l.pressed = e.Position
	l.grip = l.at(e.Position)
	frame := -1
	if l.grip == rungs {
		frame = l.geo.at(float64(e.Position.Y) - headerHeight)
	}
	if e.Button == desktop.MouseButtonSecondary {
		l.grip = nothing
		if frame >= 0 {
			l.sess.Go(frame)
			if l.OnContext != nil {
				l.OnContext(frame, e.AbsolutePosition)
			}
		}
		return
	}
	if l.grip == limitLine && l.OnLimit == nil {
		l.grip = rungs
	}
	switch l.grip {
	case rungs:
		if frame < 0 {
			return
		}
		l.sess.Go(frame)
		if l.columnAt(e.Position.X) == "verdict" && l.OnVerdict != nil {
			l.OnVerdict(frame, e.AbsolutePosition)
		}
	case playhead:
		l.sess.MovePlayhead(l.geo.stop(float64(e.Position.Y) - headerHeight))
	}
}

// MouseUp implements desktop.Mouseable.
func (l *Ladder) MouseUp(*desktop.MouseEvent) { l.release() }

// Dragged implements fyne.Draggable.
func (l *Ladder) Dragged(e *fyne.DragEvent) {
	if l.sess == nil || l.sess.Empty() {
		return
	}
	stop := l.geo.stop(float64(e.Position.Y) - headerHeight)
	switch l.grip {
	case playhead:
		l.sess.Slide(stop)
	case limitLine:
		l.moveLimit(e.Position.X, false)
	case lowerPost, upperPost:
		r := l.sess.RangeWith(l.grip == upperPost, stop)
		if l.trial == nil || *l.trial != *r {
			l.trial = r
			l.hint()
			l.Refresh()
		}
	}
}

// DragEnd implements fyne.Draggable.
func (l *Ladder) DragEnd() { l.release() }

// release lets go: a dragged post becomes one undoable step, and the playhead
// settles on a frame, unless there are pictures between the rungs.
func (l *Ladder) release() {
	held := l.grip
	l.grip = nothing
	if held == limitLine && l.limitMoved {
		l.limitMoved = false
		l.OnLimit(l.limit.criterion, l.limit.limit, l.limitAtX, true)
	}
	if t := l.trial; t != nil {
		l.trial = nil
		l.sess.SetRange(t)
		l.Refresh()
	}
	if held == playhead && l.sess != nil {
		l.sess.Settle()
	}
}

// Scrolled implements fyne.Scrollable: one notch of the wheel is one frame. A
// touchpad sends many small steps, which add up; the toolkit multiplies large
// ones by 125, so the sum is bounded.
func (l *Ladder) Scrolled(e *fyne.ScrollEvent) {
	if l.sess == nil {
		return
	}
	l.wheel += math.Max(-notch, math.Min(notch, float64(e.Scrolled.DY)))
	for ; l.wheel >= notch; l.wheel -= notch {
		l.sess.Step(1)
	}
	for ; l.wheel <= -notch; l.wheel += notch {
		l.sess.Step(-1)
	}
}

const notch = 25 // units that the toolkit reports for one notch

// MouseIn implements desktop.Hoverable.
func (l *Ladder) MouseIn(e *desktop.MouseEvent) { l.MouseMoved(e) }

// MouseMoved implements desktop.Hoverable.
func (l *Ladder) MouseMoved(e *desktop.MouseEvent) {
	if l.sess == nil || l.grip != nothing {
		return
	}
	was := l.limit
	over, hot := l.at(e.Position), -1
	if over == rungs {
		hot = l.geo.at(float64(e.Position.Y) - headerHeight)
	}
	if over != l.over || hot != l.hot || over == limitLine && was != l.limit {
		l.over, l.hot = over, hot
		l.hint()
		l.Refresh()
	}
}

// MouseOut implements desktop.Hoverable.
func (l *Ladder) MouseOut() {
	l.over, l.hot = nothing, -1
	l.hint()
	l.Refresh()
}

// Cursor implements desktop.Cursorable.
func (l *Ladder) Cursor() desktop.Cursor {
	switch l.over {
	case lowerPost, upperPost, playhead:
		return desktop.VResizeCursor
	case limitLine:
		return desktop.HResizeCursor
	case rungs:
		if l.hot >= 0 {
			return desktop.PointerCursor
		}
	}
	return desktop.DefaultCursor
}

// columnAt is the id of the column at x, "" between columns.
func (l *Ladder) columnAt(x float32) string {
	px := int(math.Round(float64(x-axisWidth) * l.picture.scale))
	for _, p := range l.picture.placed {
		if px >= p.X && px < p.X+p.W {
			return p.Column.ID
		}
	}
	return ""
}

// limitReach is how near, in units, the pointer must be to a limit's line.
const limitReach = 5

// limitAt is the limit whose line runs at x.
func (l *Ladder) limitAt(x float32) (g limitGrip, ok bool) {
	k, i, p := l.criterionAt(x)
	if k == nil {
		return g, false
	}
	px := float64(x-axisWidth) * l.picture.scale
	if lim := row.LimitNear(k, p.X, p.W, l.picture.scale, px, limitReach); lim != row.NoLimit {
		return limitGrip{i, lim}, true
	}
	return g, false
}

// criterionAt is the criterion whose column covers x.
func (l *Ladder) criterionAt(x float32) (*row.Criterion, int, row.Placed) {
	if l.sess == nil || l.sess.Empty() {
		return nil, 0, row.Placed{}
	}
	all := l.sess.Rows()[0].Scales.Criteria
	px := int(math.Round(float64(x-axisWidth) * l.picture.scale))
	for _, p := range l.picture.placed {
		if all == nil || px < p.X || px >= p.X+p.W {
			continue
		}
		for i := range row.Costs {
			if p.Column.ID == row.CostID(i) && all[i] != nil {
				return all[i], i, p
			}
		}
	}
	return nil, 0, row.Placed{}
}

// moveLimit moves the limit that is held.
func (l *Ladder) moveLimit(x float32, done bool) {
	all := l.sess.Rows()[0].Scales.Criteria
	if all == nil || all[l.limit.criterion] == nil {
		return
	}
	for _, p := range l.picture.placed {
		if p.Column.ID == row.CostID(l.limit.criterion) {
			l.limitAtX = row.LimitValue(all[l.limit.criterion], p.X, p.W, l.picture.scale, float64(x-axisWidth)*l.picture.scale)
			l.limitMoved = true
			l.OnLimit(l.limit.criterion, l.limit.limit, l.limitAtX, done)
		}
	}
}
