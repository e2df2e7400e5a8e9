// Package render draws the visible part of a frame into a buffer of exact
// device size: from the preview when it is zoomed out, from full-resolution
// code values where they are at hand, with the masks Blown, Blocked and Noisy
// blended last. It knows nothing of windows.
//
// Three coordinate systems meet here. Device pixels are those of the buffer.
// Base pixels are full-resolution pixels of the upright base frame. Frame
// pixels are full-resolution pixels of the frame being drawn. In all of them
// pixel i covers the half-open interval [i, i+1).
package render

import (
	"image"
	"math"

	"stopladder/analysis/numeric/affine"

	"golang.org/x/image/math/f64"
)

// MaxZoom is the greatest magnification: 16 device pixels for one pixel of the
// base frame. A picture so small that it fits at more may be shown at its fit.
const MaxZoom = 16

// overhang is how much of the buffer, or of the image area where that is larger,
// may be moved past the edge: enough to look at the film border and the scan's
// edge, too little to lose the picture out of sight.
const overhang = 0.1

// View says what part of the scene is looked at. All frames share one View.
type View struct {
	U, V float64 // centre in the base frame's image area: 0..1 across, a little outside allowed
	Zoom float64 // device pixels per full-resolution pixel of the base frame
}

// Port is a buffer that looks at the base frame: the arithmetic of views needs
// both the buffer's size and the area that U and V refer to.
type Port struct {
	Area image.Rectangle // image area of the base frame, base pixels
	W, H int             // device pixels
}

// usable reports whether the port has an area and a size to work with.
func (p Port) usable() bool { return !p.Area.Empty() && p.W > 0 && p.H > 0 }

// Fit shows the whole image area, centred.
func (p Port) Fit() View {
	v := View{U: 0.5, V: 0.5, Zoom: 1}
	if p.usable() {
		v.Zoom = math.Min(float64(p.W)/float64(p.Area.Dx()), float64(p.H)/float64(p.Area.Dy()))
	}
	return v
}

// ZoomLimits returns the least and the greatest zoom: a little below fit, but
// never so that 1:1 is out of reach, to MaxZoom.
func (p Port) ZoomLimits() (least, most float64) {
	fit := p.Fit().Zoom
	return math.Min(0.8*fit, 1), math.Max(MaxZoom, fit)
}

// Clamp brings a view into its limits; a view that holds no numbers becomes Fit.
func (p Port) Clamp(v View) View {
	if !finite(v.U) || !finite(v.V) || !finite(v.Zoom) || v.Zoom <= 0 {
		return p.Fit()
	}
	least, most := p.ZoomLimits()
	v.Zoom = math.Min(math.Max(v.Zoom, least), most)
	if !p.usable() {
		return v
	}
	u, w := p.reach(v.Zoom)
	v.U = math.Min(math.Max(v.U, 0.5-u), 0.5+u)
	v.V = math.Min(math.Max(v.V, 0.5-w), 0.5+w)
	return v
}

// reach returns how far the centre may lie from the area's middle at a zoom. A picture
// smaller than the buffer stays in it, a larger one covers it, but for the overhang;
// the two meet where they are of one size.
func (p Port) reach(zoom float64) (u, v float64) {
	side := func(area, port int) float64 {
		s, w := float64(area)*zoom, float64(port)
		return (math.Abs(s-w)/2 + overhang*math.Max(s, w)) / s
	}
	return side(p.Area.Dx(), p.W), side(p.Area.Dy(), p.H)
}

func finite(f float64) bool { return !math.IsNaN(f) && !math.IsInf(f, 0) }

// centre returns the view's centre in base pixels.
func (p Port) centre(v View) (x, y float64) {
	return float64(p.Area.Min.X) + v.U*float64(p.Area.Dx()), float64(p.Area.Min.Y) + v.V*float64(p.Area.Dy())
}

// centredAt returns v with its centre moved to base pixel coordinates x, y.
func (p Port) centredAt(v View, x, y float64) View {
	if p.Area.Empty() {
		return v
	}
	v.U = (x - float64(p.Area.Min.X)) / float64(p.Area.Dx())
	v.V = (y - float64(p.Area.Min.Y)) / float64(p.Area.Dy())
	return v
}

// ZoomAt multiplies the zoom by factor and keeps what lies at device position
// px, py in its place, as far as the limits allow.
func (p Port) ZoomAt(v View, px, py, factor float64) View {
	v = p.Clamp(v)
	if !p.usable() || !finite(factor) || factor <= 0 {
		return v
	}
	least, most := p.ZoomLimits()
	to := math.Min(math.Max(v.Zoom*factor, least), most)
	cx, cy := p.centre(v)
	dx, dy := px-float64(p.W)/2, py-float64(p.H)/2
	// The point under the cursor is c + d/zoom before and after.
	shift := 1/v.Zoom - 1/to
	v.Zoom = to
	return p.Clamp(p.centredAt(v, cx+dx*shift, cy+dy*shift))
}

// ZoomTo does what ZoomAt does, for an absolute zoom.
func (p Port) ZoomTo(v View, px, py, zoom float64) View {
	v = p.Clamp(v)
	w := p.ZoomAt(v, px, py, zoom/v.Zoom)
	if least, most := p.ZoomLimits(); zoom >= least && zoom <= most {
		w.Zoom = zoom // free of the rounding of the quotient: 1:1 must be exactly 1
	}
	return w
}

// OneToOne shows one device pixel per base pixel and keeps what lies at device
// position px, py in its place.
func (p Port) OneToOne(v View, px, py float64) View { return p.ZoomTo(v, px, py, 1) }

// Pan moves the picture by dx, dy device pixels.
func (p Port) Pan(v View, dx, dy float64) View {
	v = p.Clamp(v)
	if !p.usable() {
		return v
	}
	cx, cy := p.centre(v)
	return p.Clamp(p.centredAt(v, cx-dx/v.Zoom, cy-dy/v.Zoom))
}

// Placement is where base pixels lie in the buffer. Its offsets are whole
// device pixels, so that at 1:1 every device pixel is exactly one pixel of the
// scan and panning moves the picture by whole pixels.
type Placement struct {
	Zoom float64
	X, Y float64 // device position of base pixel 0, 0's upper left corner; whole numbers
}

// Place fixes a view in the port.
func (p Port) Place(v View) Placement {
	v = p.Clamp(v)
	cx, cy := p.centre(v)
	return Placement{Zoom: v.Zoom,
		X: wholeNear(float64(p.W)/2 - cx*v.Zoom),
		Y: wholeNear(float64(p.H)/2 - cy*v.Zoom)}
}

// wholeNear rounds; the bias makes exact halves, which odd buffer sizes bring
// about, fall on the same side whatever the float noise.
func wholeNear(f float64) float64 { return math.Floor(f + 0.5 + 1e-5) }

// ToBase converts a continuous device position to base pixels.
func (l Placement) ToBase(x, y float64) (bx, by float64) {
	return (x - l.X) / l.Zoom, (y - l.Y) / l.Zoom
}

// ToDevice converts a continuous base position to device pixels.
func (l Placement) ToDevice(bx, by float64) (x, y float64) {
	return bx*l.Zoom + l.X, by*l.Zoom + l.Y
}

// deviceToFrame chains device -> base -> frame.
func (l Placement) deviceToFrame(toFrame f64.Aff3) f64.Aff3 {
	z := 1 / l.Zoom
	return affine.After(toFrame, f64.Aff3{z, 0, -l.X * z, 0, z, -l.Y * z})
}

// sameScale is the relative difference of two image areas' sides up to which
// the difference is taken for the uncertainty of finding the film's edge
// rather than for a different resolution.
const sameScale = 0.02

// AreaMap maps base pixels to frame pixels from the two image areas alone.
// Areas of nearly the same size are laid centre on centre and shifted by whole
// pixels, so that 1:1 on the base is 1:1 on the frame; other areas are scaled
// onto each other. Registration replaces this when it is known.
func AreaMap(base, frame image.Rectangle) f64.Aff3 {
	if base.Empty() || frame.Empty() {
		return affine.Identity
	}
	sx := float64(frame.Dx()) / float64(base.Dx())
	sy := float64(frame.Dy()) / float64(base.Dy())
	if math.Abs(sx-1) <= sameScale && math.Abs(sy-1) <= sameScale {
		tx := wholeNear(float64(frame.Min.X+frame.Max.X-base.Min.X-base.Max.X) / 2)
		ty := wholeNear(float64(frame.Min.Y+frame.Max.Y-base.Min.Y-base.Max.Y) / 2)
		return f64.Aff3{1, 0, tx, 0, 1, ty}
	}
	return f64.Aff3{
		sx, 0, float64(frame.Min.X) - sx*float64(base.Min.X),
		0, sy, float64(frame.Min.Y) - sy*float64(base.Min.Y),
	}
}
