package pane

import (
	"image"
	"image/color"
	"slices"
	"sync"
	"time"

	"stopladder/analysis/show/render"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/widget"
)

// DefaultRest is how long a view must rest before it is rendered finely.
const DefaultRest = 80 * time.Millisecond

// DefaultDetailBudget bounds the memory for full-resolution pictures: two held
// scans of 50 megapixels and the regions cut from them.
const DefaultDetailBudget = 768 << 20

// Options set up a Group. The zero value is ready to use.
type Options struct {
	DetailBudget int64              // bytes for full resolution; 0 is DefaultDetailBudget, below 0 none is loaded
	Rest         time.Duration      // 0 is DefaultRest
	Do           func(func())       // runs a function on the toolkit's goroutine; nil is fyne.Do
	Painted      func(label string) // told each picture as the toolkit takes it to paint; may be nil
	Unmarked     bool               // nothing is written on pictures that would tell them apart
}

// layoutMode says which frames are in sight.
type layoutMode int

const (
	one layoutMode = iota
	pair
	grid
	edged // two frames in one pane
)

// Group shows frames with one linked view and fills the space it is given. All
// its methods belong on the toolkit's goroutine.
type Group struct {
	widget.BaseWidget

	// Callbacks, all optional, all called on the toolkit's goroutine.
	OnView   func(v render.View, fit bool)           // the view has changed; fit: it follows the window's size
	OnHover  func(id int, at image.Point, ok bool)   // pixel of frame id under the cursor; ok false: none
	OnPick   func(id int, at image.Point)            // a click on a pixel of the scan
	OnTrace  func(id int, at image.Point, done bool) // while set, a drag does not pan: the pixel under the hand; done: it was let go
	OnFocus  func(id int)                            // a pane was pressed: the main view takes the keys back
	OnMenu   func(id int, absolute fyne.Position)    // secondary click
	OnDetail func(id int, err error)                 // full resolution of a frame could not be read

	opts     Options
	readyMu  sync.Mutex
	ready    []rendered // drawn, and not taken over yet
	frames   map[int]*frame
	order    []int // ids, as given: from under to over
	base     image.Rectangle
	baseSet  bool                    // by SetBase
	laid     float64                 // density that the panes were laid out for
	measured map[layoutMode]measured // of one picture and of two, as it was laid out last
	mode     layoutMode
	sight    []int // ids in sight, one a pane
	active   int
	panes    []*Pane
	back     *canvas.Rectangle
	view     render.View
	fit      bool
	overlay  render.Overlay
	moving   bool
	timer    *time.Timer
	seq      uint64
	queue    *queue
	details  *render.Detailer
	hovered  *Pane
	relaying bool
	closed   bool
	diff     difference
	spots    []Spot
	under    int           // id of the frame on the edge's other side
	edge     Edge          // where it stands
	blink    int           // id of the frame that is kept ready to be held, -1: none
	surround uint8         // display byte of the grey around the pictures; 0: render's own
	mixTime  time.Duration // for a fine picture between frames
}

// NewGroup makes an empty group. Close ends its workers.
func NewGroup(o Options) *Group {
	if o.Rest <= 0 {
		o.Rest = DefaultRest
	}
	if o.Do == nil {
		o.Do = fyne.Do
	}
	if o.DetailBudget == 0 {
		o.DetailBudget = DefaultDetailBudget
	}
	g := &Group{opts: o, frames: map[int]*frame{}, fit: true, active: -1, under: -1, blink: -1, edge: middle, view: render.View{U: 0.5, V: 0.5, Zoom: 1}}
	g.back = canvas.NewRectangle(between)
	g.queue = newQueue(g.deliver)
	if o.DetailBudget > 0 {
		g.details = render.NewDetailer(o.DetailBudget, g.detailRead)
	}
	g.panes = []*Pane{newPane(g)}
	g.ExtendBaseWidget(g)
	return g
}

// Close ends the workers; the group shows nothing new after it.
func (g *Group) Close() {
	if g.closed {
		return
	}
	g.closed = true
	if g.timer != nil {
		g.timer.Stop()
	}
	g.queue.close()
	if g.details != nil {
		// Not waited for: a decoder may need a second to notice.
		go g.details.Close()
	}
}

// SetFrames replaces all frames, given in the ladder's order from under to
// over. Frames of an id that stays keep what was rendered of them as far as
// their picture is the same.
func (g *Group) SetFrames(slots []Slot) {
	was := g.frames
	g.frames = make(map[int]*frame, len(slots))
	g.order = g.order[:0]
	for _, s := range slots {
		if _, twice := g.frames[s.ID]; twice {
			continue
		}
		g.frames[s.ID] = g.renew(was[s.ID], s)
		g.order = append(g.order, s.ID)
	}
	stay := false
	for id := range was {
		if g.frames[id] != nil {
			stay = true
		} else if g.details != nil {
			g.details.Forget(id)
		}
	}
	if !stay && len(was) > 0 && len(g.frames) > 0 {
		g.fit = true // another roll
		g.queue.sampler.Forget()
	}
	for _, p := range g.panes {
		if p.held != nil && g.frames[p.held.frame.ID] != p.held.frame {
			p.held = nil
		}
	}
	if g.mode == grid { // in the order in which they were asked for
		g.sight = slices.DeleteFunc(slices.Clone(g.sight), func(id int) bool { return g.frames[id] == nil })
	}
	for _, p := range g.panes {
		if p.shown != nil && g.frames[p.shown.ID] == nil {
			p.shown = nil
		}
	}
	g.framesChanged()
}

// UpdateFrame replaces one frame, or adds it at the end of the order.
func (g *Group) UpdateFrame(s Slot) {
	was := g.frames[s.ID]
	if was == nil {
		g.order = append(g.order, s.ID)
		if g.mode == grid {
			g.sight = append(slices.Clone(g.sight), s.ID)
		}
	}
	g.frames[s.ID] = g.renew(was, s)
	g.framesChanged()
}

// renew makes the frame of a slot and takes over what was still holds.
func (g *Group) renew(was *frame, s Slot) *frame {
	f := &frame{Slot: s, prep: &prep{}}
	if was == nil {
		return f
	}
	f.prep = was.prep
	f.ver = was.ver
	f.maps = was.maps
	f.shot, f.plain, f.kept = was.shot, was.plain, was.kept
	a, b := &was.Picture, &s.Picture
	if a.Look == b.Look {
		f.detail, f.detailErr = was.detail, was.detailErr
		f.mapped = was.mapped
	}
	if a.Look != b.Look || a.Rel != b.Rel || a.Detail != b.Detail || a.Base != b.Base ||
		a.Flat != b.Flat || a.Noise != b.Noise || a.Lost != b.Lost || was.State != s.State {
		f.ver++
	}
	if a.Adjust != b.Adjust || was.place(g.base) != f.place(g.base) {
		f.maps++
	}
	for _, p := range g.panes {
		if p.shown == was {
			p.shown = f
		}
		if p.held != nil && p.held.frame == was {
			p.held.frame = f
		}
	}
	return f
}

func (g *Group) framesChanged() {
	g.findBase()
	g.assign()
	g.refit()
	g.schedule()
	g.caption()
}

// SetBase sets the base frame's image area in its full-resolution pixels, to
// which the view refers. Until it is set, the first frame that was read serves.
func (g *Group) SetBase(area image.Rectangle) {
	if area.Empty() {
		return
	}
	g.baseSet = true
	g.rebase(area)
	g.refit()
	g.schedule()
}

func (g *Group) rebase(area image.Rectangle) {
	if area == g.base {
		return
	}
	g.base = area
	for _, f := range g.frames {
		f.ver++
	}
}

func (g *Group) findBase() {
	if g.baseSet {
		return
	}
	for _, id := range g.order {
		if f := g.frames[id]; f.ready() {
			g.rebase(f.Picture.BaseArea())
			return
		}
	}
}

// Reset forgets all frames, the base and the view: another roll is opened.
func (g *Group) Reset() {
	g.baseSet, g.base = false, image.Rectangle{}
	g.fit, g.active, g.sight = true, -1, nil
	g.diff = difference{look: g.diff.look}
	g.dropMixes()
	g.queue.sampler.Forget()
	g.SetFrames(nil)
}

// ShowOne shows one frame in all the space.
func (g *Group) ShowOne(id int) { g.show(one, []int{id}) }

// ShowPair shows two frames side by side.
func (g *Group) ShowPair(left, right int) { g.show(pair, []int{left, right}) }

// ShowGrid shows the frames of ids, or all in their order when none is given.
func (g *Group) ShowGrid(ids ...int) {
	if len(ids) == 0 {
		ids = g.order
	}
	g.show(grid, append([]int(nil), ids...))
}

// InSight returns the ids of the frames in sight.
func (g *Group) InSight() []int { return append([]int(nil), g.sight...) }

func (g *Group) show(mode layoutMode, ids []int) {
	g.dropMixes()
	relay := mode != g.mode || len(ids) != len(g.sight) || len(g.panes) != max(1, len(ids))
	g.mode, g.sight = mode, ids
	if relay {
		g.assign()
		g.refit()
	} else {
		for i, p := range g.panes {
			p.frame = g.frames[ids[i]]
		}
	}
	for _, p := range g.panes { // what is held of the frame at the marker goes on with it
		if p.plainly() && p.frame != nil {
			p.held.frame = p.frame
		}
	}
	g.assignUnder()
	g.outline()
	g.schedule()
	g.placeEdges()
}

// rendered is a task with its picture.
type rendered struct {
	task *task
	img  *image.RGBA
}

// deliver hands pictures to the toolkit's goroutine, all that are ready at once: it
// may run one function between two repaints, and pictures that waited in line for
// that would be late by as many.
func (g *Group) deliver(t *task, img *image.RGBA) {
	g.readyMu.Lock()
	g.ready = append(g.ready, rendered{t, img})
	first := len(g.ready) == 1
	g.readyMu.Unlock()
	if !first {
		return // asked for already
	}
	g.opts.Do(func() {
		g.readyMu.Lock()
		ready := g.ready
		g.ready = nil
		g.readyMu.Unlock()
		for _, r := range ready {
			g.arrived(r.task, r.img)
		}
	})
}

// SetActive outlines the frame at the marker where more than one is shown.
func (g *Group) SetActive(id int) {
	g.active = id
	g.outline()
}

func (g *Group) outline() {
	for _, p := range g.panes {
		p.mark(len(g.panes) > 1 && p.frame != nil && p.frame.ID == g.active)
	}
}

// SetSurround sets the neutral grey around the pictures, a display byte; 0 is the one that
// render has.
func (g *Group) SetSurround(grey uint8) {
	if g.surround == grey {
		return
	}
	g.surround = grey
	for _, p := range g.panes {
		p.raster.Refresh()
	}
	g.schedule()
}

// grey returns the surround.
func (g *Group) grey() color.Color {
	v := g.surround
	if v == 0 {
		v = render.Surround & 0xff
	}
	return color.NRGBA{v, v, v, 0xff}
}

// SetMasks sets which masks are shown. Scale is the group's own affair.
func (g *Group) SetMasks(o render.Overlay) {
	o.Scale = 0
	if o == g.overlay {
		return
	}
	g.overlay = o
	g.schedule()
}

// Masks returns the masks that are shown.
func (g *Group) Masks() render.Overlay { return g.overlay }

// assign gives each frame in sight a pane and places the panes.
func (g *Group) assign() {
	n := max(1, len(g.sight))
	changed := len(g.panes) != n
	for len(g.panes) < n {
		g.panes = append(g.panes, newPane(g))
	}
	if len(g.panes) > n {
		for _, p := range g.panes[n:] {
			g.leave(p)
		}
		g.panes = g.panes[:n:n]
	}
	for i, p := range g.panes {
		p.frame = nil
		if i < len(g.sight) {
			p.frame = g.frames[g.sight[i]]
		}
	}
	g.assignUnder()
	g.relayout()
	g.outline()
	if changed {
		g.Refresh()
	}
}

// aspect returns the width over the height of the base frame's image area.
func (g *Group) aspect() float64 {
	if g.base.Empty() {
		return 1.5
	}
	return float64(g.base.Dx()) / float64(g.base.Dy())
}

// relayout places the panes on whole device pixels, all of one device size.
func (g *Group) relayout() {
	size := g.Size()
	if size.Width <= 0 || size.Height <= 0 {
		return
	}
	g.relaying = true
	g.laid = g.density()
	g.back.Resize(size)
	if len(g.panes) == 1 {
		g.panes[0].Move(fyne.NewPos(0, 0))
		g.panes[0].Resize(size)
	} else {
		d := g.laid
		w, h, space := int(float64(size.Width)*d), int(float64(size.Height)*d), int(gap*d+0.5)
		cols, rows := len(g.panes), 1
		if g.mode == grid {
			cols, rows = gridShape(len(g.panes), float64(w), float64(h), float64(space), g.aspect())
		}
		// The edges lie a hair beyond the device pixel's own, so that float32
		// noise does not tip them over to the one before.
		const hair = 0.02
		unit := func(px int) float32 { return float32((float64(px) + hair) / d) }
		for i, r := range cells(len(g.panes), cols, rows, w, h, space) {
			g.panes[i].Move(fyne.NewPos(unit(r.Min.X), unit(r.Min.Y)))
			g.panes[i].Resize(fyne.NewSize(unit(r.Dx()), unit(r.Dy())))
		}
	}
	for _, p := range g.panes {
		p.measure(0, 0)
	}
	g.relaying = false
	g.sized()
}

// density returns device pixels per unit of the canvas.
func (g *Group) density() float64 {
	const far = 1000 // units: long enough to make the rounding small
	if c := fyne.CurrentApp().Driver().CanvasForObject(g); c != nil {
		if x, _ := c.PixelCoordinateForPosition(fyne.NewPos(far, far)); x > 0 {
			return float64(x) / far
		}
	}
	return 1
}

// sized is called when a pane has found a new device size.
func (g *Group) sized() {
	if g.relaying {
		return
	}
	if p := g.panes[0]; (g.mode == one || g.mode == pair) && p.w > 0 {
		if g.measured == nil {
			g.measured = map[layoutMode]measured{}
		}
		g.measured[g.mode] = measured{g.Size(), g.laid, p.w, p.h}
	}
	if len(g.panes) > 1 && g.laid != g.density() {
		g.laid = g.density()
		g.opts.Do(g.relayout) // not within the painter that has found it out
	}
	g.refit()
	if !g.move() {
		return
	}
	g.schedule()
}

// Move may shift the panes against the device's pixels.
func (g *Group) Move(pos fyne.Position) {
	if pos == g.Position() {
		return
	}
	g.BaseWidget.Move(pos)
	for _, p := range g.panes {
		p.measure(0, 0)
	}
}

// CreateRenderer implements fyne.Widget.
func (g *Group) CreateRenderer() fyne.WidgetRenderer { return &groupRenderer{g} }

type groupRenderer struct{ g *Group }

func (r *groupRenderer) Layout(fyne.Size)   { r.g.relayout() }
func (r *groupRenderer) MinSize() fyne.Size { return fyne.NewSize(120, 90) }
func (r *groupRenderer) Refresh()           { canvas.Refresh(r.g) }
func (r *groupRenderer) Destroy()           {}
func (r *groupRenderer) Objects() []fyne.CanvasObject {
	out := []fyne.CanvasObject{r.g.back}
	for _, p := range r.g.panes {
		out = append(out, p)
	}
	return out
}

// Shown returns the buffer that stands in the pane of frame id, nil when there
// is none. It may be read until control returns to the toolkit, not written.
func (g *Group) Shown(id int) *image.RGBA {
	for _, p := range g.panes {
		if p.shown != nil && p.shown.ID == id {
			return p.img
		}
	}
	return nil
}

// Note returns what the small print on a frame's picture is to say, "" for an unknown frame.
func (g *Group) Note(id int) string {
	_, note := g.wordsOf(g.frames[id])
	return note
}
