// Package report turns the readings of a roll into the documents that leave the
// program: the JSON of the contract (schema in assets/schema/measure-1.json)
// and a CSV table with one row a frame.
//
// A value that could not be measured is null (an empty CSV cell) and the reason
// stands in Notes of its frame; NaN and infinities never reach a document.
package report

import (
	"stopladder/analysis/film/cast"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
)

// Schema names the JSON document and its version. Keys may be added within a
// version; none changes meaning or goes away.
const Schema = "stopladder-measure-1"

// Options are what a measured roll does not know.
type Options struct {
	Version string        // of the program, e.g. "0.1.0"
	Notes   []string      // of the caller, on the roll as a whole
	Limits  *criteria.Set // nil: the roll's own
}

// Noise is the roll's noise-level function: the standard deviation of light at the
// viewing scale, of each channel and of luminance, at levels of light, white = 1; null
// where the roll does not tell.
type Noise struct {
	Viewing Viewing    `json:"viewing"`
	Light   []float64  `json:"light"`
	R       []*float64 `json:"r"`
	G       []*float64 `json:"g"`
	B       []*float64 `json:"b"`
	Y       []*float64 `json:"y"`
	Error   []*float64 `json:"error"` // standard error of y, over it
	Pixel   PixelNoise `json:"pixel"`
	Alike   []float64  `json:"alike"` // correlation of luminance's noise at mid-grey, 0 to 5 pixels of the scan apart; empty: not known
}

// Viewing is the scale at which noise is given.
type Viewing struct {
	Side int     `json:"side"` // pixels along the longest side of the image area
	Step float64 `json:"step"` // pixels of the scan along one of them
	Own  bool    `json:"own"`  // the scan is smaller than the common scale: its own pixels
}

// PixelNoise is the standard deviation of light in one pixel of the scan, at the same
// levels.
type PixelNoise struct {
	R []*float64 `json:"r"`
	G []*float64 `json:"g"`
	B []*float64 `json:"b"`
	Y []*float64 `json:"y"`
}

// Report is the whole document.
type Report struct {
	Schema      string       `json:"schema"`
	Tool        Tool         `json:"tool"`
	Roll        Roll         `json:"roll"`
	Base        *string      `json:"base"` // file name without folder; null: no frame at stop 0
	NoiseLimit  float64      `json:"noiseLimit"`
	Frames      []Frame      `json:"frames"` // from under to over, unlabelled last
	Scan        Scan         `json:"scan"`
	Labels      Labels       `json:"labels"`
	Response    *Response    `json:"response"`
	Noise       *Noise       `json:"noise"` // null: the roll does not tell its noise
	Patches     []Patch      `json:"patches"`
	Limits      criteria.Set `json:"limits"`
	Range       Range        `json:"range"`
	Finding     []string     `json:"finding"`
	Judges      []Judge      `json:"judges"`
	Assumptions []string     `json:"assumptions"`
	Notes       []string     `json:"notes"`
}

// Tool is what wrote the document.
type Tool struct {
	Name    string `json:"name"`
	Version string `json:"version"`
}

// Roll is what the judge wrote about the test; empty strings are null.
type Roll struct {
	Title    *string `json:"title"`
	Stock    *string `json:"stock"`
	Exposure *string `json:"baseExposure"`
	Date     *string `json:"date"`

	Scene       *string `json:"scene"`
	Metering    *string `json:"metering"`
	Development *string `json:"development"`
	Lab         *string `json:"lab"`
	Scanner     *string `json:"scanner"`
}

// Judge is one judge's accepted range in stops, and the finding in that judge's words.
type Judge struct {
	Judge   *string     `json:"judge"`
	Range   *roll.Range `json:"range"`
	Finding *string     `json:"finding"`
}

// Profile names the colour profile.
type Profile struct {
	Name    string `json:"name"`
	Assumed bool   `json:"assumed"`
	// Way is the part of the profile that the colours are read by; nil when assumed.
	Way *string `json:"way"`
}

// Area is a rectangle in full-resolution pixels of the upright scan.
type Area struct {
	X int `json:"x"`
	Y int `json:"y"`
	W int `json:"w"`
	H int `json:"h"`
}

// RGBInt, RGBFloat, RGBString and Clip are figures per channel.
type (
	RGBInt    = measure.RGB[int]
	RGBFloat  = measure.RGB[float64]
	RGBString = measure.RGB[string]
	Clip      = measure.Clip
)

// BandSet holds the readings of the tonal bands; null where not measurable.
type BandSet struct {
	Shadows    *Band `json:"shadows"`
	Midtones   *Band `json:"midtones"`
	Highlights *Band `json:"highlights"`
}

// Cast is where a frame shows what the base frame shows neutral, CIELAB (D50).
type Cast struct {
	A float64 `json:"a"`
	B float64 `json:"b"`
}

// Band is one band: Area a fraction of the base frame's image area, colours in
// CIELAB D50, differences against the base frame.
type Band struct {
	Area float64 `json:"area"`
	L    float64 `json:"L"`
	A    float64 `json:"a"`
	B    float64 `json:"b"`
	DL   float64 `json:"dL"`
	Da   float64 `json:"da"`
	Db   float64 `json:"db"`

	Noise *float64 `json:"noise"` // mean noise at the base frame's brightness, L* units

	SNR            *float64 `json:"snr"`            // of luminance at the band's mean light, at the viewing scale
	NoiseL         *float64 `json:"noiseL"`         // L* units, as scanned
	NoiseLSalvaged *float64 `json:"noiseLSalvaged"` // L* units, brought to the base frame's look
	Level          *float64 `json:"level"`          // mean luminance of the band in the base frame, white = 1: where its grey stands
	Cast           *Cast    `json:"cast"`           // of the neutral at the band's level in the base frame
	CC             *cast.CC `json:"cc"`             // the same in density, R-G and B-G
	ContrastKept   *float64 `json:"contrastKept"`   // local contrast against the base frame's, a ratio
}
