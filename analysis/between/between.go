// Package between makes the pictures between the rungs: what a frame at any
// fraction of a stop would look like, from the two frames next to it and the
// roll's measured response (method.md section 6). They are interpolated and are
// to be marked so.
//
// Each of the two frames is moved along the response to the wanted exposure and
// both are mixed: by nearness, and by how much each knows of a tone (a tone that
// one frame has clipped is taken from the other). On a rung the picture is that
// frame's own, code for code.
//
// Everything is done by tables from code value to code value, made once per
// position, so that a picture costs two look-ups and a mix per sample.
package between

import (
	"stopladder/analysis/response"
)

// Roll is what is needed of the roll. It is safe for concurrent use.
type Roll struct {
	res    *response.Result
	frames []response.Frame
}

// New prepares a roll. res may have no Curve: pictures are then plain mixes.
func New(res *response.Result, frames []response.Frame) *Roll {
	return &Roll{res: res, frames: frames}
}

// Mix is the recipe of one position: the codes of frames Lower and Upper, both
// registered to one grid, give the codes of the picture.
type Mix struct {
	Lower, Upper int          // indices of frames; equal on a rung
	Fraction     float64      // 0 on Lower's rung, 1 on Upper's
	Exact        bool         // on a rung: Lower's own picture
	Response     bool         // moved along the measured response; false: a plain mix
	Max          int          // container of the result: Lower's
	lower, upper *[3][]uint32 // code -> moved code << 16 | weight
}
