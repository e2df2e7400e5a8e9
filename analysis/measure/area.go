package measure

import (
	"image"

	"stopladder/analysis/colour"
)

// AgreedArea is what AgreeAreas proposes for one frame.
type AgreedArea struct {
	Area    image.Rectangle
	From    AreaFrom
	Note    string
	Changed bool // the frame must be recounted
}

type lookCache struct{}

type places struct {
	area image.Rectangle
	from AreaFrom
	note string
}

func findPlaces(p *Preview, space *colour.Space, whole image.Rectangle) places {
	return places{area: whole, from: AreaWhole}
}
