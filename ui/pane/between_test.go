package pane

import (
	"bytes"
	"image"
	"testing"
	"time"

	"stopladder/analysis/show/render"

	"fyne.io/fyne/v2"
	"golang.org/x/image/math/f64"
)

// spec mixes two frames in the proportion that it says.
func spec(label string, upper float64) BetweenSpec {
	table := func(w int) *[3][]uint32 {
		t := new([3][]uint32)
		for k := range t {
			t[k] = make([]uint32, 65536)
			for c := range t[k] {
				t[k][c] = uint32(c)<<16 | uint32(w)
			}
		}
		return t
	}
	lo, hi := table(int(1000*(1-upper))), table(int(1000*upper))
	return BetweenSpec{Label: label, Note: "interpolated", Tables: func() (lower, upper *[3][]uint32) { return lo, hi }}
}

// want is what a pane should show between two frames.
func (s *stage) want(p *Pane, lower, upper int, b BetweenSpec) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, p.w, p.h))
	var none *render.Sampler
	lowerTable, upperTable := b.Tables()
	none.Between(img, &render.Between{Lower: s.g.frames[lower].picture(s.g.base), Upper: s.g.frames[upper].picture(s.g.base),
		LowerTable: lowerTable, UpperTable: upperTable}, s.g.View(), s.g.overlay, false)
	return img
}

func TestBetweenIsShown(t *testing.T) {
	s := newStage(t, 4, 1, 300, 200)
	s.g.ShowOne(1)
	s.settle()
	b := spec("+1.4", 0.4)
	s.g.ShowBetween(1, 2, b)
	s.settle()
	p := s.pane(0)
	if !bytes.Equal(p.img.Pix, s.want(p, 1, 2, b).Pix) {
		t.Error("the pane does not show the picture between its frames")
	}
	if p.plate.label.Text != "+1.4" || p.plate.note[:12] != "interpolated" {
		t.Errorf("the chip says %q, %q", p.plate.label.Text, p.plate.note)
	}
	if lower, upper, ok := s.g.Between(); lower != 1 || upper != 2 || !ok {
		t.Errorf("Between says %d, %d, %v", lower, upper, ok)
	}
	// At 1:1 from the full resolution of both.
	s.g.OneToOne()
	s.settle()
	if s.g.frames[1].detail == nil || s.g.frames[2].detail == nil {
		t.Fatal("full resolution of a neighbour was not read")
	}
	if !bytes.Equal(p.img.Pix, s.want(p, 1, 2, b).Pix) {
		t.Error("at 1:1 the pane does not show the picture between its frames")
	}
	// On a rung it is the frame's own picture.
	s.g.ShowBetween(2, 2, BetweenSpec{Label: "+2"})
	s.settle()
	own := image.NewRGBA(p.img.Rect)
	render.Render(own, s.g.frames[2].picture(s.g.base), s.g.View(), render.Overlay{})
	if !bytes.Equal(p.img.Pix, own.Pix) {
		t.Error("on a rung the pane does not show the frame's own picture")
	}
	s.g.ShowOne(2)
	s.settle()
	if _, _, ok := s.g.Between(); ok || p.plate.label.Text != s.slots[2].Label || !bytes.Equal(p.img.Pix, own.Pix) {
		t.Errorf("after ShowOne the chip says %q", p.plate.label.Text)
	}
}

// In a pair the active pane glides and the other one stays.
func TestBetweenInAPair(t *testing.T) {
	s := newStage(t, 4, 1, 600, 200)
	s.g.ShowPair(0, 2)
	s.g.SetActive(2)
	s.settle()
	left := s.pane(0).img
	b := spec("+2.5", 0.5)
	s.g.ShowBetween(2, 3, b)
	s.settle()
	if s.pane(0).img != left || !bytes.Equal(s.pane(1).img.Pix, s.want(s.pane(1), 2, 3, b).Pix) {
		t.Error("the wrong pane glides, or shows something else")
	}
	// Past a rung it goes on in the same pane.
	s.g.ShowBetween(0, 1, b)
	s.settle()
	if s.pane(1).frame.ID != 0 || s.pane(0).frame.ID != 0 || !bytes.Equal(s.pane(1).img.Pix, s.want(s.pane(1), 0, 1, b).Pix) {
		t.Error("past a rung another pane glides")
	}
	s.g.EndBetween()
	s.settle()
	if s.pane(1).shown.ID != 0 || s.pane(1).plate.label.Text != "+0" {
		t.Errorf("at the end %q is shown", s.pane(1).plate.label.Text)
	}
	s.g.ShowGrid()
	s.g.ShowBetween(0, 1, b)
	if _, _, ok := s.g.Between(); ok {
		t.Error("a grid glides")
	}
	s.settle()
}

// A marker in motion never waits: of many positions the newest counts, and
// pictures only go forwards.
func TestGliding(t *testing.T) {
	s := newStage(t, 3, 1, 300, 200)
	s.g.ShowOne(0)
	s.settle()
	p := s.pane(0)
	var last uint64
	pictures := 0
	var b BetweenSpec
	for i := range 60 {
		b = spec("+", float64(i)/60)
		s.g.ShowBetween(i/30, i/30+1, b)
		for end := time.Now().Add(4 * time.Millisecond); time.Now().Before(end); {
			select {
			case f := <-s.calls:
				f()
			case <-time.After(time.Millisecond):
			}
		}
		if n := p.mix.shot.key.mix; n != last {
			if n < last {
				t.Fatal("the marker went backwards")
			}
			last = n
			pictures++
		}
	}
	if pictures < 5 {
		t.Errorf("%d pictures of 60 positions", pictures)
	}
	s.settle()
	if p.mix.shot.draft || !bytes.Equal(p.img.Pix, s.want(p, 1, 2, b).Pix) {
		t.Error("at rest the last position is not shown finely")
	}
	// A late result of a glide that has ended is dropped.
	old := p.mix
	s.g.ShowOne(1)
	s.settle()
	img := p.img
	s.g.arrived(&task{id: 1, mix: old, seq: 1 << 40, key: shotKey{w: p.w, h: p.h}}, image.NewRGBA(img.Rect))
	if p.img != img {
		t.Error("a picture between frames came after the glide had ended")
	}
	s.settle()
}

// While one of two frames is still read, the pane shows what it has.
func TestBetweenNeedsBoth(t *testing.T) {
	s := newStage(t, 2, 1, 300, 200)
	sl := s.slots[1]
	sl.State = Reading
	s.g.UpdateFrame(sl)
	s.g.ShowOne(0)
	s.settle()
	img := s.pane(0).img
	s.g.ShowBetween(0, 1, spec("+0.5", 0.5))
	s.settle()
	if s.pane(0).img != img || s.pane(0).plate.label.Text != "+0" {
		t.Error("a picture of a frame that is not read")
	}
	s.g.UpdateFrame(s.slots[1])
	s.settle()
	if s.pane(0).plate.label.Text != "+0.5" {
		t.Errorf("once both are read the chip says %q", s.pane(0).plate.label.Text)
	}
	s.g.ShowBetween(0, 7, spec("?", 0.5)) // not known: nothing happens
	if lower, upper, _ := s.g.Between(); lower != 0 || upper != 1 {
		t.Errorf("gliding between %d and %d", lower, upper)
	}
	s.g.SetFrames(nil)
	s.settle()
}

func TestDifference(t *testing.T) {
	s := newStage(t, 3, 1, 600, 200)
	s.g.ShowPair(0, 1)
	s.settle()
	s.g.SetDifference(true, 0)
	s.settle()
	want := func(a int) []uint8 {
		img := image.NewRGBA(image.Rect(0, 0, s.pane(1).w, s.pane(1).h))
		var none *render.Sampler
		none.Difference(img, s.g.frames[a].picture(s.g.base), s.g.frames[0].picture(s.g.base), s.g.View(), s.g.diff.look, false)
		return img.Pix
	}
	own := image.NewRGBA(s.pane(0).img.Rect)
	render.Render(own, s.g.frames[0].picture(s.g.base), s.g.View(), render.Overlay{})
	if !bytes.Equal(s.pane(0).img.Pix, own.Pix) {
		t.Error("the frame that is compared against is not shown as it is")
	}
	if !bytes.Equal(s.pane(1).img.Pix, want(1)) {
		t.Error("the other frame is not shown as its difference")
	}
	if s.pane(1).plate.note != "difference against +0" || s.pane(0).plate.note != "as scanned" {
		t.Errorf("the chips say %q and %q", s.pane(0).plate.note, s.pane(1).plate.note)
	}
	// A nudge is shown at once, of either frame.
	for _, id := range []int{1, 0} {
		before := s.pane(1).img
		s.g.SetMaps(map[int]f64.Aff3{id: {1, 0, 3, 0, 1, -2}})
		s.settle()
		if s.pane(1).img == before || !bytes.Equal(s.pane(1).img.Pix, want(1)) {
			t.Errorf("after a nudge of frame %d the difference is not that of its new place", id)
		}
	}
	s.g.SetDifferenceLook(render.DifferenceOptions{Kind: render.DifferenceColour})
	s.settle()
	if !bytes.Equal(s.pane(1).img.Pix, want(1)) {
		t.Error("the difference of colours is not shown")
	}
	s.g.SetDifference(false, 0)
	s.settle()
	if on, _ := s.g.Difference(); on || s.pane(1).plate.note != "as scanned" {
		t.Errorf("without difference the chip says %q", s.pane(1).plate.note)
	}
}

// Maps move the picture, the readout and nothing else, and outlive the window's
// next hand-over of frames.
func TestMaps(t *testing.T) {
	s := newStage(t, 2, 1, 300, 200)
	s.g.ShowOne(1)
	s.g.OneToOne()
	s.settle()
	p := s.pane(0)
	pos := fyne.NewPos(100, 100)
	before := s.pixelAt(p, pos)
	look := s.g.frames[1].prep.was.Look
	s.g.SetMaps(map[int]f64.Aff3{1: {1, 0, 7, 0, 1, -4}, 99: {}})
	s.settle()
	if got := s.pixelAt(p, pos); got != before.Add(image.Pt(7, -4)) {
		t.Errorf("the readout went from %v to %v", before, got)
	}
	if s.g.frames[1].prep.was.Look != look {
		t.Error("the frame was made anew")
	}
	img := p.img
	s.g.SetMaps(map[int]f64.Aff3{1: {1, 0, 7, 0, 1, -4}})
	s.g.SetFrames(s.slots)
	s.settle()
	if p.img != img || s.pixelAt(p, pos) != before.Add(image.Pt(7, -4)) {
		t.Error("the same maps and frames changed something")
	}
	sl := s.slots[1]
	sl.Picture.ToThis = &f64.Aff3{1, 0, 1, 0, 1, 0}
	s.g.UpdateFrame(sl)
	s.settle()
	if got := s.pixelAt(p, pos); got != before.Add(image.Pt(1, 0)) {
		t.Errorf("a slot's own map does not go first: %v", got)
	}
	s.g.SetFrames(s.slots)
	turn := f64.Aff3{0.99996, 0.0087, 0, -0.0087, 0.99996, 0} // half a degree
	s.g.SetMaps(map[int]f64.Aff3{1: turn})
	s.settle()
	if p.plate.note != "as scanned, resampled" {
		t.Errorf("turned at 1:1 the chip says %q", p.plate.note)
	}
}
