package measure

import (
	"image"
	"math"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/numeric/affine"
)

// Marks are the places of a scan that are no picture: dust, scratches, hairs and what
// moved between exposures (package marks finds them). No comparison is made there. A
// nil *Marks marks nothing.
type Marks struct {
	W, H int
	// Mask has 255 for every marked pixel of the preview and its neighbours, whose light
	// the mark touches.
	Mask []uint8
	// Share 0..1 of the image area that is marked, the neighbours not counted, and the
	// part of it that lies at the same place in other scans.
	Share, Still float64
}

// At reports whether a pixel of the preview is marked.
func (m *Marks) At(x, y int) bool {
	return m != nil && x >= 0 && y >= 0 && x < m.W && y < m.H && m.Mask[y*m.W+x] != 0
}

// PreviewArea returns the image area in whole pixels of the preview.
func (l *Look) PreviewArea() image.Rectangle { return l.previewArea() }

// Common returns the share 0..1 of the base frame's image area that a frame shows
// within its own; m takes full-resolution pixels of the base frame to the frame's. It
// is counted at a hundred thousand places, evenly laid.
func Common(base, frame *Look, m f64.Aff3) float64 {
	const along = 316
	a, in, n := base.Area, frame.Area, 0
	for j := range along {
		for i := range along {
			x := float64(a.Min.X) + (float64(i)+0.5)*float64(a.Dx())/along
			y := float64(a.Min.Y) + (float64(j)+0.5)*float64(a.Dy())/along
			x, y = affine.At(m, x, y)
			if x >= float64(in.Min.X) && x < float64(in.Max.X) && y >= float64(in.Min.Y) && y < float64(in.Max.Y) {
				n++
			}
		}
	}
	return float64(n) / (along * along)
}

// skip reports the pixels of the base frame's preview that are marked in it or in the
// frame, to whose preview m takes them; nil where nothing is marked.
func (o Options) skip(m f64.Aff3, base *Look) func(x, y int) bool {
	if o.Marks == nil && o.BaseMarks == nil {
		return nil
	}
	return func(x, y int) bool {
		if o.BaseMarks.At(x, y) {
			return true
		}
		fx, fy := affine.At(m, float64(x)+0.5, float64(y)+0.5)
		return o.Marks.At(int(math.Floor(fx)), int(math.Floor(fy)))
	}
}
