package pane

import (
	"bytes"
	"image"
	"testing"

	"stopladder/analysis/show/render"
)

// plainly renders a frame as it was scanned.
func (s *stage) scanned(id int, w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	pic := s.g.pic(s.g.frames[id])
	pic.Adjust = nil
	render.Render(img, pic, s.g.View(), render.Overlay{})
	return img
}

// What is held stands there at once, in the same place, and goes when it is released: in
// one picture, in two, with an edge and among all.
func TestHoldIsASwap(t *testing.T) {
	half := render.PerChannel(func() func(int, float32) float32 { return func(_ int, x float32) float32 { return x / 2 } })
	for name, layout := range map[string]func(g *Group){
		"one":  func(g *Group) { g.ShowOne(2) },
		"two":  func(g *Group) { g.ShowPair(1, 2) },
		"edge": func(g *Group) { g.ShowEdge(1, 2) },
		"all":  func(g *Group) { g.ShowGrid(3, 2, 1, 0) },
	} {
		s := newStage(t, 4, 1, 270, 180) // at which the preview is enough
		for i := range s.slots {
			s.slots[i].Picture.Adjust = half
		}
		s.g.SetFrames(s.slots)
		s.g.SetMasks(render.Overlay{Blown: true})
		s.g.SetBlink(0)
		layout(s.g)
		s.g.SetActive(2)
		s.settle()
		p := s.g.activePane()
		if p.frame.ID != 2 {
			t.Fatalf("%s: the active pane is of frame %d", name, p.frame.ID)
		}
		stood, others := p.img, map[*Pane]*image.RGBA{}
		was := append([]uint8(nil), stood.Pix...)
		for _, q := range s.g.panes {
			if q != p {
				others[q] = q.img
			}
		}
		seq := s.g.seq
		s.g.Hold(Held{ID: 0, Note: "base frame, while held"})
		if !bytes.Equal(p.img.Pix, s.alone(0, p.w, p.h).Pix) {
			t.Errorf("%s: the base frame is not there at once", name)
		}
		if p.plate.label.Text != "+0" || p.plate.note != "base frame, while held" || p.second.back.Visible() {
			t.Errorf("%s: the label says %q, %q", name, p.plate.label.Text, p.plate.note)
		}
		for q, img := range others {
			if q.img != img {
				t.Errorf("%s: another picture has changed", name)
			}
		}
		s.g.Hold(Held{Plain: true, Note: "as scanned, while held"})
		if !bytes.Equal(p.img.Pix, s.scanned(2, p.w, p.h).Pix) {
			t.Errorf("%s: the scan is not there at once", name)
		}
		if p.plate.label.Text != "+2" || p.plate.note != "as scanned, while held" {
			t.Errorf("%s: the label says %q, %q", name, p.plate.label.Text, p.plate.note)
		}
		s.g.Release()
		if p.img != stood || !bytes.Equal(stood.Pix, was) || p.plate.note != "as scanned" {
			t.Errorf("%s: what stood there does not come back; %q", name, p.plate.note)
		}
		if s.g.seq != seq {
			t.Errorf("%s: %d pictures were asked for", name, s.g.seq-seq)
		}
	}
}

// What is held follows a zoom, and a step takes the scan of the frame that is stepped to.
func TestHoldFollows(t *testing.T) {
	half := render.PerChannel(func() func(int, float32) float32 { return func(_ int, x float32) float32 { return x / 2 } })
	s := newStage(t, 3, 1, 320, 200)
	for i := range s.slots {
		s.slots[i].Picture.Adjust = half
	}
	s.g.SetFrames(s.slots)
	s.g.SetBlink(0)
	s.g.ShowOne(1)
	s.settle()
	p := s.pane(0)
	s.g.Hold(Held{ID: 0})
	s.g.ZoomTo(1.5)
	s.settle()
	if !bytes.Equal(p.img.Pix, s.alone(0, p.w, p.h).Pix) {
		t.Error("magnified, the base frame is not shown")
	}
	s.g.Hold(Held{Plain: true})
	s.settle()
	s.g.ShowOne(2)
	s.settle()
	if !bytes.Equal(p.img.Pix, s.scanned(2, p.w, p.h).Pix) {
		t.Error("after a step the scan of the new frame is not shown")
	}
	s.g.SetFrames(s.slots[:2]) // the frame that is held is gone
	if s.g.Holds() {
		t.Error("what is gone is held")
	}
	s.g.ShowOne(1)
	s.settle()
	if !bytes.Equal(p.img.Pix, s.alone(1, p.w, p.h).Pix) {
		t.Error("after that nothing is right")
	}
}

// A mask that is switched off and on again is there at once, and so is the picture without.
func TestMasksAreSwappedBack(t *testing.T) {
	s := newStage(t, 2, 1, 270, 180)
	for i := range s.slots {
		for k := range s.slots[i].Picture.Look.BlownShare {
			s.slots[i].Picture.Look.BlownShare[k] = uint8(255 * (k / 7 % 2))
		}
	}
	s.g.SetFrames(s.slots)
	s.g.ShowOne(1)
	s.settle()
	s.g.SetMasks(render.Overlay{Blown: true})
	s.settle()
	p := s.pane(0)
	for i, on := range []bool{false, true, false, true} {
		s.g.SetMasks(render.Overlay{Blown: on})
		if s.g.overlay.Scale = 0; !bytes.Equal(p.img.Pix, s.alone(1, p.w, p.h).Pix) {
			t.Errorf("switch %d: the picture is not there at once", i)
		}
		s.settle()
	}
	s.g.ZoomTo(1.2) // what is kept is of another view now
	s.settle()
	s.g.SetMasks(render.Overlay{})
	s.settle()
	if !bytes.Equal(p.img.Pix, s.alone(1, p.w, p.h).Pix) {
		t.Error("magnified, a picture of another view is shown")
	}
	s.g.ShowOne(0)
	s.settle()
	if len(s.g.frames[1].kept) > 0 {
		t.Error("a frame out of sight keeps more than its picture")
	}
}

// Each mask, and two pictures in place of one, are drawn before they are asked for.
func TestSwitchesAreReadyBefore(t *testing.T) {
	s := newStage(t, 3, 1, 640, 400)
	for i := range s.slots {
		for k := range s.slots[i].Picture.Look.BlownShare {
			s.slots[i].Picture.Look.BlownShare[k] = uint8(255 * (k / 7 % 2))
		}
	}
	s.g.SetFrames(s.slots)
	s.g.SetBlink(1)
	s.g.ShowOne(0)
	s.settle()
	for _, o := range []render.Overlay{{Blown: true}, {}, {Blocked: true}, {Blocked: true, Lost: true}, {Lost: true}, {}} {
		s.g.SetMasks(o)
		p := s.pane(0)
		if k := s.g.key(p.frame, p.w, p.h, p.density()); !p.frame.shot.fine(k) || p.img != p.frame.shot.img {
			t.Errorf("the masks %+v were not ready", o)
		}
		s.settle()
	}
	for i := range 3 {
		s.g.ShowPair(1, 0)
		for k, p := range s.g.panes {
			if !p.frame.shot.fine(s.g.key(p.frame, p.w, p.h, p.density())) || p.img != p.frame.shot.img {
				t.Errorf("turn %d: picture %d of two was not ready", i, k)
			}
		}
		s.settle()
		s.g.ShowOne(0)
		if p := s.pane(0); !p.frame.shot.fine(s.g.key(p.frame, p.w, p.h, p.density())) {
			t.Errorf("turn %d: one picture in place of two was not ready", i)
		}
		s.settle()
	}
	for _, f := range s.g.frames {
		if most := s.g.keptShots(f); len(f.kept) > most {
			t.Errorf("frame %d keeps %d pictures, %d are allowed", f.ID, len(f.kept), most)
		}
	}
}

// Of a frame that has nothing on, the scan is what stands there.
func TestHoldWithoutAnythingOn(t *testing.T) {
	s := newStage(t, 2, 1, 320, 200)
	s.g.ShowOne(1)
	s.settle()
	img := s.pane(0).img
	s.g.Hold(Held{Plain: true, Note: "x"})
	if s.pane(0).img != img || s.g.frames[1].plain.img != nil {
		t.Error("a picture was made of what is shown already")
	}
	s.g.Hold(Held{ID: 77})
	if !s.g.Holds() || s.pane(0).img != img {
		t.Error("an unknown frame changes what is held")
	}
}
