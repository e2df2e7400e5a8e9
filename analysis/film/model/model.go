// Package model is a roll as a model: the light of its places, the film's response, its
// noise by level. From them every frame that the bracket has, and every one between them,
// can be seen without noise.
//
// # Light
//
// A place is a pixel of the base frame's preview, on a lattice in cells and blocks. Every
// registered frame reads its exposure: density, taken apart into the layers' (see dyes),
// back through each layer's curve, less the frame's measured stop. The readings are
// averaged with their noise as weights, so that shadows are told by the frames that were
// exposed longer and highlights by those that were exposed less. What noise is left
// spreads the places of a block; it is known and taken out of the spread.
//
// # Dyes
//
// A channel of the scan shows mostly one layer, and something of the others: a dye absorbs
// outside its own part of the spectrum, and densities of dyes add up (Beer's law). So
//
//	d = M q(x + s)
//
// with q the layers' curves, M a matrix whose rows add up to one (a neutral stays what
// the response says), found from blocks of all frames. Where a scene has too little
// colour to tell, M stays near the unit matrix.
//
// # Silence
//
// A channel says nothing where the scan is full or empty or a third of a stop moves its
// light by less than the noise of a preview pixel (package salvage's definition).
package model

import (
	"context"
	"errors"
	"image"
	"math"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/matrix"
	"stopladder/analysis/scan/colour"
)

// Noise is what the roll knows of its noise in a preview pixel; NaN where it does not.
type Noise interface {
	Sigma(c int, light float64) float64 // of the light of the scan's channel c (0 R, 1 G, 2 B)
	SigmaY(y float64) float64           // of luminance
}

// Of a block: cells along its side, and places along that of a cell, at most.
const (
	cellsAlong = 3
	perCell    = 2
	cellsLong  = 340 // cells along the picture's longer side, about, as package salvage has
)

// Model is a measured roll as a model. It is safe for concurrent use.
type Model struct {
	Base  *View // the base frame without noise
	noise Noise
	layer [3]*layer
	// Mix are the channels' densities from the layers'. Rows add up to 1.
	Mix, unmix matrix.Of
	dyeError   [3][2]float64 // standard errors of the two shares of other layers, by channel
	// primaries are the scan's channels on the sRGB primaries.
	primaries matrix.Of

	nx, ny, side, per int       // blocks; preview pixels of a cell; places along a cell's side
	x                 []float32 // log10 exposure at the base's stop, 3 a place
	absent            []bool    // places that no frame shows
	luminance         []float64 // of the base without noise, a place
	bands             []uint8   // tonal bands of that
	frames            []frame
	flare             float64    // of the scanner: a share of a scan's mean light
	light, dark       [3]float32 // densities from which on, and beyond which, a channel says nothing
	full, empty       [3]float32 // densities of the scan's ceiling and floor
	speech            [3]*speech // nil: the noise is not known
}

// frame is one that tells of the light.
type frame struct {
	index int
	stop  float64 // measured, against the base frame
	look  *measure.Look
	at    f64.Aff3 // preview pixels of the base frame to preview pixels of this one
	marks *measure.Marks
	kept  float64 // share of the noise's variance that reading between pixels leaves
	off   float64 // how far the frame is from the model, in density
	// lostOff is that of its lost area, a share of the image area.
	lostOff float64
	// Near the light and near the dark end: how far it is from the model, and dyesOff.
	ends, dyes [2]float64
}

// ErrNone says that the roll is no model: it has no response.
var ErrNone = errors.New("without a response of the film the roll cannot be made a model")

// New makes the model of a roll. The error is ctx's or ErrNone. noise may be nil: every
// frame then counts alike, and only the scan's ends are silent.
func New(ctx context.Context, frames []response.Frame, base int, res *response.Result, noise Noise) (*Model, error) {
	if res == nil || res.Curve == nil || base < 0 || frames[base].Look == nil || frames[base].Look.Preview == nil || frames[base].Look.Space == nil {
		return nil, ErrNone
	}
	m := &Model{noise: noise}
	if v := res.Scan.Flare; v != nil {
		m.flare = *v
	}
	b := frames[base].Look
	f := max(1, b.Preview.Factor)
	area := image.Rect((b.Area.Min.X+f-1)/f, (b.Area.Min.Y+f-1)/f, b.Area.Max.X/f, b.Area.Max.Y/f).Intersect(image.Rect(0, 0, b.Preview.W, b.Preview.H))
	m.side = max(1, (max(area.Dx(), area.Dy())+cellsLong-1)/cellsLong)
	m.per = min(perCell, m.side)
	m.nx, m.ny = area.Dx()/(m.side*cellsAlong), area.Dy()/(m.side*cellsAlong)
	if m.nx < 2 || m.ny < 2 {
		return nil, ErrNone
	}
	m.primaries = Primaries(b.ColourSpace())
	for i, fr := range frames {
		r := res.Frames[i]
		if fr.Look == nil || fr.Look.Preview == nil || fr.Look.Space == nil || r.MeasuredStop == nil && i != base || fr.Unregistered && i != base {
			continue
		}
		k := frame{index: i, look: fr.Look, at: affine.Identity, marks: fr.Marks}
		if i != base {
			k.stop = *r.MeasuredStop
			k.at = affine.Reduced(fr.Map, float64(f), float64(max(1, fr.Look.Preview.Factor)))
		}
		m.frames = append(m.frames, k)
	}
	m.limits(b)
	for c := range 3 {
		m.layer[c] = newLayer(res.Curve, c, float64(m.full[c]), func(d float64) float64 { return m.densitySigma(c, d) })
		if m.layer[c] == nil {
			return nil, ErrNone
		}
	}
	m.ends()
	m.Mix, m.unmix = matrix.Unit, matrix.Unit
	read, err := m.read(ctx, area)
	if err != nil {
		return nil, err
	}
	light, dark := m.light, m.dark
	m.speaking()
	m.dyes(read)
	m.ends()
	m.light, m.dark = light, dark // of the channels, which the response itself tells
	if err := m.place(ctx, read); err != nil {
		return nil, err
	}
	m.Base = m.At(0)
	m.weigh()
	m.check(read)
	return m, ctx.Err()
}

// limits takes the ends of the scan: of frames that were scanned alike the narrowest, for
// not every frame has tones that pile up there.
func (m *Model) limits(b *measure.Look) {
	tone := b.Space.Tone()
	ceiling := [3]int{b.Ceiling.R, b.Ceiling.G, b.Ceiling.B}
	floor := [3]int{b.Floor.R, b.Floor.G, b.Floor.B}
	for _, f := range m.frames {
		l := f.look
		if l.Space.Max() != b.Space.Max() {
			continue
		}
		for c, v := range [3]int{l.Ceiling.R, l.Ceiling.G, l.Ceiling.B} {
			ceiling[c] = min(ceiling[c], v)
		}
		for c, v := range [3]int{l.Floor.R, l.Floor.G, l.Floor.B} {
			floor[c] = max(floor[c], v)
		}
	}
	for c := range 3 {
		// Half a code off the end counts as the end.
		at := func(code, in int) float64 {
			n := len(tone[c]) - 1
			return (float64(tone[c][min(max(code, 0), n)]) + float64(tone[c][min(max(code+in, 0), n)])) / 2
		}
		m.full[c] = float32(-math.Log10(math.Max(at(ceiling[c], -1), 1e-9)))
		m.empty[c] = float32(-math.Log10(math.Max(at(floor[c], 1), 1e-9)))
	}
}

// ends finds where channels fall silent, and the noise of exposures.
func (m *Model) ends() {
	for c, l := range m.layer {
		m.light[c], m.dark[c] = m.full[c], m.empty[c]
		l.speaks = nil
		l.sigma = make([]float32, len(l.back))
		speaks := make([]float64, len(l.back)) // a third of a stop over the noise
		best := -1
		for i := range l.back {
			d := l.least + float64(i)*backStep
			e := float64(l.back[i])
			step := l.third(e)
			s := m.densitySigma(c, d)
			switch {
			case m.noise == nil:
				l.sigma[i] = 0.01
			case s == s && step > 0:
				l.sigma[i] = float32(s / (step * 3 / stopLog))
			default:
				l.sigma[i] = float32(math.Inf(1))
			}
			speaks[i] = math.NaN()
			if m.noise != nil && s == s {
				speaks[i] = l.stop(e) / 3 / s
				// Beyond what the roll covers slope and noise are drawn on, and so is their ratio.
				covered := d >= float64(m.full[c]) && d <= float64(m.empty[c]) && e >= l.covered[0] && e <= l.covered[1]
				if covered && (best < 0 || speaks[i] > speaks[best]) {
					best = i
				}
			}
		}
		if best < 0 {
			continue
		}
		// Outward from where it speaks best it gets only flatter: a curve's waves are what
		// its fit is off by.
		falling(speaks[:best+1], l.back, -1)
		falling(speaks[best:], l.back[best:], 1)
		l.speaks = speaks
		for i := best; i >= 0; i-- {
			if speaks[i] < 1 {
				m.light[c] = max(m.light[c], float32(l.least+(float64(i)+0.5)*backStep))
				break
			}
		}
		for i := best; i < len(speaks); i++ {
			if speaks[i] < 1 {
				m.dark[c] = min(m.dark[c], float32(l.least+(float64(i)-0.5)*backStep))
				break
			}
		}
	}
}

// falling makes values fall outward, way 1 from the first to the last, -1 from the last to
// the first: neighbours that rise are pooled (least squares of their logarithms, weighted
// with the exposure that they stand for). What is not known is left.
func falling(v []float64, exposure []float32, way int) {
	type pool struct {
		first, n       int
		weight, middle float64
	}
	var pools []pool
	var at []int // places of the values that are known, outward
	for k := range v {
		i := k
		if way < 0 {
			i = len(v) - 1 - k
		}
		if !(v[i] > 0) {
			continue
		}
		p := pool{len(at), 1, 1e-9 + math.Abs(float64(exposure[min(i+1, len(v)-1)]-exposure[max(i-1, 0)])), math.Log(v[i])}
		at = append(at, i)
		for len(pools) > 0 {
			q := pools[len(pools)-1]
			if q.middle >= p.middle {
				break
			}
			w := q.weight + p.weight
			p = pool{q.first, q.n + p.n, w, (q.weight*q.middle + p.weight*p.middle) / w}
			pools = pools[:len(pools)-1]
		}
		pools = append(pools, p)
	}
	for _, p := range pools {
		for k := range p.n {
			v[at[p.first+k]] = math.Exp(p.middle)
		}
	}
}

// densitySigma returns the standard deviation of a pixel's density; NaN: not known.
func (m *Model) densitySigma(c int, d float64) float64 {
	if m.noise == nil {
		return math.NaN()
	}
	y := math.Pow(10, -d)
	return m.noise.Sigma(c, y) / (math.Ln10 * y)
}

// Primaries returns the light of a scan's own channels on the sRGB primaries, as rows:
// exact for matrix profiles, and near enough for small changes in others.
func Primaries(s *colour.Space) (m matrix.Of) {
	for d := range 3 {
		var codes [3]uint16
		codes[d] = uint16(min(s.Max(), 65535))
		var lin [3]float32
		s.Linear(lin[:], codes[:])
		for c := range 3 {
			m[c][d] = float64(lin[c])
		}
	}
	return m
}
