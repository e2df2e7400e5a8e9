// Package ladder is the widget on the left of the window: the stop axis with
// every frame on its rung at its true stop, the judge's two posts and the
// marker. The marks on a rung are drawn by analysis/rung, as on the sheet;
// this package adds what is touched.
package ladder

import (
	"image"
	"math"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/explain"
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
	// OnCard asks for an explanation beside a place on the window, an empty one for none.
	OnCard func(c explain.Card, at fyne.Position, size fyne.Size)
	// OnTrial tells the range while one of its posts is dragged, nil when it is let go.
	OnTrial func(r *roll.Range)
	// OnCropSize tells how large a detail of a frame is, in device pixels; 0 x 0 where the
	// ladder has no place for one. It is called while the ladder is drawn.
	OnCropSize func(w, h int)

	state   *session.State
	apply   func(session.Change)
	costs   bool // columns are those of what salvage costs
	columns []row.Column
	geo     geometry
	offset  float64
	picture drawing

	crops  map[string]*image.RGBA // details by file
	cropOf image.Point            // their size

	told    thing         // that the last card explains
	pointer fyne.Position // while it is inside
	inside  bool

	readout []string // a line for each frame in place of its reason; nil: none

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
	marker
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

// New returns the ladder of a state; apply makes changes of it.
func New(state *session.State, apply func(session.Change)) *Ladder {
	l := &Ladder{state: state, apply: apply, columns: row.Columns(), hot: -1}
	l.picture.init()
	l.ExtendBaseWidget(l)
	return l
}

// Changed redraws what a change of the state touches.
func (l *Ladder) Changed(c session.Parts) {
	l.told = thing{frame: -2} // what its card said may be so no more: the next move asks again
	if c&session.Opened != 0 {
		l.offset, l.trial, l.grip, l.hot = 0, nil, nothing, -1
		l.crops = nil
		l.picture.forget()
	}
	if on := l.state.OnLadder(); on != l.costs {
		l.costs, l.columns = on, row.Columns()
		if on {
			l.columns = append(l.columns[:1:1], row.CostColumns()...)
		}
		l.picture.width = 0 // placed anew
		l.picture.forget()
	}
	if c&(session.Marker|session.Frames) != 0 {
		l.follow()
	}
	l.Refresh()
}

// follow scrolls so that the rung under the marker is seen.
func (l *Ladder) follow() {
	if l.state.Empty() || l.grip == marker {
		return
	}
	l.layout()
	l.offset = l.geo.reveal(l.state.Current(), l.state.Roll().Frames[l.state.Current()].Stop)
}

// header returns the height of the heads, units.
func (l *Ladder) header() float64 {
	if d, _ := l.density(float64(l.Size().Width) - axisWidth); d == row.Figures {
		return headerHeight
	}
	return headerLow
}

// density returns what rungs so many units wide show, and whether it is columns.
func (l *Ladder) density(width float64) (d row.Density, columns bool) {
	d = row.DensityOf(width)
	if d == row.Multiples && l.costs {
		d = row.Figures
	}
	return d, d == row.Figures
}

func (l *Ladder) layout() {
	var stops []float64
	for _, f := range l.state.Roll().Frames {
		stops = append(stops, f.Stop)
	}
	l.geo = place(stops, math.Max(1, float64(l.Size().Height)-l.header()), l.offset)
	l.offset = l.geo.offset
}

// MinSize implements fyne.Widget: the axis.
func (l *Ladder) MinSize() fyne.Size { return fyne.NewSize(axisWidth, 240) }

// CreateRenderer implements fyne.Widget.
func (l *Ladder) CreateRenderer() fyne.WidgetRenderer {
	l.picture.raster = canvas.NewRaster(func(_, _ int) image.Image { return l.draw() })
	l.picture.raster.ScaleMode = canvas.ImageScalePixels
	return widget.NewSimpleRenderer(l.picture.raster)
}

// postReach is how near, in units, a press must be to a post.
const postReach = 9

// at returns what stands at a position inside the widget.
func (l *Ladder) at(p fyne.Position) grip {
	if l.state.Empty() || float64(p.Y) < l.header() {
		return nothing
	}
	if p.X >= axisWidth {
		if g, ok := l.limitAt(p.X); ok {
			l.limit = g
			return limitLine
		}
		return rungs
	}
	y := float64(p.Y) - l.header()
	lo, hi := l.posts()
	dLo, dHi := math.Abs(l.geo.y(lo)-y), math.Abs(l.geo.y(hi)-y)
	switch {
	case math.Min(dLo, dHi) > postReach:
		return marker
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

// posts returns the stops of the two posts. Without a range they wait at the ends.
func (l *Ladder) posts() (lo, hi float64) {
	if l.trial != nil {
		return l.trial.Lo, l.trial.Hi
	}
	if r := l.state.Range(); r != nil {
		return r.Lo, r.Hi
	}
	return l.state.Bounds()
}

// MouseDown implements desktop.Mouseable.
func (l *Ladder) MouseDown(e *desktop.MouseEvent) {
	if l.state.Empty() {
		return
	}
	l.untell()
	l.layout()
	l.pressed = e.Position
	l.grip = l.at(e.Position)
	frame := -1
	if l.grip == rungs {
		frame = l.geo.at(float64(e.Position.Y) - l.header())
	}
	if e.Button == desktop.MouseButtonSecondary {
		l.grip = nothing
		if frame >= 0 {
			l.apply(session.Go{Frame: frame})
			if l.OnContext != nil {
				l.OnContext(frame, e.AbsolutePosition)
			}
		}
		return
	}
	switch l.grip {
	case rungs:
		if frame < 0 {
			return
		}
		l.apply(session.Go{Frame: frame})
		if l.onVerdict(e.Position) && l.OnVerdict != nil {
			l.OnVerdict(frame, e.AbsolutePosition)
		}
	case marker:
		l.apply(session.MoveTo{Stop: l.geo.stop(float64(e.Position.Y) - l.header())})
	}
}

// MouseUp implements desktop.Mouseable.
func (l *Ladder) MouseUp(*desktop.MouseEvent) { l.release() }

// Dragged implements fyne.Draggable.
func (l *Ladder) Dragged(e *fyne.DragEvent) {
	if l.state.Empty() {
		return
	}
	stop := l.geo.stop(float64(e.Position.Y) - l.header())
	switch l.grip {
	case marker:
		l.apply(session.Slide{Stop: stop})
	case limitLine:
		l.moveLimit(e.Position.X)
	case lowerPost, upperPost:
		r := l.state.RangeWith(l.grip == upperPost, stop)
		if l.trial == nil || *l.trial != *r {
			l.trial = r
			l.tellTrial()
			l.Refresh()
		}
	}
}

// DragEnd implements fyne.Draggable.
func (l *Ladder) DragEnd() { l.release() }

// release lets go: a dragged post becomes one undoable step, and the marker
// settles on a frame, unless there are pictures between the rungs.
func (l *Ladder) release() {
	held := l.grip
	l.grip = nothing
	if held == limitLine && l.limitMoved {
		l.limitMoved = false
		l.setLimit(true)
	}
	if t := l.trial; t != nil {
		l.trial = nil
		l.tellTrial()
		l.apply(session.SetRange{Range: t})
		l.Refresh()
	}
	if held == marker {
		l.apply(session.Settle{})
	}
}

func (l *Ladder) tellTrial() {
	if l.OnTrial != nil {
		l.OnTrial(l.trial)
	}
}

// Scrolled implements fyne.Scrollable: one notch of the wheel is one frame. A
// touchpad sends many small steps, which add up; the toolkit multiplies large
// ones by 125, so the sum is bounded.
func (l *Ladder) Scrolled(e *fyne.ScrollEvent) {
	l.wheel += math.Max(-notch, math.Min(notch, float64(e.Scrolled.DY)))
	for ; l.wheel >= notch; l.wheel -= notch {
		l.apply(session.Step{Frames: 1})
	}
	for ; l.wheel <= -notch; l.wheel += notch {
		l.apply(session.Step{Frames: -1})
	}
}

const notch = 25 // units that the toolkit reports for one notch

// MouseIn implements desktop.Hoverable.
func (l *Ladder) MouseIn(e *desktop.MouseEvent) { l.MouseMoved(e) }

// MouseMoved implements desktop.Hoverable.
func (l *Ladder) MouseMoved(e *desktop.MouseEvent) {
	if l.grip != nothing {
		return
	}
	l.pointer, l.inside = e.Position, true
	defer l.tell(e.Position)
	was := l.limit
	over, hot := l.at(e.Position), -1
	if over == rungs {
		hot = l.geo.at(float64(e.Position.Y) - l.header())
	}
	if over != l.over || hot != l.hot || over == limitLine && was != l.limit {
		l.over, l.hot = over, hot
		l.Refresh()
	}
}

// MouseOut implements desktop.Hoverable.
func (l *Ladder) MouseOut() {
	l.over, l.hot, l.inside = nothing, -1, false
	l.untell()
	l.Refresh()
}

// Cursor implements desktop.Cursorable.
func (l *Ladder) Cursor() desktop.Cursor {
	switch l.over {
	case lowerPost, upperPost, marker:
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

// onVerdict reports whether a position is in the place of a verdict.
func (l *Ladder) onVerdict(p fyne.Position) bool {
	switch l.picture.density {
	case row.Figures:
		return l.columnAt(p.X) == "verdict"
	case row.Multiples:
		_, part := l.partAt(p)
		return part == row.VerdictPart
	}
	return true
}

// SetReadout shows a line for each frame, in the order of the roll, in place of what
// decided its suggestion; nil shows the reasons again.
func (l *Ladder) SetReadout(words []string) {
	if !slices.Equal(words, l.readout) {
		l.readout = words
		l.Refresh()
	}
}

// columnAt returns the id of the column at x, "" between columns.
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

// limitAt returns the limit whose line runs at x.
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

// criterionAt returns the criterion whose column covers x.
func (l *Ladder) criterionAt(x float32) (*row.Criterion, int, row.Placed) {
	if l.state.Empty() {
		return nil, 0, row.Placed{}
	}
	all := l.state.Rows()[0].Scales.Criteria
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
func (l *Ladder) moveLimit(x float32) {
	all := l.state.Rows()[0].Scales.Criteria
	if all == nil || all[l.limit.criterion] == nil {
		return
	}
	for _, p := range l.picture.placed {
		if p.Column.ID == row.CostID(l.limit.criterion) {
			l.limitAtX = row.LimitValue(all[l.limit.criterion], p.X, p.W, l.picture.scale, float64(x-axisWidth)*l.picture.scale)
			l.limitMoved = true
			l.setLimit(false)
		}
	}
}

// setLimit gives the limit that is held its value.
func (l *Ladder) setLimit(done bool) {
	l.apply(session.SetLimit{Criterion: criteria.Criterion(l.limit.criterion), Holds: l.limit.limit == row.HoldsLimit, Value: l.limitAtX, Done: done})
}
