package pane

import (
	"stopladder/analysis/show/render"

	"golang.org/x/image/math/f64"
)

// difference says that panes show differences.
type difference struct {
	on      bool
	against int
	look    render.DifferenceOptions
}

// SetDifference shows every frame in sight as its difference against a frame;
// that frame itself is shown as it is, and so is every frame until that one is
// read.
func (g *Group) SetDifference(on bool, against int) {
	d := difference{on: on, against: against, look: g.diff.look}
	if d == g.diff {
		return
	}
	g.diff = d
	g.schedule()
	g.caption()
}

// Difference returns whether differences are shown, and against which frame.
func (g *Group) Difference() (on bool, against int) { return g.diff.on, g.diff.against }

// SetDifferenceLook sets how differences are shown.
func (g *Group) SetDifferenceLook(o render.DifferenceOptions) {
	if g.diff.look == o {
		return
	}
	g.diff.look = o
	g.schedule()
	g.caption()
}

// differs returns against which frame f is shown, nil when it is shown as it is.
func (g *Group) differs(f *frame) *frame {
	if !g.diff.on || f == nil || f.ID == g.diff.against {
		return nil
	}
	if a := g.frames[g.diff.against]; a.ready() {
		return a
	}
	return nil
}

// SetMaps sets where frames lie: base pixels to the frame's own, in full
// resolution. Frames that are not mentioned keep theirs. A map holds until the
// frame's picture is of another scan; a Slot's own ToThis goes before it.
func (g *Group) SetMaps(maps map[int]f64.Aff3) {
	changed := false
	for id, m := range maps {
		f := g.frames[id]
		if f == nil || f.mapped != nil && *f.mapped == m {
			continue
		}
		was := f.place(g.base)
		f.mapped = &m
		if f.place(g.base) != was {
			f.maps++
			changed = true
		}
	}
	if changed {
		if g.diff.on && g.diff.look.Kind == render.DifferenceColour {
			g.move() // it takes long: drafts while it is nudged
		}
		g.schedule()
		g.caption()
	}
}
