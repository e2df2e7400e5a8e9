package pane

import (
	"image"
	"time"

	"stopladder/analysis/show/render"
)

// BetweenSpec says how a picture between two frames is made and what its chip
// says.
type BetweenSpec struct {
	Label string // e.g. "+0.4"
	Note  string // e.g. "interpolated from 0 and +1"
	// Tables gives those of render.Between, in a worker and only for a picture that
	// is drawn; safe for concurrent use. It is not asked when both frames are the
	// same: then the picture is its own.
	Tables func() (lower, upper *[3][]uint32)
	// Upper is the upper frame's share of the look: where the two are shown with
	// corrections of their own the picture between has one between them.
	Upper float64
}

// mix is a picture between two frames in a pane.
type mix struct {
	lower, upper int
	spec         BetweenSpec
	number       uint64      // counts specs
	shot         shot        // newest picture
	said         BetweenSpec // of shot
}

// slowMix is the time for a picture between frames above which the marker is
// followed with drafts. Thirty pictures a second leave 33 ms for each, of which a
// toolkit without a graphics card takes up to 20 on the same processors.
const slowMix = 12 * time.Millisecond

// samplerBudget bounds the code values kept at device pixels: those of six
// frames in a pane of 2560 x 1440.
const samplerBudget = 6 * 6 * 2560 * 1440

// ShowBetween shows a picture between two frames in place of a frame: in the
// only pane, or in the active one of a pair. Each call is a new position of the
// marker; calls may come faster than pictures, the newest one counts. ShowOne,
// ShowPair, ShowGrid and EndBetween end it. Nothing happens in a grid, or when
// one of the frames is not known; while one of them is not read yet the pane
// shows the frame that it showed before.
func (g *Group) ShowBetween(lower, upper int, b BetweenSpec) {
	if g.closed || g.mode == grid || len(g.sight) == 0 || g.frames[lower] == nil || g.frames[upper] == nil {
		return
	}
	p := g.glidePane()
	for i, q := range g.panes {
		if q == p {
			if g.sight[i] != lower && g.sight[i] != upper {
				g.sight[i] = lower
			}
			p.frame = g.frames[g.sight[i]]
		}
	}
	if p.mix == nil {
		p.mix = &mix{}
	}
	g.seq++
	p.mix.lower, p.mix.upper, p.mix.spec, p.mix.number = lower, upper, b, g.seq
	g.move()
	g.outline()
	g.schedule()
}

// glidePane returns the pane that shows pictures between frames: the one that does
// so already, else the active one, else the last.
func (g *Group) glidePane() *Pane {
	for _, p := range g.panes {
		if p.mix != nil {
			return p
		}
	}
	for i := len(g.panes) - 1; i >= 0; i-- {
		if p := g.panes[i]; p.frame != nil && p.frame.ID == g.active {
			return p
		}
	}
	return g.panes[len(g.panes)-1]
}

// EndBetween goes back to the frame that the pane belongs to.
func (g *Group) EndBetween() {
	if g.dropMixes() {
		g.schedule()
		g.caption()
	}
}

// Between returns the frames of the picture between frames that is shown or on
// its way.
func (g *Group) Between() (lower, upper int, ok bool) {
	for _, p := range g.panes {
		if p.mix != nil {
			return p.mix.lower, p.mix.upper, true
		}
	}
	return 0, 0, false
}

func (g *Group) dropMixes() (any bool) {
	for _, p := range g.panes {
		if p.mix != nil {
			p.mix, any = nil, true
		}
	}
	return any
}

// mixFrames returns the two frames of a pane's mix, when both can be shown.
func (g *Group) mixFrames(p *Pane) (lower, upper *frame, ok bool) {
	if p.mix == nil {
		return nil, nil, false
	}
	lower, upper = g.frames[p.mix.lower], g.frames[p.mix.upper]
	return lower, upper, lower.ready() && upper.ready()
}

func (g *Group) mixKey(p *Pane, lower, upper *frame) shotKey {
	o := g.overlay
	o.Noisy = false
	if o.Blown || o.Blocked {
		o.Scale = p.density()
	}
	return shotKey{view: g.view, w: p.w, h: p.h, overlay: o, ver: lower.ver, maps: lower.maps,
		surround: g.surround,
		mix:      p.mix.number, otherVer: upper.ver, otherMaps: upper.maps}
}

// mixTask lists the picture that a pane's mix still wants, nil when none.
func (g *Group) mixTask(p *Pane, lower, upper *frame) *task {
	m, k := p.mix, g.mixKey(p, lower, upper)
	if m.shot.usable(k) && p.held == nil {
		p.swap(m.shot.img)
	}
	if m.shot.fine(k) || g.moving && m.shot.usable(k) {
		return nil
	}
	t := g.task(lower, k, g.moving && g.mixTime > slowMix)
	t.mix, t.spec, t.exact, t.after = m, m.spec, lower == upper, m.shot.seq
	t.other, t.otherPrep = g.pic(upper), upper.prep
	return t
}

// mixArrived takes a picture between frames over. The marker may have gone on
// meanwhile: whatever is newer than what stands there is progress.
func (g *Group) mixArrived(t *task, img *image.RGBA) {
	for _, p := range g.panes {
		if g.closed || p.mix == nil || p.mix != t.mix || p.w != t.key.w || p.h != t.key.h || t.seq <= p.mix.shot.seq {
			continue
		}
		was := p.mix.shot.img
		p.mix.shot = shot{key: t.key, seq: t.seq, img: img, draft: t.draft}
		p.mix.said = t.spec
		if !t.draft {
			// The mean of some pictures: one may have had to take samples anew.
			g.mixTime += (t.took - g.mixTime) / 4
		}
		if p.held == nil {
			p.swap(img)
			p.caption()
		}
		g.release(was)
		g.schedule()
		return
	}
	g.queue.bufs.put(img)
	g.schedule()
}

// draw renders a task's picture.
func (q *queue) draw(t *task, img *image.RGBA) {
	k := t.key
	switch {
	case t.mix != nil:
		if t.exact {
			t.prep.prepare(&t.pic)
		} else {
			t.prep.codes(&t.pic)
			t.otherPrep.codes(&t.other)
		}
		b := &render.Between{Lower: t.pic, Upper: t.other, Exact: t.exact}
		if !t.exact && t.spec.Tables != nil {
			b.LowerTable, b.UpperTable = t.spec.Tables()
		}
		if !t.exact {
			b.Lower.Adjust = render.Blend(t.pic.Adjust, t.other.Adjust, t.spec.Upper)
		}
		from := time.Now()
		q.sampler.Between(img, b, k.view, k.overlay, t.draft)
		t.took = time.Since(from)
	case k.diff.on:
		t.prep.codes(&t.pic)
		t.otherPrep.codes(&t.other)
		q.sampler.Difference(img, t.pic, t.other, k.view, k.diff.look, t.draft)
	default:
		t.prep.prepare(&t.pic)
		if t.draft {
			render.Draft(img, t.pic, k.view, k.overlay)
		} else {
			render.Render(img, t.pic, k.view, k.overlay)
		}
	}
}
