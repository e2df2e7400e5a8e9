package measure

import (
	"context"
	"errors"
)

var errSoon = errors.New("measure: not built yet")

// Mapping carries preview pixel positions of the base frame to preview pixel
// positions of a frame (pixel centres at whole numbers + 0.5): x' = A x + B y + C,
// y' = D x + E y + F.
type Mapping struct{ A, B, C, D, E, F float64 }

// Relate measures frame beside base.
func Relate(ctx context.Context, base, frame *Look, opt Options) (*Relation, error) {
	return nil, errSoon
}

// StopHistogram is the histogram of the image area on the stops axis: for each
// channel the share 0..1 of pixels in each of bins equal bins from lo to hi
// stops, where 0 is the profile's white and -1 half its light.
func StopHistogram(l *Look, lo, hi float64, bins int) [3][]float64 { return [3][]float64{} }

// LimitStops gives ceiling and floor of each channel on the stops axis of
// StopHistogram; a floor at zero light is -Inf.
func LimitStops(l *Look) (ceiling, floor RGB[float64]) { return }

// Pixel is what the readout shows of a spot.
type Pixel struct {
	X, Y    int          // centre, full-resolution pixels
	N       int          // preview pixels averaged, along each side
	Codes   RGB[float64] // mean code values
	Linear  RGB[float64] // linear light on sRGB primaries
	L, A, B float64      // CIELAB D50
	Density RGB[float64] // -log10 of each channel's light; +Inf for none
	InArea  bool
}

// PixelAt reads the spot of n x n preview pixels around the full-resolution
// position x, y; ok is false outside the picture.
func PixelAt(l *Look, x, y, n int) (p Pixel, ok bool) { return Pixel{}, false }
