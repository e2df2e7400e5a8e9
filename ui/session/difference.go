package session

import (
	"image"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/scan/colour"
)

// DifferenceAt returns the CIEDE2000 difference between the i-th frame at a place of its
// picture, full-resolution pixels, and the base frame at the same place of the scene,
// both as they are shown: the means of 3 x 3 preview pixels. ok is false where one of
// them does not show the place.
func (s *State) DifferenceAt(i int, at image.Point) (dE float64, ok bool) {
	b := s.Base()
	if b < 0 || s.Frame(i).Map == nil || s.Frame(i).Look == nil || s.Frame(b).Look == nil {
		return 0, false
	}
	back, ok := affine.Inverse(*s.Frame(i).Map)
	if !ok {
		return 0, false
	}
	x, y := affine.At(back, float64(at.X), float64(at.Y))
	here, ok1 := measure.PixelAt(s.Frame(i).Look, at.X, at.Y, 1)
	base, ok2 := measure.PixelAt(s.Frame(b).Look, int(x), int(y), 1)
	if !ok1 || !ok2 {
		return 0, false
	}
	lab := func(i int, p measure.RGB[float64]) colour.LAB {
		own, all, _ := s.Look().Of(s.film, i)
		through := func(c int, v float64) float64 { return all.At(c, own.At(c, v)) }
		return colour.LabOf(through(0, p.R), through(1, p.G), through(2, p.B))
	}
	return colour.DeltaE2000(lab(b, base.Linear), lab(i, here.Linear)), true
}
