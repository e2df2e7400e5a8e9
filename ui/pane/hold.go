package pane

import "image"

// Held is what stands in a picture's place while a key is held.
type Held struct {
	Plain bool   // the frame at the marker as it was scanned, in place of frame ID
	ID    int    // the frame that is shown
	Note  string // on its label
}

// held is a pane's.
type held struct {
	frame *frame
	plain bool
	note  string
}

// Hold shows something in the place of the active picture until Release. What was kept
// ready (SetBlink) is there at once.
func (g *Group) Hold(h Held) {
	p := g.activePane()
	f := g.frames[h.ID]
	if h.Plain {
		f = p.frame
	}
	if f == nil || g.closed {
		return
	}
	g.Release()
	p.held = &held{frame: f, plain: h.Plain, note: h.Note}
	g.schedule()
	g.caption()
	g.placeEdges()
}

// Release takes away what Hold shows.
func (g *Group) Release() {
	any := false
	for _, p := range g.panes {
		any = any || p.held != nil
		p.held = nil
	}
	if any {
		g.schedule()
		g.caption()
		g.placeEdges()
	}
}

// Holds reports whether something is held.
func (g *Group) Holds() bool {
	for _, p := range g.panes {
		if p.held != nil {
			return true
		}
	}
	return false
}

// SetBlink names the frame that is kept ready before all others out of sight, -1 for none:
// it is what Hold will show. The active frame as it was scanned is kept ready as well.
func (g *Group) SetBlink(id int) {
	if g.blink != id {
		g.blink = id
		g.schedule()
	}
}

// activePane returns the pane at the marker.
func (g *Group) activePane() *Pane { return g.glidePane() }

// target returns the frame that a pane shows.
func (p *Pane) target() *frame {
	if p.held != nil {
		return p.held.frame
	}
	return p.frame
}

// plainly reports whether the pane shows its frame as it was scanned.
func (p *Pane) plainly() bool { return p.held != nil && p.held.plain }

// plainKey returns what a picture of a frame depends on that is shown as it was scanned.
func (g *Group) plainKey(f *frame, w, h int) shotKey {
	return shotKey{view: g.view, w: w, h: h, ver: f.ver, maps: f.maps, surround: g.surround}
}

// dressed reports whether a frame is shown as anything but its scan.
func (g *Group) dressed(f *frame) bool {
	o := g.overlay
	return f.Picture.Adjust != nil || o.Blown || o.Blocked || o.Noisy || o.Lost || o.Dust || g.differs(f) != nil
}

// plainTask renders a frame as it was scanned.
func (g *Group) plainTask(f *frame, w, h int, draft bool) *task {
	g.seq++
	t := &task{id: f.ID, key: g.plainKey(f, w, h), seq: g.seq, draft: draft, pic: g.pic(f), prep: f.prep, plain: true}
	t.pic.Adjust = nil
	return t
}

// heldTask shows what a pane holds, where it is ready, and returns what is wanted.
func (g *Group) heldTask(p *Pane) *task {
	f := p.held.frame
	if !f.ready() {
		return nil
	}
	if p.held.plain && g.dressed(f) {
		k := g.plainKey(f, p.w, p.h)
		if f.plain.usable(k) {
			p.swap(f.plain.img)
		}
		if f.plain.fine(k) || g.moving && f.plain.usable(k) {
			return nil
		}
		return g.plainTask(f, p.w, p.h, g.moving)
	}
	k := g.key(f, p.w, p.h, p.density())
	if f.shot.usable(k) {
		p.swap(f.shot.img)
	}
	if f.shot.fine(k) || g.moving && f.shot.usable(k) {
		return nil
	}
	return g.task(f, k, g.moving)
}

// plainAhead lists what is to be kept ready of the active frame as it was scanned.
func (g *Group) plainAhead() []*task {
	p := g.activePane()
	for _, f := range g.frames {
		if len(f.kept) > 0 && !g.sees(f.ID) && f.ID != g.blink {
			f.forget(g)
		}
		if f != p.frame && f.plain.img != nil {
			img := f.plain.img
			f.plain = shot{}
			g.release(img)
		}
	}
	f := p.frame
	if p.w == 0 || g.base.Empty() || !f.ready() || !g.dressed(f) || f.plain.fine(g.plainKey(f, p.w, p.h)) {
		return nil
	}
	return []*task{g.plainTask(f, p.w, p.h, false)}
}

// plainArrived takes a picture of a frame over as it was scanned.
func (g *Group) plainArrived(t *task, img *image.RGBA) {
	f := g.frames[t.id]
	if g.closed || f == nil || !f.ready() || f.prep != t.prep || t.seq <= f.plain.seq || f.plain.fine(g.plainKey(f, t.key.w, t.key.h)) {
		g.queue.bufs.put(img)
		return
	}
	was := f.plain.img
	f.plain = shot{key: t.key, seq: t.seq, img: img, draft: t.draft}
	for _, p := range g.panes {
		if p.plainly() && p.held.frame == f && p.w == t.key.w && p.h == t.key.h {
			p.swap(img)
		}
	}
	g.release(was)
	g.schedule()
	g.caption()
}
