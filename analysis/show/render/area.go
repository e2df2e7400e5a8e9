package render

import (
	"image"
	"math"

	xdraw "golang.org/x/image/draw"

	"stopladder/analysis/film/measure"
)

// Area returns the image area of a frame as sRGB, with a correction laid over it
// (nil: as scanned), fitted into w x h
// pixels and never larger than the preview has it: the picture of thumbnails
// and sheets. nil when the look has no preview. It takes some tens of
// milliseconds and belongs in a worker.
func Area(l *measure.Look, adjust *Correction, w, h int) *image.RGBA {
	if l == nil || l.Preview == nil || l.Space == nil || l.Preview.W == 0 || l.Preview.H == 0 || w < 1 || h < 1 {
		return nil
	}
	pv := l.Preview
	f := pv.Factor
	// Whole preview pixels inside the area: a sliver of the border is worse than
	// a sliver of the picture less.
	area := image.Rect((l.Area.Min.X+f-1)/f, (l.Area.Min.Y+f-1)/f, l.Area.Max.X/f, l.Area.Max.Y/f).Intersect(image.Rect(0, 0, pv.W, pv.H))
	if area.Empty() {
		area = image.Rect(0, 0, pv.W, pv.H)
	}
	src := image.NewRGBA(image.Rect(0, 0, area.Dx(), area.Dy()))
	lin := make([]float32, 3*area.Dx())
	for y := range area.Dy() {
		from := 3 * ((area.Min.Y+y)*pv.W + area.Min.X)
		row, codes := src.Pix[y*src.Stride:(y+1)*src.Stride], pv.Pix[from:from+3*area.Dx()]
		if adjust == nil {
			l.Space.RGBA(row, codes)
			continue
		}
		l.Space.Linear(lin, codes)
		adjust.rgba(row, lin)
	}
	scale := math.Min(float64(w)/float64(area.Dx()), float64(h)/float64(area.Dy()))
	if scale >= 1 {
		return src
	}
	out := image.NewRGBA(image.Rect(0, 0, max(1, int(float64(area.Dx())*scale+0.5)), max(1, int(float64(area.Dy())*scale+0.5))))
	xdraw.CatmullRom.Scale(out, out.Rect, src, src.Rect, xdraw.Src, nil)
	return out
}
