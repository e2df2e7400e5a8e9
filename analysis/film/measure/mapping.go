package measure

import (
	"fmt"
	"image"
	"math"

	"golang.org/x/image/math/f64"
)

// Mapping carries positions in the base frame's preview to positions in
// another frame's preview: x' = A x + B y + C, y' = D x + E y + F, in preview
// pixels, the centre of pixel (i, j) at (i + 0.5, j + 0.5).
type Mapping struct{ A, B, C, D, E, F float64 }

// At maps a position.
func (m Mapping) At(x, y float64) (float64, float64) {
	return m.A*x + m.B*y + m.C, m.D*x + m.E*y + m.F
}

// Inverse maps back; ok is false for a mapping that folds the plane.
func (m Mapping) Inverse() (inv Mapping, ok bool) {
	det := m.A*m.E - m.B*m.D
	if det == 0 || math.IsNaN(det) || math.IsInf(det, 0) {
		return inv, false
	}
	if m == (Mapping{A: 1, E: 1}) {
		return m, true
	}
	inv = Mapping{A: m.E / det, B: -m.B / det, D: -m.D / det, E: m.A / det}
	inv.C = -(inv.A*m.C + inv.B*m.F)
	inv.F = -(inv.D*m.C + inv.E*m.F)
	return inv, true
}

// MapAreas lays the frame's image area over the base frame's. Areas that differ
// in size by less than 2 % are taken for the same gate at the same scale, found
// with a little error, and are laid centre on centre; others are scaled. This is
// the place that a registration of the pictures will take. note is "" unless a
// reader of the results must know something.
func MapAreas(base, frame *Look) (m Mapping, note string) {
	if base == frame {
		return Mapping{A: 1, E: 1}, ""
	}
	b, f := base.Area, frame.Area
	sx, sy := float64(f.Dx())/float64(b.Dx()), float64(f.Dy())/float64(b.Dy())
	cut := base.cutShort() || frame.cutShort()
	if cut {
		// A file that ends early hides the area's lower edge: the width tells
		// the scale, the upper edge the place.
		sy = sx
	}
	if math.Abs(sx-1) < agreeSlack && math.Abs(sy-1) < agreeSlack {
		sx, sy = 1, 1
	} else if math.Abs(sx/sy-1) > 0.03 {
		note = fmt.Sprintf("The image areas of this frame (%d x %d) and the base frame (%d x %d) differ in shape; bands and noise may be read beside their places. Check both image areas.", f.Dx(), f.Dy(), b.Dx(), b.Dy())
	}
	cx, cy := centre(b)
	dx, dy := centre(f)
	if cut {
		cy, dy = float64(b.Min.Y), float64(f.Min.Y)
	}
	fb, ff := float64(base.Preview.Factor), float64(frame.Preview.Factor)
	return Mapping{
		A: sx * fb / ff, C: (dx - sx*cx) / ff,
		E: sy * fb / ff, F: (dy - sy*cy) / ff,
	}, note
}

// cutShort: the image area ends where the file does, above the picture's end.
// What is missing of a turned picture lies elsewhere: then only registration
// tells where the rest belongs.
func (l *Look) cutShort() bool {
	end := l.whole().Max.Y
	return end < l.Info.Height && l.Area.Max.Y >= end
}

func centre(r image.Rectangle) (x, y float64) {
	return float64(r.Min.X+r.Max.X) / 2, float64(r.Min.Y+r.Max.Y) / 2
}

// MapRegistered takes a registration, which carries full-resolution pixels of
// the base frame to full-resolution pixels of the frame (the same convention of
// centres), to preview pixels.
func MapRegistered(base, frame *Look, reg f64.Aff3) Mapping {
	fb, ff := float64(base.Preview.Factor), float64(frame.Preview.Factor)
	return Mapping{
		A: reg[0] * fb / ff, B: reg[1] * fb / ff, C: reg[2] / ff,
		D: reg[3] * fb / ff, E: reg[4] * fb / ff, F: reg[5] / ff,
	}
}
