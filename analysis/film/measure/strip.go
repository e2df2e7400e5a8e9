package measure

import (
	"image"
	"math"
	"slices"
)

// stripDiffers is by how much the frames' lightness (0..1) must differ for what is the
// same in all of them to be no picture: a stop and more about mid-grey.
const stripDiffers = 0.12

// stripsOf finds what is no picture by what only a roll shows: a strip along a side that
// has one density in all frames (its edge seen in two thirds of them: some frames are as
// light or as dark as the strip) although the frames' light differs. It returns where
// each strip ends; 0 is none.
func stripsOf(looks []*Look, size image.Point) (ends [4]int) {
	var in []*Look
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, l := range looks {
		if l != nil && l.Info.Width == size.X && l.Info.Height == size.Y && l.AreaFrom != AreaByHand {
			in = append(in, l)
			lo, hi = math.Min(lo, l.Lightness()), math.Max(hi, l.Lightness())
		}
	}
	if len(in) < 3 || !(hi-lo >= stripDiffers) {
		return ends
	}
	for d := range side(4) {
		var at []int
		same := true
		level := in[0].places.sides[d].level
		for _, l := range in {
			p := &l.places.sides[d]
			same = same && p.uniform && levelGap(p.level, level) <= areaSameLevel
			if p.lone {
				at = append(at, p.strip)
			}
		}
		if !same || 3*len(at) < 2*len(in) {
			continue
		}
		slices.Sort(at)
		if d == left || d == top {
			ends[d] = at[len(at)-1]
		} else {
			ends[d] = at[0]
		}
	}
	return ends
}

// within takes strips off a picture.
func within(r image.Rectangle, strips [4]int) image.Rectangle {
	if v := strips[left]; v > 0 {
		r.Min.X = v
	}
	if v := strips[right]; v > 0 {
		r.Max.X = min(r.Max.X, v)
	}
	if v := strips[top]; v > 0 {
		r.Min.Y = v
	}
	if v := strips[bottom]; v > 0 {
		r.Max.Y = min(r.Max.Y, v)
	}
	return r
}
