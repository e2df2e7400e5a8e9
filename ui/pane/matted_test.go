package pane

import (
	"image"
	"image/color"
	"testing"
)

// A picture that waits for a new rendering keeps its shape: pixel for pixel in
// the middle, surround around it, cut where there is less room.
func TestMattedKeepsTheShape(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 4, 2))
	img.SetRGBA(3, 1, color.RGBA{200, 10, 20, 255})
	grey := color.RGBA{0x3a, 0x3a, 0x3a, 0xff}
	out := matted(img, 8, 6, grey).(*image.RGBA)
	if out.RGBAAt(5, 3) != img.RGBAAt(3, 1) || out.RGBAAt(0, 0) != grey || out.RGBAAt(6, 3) != grey {
		t.Errorf("larger: %v %v %v", out.RGBAAt(5, 3), out.RGBAAt(0, 0), out.RGBAAt(6, 3))
	}
	out = matted(img, 2, 2, grey).(*image.RGBA)
	if out.Bounds().Dx() != 2 || out.RGBAAt(0, 0) != img.RGBAAt(1, 0) {
		t.Errorf("smaller: %v", out)
	}
}
