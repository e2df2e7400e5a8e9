// Package scene holds the light that the demo roll and the tests are
// photographed from: an invented sunlit courtyard, ray traced beforehand by
// cmd/mkscene.
//
// Everything is scene-linear radiance on the linear sRGB primaries (D65),
// relative: 0.18 is an 18 % grey card in the sun, facing as the courtyard's
// card does, and neutral (the sun and sky that fall on the card are the white
// of the scene, as a film balanced for daylight takes them). One stop is a
// factor of two. Pictures are 3 float32 a pixel, row by row from the top left.
package scene

import "fmt"

// Radiance is a picture of light: 3*W*H values, interleaved R, G, B, finite
// and not negative.
type Radiance struct {
	W, H int
	Pix  []float32
}

// New returns a black picture.
func New(w, h int) *Radiance {
	return &Radiance{W: w, H: h, Pix: make([]float32, 3*w*h)}
}

// At returns the light of one pixel.
func (r *Radiance) At(x, y int) (red, green, blue float32) {
	i := 3 * (y*r.W + x)
	return r.Pix[i], r.Pix[i+1], r.Pix[i+2]
}

// Set places the light of one pixel.
func (r *Radiance) Set(x, y int, c [3]float32) {
	copy(r.Pix[3*(y*r.W+x):], c[:])
}

// Place is a named area of a scene.
type Place struct {
	Name           string
	X0, Y0, X1, Y1 float64 // 0..1 of the picture's width and height, origin top left
	// Reflectance is the diffuse reflectance 0..1 of the surface, 0 where it is
	// not one known figure. Light varies over a scene: only places that face as
	// the grey card does and stand in the same sun have radiance = Reflectance.
	Reflectance float64
}

// Mean returns the mean light over a place.
func (r *Radiance) Mean(p Place) [3]float64 {
	x0, y0 := int(p.X0*float64(r.W)+0.999), int(p.Y0*float64(r.H)+0.999)
	x1, y1 := int(p.X1*float64(r.W)), int(p.Y1*float64(r.H))
	var s [3]float64
	n := 0
	for y := max(y0, 0); y < min(y1, r.H); y++ {
		for x := max(x0, 0); x < min(x1, r.W); x++ {
			a, b, c := r.At(x, y)
			s[0] += float64(a)
			s[1] += float64(b)
			s[2] += float64(c)
			n++
		}
	}
	for i := range s {
		s[i] /= float64(max(n, 1))
	}
	return s
}

// CheckSize returns an error where no scene can have w x h pixels.
func CheckSize(w, h int) error {
	if w < 16 || h < 16 || w > 20000 || h > 20000 {
		return fmt.Errorf("a scene of %d x %d pixels is not possible: both sides must be from 16 to 20000", w, h)
	}
	return nil
}
