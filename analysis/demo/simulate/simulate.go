// Package simulate photographs a scene on an invented film and scans it, with
// everything about it known: the tests of the readings rest on this truth, and
// the demo roll is made by it.
//
// # The chain
//
//	scene light -> layers' exposure (primaries, Mix, camera flare, shutter)
//	            -> density (characteristic curve of each layer)
//	            -> grain (density noise, Selwyn's law, smoothed a little)
//	            -> scanner (light through the film, stray light, shot and read
//	               noise; negatives inverted with one setting for the roll)
//	            -> 16-bit code values, gamma 2.2 matrix profile, clipped at the
//	               scanner's ceiling and floor
//
// # Units and signs
//
// Stops: over is positive. Log exposure is log10 H with 0 where an 18 % grey
// card, exposed as metered, lies; a stop is 0.30103.
//
// Positions are continuous pixels of the scan, origin at the upper left corner
// of the upper left pixel, so pixel (i, j) has its centre at (i+0.5, j+0.5); x
// to the right, y down. A frame's movement takes the base frame's content to
// this frame's: p' = C + R(p-C) + shift, with C the picture's centre. The
// rotation R comes first, counter-clockwise as seen on the screen, in degrees;
// then the shift, in pixels, right and down positive. The base frame (stop 0)
// is not moved.
//
// Everything is determined by Options and the arguments; the number of
// goroutines makes no difference.
package simulate

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/scan"
)

// Stop is log10 of a factor of two.
var stopLog = math.Log10(2)

// Options of a roll. The zero value gives a clean roll: no movement, no border,
// no shutter error, grain and scanner noise as the stock and scanner have them.
type Options struct {
	Seed  uint64
	Stops []float64 // the roll's labelled stops; Swap and the frames' numbers refer to it; nil is -3..+4
	W, H  int       // size of the scan in pixels; 0, 0: the scene's own size, plus the border where there is one
	// MaxShift is the largest shift along either axis, as a fraction of the
	// scan's width (0.01 is 1 %); MaxRotation the largest rotation in degrees.
	// Each frame but the base gets its own, evenly distributed.
	MaxShift, MaxRotation float64
	// ShutterError is the largest departure of the exposure from its label, in
	// stops, evenly distributed; the base frame has none.
	ShutterError float64
	// Border shows film rebate and the scanner's holder round the image.
	Border bool
	// AutoCorrect levels each frame by itself, as a scan without fixed settings
	// does: the 0.5 and 99.5 % points of each channel go to 5 and 95 % of scale.
	AutoCorrect bool
	// Swap exchanges the exposures of two labelled stops; equal values: none.
	Swap [2]float64
	// EightBitInSixteen writes 8-bit codes in the high byte: 0xFA00 is the
	// scanner's ceiling of 98 %.
	EightBitInSixteen bool
	// NoGrain and NoScannerNoise switch the two noises off.
	NoGrain, NoScannerNoise bool
	Pitch                   float64  // um on the film a pixel; 0: 69.5 mm over the image's width
	Scanner                 *Scanner // nil: DefaultScanner
}

// DefaultStops returns the demo's bracket.
func DefaultStops() []float64 { return []float64{-3, -2, -1, 0, 1, 2, 3, 4} }

// imageWidth of roll film 6x7 in um.
const imageWidth = 69500

// Frame is one scan.
type Frame struct {
	Stop   float64 // as labelled
	Pixels *scan.Pixels
	Truth  *Truth
}

// Truth is all that is known about a frame.
type Truth struct {
	Stop     float64    // as labelled
	Exposure float64    // stops that the film was really given, against the metered exposure
	Shift    [2]float64 // pixels, right and down
	Rotation float64    // degrees, counter-clockwise on the screen, about the picture's centre, before the shift
	Scale    float64    // scan pixels per scene pixel
	// FromBase takes the base frame's pixel positions to this frame's; FromScene
	// takes the scene's (in scene pixels) to this frame's.
	FromBase, FromScene f64.Aff3
	// Area is the largest upright rectangle of whole pixels that holds nothing
	// but image (no rebate, no soft edge). Gate are the image's true corners,
	// clockwise from the upper left, before their rounding.
	Area image.Rectangle
	Gate [4][2]float64
	// Levels, of AutoCorrect: the code values (0..65535) that went to 5 and 95 %
	// of scale, per channel; zero without it.
	Levels [3][2]float64

	s *shot
}

// Density of channel c after log10 exposure logH.
func (t *Truth) Density(c int, logH float64) float64 { return t.s.stock.Density(c, logH) }

// LogExposure returns what the three layers get in this frame from linear light of the
// scene (sRGB primaries), flare and shutter included.
func (t *Truth) LogExposure(rgb [3]float64) [3]float64 { return t.s.logExposure(rgb) }

// Code returns the noise-free code value, not rounded, of channel c after logH.
func (t *Truth) Code(c int, logH float64) float64 {
	lin, _ := t.s.scanner.light(t.s.stock, c, t.Density(c, logH))
	return t.s.level(c, t.s.scanner.code(lin))
}

// Light returns the noise-free linear light, not clipped, of channel c after logH: 1
// is the profile's white. Sigma is the standard deviation that grain and scanner give
// one pixel of it, to first order, before clipping and rounding.
func (t *Truth) Light(c int, logH float64) (light, sigma float64) {
	const e = 1e-4
	d := t.Density(c, logH)
	lin, own := t.s.scanner.light(t.s.stock, c, d)
	a, _ := t.s.scanner.light(t.s.stock, c, d-e)
	b, _ := t.s.scanner.light(t.s.stock, c, d+e)
	g := t.s.grainSigma(c, d) * grainShare * math.Abs(b-a) / (2 * e)
	if t.s.o.NoScannerNoise {
		own = 0
	}
	return lin, math.Hypot(own, g)
}

// Sigma returns the standard deviation of channel c's code values after logH, to first
// order, before clipping and rounding.
func (t *Truth) Sigma(c int, logH float64) float64 {
	lin, sigma := t.Light(c, logH)
	if lin <= 0 {
		return 0
	}
	slope := 65535 / gamma * math.Pow(lin, 1/gamma-1)
	if l := t.Levels[c]; l[1] > l[0] {
		slope *= 0.9 * 65535 / (l[1] - l[0])
	}
	return sigma * slope
}

// DensitySigma returns the grain of one pixel of channel c at density d.
func (t *Truth) DensitySigma(c int, d float64) float64 { return t.s.grainSigma(c, d) * grainShare }

// NoiseFree renders the frame without grain and scanner noise.
func (t *Truth) NoiseFree(ctx context.Context) (*scan.Pixels, error) {
	c := *t.s
	c.quiet = true
	return c.pixels(ctx)
}

// Shoot exposes one frame of the roll at a labelled stop and scans it.
func Shoot(ctx context.Context, r *scene.Radiance, stock Stock, o Options, stop float64) (*Frame, error) {
	s, err := prepare(r, stock, o, stop)
	if err != nil {
		return nil, err
	}
	p, err := s.pixels(ctx)
	if err != nil {
		return nil, err
	}
	return &Frame{Stop: stop, Pixels: p, Truth: s.truth()}, nil
}

// shot is a frame ready to be scanned row by row.
type shot struct {
	o        Options
	stock    *Stock
	scanner  Scanner
	film     *film
	stop     float64
	exposure float64
	seed     uint64
	shift    [2]float64
	rotation float64
	gate     image.Rectangle // of the base frame
	window   image.Rectangle // of the holder, fixed in the scan
	scale    float64
	toScene  f64.Aff3 // scan pixels to scene pixels
	toBase   f64.Aff3
	pitch    float64
	levels   [3][2]float64
	quiet    bool
	tab      *tables
}

// Border widths as fractions of the image's width: rebate and holder, a side.
const (
	rebateShare = 0.020
	holderShare = 0.012
)

func prepare(r *scene.Radiance, stock Stock, o Options, stop float64) (*shot, error) {
	if r == nil || r.W < 16 || r.H < 16 || len(r.Pix) != 3*r.W*r.H {
		return nil, errors.New("the scene to be photographed is empty or damaged")
	}
	return prepareFilm(expose(r, &stock), &stock, o, stop)
}

func prepareFilm(f *film, stock *Stock, o Options, stop float64) (*shot, error) {
	if math.IsNaN(stop) || math.Abs(stop) > 20 {
		return nil, fmt.Errorf("a frame at %v stops cannot be simulated: give -20 to 20", stop)
	}
	if o.MaxShift < 0 || o.MaxShift > 0.05 || o.MaxRotation < 0 || o.MaxRotation > 5 {
		return nil, fmt.Errorf("shifts of %v of the width and rotations of %v degrees are out of reach: at most 0.05 and 5", o.MaxShift, o.MaxRotation)
	}
	if o.Stops == nil {
		o.Stops = DefaultStops()
	}
	s := &shot{o: o, stock: stock, film: f, stop: stop, scanner: DefaultScanner()}
	if o.Scanner != nil {
		s.scanner = *o.Scanner
	}
	if err := s.place(); err != nil {
		return nil, err
	}
	s.move()
	s.pitch = o.Pitch
	if s.pitch == 0 {
		s.pitch = imageWidth / float64(s.gate.Dx())
	}
	s.tab = newTables(s)
	if o.AutoCorrect {
		s.autoLevel()
		s.tab = s.tab.encode(s)
	}
	return s, nil
}

// place lays out the scan: holder, rebate, image.
func (s *shot) place() error {
	o, f := &s.o, s.film
	w, h := o.W, o.H
	if w == 0 && h == 0 {
		w, h = f.w, f.h
		if o.Border {
			m := int(math.Round((rebateShare + holderShare) * float64(f.w)))
			w, h = w+2*m, h+2*m
		}
	}
	if w < 32 || h < 32 || w > 30000 || h > 30000 {
		return fmt.Errorf("a scan of %d x %d pixels cannot be simulated: both sides must be from 32 to 30000", w, h)
	}
	o.W, o.H = w, h
	full := image.Rect(0, 0, w, h)
	s.window, s.gate = full, full
	if !o.Border {
		// The scanner crops inside the image, so that a shifted frame still
		// fills the scan.
		m := o.MaxShift*float64(w) + math.Sin(o.MaxRotation*math.Pi/180)*float64(max(w, h))/2
		if m > 0 {
			s.gate = full.Inset(-int(math.Ceil(m)) - 1)
		}
	} else {
		share := (rebateShare + holderShare) / (1 + 2*(rebateShare+holderShare))
		m := int(math.Round(share * float64(w)))
		s.gate = full.Inset(m)
		s.window = full.Inset(int(math.Round(float64(m) * holderShare / (rebateShare + holderShare))))
	}
	// The scene fills the gate; what is over on one side is lost evenly.
	s.scale = math.Max(float64(s.gate.Dx())/float64(f.w), float64(s.gate.Dy())/float64(f.h))
	return nil
}

// move draws the frame's movement and shutter error.
func (s *shot) move() {
	o := &s.o
	number := uint64(math.Float64bits(s.stop + 0.0)) // + 0 makes -0 plain
	s.seed = mix64(o.Seed ^ mix64(number))
	s.exposure = s.stop
	if o.Swap[0] != o.Swap[1] {
		switch s.stop {
		case o.Swap[0]:
			s.exposure = o.Swap[1]
		case o.Swap[1]:
			s.exposure = o.Swap[0]
		}
	}
	if s.stop != 0 {
		s.shift = [2]float64{
			(2*unit(s.seed, 1) - 1) * o.MaxShift * float64(o.W),
			(2*unit(s.seed, 2) - 1) * o.MaxShift * float64(o.W),
		}
		s.rotation = (2*unit(s.seed, 3) - 1) * o.MaxRotation
		s.exposure += (2*unit(s.seed, 4) - 1) * o.ShutterError
	}
	s.toBase, _ = affine.Inverse(s.fromBase()) // a rotation has one
	gx, gy := float64(s.gate.Min.X+s.gate.Max.X)/2, float64(s.gate.Min.Y+s.gate.Max.Y)/2
	k := 1 / s.scale
	toScene := f64.Aff3{k, 0, float64(s.film.w)/2 - gx*k, 0, k, float64(s.film.h)/2 - gy*k}
	s.toScene = affine.After(toScene, s.toBase)
}

func (s *shot) fromBase() f64.Aff3 {
	sin, cos := math.Sincos(s.rotation * math.Pi / 180)
	cx, cy := float64(s.o.W)/2, float64(s.o.H)/2
	// y points down, so counter-clockwise on the screen is x*cos + y*sin.
	return f64.Aff3{
		cos, sin, cx - cos*cx - sin*cy + s.shift[0],
		-sin, cos, cy + sin*cx - cos*cy + s.shift[1],
	}
}

func (s *shot) truth() *Truth {
	fromScene, _ := affine.Inverse(s.toScene)
	t := &Truth{
		Stop: s.stop, Exposure: s.exposure, Shift: s.shift, Rotation: s.rotation, Scale: s.scale,
		FromBase: s.fromBase(), FromScene: fromScene, Levels: s.levels, s: s,
	}
	g := s.gate
	for i, p := range [4]image.Point{g.Min, {X: g.Max.X, Y: g.Min.Y}, g.Max, {X: g.Min.X, Y: g.Max.Y}} {
		t.Gate[i][0], t.Gate[i][1] = affine.At(t.FromBase, float64(p.X), float64(p.Y))
	}
	q := t.Gate
	full := image.Rect(0, 0, s.o.W, s.o.H)
	if !s.o.Border {
		t.Area = full
		return t
	}
	const soft = edgeSoft
	t.Area = image.Rect(
		int(math.Ceil(math.Max(q[0][0], q[3][0])+soft)), int(math.Ceil(math.Max(q[0][1], q[1][1])+soft)),
		int(math.Floor(math.Min(q[1][0], q[2][0])-soft)), int(math.Floor(math.Min(q[2][1], q[3][1])-soft)),
	).Intersect(s.window)
	return t
}

func (s *shot) grainSigma(c int, d float64) float64 {
	if s.o.NoGrain {
		return 0
	}
	return s.stock.Granularity(c, d) * pixelShare(s.pitch)
}
