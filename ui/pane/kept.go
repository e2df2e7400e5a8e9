package pane

import (
	"image"
	"slices"

	"fyne.io/fyne/v2"

	"stopladder/analysis/show/render"
)

// What is likely to be asked for next is drawn while nobody asks for anything: every mask
// switched on or off, one picture in place of two and two in place of one. Then a switch
// takes nothing but a swap. What was shown before is kept in the same place.

// keptBytes bounds the buffers that are kept so, but for one of a frame out of sight, and
// keptMost their number for a frame: four masks, the other layout, and what was shown before.
const (
	keptBytes = 64 << 20
	keptMost  = 8
)

// keptShots returns how many pictures a frame may keep.
func (g *Group) keptShots(f *frame) int {
	p := g.panes[0]
	if p.w == 0 || p.h == 0 || !has(g.framesInSight(), f) {
		return 1
	}
	return max(1, min(keptMost, keptBytes/(4*p.w*p.h)/max(1, len(g.framesInSight()))))
}

// likely are the frames that are in sight, and the one that two pictures would show beside.
func (g *Group) likely() []*frame {
	fs := g.framesInSight()
	if f := g.frames[g.blink]; f.ready() && !has(fs, f) {
		fs = append(fs, f)
	}
	return fs
}

// keep takes a picture in, the newest first, and lets the oldest go.
func (g *Group) keep(f *frame, s shot) {
	most := g.keptShots(f)
	f.kept = append([]shot{s}, f.kept...)
	for len(f.kept) > most {
		old := f.kept[len(f.kept)-1].img
		f.kept = f.kept[:len(f.kept)-1]
		g.release(old)
	}
}

// worth reports whether the picture that another takes the place of is worth keeping: a
// fine one of a frame that is likely to be seen again as it was.
func (g *Group) worth(f *frame) bool {
	s := f.shot
	return s.img != nil && !s.draft && s.key.mix == 0 && s.key.ver == f.ver && s.key.maps == f.maps && s.key.surround == g.surround && has(g.likely(), f)
}

// restore puts a picture that is kept in its place again, where it is what is wanted.
func (g *Group) restore(f *frame, k shotKey) {
	if f.shot.usable(k) {
		return
	}
	for i, s := range f.kept {
		if !s.fine(k) {
			continue
		}
		was := f.shot
		f.kept = slices.Delete(f.kept, i, i+1)
		if g.worth(f) {
			g.keep(f, was)
		}
		f.shot = s
		g.release(was.img)
		return
	}
}

func (f *frame) keeps(k shotKey) bool {
	for _, s := range f.kept {
		if s.fine(k) {
			return true
		}
	}
	return f.shot.fine(k)
}

// forget lets go of what is kept.
func (f *frame) forget(g *Group) {
	kept := f.kept
	f.kept = nil
	for _, s := range kept {
		g.release(s.img)
	}
}

// stale lets go of kept pictures that no switch brings back.
func (f *frame) stale(g *Group) {
	var left []shot
	kept := f.kept
	for _, s := range kept {
		if s.key.ver == f.ver && s.key.maps == f.maps && s.key.surround == g.surround {
			left = append(left, s)
		}
	}
	f.kept = left
	for _, s := range kept {
		g.release(s.img)
	}
}

// switches lists what a switch may ask for next, and is not there.
func (g *Group) switches() (out []*task) {
	if g.mode == grid || g.fitless() {
		return nil
	}
	for _, f := range g.likely() {
		most := g.keptShots(f)
		f.stale(g)
		n := 0
		add := func(k shotKey) {
			if n++; n <= most && !f.keeps(k) {
				t := g.task(f, k, false)
				t.keep = true
				out = append(out, t)
			}
		}
		p := g.panes[0]
		k := g.key(f, p.w, p.h, p.density())
		if k.diff.on {
			continue
		}
		if w, h, v, ok := g.otherLayout(); ok {
			other := k
			other.w, other.h, other.view = w, h, v
			add(other)
		}
		if g.sees(f.ID) {
			for _, o := range g.toggled() {
				other := k
				other.overlay = o
				add(other)
			}
		}
	}
	return out
}

// fitless reports whether there is nothing to fit pictures into yet.
func (g *Group) fitless() bool { return g.base.Empty() || g.panes[0].w == 0 }

// toggled are the masks with one of them switched.
func (g *Group) toggled() (out []render.Overlay) {
	for _, flip := range []func(*render.Overlay){
		func(o *render.Overlay) { o.Blown = !o.Blown },
		func(o *render.Overlay) { o.Blocked = !o.Blocked },
		func(o *render.Overlay) { o.Lost = !o.Lost },
		func(o *render.Overlay) { o.Noisy = !o.Noisy },
	} {
		o := g.overlay
		flip(&o)
		o.Scale = 0
		if o.Blown || o.Blocked || o.Noisy {
			o.Scale = patternScale(g.panes[0].density())
		}
		out = append(out, o)
	}
	return out
}

// measured is what a pane of a layout measured, device pixels, in a group of that size.
type measured struct {
	size    fyne.Size
	density float64
	w, h    int
}

// otherLayout returns the size of a pane and the view after a turn from one picture to two,
// or back.
func (g *Group) otherLayout() (w, h int, v render.View, ok bool) {
	size, d := g.Size(), g.laid
	w, h = int(float64(size.Width)*d), int(float64(size.Height)*d)
	other := one
	switch {
	case g.mode == one:
		other = pair
		r := cells(2, 2, 1, w, h, int(gap*d+0.5))[0]
		w, h = r.Dx(), r.Dy()
	case g.mode != pair:
		return 0, 0, v, false
	}
	if m := g.measured[other]; m.size == size && m.density == d { // a pixel more or less, and it would not fit
		w, h = m.w, m.h
	}
	port := render.Port{Area: g.base, W: w, H: h}
	if g.fit {
		return w, h, port.Fit(), true
	}
	return w, h, port.Clamp(g.view), true
}

// keptArrived takes a picture in that may be asked for next.
func (g *Group) keptArrived(t *task, img *image.RGBA) {
	f := g.frames[t.id]
	if g.closed || f == nil || !f.ready() || f.prep != t.prep || t.key.ver != f.ver || t.key.maps != f.maps || t.key.surround != g.surround || f.keeps(t.key) || !has(g.likely(), f) {
		g.queue.bufs.put(img)
		return
	}
	g.keep(f, shot{key: t.key, seq: t.seq, img: img})
	g.schedule()
}
