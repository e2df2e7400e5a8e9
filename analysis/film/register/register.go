// Package register lays the frames of a roll on each other: shift, rotation and
// scale of every frame against the base frame, to a fraction of a pixel, from
// structure that survives a change of exposure.
//
// # Positions and signs
//
// Positions are continuous full-resolution pixels of the upright picture, the
// origin at the upper left corner of the upper left pixel, so that pixel (i, j)
// has its centre at (i+0.5, j+0.5); x to the right, y down. A registration takes
// the base frame's content to this frame's:
//
//	p' = Cf + Scale * R(p - Cb) + (DX, DY)
//
// with Cb and Cf the centres of the two pictures (the same point when both have
// the same size). R comes first and turns counter-clockwise as seen on the
// screen, in degrees; then the shift, right and down positive. These are the
// signs of package simulate.
//
// A scan of film moves in its plane and needs no more. A camera in the hand also
// tips: the perspective that comes of it is not followed, and shows in standard
// errors where a roll's pairs do not agree.
//
// # The way
//
// Frames are compared through a rising tone curve that is fitted to each pair,
// so that exposure, film, scanner and a level correction of each frame make no
// difference (align.go). A coarse search on the directions of the gradients
// finds where to begin (coarse.go). A roll's pairs, each frame with the base and
// with its neighbour, are settled together (graph.go). Structure that both
// frames show holds the pose, clipped tones have none and say nothing.
//
// # What the confidence means
//
// Confidence is the probability, by the pair's own standard errors and the check
// that the two pictures show the same structure at all, that the shift is right
// within 0.5 full-resolution pixels along both axes and the rotation within 0.02
// degrees. Below Threshold a registration is not to be relied upon for
// readings pixel by pixel; its Note says so.
package register

import (
	"image"
	"math"

	"golang.org/x/image/math/f64"
)

// Threshold is the confidence from which a registration is relied upon.
const Threshold = 0.9

// What the confidence is about, full-resolution pixels and degrees.
const (
	shiftLimit    = 0.5
	rotationLimit = 0.02
)

// How says where a registration comes from.
type How int

// Ways to a registration.
const (
	Unknown  How = iota // no registration: there was no frame to register
	Base                // the base frame itself
	Direct              // measured against the base frame alone
	Chained             // through another frame, see Via
	Combined            // direct and chained measurements agree and were averaged
	Areas               // refused: nothing in common was found, the image areas were laid on each other
	Hand                // set by the user
)

// String returns the word that reports use.
func (h How) String() string {
	if h < Unknown || h > Hand {
		h = Unknown
	}
	return [...]string{"unknown", "base", "direct", "chained", "combined", "areas", "hand"}[h]
}

// Registration takes the base frame's content to a frame's. The zero value is
// no registration; see Identity.
type Registration struct {
	DX         float64 `json:"dx"`         // full-resolution pixels of the frame, right, after the rotation
	DY         float64 `json:"dy"`         // and down
	Rotation   float64 `json:"rotation"`   // degrees, counter-clockwise on the screen, about the picture's centre
	Scale      float64 `json:"scale"`      // frame pixels per base pixel; 1 for equal scans
	Confidence float64 `json:"confidence"` // 0..1, see the package's words; 0 when refused
	StdErr     Errors  `json:"-"`          // standard errors; NaN where unknown (areas, by hand)
	How        How     `json:"-"`
	Via        int     `json:"-"` // Chained, Combined: index of the frame it was chained through, else -1
	Note       string  `json:"-"` // one or two sentences for a reader of the results, "" when there is nothing to say

	cov cov4
}

// Errors are standard errors of a registration.
type Errors struct {
	DX, DY   float64 // full-resolution pixels
	Rotation float64 // degrees
	Scale    float64
}

// Identity leaves everything where it is, with certainty.
func Identity() Registration { return Registration{Scale: 1, Confidence: 1, How: Base, Via: -1} }

// Reliable reports whether the confidence reaches Threshold, or that the user set it.
func (r Registration) Reliable() bool { return r.How == Hand || r.Confidence >= Threshold }

// Refused reports whether no common structure was found: the values only lay the image
// areas on each other.
func (r Registration) Refused() bool { return r.How == Areas || r.How == Unknown }

// Affine returns the mapping in full-resolution pixels for pictures of these sizes: x'
// = m[0] x + m[1] y + m[2], y' = m[3] x + m[4] y + m[5].
func (r Registration) Affine(base, frame image.Point) f64.Aff3 {
	p := r.pose()
	bx, by := float64(base.X)/2, float64(base.Y)/2
	fx, fy := float64(frame.X)/2, float64(frame.Y)/2
	a, b := p.ab()
	return f64.Aff3{
		a, b, fx - a*bx - b*by + r.DX,
		-b, a, fy + b*bx - a*by + r.DY,
	}
}

// Inverse takes the frame's content back to the base frame's.
func (r Registration) Inverse() Registration {
	p := r.pose()
	out := r
	out.set(p.inverse())
	out.cov = r.cov.through(p.inverse())
	out.StdErr = r.StdErr
	if r.cov != (cov4{}) {
		out.StdErr = out.cov.errors(out.Scale)
	}
	return out
}

// Then is r followed by next: r takes the base to a frame, next takes that
// frame to another. Its confidence follows from the errors of both, and is
// never above either's.
func (r Registration) Then(next Registration) Registration {
	out := next
	out.set(r.pose().then(next.pose()))
	out.How, out.Note = Chained, next.Note
	if out.Note == "" {
		out.Note = r.Note
	}
	out.Confidence = math.Min(r.Confidence, next.Confidence)
	if r.cov != (cov4{}) && next.cov != (cov4{}) {
		out.cov = r.cov.through(next.pose()).plus(next.cov)
		out.StdErr = out.cov.errors(out.Scale)
		out.Confidence = math.Min(out.Confidence, out.cov.within(shiftLimit, rotationLimit))
	} else {
		s, n := r.StdErr, next.StdErr
		out.StdErr = Errors{math.Hypot(s.DX, n.DX), math.Hypot(s.DY, n.DY), math.Hypot(s.Rotation, n.Rotation), math.Hypot(s.Scale, n.Scale)}
	}
	return out
}

func (r Registration) pose() pose {
	s := r.Scale
	if s == 0 {
		s = 1
	}
	return pose{r.DX, r.DY, r.Rotation * math.Pi / 180, math.Log(s)}
}

func (r *Registration) set(p pose) {
	r.DX, r.DY = p.x+0, p.y+0
	r.Rotation = p.turn*180/math.Pi + 0
	r.Scale = math.Exp(p.grow)
}
