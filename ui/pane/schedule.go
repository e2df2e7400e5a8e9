package pane

import (
	"cmp"
	"image"
	"math"
	"slices"
	"time"

	"stopladder/analysis/show/render"
)

// move marks the view as in motion: drafts are rendered until it rests. It
// returns false when the group is closed.
func (g *Group) move() bool {
	if g.closed {
		return false
	}
	g.moving = true
	if g.timer == nil {
		g.timer = time.AfterFunc(g.opts.Rest, func() { g.opts.Do(g.rested) })
	} else {
		g.timer.Reset(g.opts.Rest)
	}
	return true
}

func (g *Group) rested() {
	if g.closed {
		return
	}
	g.moving = false
	g.schedule()
	g.caption()
}

// key returns what a pane wants of its frame.
func (g *Group) key(f *frame, w, h int, density float64) shotKey {
	o := g.overlay
	if o.Blown || o.Blocked || o.Noisy {
		o.Scale = patternScale(density)
	}
	k := shotKey{view: g.view, w: w, h: h, overlay: o, ver: f.ver, maps: f.maps, surround: g.surround}
	if a := g.differs(f); a != nil {
		k.overlay, k.diff = render.Overlay{}, g.diff
		k.otherVer, k.otherMaps = a.ver, a.maps
	}
	return k
}

// patternScale is the scale of the masks' patterns: that of the pane, but for what rounding to
// whole pixels makes of it, which differs from one layout to another and would have what is
// drawn for one fit no other.
func patternScale(density float64) float64 { return math.Round(density*32) / 32 }

// keyOf returns what the first pane wants of a frame; of one that is not there nothing.
func (g *Group) keyOf(id int) shotKey {
	p, f := g.panes[0], g.frames[id]
	if f == nil {
		return shotKey{}
	}
	return g.key(f, p.w, p.h, p.density())
}

// schedule shows what is ready and asks for what is not.
func (g *Group) schedule() {
	if g.closed {
		return
	}
	g.placeSpots()
	now := g.inSight()
	if len(now) > 0 || g.moving {
		g.queue.set(now, nil)
		return
	}
	if g.wantDetails() {
		now = g.inSight()
	}
	g.queue.set(now, g.ahead())
}

// inSight swaps in what is ready for the panes and lists what is not.
func (g *Group) inSight() []*task {
	var now []*task
	want := func(t *task) {
		if t != nil {
			now = append(now, t)
		}
	}
	for _, p := range g.panes {
		f := p.frame
		if p.held != nil && p.held.frame.ready() && p.w > 0 && !g.base.Empty() {
			want(g.heldTask(p))
			if lower, upper, ok := g.mixFrames(p); ok { // what comes back must be there at once, too
				want(g.mixTask(p, lower, upper))
			} else if f.ready() {
				if k := g.key(f, p.w, p.h, p.density()); !f.shot.fine(k) && !(g.moving && f.shot.usable(k)) && (p.held.plain && g.dressed(f) || p.held.frame != f) {
					want(g.task(f, k, g.moving))
				}
			}
			continue
		}
		if !f.ready() {
			p.placeholder()
			continue
		}
		if p.w == 0 || g.base.Empty() {
			continue
		}
		if p.under != nil && p.under != f && p.under.ready() {
			k := g.key(p.under, p.w, p.h, p.density())
			if s := p.under.shot; !s.fine(k) && !(g.moving && s.usable(k)) {
				want(g.task(p.under, k, g.moving))
			}
		}
		if lower, upper, ok := g.mixFrames(p); ok {
			want(g.mixTask(p, lower, upper))
			continue
		}
		k := g.key(f, p.w, p.h, p.density())
		g.restore(f, k)
		if f.shot.usable(k) {
			p.swap(f.shot.img)
		}
		if !f.shot.fine(k) && !(g.moving && f.shot.usable(k)) {
			now = append(now, g.task(f, k, g.moving))
		}
	}
	// What has waited longest goes first: of two pictures that follow a hand none waits for
	// the other to rest.
	slices.SortStableFunc(now, func(a, b *task) int { return cmp.Compare(a.after, b.after) })
	return now
}

// pic returns the render picture of a frame.
func (g *Group) pic(f *frame) render.Picture {
	p := f.picture(g.base)
	p.Surround = g.surround
	return p
}

func (g *Group) task(f *frame, k shotKey, draft bool) *task {
	g.seq++
	t := &task{id: f.ID, key: k, seq: g.seq, draft: draft, pic: g.pic(f), prep: f.prep, after: f.shot.seq}
	if a := g.differs(f); k.diff.on && a != nil {
		t.other, t.otherPrep = a.picture(g.base), a.prep
	}
	return t
}

// aheadBytes bounds the buffers that are rendered ahead: sixteen frames of a
// 2560 x 1440 window.
const aheadBytes = 256 << 20

// ahead lists the frames out of sight, nearest first, at the size of the panes:
// stepping to one of them is then a mere swap.
func (g *Group) ahead() []*task {
	if g.mode == grid {
		return g.plainAhead()
	}
	p := g.panes[0]
	if p.w == 0 || g.base.Empty() {
		return nil
	}
	out := g.plainAhead()
	room := aheadBytes / (4 * p.w * p.h)
	for _, f := range g.neighbours() {
		if room--; room < 0 {
			f.drop(g)
			continue
		}
		if k := g.key(f, p.w, p.h, p.density()); !f.shot.fine(k) {
			out = append(out, g.task(f, k, false))
		}
	}
	if len(out) > 0 {
		return out
	}
	if out = g.switches(); len(out) > 0 {
		return out
	}
	// What the marker may glide to first.
	for i, f := range append(g.framesInSight(), g.neighbours()...) {
		if k := (warmKey{g.view.Zoom, p.w, p.h}); i < 4 && f.warmed != k {
			f.warmed = k
			t := g.task(f, g.key(f, p.w, p.h, p.density()), false)
			t.warm = true
			out = append(out, t)
		}
	}
	return out
}

func (g *Group) framesInSight() (fs []*frame) {
	for _, p := range g.panes {
		for _, f := range [2]*frame{p.frame, p.under} {
			if f.ready() && !has(fs, f) {
				fs = append(fs, f)
			}
		}
	}
	return fs
}

// drop frees a shot that nobody shows.
func (f *frame) drop(g *Group) {
	img := f.shot.img
	f.shot = shot{}
	g.release(img)
	f.forget(g)
}

// neighbours returns the frames out of sight that can be shown, nearest to the
// frames in sight first.
func (g *Group) neighbours() []*frame {
	at := map[int]int{}
	for i, id := range g.order {
		at[id] = i
	}
	var out []*frame
	if f := g.frames[g.blink]; f.ready() && !g.sees(f.ID) {
		out = append(out, f)
	}
	for d := 1; d < len(g.order); d++ {
		for _, id := range g.sight {
			i, known := at[id]
			if !known {
				continue
			}
			for _, j := range [2]int{i + d, i - d} {
				if j >= 0 && j < len(g.order) {
					if f := g.frames[g.order[j]]; f.ready() && !g.sees(f.ID) && !has(out, f) {
						out = append(out, f)
					}
				}
			}
		}
	}
	return out
}

func has(fs []*frame, f *frame) bool {
	for _, x := range fs {
		if x == f {
			return true
		}
	}
	return false
}

func (g *Group) sees(id int) bool {
	for _, s := range g.sight {
		if s == id {
			return true
		}
	}
	return g.mode == edged && id == g.under
}

// arrived takes a rendered picture over, unless something newer stands already
// or the picture is of a view that is no longer wanted.
func (g *Group) arrived(t *task, img *image.RGBA) {
	switch {
	case t.mix != nil:
		g.mixArrived(t, img)
		return
	case t.plain:
		g.plainArrived(t, img)
		return
	case t.keep && t.key != g.keyOf(t.id):
		g.keptArrived(t, img)
		return
	}
	f := g.frames[t.id]
	if g.closed || f == nil || !f.ready() || f.prep != t.prep {
		g.queue.bufs.put(img)
		return
	}
	if !g.welcome(f, t) {
		g.queue.bufs.put(img)
		g.schedule()
		return
	}
	was := f.shot.img
	if g.worth(f) {
		g.keep(f, f.shot)
	}
	f.shot = shot{key: t.key, seq: t.seq, img: img, draft: t.draft}
	for _, p := range g.panes {
		switch {
		case p.w != t.key.w || p.h != t.key.h || p.plainly():
		case p.target() == f && !(p.mix != nil && p.held == nil):
			p.swap(img)
		case p.under == f && p.held == nil && p.main != nil:
			p.swap(p.main)
		}
	}
	g.release(was)
	g.schedule()
	g.caption()
}

// welcome reports whether a result may be shown. At rest only exactly what is
// wanted counts. In motion a view that has gone on meanwhile is still progress,
// so long as it is newer than what stands there.
func (g *Group) welcome(f *frame, t *task) bool {
	p, visible := g.panes[0], false
	for _, q := range g.panes {
		if q.target() == f || q.under == f {
			p, visible = q, true
			break
		}
	}
	k := g.key(f, p.w, p.h, p.density())
	if t.key == k {
		return !f.shot.fine(k) && !(t.draft && f.shot.usable(k))
	}
	if !visible || t.seq <= f.shot.seq || f.shot.usable(k) {
		return false
	}
	// A frame that is being nudged, or corrected by a slide, goes on as well.
	moved := t.key
	moved.maps, moved.otherMaps = k.maps, k.otherMaps
	if g.moving {
		moved.view = k.view
	}
	return moved == k
}

// release gives a buffer back when neither a pane nor a frame holds it.
func (g *Group) release(img *image.RGBA) {
	if img == nil {
		return
	}
	for _, p := range g.panes {
		if p.img == img || p.main == img || p.join.other == img || p.join.main == img {
			return
		}
	}
	for _, f := range g.frames {
		if f.shot.img == img || f.plain.img == img {
			return
		}
		for _, s := range f.kept {
			if s.img == img {
				return
			}
		}
	}
	g.queue.bufs.put(img)
}

// leave is called when a pane goes out of use.
func (g *Group) leave(p *Pane) {
	if g.hovered == p {
		g.hovered = nil
	}
}

// Settled reports whether everything in sight is finely rendered and no work is
// queued. It is for tests and for pictures of the window.
func (g *Group) Settled() bool {
	if g.moving || !g.queue.quiet() {
		return false
	}
	for _, p := range g.panes {
		if f := p.under; f.ready() && p.w > 0 && !g.base.Empty() && (!f.shot.fine(g.key(f, p.w, p.h, p.density())) || g.missing(f, p.w, p.h)) {
			return false
		}
		if p.plainly() && g.dressed(p.held.frame) && p.w > 0 && p.held.frame.ready() {
			if f := p.held.frame; !f.plain.fine(g.plainKey(f, p.w, p.h)) || p.img != f.plain.img {
				return false
			}
		}
		if lower, upper, ok := g.mixFrames(p); ok && p.w > 0 && !g.base.Empty() {
			if !p.mix.shot.fine(g.mixKey(p, lower, upper)) || g.missing(lower, p.w, p.h) || g.missing(upper, p.w, p.h) {
				return false
			}
			continue
		}
		if p.frame.ready() && !g.base.Empty() && p.w > 0 {
			if !p.frame.shot.fine(g.key(p.frame, p.w, p.h, p.density())) {
				return false
			}
			if g.missing(p.frame, p.w, p.h) {
				return false
			}
		}
	}
	return true
}

// detailReach is how many neighbours on each side full resolution is read for.
const detailReach = 2

// wantDetails asks for full resolution of the frames in sight, then of their
// neighbours. It returns true when some was at hand and a picture changed.
func (g *Group) wantDetails() (changed bool) {
	if g.details == nil {
		return false
	}
	var keys []any
	ask := func(f *frame, w, h, priority int) {
		if !f.ready() || w == 0 || slices.Contains(keys, any(f.ID)) {
			return
		}
		r, step, ok := render.Wanted(f.picture(g.base), g.view, w, h)
		if !ok {
			f.detail = nil // what is shown does not change by it
			return
		}
		if f.Open == nil || f.detailErr != nil || f.covers(r, step) {
			return
		}
		keys = append(keys, f.ID)
		d := g.details.Request(render.DetailRequest{Key: f.ID, Open: f.Open, Look: f.Picture.Look, Rect: r, Step: step, Priority: priority})
		if d != nil {
			f.takeDetail(d)
			changed = true
		}
	}
	for _, p := range g.panes {
		ask(p.target(), p.w, p.h, 1001)
		ask(p.frame, p.w, p.h, 1000)
		if p.under != nil {
			ask(p.under, p.w, p.h, 999)
		}
	}
	if g.mode != grid {
		for i, f := range g.neighbours() {
			if i < 2*detailReach {
				ask(f, g.panes[0].w, g.panes[0].h, 100-i)
			} else {
				f.detail = nil
			}
		}
	}
	g.details.Only(keys...)
	return changed
}

// covers reports whether the frame has the detail that is wanted.
func (f *frame) covers(r image.Rectangle, step int) bool {
	return f.detail != nil && f.detail.Covers(r) && f.detail.Step <= step && 2*f.detail.Step > step
}

func (f *frame) takeDetail(d *render.Detail) {
	if f.detail != d {
		f.detail = d
		f.ver++
	}
}

// missing reports whether full resolution is wanted and on its way.
func (g *Group) missing(f *frame, w, h int) bool {
	if g.details == nil || !f.ready() || f.Open == nil || f.detailErr != nil {
		return false
	}
	r, step, ok := render.Wanted(f.picture(g.base), g.view, w, h)
	return ok && !f.covers(r, step)
}

// sharpness returns what the chip says while the preview stands in for the scan.
func (g *Group) sharpness(p *Pane) string {
	f := p.shown
	if !f.ready() || p.w == 0 || g.base.Empty() || g.moving {
		return ""
	}
	r, step, ok := render.Wanted(f.picture(g.base), g.view, p.w, p.h)
	d := f.picture(g.base).Detail
	switch {
	case !ok || d != nil && d.Covers(r) && 2*d.Step > step && d.Step <= step:
		if render.Resampled(f.picture(g.base), g.view, p.w, p.h) {
			return "resampled"
		}
		return ""
	case f.detailErr != nil, f.Open == nil, g.details == nil:
		return "preview only"
	}
	return "reading full resolution"
}

func (g *Group) caption() {
	for _, p := range g.panes {
		p.caption()
	}
}

// detailRead is called in the loader's goroutine.
func (g *Group) detailRead(r render.DetailResult) {
	g.opts.Do(func() {
		id, _ := r.Key.(int)
		f := g.frames[id]
		if g.closed || f == nil {
			return
		}
		if r.Err != nil {
			f.detailErr = r.Err
			if g.OnDetail != nil {
				g.OnDetail(id, r.Err)
			}
		} else if f.Picture.Look == r.Look {
			f.takeDetail(r.Detail)
		}
		g.schedule()
		g.caption()
	})
}
