// Package measure takes the readings of one frame and relates it to the base
// frame. It works in two steps so that the window can show each frame as soon
// as it is read:
//
//	Look   needs the scan alone: preview, image area, exact histograms, ceiling
//	       and floor, clip counts.
//	Relate needs the base frame's Look as well: tonal bands, casts, noise after
//	       the frame is brought to the base's brightness.
package measure

import (
	"image"
	"math"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// PreviewSide is the longest side of a preview in pixels. A print of 30 cm at
// the 70 px/cm of ISO 12232's subjective tests is 2100 pixels long, so what is
// judged on the preview (noise, bands) is judged at about that print's size.
const PreviewSide = 2048

// NoisyLimit is the default limit in L* units above which lifted shadows count
// as Noisy (common practice, no source). It is the judge's to change.
const NoisyLimit = 3.0

// Preview is a scan reduced by a whole factor, averaged in light and kept in
// code values, so that one Space serves both sizes.
type Preview struct {
	Factor int      // full-resolution pixels per preview pixel, along each side
	W, H   int      // W = ceil(Width/Factor): the last column averages what is left
	Pix    []uint16 // 3*W*H, interleaved RGB code values
	Tiles  *Tiles   // of the scan's own pixels; nil where Factor is 1 or the picture is tiny
}

// RGB is one figure per channel.
type RGB[T any] struct {
	R T `json:"r"`
	G T `json:"g"`
	B T `json:"b"`
}

// Clip counts pixels at or beyond ceiling or floor as fractions 0..1 of the image area,
// exact counts of the full-resolution file.
type Clip struct {
	R   float64 `json:"r"`
	G   float64 `json:"g"`
	B   float64 `json:"b"`
	Any float64 `json:"any"` // at least one channel
	All float64 `json:"all"` // all three channels
}

// Histogram counts code values exactly, per channel, over the image area.
type Histogram struct {
	Max    int         // largest code value of the container
	Counts [3][]uint64 // Max+1 counts a channel while it is counted; nil once they are packed: Channel has them always
	Pixels uint64      // pixels counted

	packed [3]*packed
}

// Look is what one scan says on its own.
type Look struct {
	Info           scan.Info
	Space          *colour.Space
	ProfileAssumed bool // the scan has no usable profile: Space was assumed
	Preview        *Preview
	Area           image.Rectangle // the measured image area, full-resolution pixels
	AreaNote       string          // "" when found with confidence, else why not
	Hist           Histogram
	EffectiveBits  int      // of the code values in use, <= Info.Bits
	Ceiling, Floor RGB[int] // code values at which the scan piles up
	Blown, Blocked Clip
	Mean           RGB[float64] // mean code value over the image area
	AreaFrom       AreaFrom
	CeilingFrom    RGB[EndFrom] // how each channel's ceiling was found
	FloorFrom      RGB[EndFrom] // how each channel's floor was found

	// BlownShare and BlockedShare hold, for every preview pixel, the share
	// 0..255 (255 = all) of its full-resolution pixels that are clipped in at
	// least one channel, inside and outside the image area alike. A preview
	// pixel with a single clipped pixel is never 0. For the masks.
	BlownShare, BlockedShare []uint8

	Notes       []string
	MissingRows int             // rows, as stored, that a truncated or damaged file did not hold
	Short       error           // what the reader said of them, a *scan.TruncatedError; nil where the scan is whole
	There       image.Rectangle // the part of the upright picture that was read: all of it but for those rows

	places places // what the search for the image area saw
	cache  *lookCache
	made   *origin // nil: by NewLook

	assumed string // profile that a scan without one was taken for; "" is sRGB
}

// AreaFrom says how the image area was found.
type AreaFrom int

// Ways to an image area.
const (
	AreaFound  AreaFrom = iota // borders found on the frame itself
	AreaWhole                  // no border found: the whole picture is measured
	AreaUnsure                 // found with low confidence, AreaNote says why
	AreaAgreed                 // taken from the other frames of the roll (AgreeAreas)
	AreaByHand                 // set by the user
)

// String is the word that reports use.
func (a AreaFrom) String() string {
	return [...]string{"found", "whole", "unsure", "agreed", "hand"}[a]
}

// EndFrom says how a ceiling or a floor was found.
type EndFrom int

// Ways to a ceiling or floor.
const (
	EndDefault   EndFrom = iota // no pile-up: full scale (or zero)
	EndContainer                // the codes in use end there: e.g. 0xFF00 for 8-bit data in a 16-bit file
	EndPileUp                   // the histogram piles up there
	LimitAgreed                 // taken from the other frames of the roll (AgreeCodeRange)
)

// String is the word that reports use.
func (l EndFrom) String() string {
	return [...]string{"default", "container", "pileUp", "agreed"}[l]
}

// Options bound and steer NewLook and Relate. The zero value is ready to use.
type Options struct {
	Area           *image.Rectangle      // image area set by hand, full-resolution pixels; nil: find it
	CodeRange      *CodeRange            // ceiling and floor known beforehand; nil: detect them
	NoiseLimit     float64               // L* units; 0 is NoisyLimit
	Map            *f64.Aff3             // for Relate: base full-resolution px -> frame full-resolution px, from registration; nil: the image areas are laid over each other
	Noise          Noise                 // for Relate: what is known of the frame's noise; nil: nothing
	NoiseLater     bool                  // for Relate: nothing is known of it yet, which is no fault of the frame's
	Marks          *Marks                // for Relate: of the frame, places that are no picture; nil: none
	BaseMarks      *Marks                // and of the base frame
	Before         []*Look               // for Agree: what it returned before for these frames, to be taken again where nothing changed; may be nil or hold nil
	PreviewSide    int                   // for NewLook: the longest side of the preview, pixels; 0 is PreviewSide
	AssumedProfile string                // one of AssumedProfiles, for scans without a usable profile; "" is sRGB
	Progress       func(done, total int) // rows read so far; called from one goroutine at a time; may be nil
	Workers        int                   // goroutines for pixel loops; 0 is GOMAXPROCS. Results do not depend on it
}

func (o Options) workers() int { return parallel.Workers(o.Workers, math.MaxInt) }

// CodeRange is the code values at which a scan piles up.
type CodeRange struct {
	Ceiling, Floor RGB[int]
	CeilingFrom    RGB[EndFrom]
	FloorFrom      RGB[EndFrom]
}

// Band names a tonal band of the scene.
type Band int

// The bands, fixed on the base frame: midtones lie within one stop of mid-grey
// as the base frame renders it (L* 35.98 to 66.52, the CIE L* of 9 % and 36 %),
// shadows below, highlights above.
const (
	Shadows Band = iota
	Midtones
	Highlights
	bandCount
)

// Bands is the number of tonal bands.
const Bands = int(bandCount)

// BandReading is the mean colour of a band. Area is a fraction 0..1 of the base
// frame's image area; DL, Da, Db are against the base frame. Colours are CIELAB D50.
type BandReading struct {
	Area       float64
	L, A, B    float64
	Light      [3]float64 // mean linear light, sRGB primaries, 1 is white
	DL, Da, Db float64
}

// Relation is what a frame says beside the base frame.
type Relation struct {
	Bands      [Bands]*BandReading // nil where the band could not be measured
	Map        f64.Aff3            // base preview pixels -> this frame's preview pixels, centre of pixel (i, j) at (i + 0.5, j + 0.5)
	Registered bool                // Map is from a registration, not from the image areas
	Noisy      *float64            // fraction 0..1 of the image area over the limit; nil when not measurable
	NoisyError *float64            // standard error of Noisy; nil when it is not known
	NoiseKnown float64             // fraction 0..1 of the image area where noise could be measured
	NoiseL     []float32           // noise after salvage in L* of shadow areas, one value per preview pixel of the frame (NaN: unknown, or no shadow area); for the mask
	NoiseBase  []uint8             // level of the base frame's luminance there, for NoisyAt
	BandNoise  [Bands]*float64     // mean noise after salvage in L* of each band, where it is known
	NoiseLimit float64             // L* units used for Noisy
	NoiseLater bool                // noise is told once the roll is compared
	Notes      []string

	pixels     int      // of the image area
	noise      []uint32 // histogram of NoiseL, see countNoise
	noiseError float64  // standard error of the noise in the shadows, over itself
}
