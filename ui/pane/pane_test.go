package pane

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"math"
	"os"
	"testing"
	"time"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/render"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/test"
)

func TestMain(m *testing.M) {
	test.NewApp()
	os.Exit(m.Run())
}

// noisyScan has a colour of its own in every pixel; seed tells frames apart.
func noisyScan(w, h, seed int) *scan.Pixels {
	p := &scan.Pixels{Header: scan.Info{Path: "test.tif", Width: w, Height: h, Bits: 16, Channels: 3}}
	p.Pix = make([]uint16, 3*w*h)
	for i := range p.Pix {
		p.Pix[i] = uint16(2000 + (i*7919+i/w*104729+seed*5557)%60000)
	}
	return p
}

func lookOf(p *scan.Pixels, factor int, area image.Rectangle) *measure.Look {
	w, h := p.Header.Width, p.Header.Height
	pv := &measure.Preview{Factor: factor, W: (w + factor - 1) / factor, H: (h + factor - 1) / factor}
	pv.Pix = make([]uint16, 3*pv.W*pv.H)
	for i := range pv.W * pv.H {
		x, y := i%pv.W*factor, i/pv.W*factor
		copy(pv.Pix[3*i:3*i+3], p.Pix[3*(y*w+x):])
	}
	full := measure.RGB[int]{R: 65535, G: 65535, B: 65535}
	return &measure.Look{Info: p.Header, Space: colour.AssumedSRGB(65535), Preview: pv, Area: area, Ceiling: full,
		BlownShare: make([]uint8, pv.W*pv.H), BlockedShare: make([]uint8, pv.W*pv.H)}
}

// stage is a window with a group whose results are taken over by the test's own
// goroutine, as the toolkit's does it.
type stage struct {
	t     *testing.T
	g     *Group
	win   fyne.Window
	calls chan func()
	scans []*scan.Pixels
	slots []Slot
}

func newStage(t *testing.T, frames int, scale float32, w, h float32) *stage {
	s := &stage{t: t, calls: make(chan func(), 1000)}
	s.g = NewGroup(Options{Rest: 5 * time.Millisecond, Do: func(f func()) { s.calls <- f }})
	// The test driver reports positions less an inset of 2, 3 units and cuts
	// towards zero; at 12, 13 the group lies at whole device pixels of all scales used.
	s.win = test.NewWindow(container.New(layout.NewCustomPaddedLayout(13, 0, 12, 0), s.g))
	s.win.SetPadded(false)
	s.win.Canvas().(test.WindowlessCanvas).SetScale(scale)
	s.resize(w, h)
	t.Cleanup(func() { s.g.Close(); s.win.Close() })
	for i := range frames {
		px := noisyScan(900, 600, i)
		s.scans = append(s.scans, px)
		s.slots = append(s.slots, Slot{ID: i, Label: "+" + string(rune('0'+i)), Note: "as scanned", State: Ready,
			Picture: render.Picture{Look: lookOf(px, 3, image.Rect(30, 20, 870, 580))},
			Open:    func() (scan.Source, error) { return px, nil }})
	}
	s.g.SetFrames(s.slots)
	return s
}

// place is the group's position in the window.
var place = fyne.NewPos(12, 13)

func (s *stage) resize(w, h float32) { s.win.Resize(fyne.NewSize(w+place.X, h+place.Y)) }

// settle runs what the workers hand over until all is finely rendered.
func (s *stage) settle() {
	s.t.Helper()
	for end := time.Now().Add(2 * time.Minute); ; {
		select {
		case f := <-s.calls:
			f()
			continue
		case <-time.After(3 * time.Millisecond):
		}
		if s.g.Settled() && len(s.calls) == 0 {
			return
		}
		if time.Now().After(end) {
			s.t.Fatal("the group does not settle")
		}
	}
}

func (s *stage) pane(i int) *Pane { return s.g.panes[i] }

// pixelAt is the base pixel that a position of a pane shows.
func (s *stage) pixelAt(p *Pane, pos fyne.Position) image.Point {
	_, at, ok := p.pixel(pos)
	if !ok {
		s.t.Fatalf("no pixel at %v", pos)
	}
	return at
}

// While a slide is dragged the picture follows, though each correction is
// overtaken by the next before it is drawn.
func TestPictureFollowsADraggedCorrection(t *testing.T) {
	s := newStage(t, 1, 1, 300, 200)
	s.g.ShowOne(0)
	s.settle()
	p := s.pane(0)
	set := func(gain float32) render.Picture {
		slot := s.slots[0]
		slot.Picture.Adjust = render.PerChannel(func() func(int, float32) float32 { return func(_ int, x float32) float32 { return gain * x } })
		s.g.SetFrames([]Slot{slot})
		return s.g.frames[0].picture(s.g.base)
	}
	want := func(pic render.Picture) []uint8 {
		img := image.NewRGBA(image.Rect(0, 0, p.w, p.h))
		render.Render(img, pic, s.g.View(), render.Overlay{})
		return img.Pix
	}
	asked := []render.Picture{set(0.5)}
	shown, followed := -1, 0
	for i := 0; i < 200 && followed < 4; i++ {
		f := <-s.calls // a picture drawn, or the end of a motion
		asked = append(asked, set(0.45-0.002*float32(i)))
		img := p.img
		f()
		if p.img == img {
			continue
		}
		// The last one was asked for after the call was made, and yet it may be shown: a call
		// takes over whatever was drawn until it is run.
		j := len(asked) - 1
		for j > shown && !bytes.Equal(p.img.Pix, want(asked[j])) {
			j--
		}
		if j <= shown {
			t.Fatalf("step %d: the picture is of no correction newer than that before", i)
		}
		shown = j
		followed++
	}
	if followed < 4 {
		t.Errorf("the picture changed %d times in 200 steps", followed)
	}
	now := asked[len(asked)-1]
	s.settle()
	if !bytes.Equal(p.img.Pix, want(now)) {
		t.Error("at rest the picture is not that of the last correction")
	}
	s.g.SetFrames(s.slots)
	s.settle()
	if !bytes.Equal(p.img.Pix, want(s.g.frames[0].picture(s.g.base))) {
		t.Error("as scanned is not shown again")
	}
}

func TestFitFillsThePane(t *testing.T) {
	s := newStage(t, 1, 1, 600, 400)
	s.g.ShowOne(0)
	s.settle()
	if !s.g.Fitted() || math.Abs(s.g.View().Zoom-400.0/560) > 1e-9 {
		t.Errorf("the view is %+v, want fit", s.g.View())
	}
	s.resize(300, 400)
	s.settle()
	if math.Abs(s.g.View().Zoom-300.0/840) > 1e-9 {
		t.Errorf("after resizing the zoom is %g, want a new fit", s.g.View().Zoom)
	}
	s.g.ZoomTo(2)
	s.resize(500, 400)
	s.settle()
	if s.g.View().Zoom != 2 || s.g.Fitted() {
		t.Errorf("resizing changed a chosen zoom to %g", s.g.View().Zoom)
	}
}

// What the canvas paints at 1:1 is the file, pixel by pixel, at any scale.
func TestOneToOneReachesTheCanvas(t *testing.T) {
	for _, scale := range []float32{1, 1.25, 1.5, 2} {
		s := newStage(t, 2, scale, 300, 200)
		s.g.ShowOne(1)
		s.g.OneToOne()
		s.settle()
		p := s.pane(0)
		if want := int(300 * scale); p.w != want {
			t.Errorf("scale %g: the pane is %d device pixels wide, want %d", scale, p.w, want)
		}
		shot := s.win.Canvas().Capture()
		_, from, _ := p.pixel(fyne.NewPos(0.01, 0.01))
		exact := make([]uint8, 4*900*600)
		colour.AssumedSRGB(65535).RGBA(exact, s.scans[1].Pix)
		x0, y0 := int(math.Ceil(float64(place.X*scale))), int(math.Ceil(float64(place.Y*scale))) // as the test painter does
		bad := 0
		// The chip lies in the upper left corner: compare below it.
		for y := p.h / 3; y < p.h; y++ {
			for x := range p.w {
				i := 4 * ((from.Y+y)*900 + from.X + x)
				c := color.NRGBAModel.Convert(shot.At(x0+x, y0+y)).(color.NRGBA)
				if c.R != exact[i] || c.G != exact[i+1] || c.B != exact[i+2] {
					bad++
				}
			}
		}
		if bad > 0 {
			t.Errorf("scale %g: %d pixels of the canvas are not those of the file", scale, bad)
		}
	}
}

// scroll does what the toolkit does; its test.Scroll sends no position.
func scroll(p *Pane, pos fyne.Position, dy float32) {
	p.Scrolled(&fyne.ScrollEvent{PointEvent: fyne.PointEvent{Position: pos}, Scrolled: fyne.Delta{DY: dy}})
}

func TestScrollZoomsAtTheCursor(t *testing.T) {
	s := newStage(t, 1, 1.5, 300, 200)
	s.g.ShowOne(0)
	s.settle()
	p := s.pane(0)
	pos := fyne.NewPos(220, 60)
	before := s.pixelAt(p, pos)
	for i := range 6 {
		scroll(p, pos, 25)
		s.settle()
		after := s.pixelAt(p, pos)
		tol := 1 + int(1/s.g.View().Zoom)
		if d := after.Sub(before); d.X > tol || d.X < -tol || d.Y > tol || d.Y < -tol {
			t.Fatalf("notch %d: the pixel under the cursor went from %v to %v", i, before, after)
		}
	}
	if s.g.Fitted() {
		t.Error("a zoomed view still says it is fitted")
	}
	// A fast wheel is multiplied by 125 in the toolkit: one event is two notches at most.
	z := s.g.View().Zoom
	scroll(p, pos, 125*25)
	if got := s.g.View().Zoom / z; got > math.Sqrt2+1e-9 {
		t.Errorf("one event zoomed by %g", got)
	}
	for range 60 {
		scroll(p, pos, -25)
	}
	least, _ := s.g.port(p).ZoomLimits()
	if s.g.View().Zoom != least {
		t.Errorf("scrolling out ends at %g, want %g", s.g.View().Zoom, least)
	}
}

func TestZoomStopsAtOneToOne(t *testing.T) {
	s := newStage(t, 1, 1, 300, 200)
	s.g.ShowOne(0)
	s.settle()
	seen := false
	for range 20 {
		s.g.ZoomIn()
		seen = seen || s.g.View().Zoom == 1
	}
	if !seen || s.g.View().Zoom != render.MaxZoom {
		t.Errorf("zooming in passed 1:1: %v, ended at %g", !seen, s.g.View().Zoom)
	}
	seen = false
	for range 20 {
		s.g.ZoomOut()
		seen = seen || s.g.View().Zoom == 1
	}
	if !seen {
		t.Error("zooming out passed over 1:1")
	}
}

func TestDragPans(t *testing.T) {
	s := newStage(t, 2, 1.5, 300, 200)
	s.g.ShowPair(0, 1)
	s.g.OneToOne()
	s.settle()
	pos := fyne.NewPos(60, 100)
	a, b := s.pixelAt(s.pane(0), pos), s.pixelAt(s.pane(1), pos)
	if a != b {
		t.Errorf("linked panes show %v and %v at the same place", a, b)
	}
	test.Drag(s.win.Canvas(), pos.Add(place), 20, -10) // units: 30 and -15 device pixels
	s.settle()
	for i := range 2 {
		if got := s.pixelAt(s.pane(i), pos); got != a.Add(image.Pt(-30, 15)) {
			t.Errorf("pane %d: after the drag %v stands there, want %v", i, got, a.Add(image.Pt(-30, 15)))
		}
	}
}

// Frames that were rendered ahead are shown without a worker.
func TestStepIsASwap(t *testing.T) {
	s := newStage(t, 5, 1, 300, 200)
	s.g.ShowOne(2)
	s.settle()
	for id := range 5 {
		f := s.g.frames[id]
		if !f.shot.fine(s.g.key(f, 300, 200, 1)) {
			t.Fatalf("frame %d was not rendered ahead", id)
		}
	}
	for _, id := range []int{3, 4, 0, 1} {
		s.g.ShowOne(id)
		if p := s.pane(0); p.img != s.g.frames[id].shot.img || p.plate.label.Text != s.slots[id].Label {
			t.Errorf("frame %d was not swapped in at once", id)
		}
	}
	if s.g.panes[0].img == s.g.frames[0].shot.img {
		t.Error("two frames share a buffer")
	}
	// Masks make all buffers stale.
	s.g.SetMasks(render.Overlay{Blown: true})
	if f := s.g.frames[1]; f.shot.fine(s.g.key(f, 300, 200, 1)) {
		t.Error("a change of masks left a buffer valid")
	}
	s.settle()
}

func TestStaleResultsAreDropped(t *testing.T) {
	s := newStage(t, 1, 1, 300, 200)
	s.g.ShowOne(0)
	s.settle()
	f, p := s.g.frames[0], s.pane(0)
	old := s.g.task(f, s.g.key(f, 300, 200, 1), false)
	s.g.SetView(render.View{U: 0.4, V: 0.4, Zoom: 2})
	late := image.NewRGBA(image.Rect(0, 0, 300, 200))
	s.g.arrived(old, late)
	if p.img == late {
		t.Fatal("a result of an earlier view was shown at rest")
	}
	s.settle()
	want := image.NewRGBA(late.Rect)
	render.Render(want, f.picture(s.g.base), s.g.View(), render.Overlay{})
	if f.shot.key.view.Zoom != 2 || !bytes.Equal(p.img.Pix, want.Pix) {
		t.Error("the view asked for is not shown")
	}
	// In motion a view that has gone on is progress, but never backwards.
	s.g.move()
	first, second := s.g.task(f, s.g.key(f, 300, 200, 1), true), s.g.task(f, s.g.key(f, 300, 200, 1), true)
	s.g.setView(render.View{U: 0.45, V: 0.4, Zoom: 2})
	a, b := image.NewRGBA(image.Rect(0, 0, 300, 200)), image.NewRGBA(image.Rect(0, 0, 300, 200))
	s.g.arrived(second, b)
	if p.img != b {
		t.Error("a newer view in motion was not shown")
	}
	s.g.arrived(first, a)
	if p.img != b {
		t.Error("an older view replaced a newer one")
	}
	s.settle()
	if f.shot.draft {
		t.Error("a draft stands at rest")
	}
	// A frame that was closed meanwhile.
	s.g.SetFrames(nil)
	s.g.arrived(old, late)
	if p.img != nil {
		t.Error("a removed frame is still shown")
	}
}

// A buffer that is shown is never written to.
func TestShownBuffersAreNotReused(t *testing.T) {
	s := newStage(t, 3, 1, 200, 150)
	s.g.ShowPair(0, 1)
	s.settle()
	for i := range 30 {
		s.g.panBy(s.pane(0), float64(i%5-2), 3)
		s.g.queue.bufs.mu.Lock()
		for _, p := range s.g.panes {
			for _, free := range s.g.queue.bufs.free {
				if p.img == free {
					t.Error("a shown buffer is free to be written to")
				}
			}
		}
		s.g.queue.bufs.mu.Unlock()
		select {
		case f := <-s.calls:
			f()
		case <-time.After(time.Millisecond):
		}
	}
	s.settle()
}

func TestHoverPickAndFocus(t *testing.T) {
	s := newStage(t, 2, 1, 400, 200)
	var hoverID, picked, focused, menu int
	var at, pickAt image.Point
	var ok bool
	s.g.OnHover = func(id int, p image.Point, o bool) { hoverID, at, ok = id, p, o }
	s.g.OnPick = func(id int, p image.Point) { picked, pickAt = id, p }
	s.g.OnFocus = func(id int) { focused = id }
	s.g.OnMenu = func(id int, _ fyne.Position) { menu = id }
	s.g.ShowPair(0, 1)
	s.g.OneToOne()
	s.settle()
	pos := fyne.NewPos(300, 100)
	test.MoveMouse(s.win.Canvas(), pos.Add(place))
	_, want, _ := s.pane(1).pixel(pos.Subtract(s.pane(1).Position()))
	if hoverID != 1 || at != want || !ok {
		t.Errorf("hover says frame %d, %v, %v; want 1, %v", hoverID, at, ok, want)
	}
	test.TapCanvas(s.win.Canvas(), pos.Add(place))
	if picked != 1 || pickAt != want {
		t.Errorf("picked %v of frame %d, want %v of 1", pickAt, picked, want)
	}
	s.pane(1).MouseDown(&desktop.MouseEvent{})
	test.TapSecondary(s.pane(1))
	if focused != 1 || menu != 1 {
		t.Errorf("focus went to %d, the menu to %d", focused, menu)
	}
	s.pane(1).MouseOut()
	if ok {
		t.Error("the readout stays when the cursor has left")
	}
	// Zoom commands hold the picture at the cursor, else in the middle.
	s.pane(1).MouseMoved(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(20, 20)}})
	_, before, _ := s.pane(1).pixel(fyne.NewPos(20, 20))
	s.g.ZoomTo(4)
	_, after, _ := s.pane(1).pixel(fyne.NewPos(20, 20))
	if d := after.Sub(before); d.X > 1 || d.X < -1 || d.Y > 1 || d.Y < -1 {
		t.Errorf("ZoomTo moved the pixel under the cursor from %v to %v", before, after)
	}
}

func TestFramesWithoutPictures(t *testing.T) {
	s := newStage(t, 2, 1, 500, 200)
	thumb := image.NewRGBA(image.Rect(0, 0, 30, 20))
	s.g.SetFrames([]Slot{
		s.slots[0],
		{ID: 1, Label: "+1", State: Failed, Message: "b.tif ends early: 3 of 9 rows could be read; copy it again from the source."},
		{ID: 2, Label: "+2", State: Reading},
		{ID: 3, Label: "+3", State: Reading, Thumb: thumb},
	})
	s.g.ShowGrid()
	s.settle()
	if p := s.pane(1); !p.text.Visible() || p.text.Text[:5] != "b.tif" || p.plate.label.Text != "+1" {
		t.Errorf("a failed frame shows %q", p.text.Text)
	}
	if p := s.pane(2); !p.text.Visible() || p.text.Text != "reading..." {
		t.Errorf("a frame being read shows %q", p.text.Text)
	}
	if p := s.pane(3); p.text.Visible() || !p.thumb.Visible() {
		t.Error("a frame being read does not show its thumbnail")
	}
	if s.pane(0).text.Visible() || s.pane(0).img == nil {
		t.Error("a good frame beside them is not shown")
	}
	// It arrives.
	sl := s.slots[1]
	sl.ID = 3
	s.g.UpdateFrame(sl)
	s.settle()
	if p := s.pane(3); p.thumb.Visible() || p.img == nil {
		t.Error("the frame that was read is not shown")
	}
	s.g.SetActive(3)
	if !s.pane(3).edge.Visible() || s.pane(0).edge.Visible() {
		t.Error("the active frame is not outlined, or another is")
	}
	s.g.Reset()
	s.settle()
	if !s.g.base.Empty() || s.pane(0).img != nil {
		t.Error("after Reset something of the old roll is left")
	}
}

func TestFullResolutionArrives(t *testing.T) {
	s := newStage(t, 3, 1, 300, 200)
	s.g.ShowOne(1)
	s.settle()
	if s.g.frames[1].detail == nil {
		t.Error("at 0.36 of full resolution a preview of a third is magnified, and no detail came")
	}
	s.g.OneToOne()
	s.settle()
	f := s.g.frames[1]
	if f.detail == nil || f.detail.Step != 1 || s.pane(0).plate.note != "as scanned" {
		t.Errorf("at 1:1 the detail is %+v, the note %q", f.detail, s.pane(0).plate.note)
	}
	// A file that cannot be read any more is said so once and not asked again.
	errs := 0
	s.g.OnDetail = func(id int, err error) { errs++ }
	sl := s.slots[1]
	sl.Picture.Look = lookOf(s.scans[1], 3, image.Rect(30, 20, 870, 580))
	sl.Open = func() (scan.Source, error) { return nil, errors.New("gone") }
	s.g.UpdateFrame(sl)
	s.settle()
	s.g.panBy(s.pane(0), 5, 5)
	s.settle()
	if errs != 1 || s.pane(0).plate.note != "as scanned, preview only" {
		t.Errorf("%d errors told, the note is %q", errs, s.pane(0).plate.note)
	}
}

func TestViewCallback(t *testing.T) {
	s := newStage(t, 1, 1, 300, 200)
	var last render.View
	var fit bool
	s.g.OnView = func(v render.View, f bool) { last, fit = v, f }
	s.g.ShowOne(0)
	s.g.SetView(render.View{U: 0.3, V: 0.7, Zoom: 99})
	if last != (render.View{U: 0.3, V: 0.7, Zoom: 16}) || fit || s.g.View() != last {
		t.Errorf("told %+v, fit %v", last, fit)
	}
	s.g.Fit()
	if !fit || last.U != 0.5 {
		t.Errorf("after Fit told %+v, fit %v", last, fit)
	}
	s.g.PanBy(0.1, 0)
	if fit || last.U <= 0.5 {
		t.Errorf("looking further right told %+v, fit %v", last, fit)
	}
	s.settle()
}
