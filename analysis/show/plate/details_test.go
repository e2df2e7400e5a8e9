package plate

import (
	"image"
	"testing"
)

// A detail near the edge of the base frame's picture is moved inwards, so that it shows
// nothing beside it; one that is larger than the picture stays.
func TestDetailsLieInsideThePicture(t *testing.T) {
	in := Input{BaseArea: image.Rect(100, 50, 1100, 850), Details: []Detail{{At: image.Pt(120, 60)}, {At: image.Pt(600, 840)}, {At: image.Pt(600, 400)}}}
	for i, want := range []image.Point{{300, 250}, {600, 650}, {600, 400}} {
		if got := in.inside(199.5)[i].At; got != want {
			t.Errorf("detail %d lies at %v, want %v", i, got, want)
		}
	}
	if got := in.inside(600)[0].At; got != image.Pt(120, 60) {
		t.Errorf("a detail as large as the picture is moved to %v", got)
	}
}
