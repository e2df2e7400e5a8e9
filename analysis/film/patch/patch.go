// Package patch reads named spots of the scene in every frame of a roll: a spot is
// put on the base frame, and the registration carries it into the others.
package patch

import (
	"math"

	"stopladder/analysis/film/cast"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/scan/colour"
)

// Noise is what the roll knows of its noise; NaN where it does not.
type Noise interface{ SigmaY(y float64) float64 }

// Reading is one patch in one frame. Colours are CIELAB D50 of the mean light.
type Reading struct {
	X, Y           float64              // centre in the frame, full-resolution pixels
	Codes          measure.RGB[float64] // means
	Density        measure.RGB[float64] // -log10 of each channel's light
	L, A, B        float64
	Lum            float64 // relative luminance
	Blown, Blocked float64 // shares 0..1 of the patch

	// Against the base frame; nil in the base frame and where it has no reading.
	DeltaE     *float64 // CIEDE2000
	DL, Da, Db *float64
	CC         *cast.CC // density of R-G and B-G against the base frame's
	// Against the patch that is neutral in the scene, in this frame: what a balance
	// on it would leave. nil where no patch is neutral, and in that patch itself.
	CCNeutral *cast.CC
	SNR       *float64 // of luminance, at the viewing scale; nil where noise is not known

	Headroom *response.Headroom // of the base frame's reading alone: stops to Blown and Blocked

	Reason string // why there is no reading, "" when there is
}

// Set is the patches of a roll read in all frames.
type Set struct {
	Patches  []roll.Patch
	Readings [][]Reading // by patch, then by frame in the order given
}

// half is the half side of a patch in preview pixels, at least 1.
func half(p roll.Patch, factor int) int {
	return max(1, int(math.Round(2*p.R/float64(max(1, factor)))))
}

// Read reads patches in frames. base is the index of the base frame, -1 when there
// is none: then nothing can be placed. res and noise may be nil.
func Read(patches []roll.Patch, frames []response.Frame, base int, res *response.Result, noise Noise) *Set {
	s := &Set{Patches: patches, Readings: make([][]Reading, len(patches))}
	for i, p := range patches {
		s.Readings[i] = make([]Reading, len(frames))
		for j := range frames {
			s.Readings[i][j] = one(p, frames, base, j, noise)
		}
		if base < 0 || base >= len(frames) {
			continue
		}
		ref := &s.Readings[i][base]
		if ref.Reason == "" && res != nil {
			if h, ok := res.HeadroomOf([3]float64{ref.Codes.R, ref.Codes.G, ref.Codes.B}); ok {
				ref.Headroom = &h
			}
		}
		for j := range frames {
			r := &s.Readings[i][j]
			if j == base || r.Reason != "" || ref.Reason != "" {
				continue
			}
			dL, da, db := r.L-ref.L, r.A-ref.A, r.B-ref.B
			e := colour.DeltaE2000(colour.LAB{L: ref.L, A: ref.A, B: ref.B}, colour.LAB{L: r.L, A: r.A, B: r.B})
			r.DL, r.Da, r.Db, r.DeltaE = &dL, &da, &db, &e
			if a, ok := cast.CCOfLab(colour.LAB{L: r.L, A: r.A, B: r.B}); ok {
				if b, ok := cast.CCOfLab(colour.LAB{L: ref.L, A: ref.A, B: ref.B}); ok {
					d := a.Less(b)
					r.CC = &d
				}
			}
		}
	}
	s.neutral(frames)
	return s
}

// neutral tells every patch against the first that is neutral, frame by frame.
func (s *Set) neutral(frames []response.Frame) {
	for n, p := range s.Patches {
		if !p.Neutral {
			continue
		}
		for j := range frames {
			ref := &s.Readings[n][j]
			b, ok := cast.CCOfLab(colour.LAB{L: ref.L, A: ref.A, B: ref.B})
			if ref.Reason != "" || !ok {
				continue
			}
			for i := range s.Patches {
				r := &s.Readings[i][j]
				if a, ok := cast.CCOfLab(colour.LAB{L: r.L, A: r.A, B: r.B}); ok && i != n && r.Reason == "" {
					d := a.Less(b)
					r.CCNeutral = &d
				}
			}
		}
		return
	}
}

func one(p roll.Patch, frames []response.Frame, base, j int, noise Noise) Reading {
	f := &frames[j]
	switch {
	case f.Look == nil:
		return Reading{Reason: "the frame could not be read"}
	case base < 0 || base >= len(frames) || frames[base].Look == nil:
		return Reading{Reason: "there is no base frame to place the patch by"}
	case f.Unregistered && j != base:
		return Reading{Reason: "the frame does not lie on the base frame"}
	}
	m := f.Map
	if j == base {
		m = affine.Identity
	}
	x, y := affine.At(m, p.X, p.Y)
	// The whole patch must lie in the picture: a part of it would read something else.
	w, h := float64(f.Look.Info.Width), float64(f.Look.Info.Height)
	if x-p.R < 0 || y-p.R < 0 || x+p.R > w || y+p.R > h {
		return Reading{Reason: "the patch lies beyond this frame's picture"}
	}
	px, ok := measure.PixelAt(f.Look, int(x), int(y), half(p, f.Look.Preview.Factor))
	if !ok {
		return Reading{Reason: "the patch lies beyond this frame's picture"}
	}
	r := Reading{X: x, Y: y, Codes: px.Codes, Density: px.Density, L: px.L, A: px.A, B: px.B, Blown: px.Blown, Blocked: px.Blocked}
	r.Lum = colour.Luminance(px.Linear.R, px.Linear.G, px.Linear.B)
	if noise != nil && r.Lum > 0 {
		if s := noise.SigmaY(r.Lum); s > 0 {
			v := r.Lum / s
			r.SNR = &v
		}
	}
	return r
}
