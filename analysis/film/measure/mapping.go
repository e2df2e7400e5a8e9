package measure

import (
	"fmt"
	"image"
	"math"

	"stopladder/analysis/numeric/affine"

	"golang.org/x/image/math/f64"
)

// MapAreas places the frame's image area over the base frame's. Areas that differ in
// size by less than 2 % are taken for the same gate at the same scale, found with a
// little error, and are laid centre on centre; others are scaled. This is the place
// that a registration of the pictures takes. The map is from the base frame's preview
// pixels to the frame's, the centre of pixel (i, j) at (i + 0.5, j + 0.5). note is ""
// unless a reader of the results must know something.
func MapAreas(base, frame *Look) (m f64.Aff3, note string) {
	if base == frame {
		return affine.Identity, ""
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
	return f64.Aff3{
		sx * fb / ff, 0, (dx - sx*cx) / ff,
		0, sy * fb / ff, (dy - sy*cy) / ff,
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
