package pane

import "stopladder/analysis/show/render"

// port returns the arithmetic of views for a pane.
func (g *Group) port(p *Pane) render.Port { return render.Port{Area: g.base, W: p.w, H: p.h} }

// reference returns the pane that limits and commands refer to: the one under the
// cursor, else the active one, else the first.
func (g *Group) reference() *Pane {
	if g.hovered != nil {
		for _, p := range g.panes {
			if p == g.hovered {
				return p
			}
		}
	}
	for _, p := range g.panes {
		if p.frame != nil && p.frame.ID == g.active {
			return p
		}
	}
	return g.panes[0]
}

// focal returns where a zoom command holds the picture: at the cursor when it is
// over a pane, else in the middle.
func (g *Group) focal() (p *Pane, x, y float64) {
	p = g.reference()
	if p == g.hovered {
		x, y = p.device(p.cursor)
		return p, x, y
	}
	return p, float64(p.w) / 2, float64(p.h) / 2
}

// View returns the shared view.
func (g *Group) View() render.View { return g.view }

// Seen returns the view and the size in device pixels of the picture that it is of.
func (g *Group) Seen() (v render.View, w, h int) {
	p := g.reference()
	return g.view, p.w, p.h
}

// Fitted reports whether the view follows the size of the panes.
func (g *Group) Fitted() bool { return g.fit }

// SetView shows v, clamped, and renders it finely at once.
func (g *Group) SetView(v render.View) {
	g.fit = false
	g.setView(g.port(g.panes[0]).Clamp(v))
	g.schedule()
}

// setView takes a view over; the caller schedules.
func (g *Group) setView(v render.View) {
	if v == g.view {
		return
	}
	g.view = v
	if g.OnView != nil {
		g.OnView(g.view, g.fit)
	}
}

// refit follows the panes' size while the view is fitted, and keeps other views
// in their limits.
func (g *Group) refit() {
	p := g.panes[0]
	if g.base.Empty() || p.w == 0 {
		return
	}
	if g.fit {
		g.setView(g.port(p).Fit())
		return
	}
	g.setView(g.port(p).Clamp(g.view))
}

// Fit shows the whole image area and keeps to it when the window is resized.
func (g *Group) Fit() {
	was := g.fit
	g.fit = true
	g.refit()
	if !was && g.OnView != nil {
		g.OnView(g.view, true)
	}
	g.schedule()
}

// OneToOne shows one device pixel per pixel of the base frame, at the cursor
// or in the middle.
func (g *Group) OneToOne() { g.ZoomTo(1) }

// ZoomTo shows zoom device pixels per pixel of the base frame, at the cursor or
// in the middle.
func (g *Group) ZoomTo(zoom float64) {
	p, x, y := g.focal()
	if p.w == 0 || g.base.Empty() {
		return
	}
	g.fit = false
	g.setView(g.port(p).ZoomTo(g.view, x, y, zoom))
	g.schedule()
}

// zoomStep is the factor of one zoom command or two wheel notches.
const zoomStep = 1.4142135623730951

// ZoomIn magnifies by half a stop of side length, at the cursor or in the middle.
func (g *Group) ZoomIn() { p, x, y := g.focal(); g.zoomAt(p, x, y, zoomStep) }

// ZoomOut reverses ZoomIn.
func (g *Group) ZoomOut() { p, x, y := g.focal(); g.zoomAt(p, x, y, 1/zoomStep) }

// zoomAt zooms in motion and stops at exactly 1:1 when it would step over it:
// only there does the screen show the pixels of the file.
func (g *Group) zoomAt(p *Pane, x, y, factor float64) {
	if p.w == 0 || g.base.Empty() {
		return
	}
	port := g.port(p)
	const near = 1e-9
	from, to := g.view.Zoom, g.view.Zoom*factor
	g.fit = false
	if from < 1-near && to > 1-near || from > 1+near && to < 1+near {
		g.setView(port.OneToOne(g.view, x, y))
	} else {
		g.setView(port.ZoomAt(g.view, x, y, factor))
	}
	g.move()
	g.schedule()
}

// panBy moves the picture by device pixels, in motion.
func (g *Group) panBy(p *Pane, dx, dy float64) {
	if p.w == 0 || g.base.Empty() || dx == 0 && dy == 0 {
		return
	}
	g.fit = false
	g.setView(g.port(p).Pan(g.view, dx, dy))
	g.move()
	g.schedule()
}

// PanBy moves the view by a share of a pane's width and height: positive
// values look further right and down. It is for keys.
func (g *Group) PanBy(across, down float64) {
	p := g.reference()
	g.panBy(p, -across*float64(p.w), -down*float64(p.h))
}
