package adversary

import (
	"image"
	"math"
	"math/rand/v2"
	"sync"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/scan"
)

// Move is how a frame lies against the base frame: base content at p comes to
// C + Scale*R(p-C) + (DX, DY), with C the picture's centre, R counter-clockwise on the
// screen in degrees, and pixels of the scan, right and down. Scale 0 is 1.
type Move struct{ DX, DY, Rotation, Scale float64 }

// affine returns the mapping for a picture of w by h.
func (m Move) affine(w, h float64) f64.Aff3 {
	k := m.Scale
	if k == 0 {
		k = 1
	}
	s, c := math.Sincos(m.Rotation * math.Pi / 180)
	a := f64.Aff3{k * c, k * s, 0, -k * s, k * c, 0}
	a[2] = w/2 + m.DX - a[0]*w/2 - a[1]*h/2
	a[5] = h/2 + m.DY - a[3]*w/2 - a[4]*h/2
	return a
}

func invert(a f64.Aff3) f64.Aff3 {
	d := a[0]*a[4] - a[1]*a[3]
	b := f64.Aff3{a[4] / d, -a[1] / d, 0, -a[3] / d, a[0] / d, 0}
	b[2] = -(b[0]*a[2] + b[1]*a[5])
	b[5] = -(b[3]*a[2] + b[4]*a[5])
	return b
}

// after returns the mapping that goes by a first and then by b.
func after(b, a f64.Aff3) f64.Aff3 {
	return f64.Aff3{
		b[0]*a[0] + b[1]*a[3], b[0]*a[1] + b[1]*a[4], b[0]*a[2] + b[1]*a[5] + b[2],
		b[3]*a[0] + b[4]*a[3], b[3]*a[1] + b[4]*a[4], b[3]*a[2] + b[4]*a[5] + b[5],
	}
}

// Roll is a bracket that is to be photographed and scanned. Slices by frame stand in the
// order of Stops and may be shorter than it: what is not there is nothing.
type Roll struct {
	Film  *Film
	Scene string // one of Scenes
	Seed  uint64
	Stops []float64 // labels
	Size  int       // longer side of the scan's picture in pixels, without its border; 0 is 1200
	// Reduce is how many pixels of film are averaged along each side of a pixel of the
	// scan; 0 is 1. Grain's blur is in pixels of film, so that a film of Size 900,
	// Reduce 3 is that of Size 2700.
	Reduce int
	Bits   int // 8 or 16; 0 is 16

	// Grain is the standard deviation of a layer's density in a pixel of film, at density
	// 1 over the film's least. Blur are the standard deviations in pixels of film of the
	// Gauss blurs that it has where the film is thin and where it is dense.
	Grain    float64
	Blur     [2]float64
	ReadSD   float64 // scanner's own noise of a pixel, linear light
	Camera   []Move  // what the camera did: the scene moves within the gate
	Scanner  []Move  // what the film did in the scanner: the gate moves as well
	Drift    []float64
	Gains    [][3]float64 // of the scanner, on linear light; zero is 1
	Flare    float64      // of the lens: a share of the scene's mean light laid over all of it
	Stray    float64      // of the scanner: a share of the scan's mean light laid over all of it
	FilmDust float64      // share of the area under dust and scratches of each frame's film
	Glass    float64      // and of the scanner's glass, at one place in all frames
	Border   bool         // rebate and holder round the picture
	// Sharpen is how many times the scanner adds what a blur of SharpenRadius pixels takes
	// from the codes (an unsharp mask; 0.8 is "80 %"). For scans of the viewing scale or less.
	Sharpen, SharpenRadius float64
}

// Frame is one scan.
type Frame struct {
	Pixels *scan.Pixels
	Clip   Clip
}

// Clip are shares 0..1 of the image area whose code is full scale, and zero: of any
// channel, counted in the file.
type Clip struct{ Blown, Blocked float64 }

func (r *Roll) size() int   { return or(r.Size, 1200) }
func (r *Roll) reduce() int { return or(r.Reduce, 1) }
func (r *Roll) film() (int, int) { // pixels of film in the gate
	w := r.size() * r.reduce()
	h := w * gateH / gateW / r.reduce() * r.reduce()
	return w, h
}

func or(v, otherwise int) int {
	if v == 0 {
		return otherwise
	}
	return v
}

func nth[T any](s []T, i int) (v T) {
	if i < len(s) {
		v = s[i]
	}
	return v
}

// Exposure returns the stops that frame i really got against the base's label: its label
// and what the light drifted.
func (r *Roll) Exposure(i int) float64 { return r.Stops[i] + nth(r.Drift, i) }

// Map returns where frame i shows what stands at a place of the unmoved base frame, in
// pixels of the scan.
func (r *Roll) Map(i int) f64.Aff3 {
	b := r.Bounds()
	w, h := float64(b.Dx()), float64(b.Dy())
	return after(nth(r.Scanner, i).affine(w, h), nth(r.Camera, i).affine(w, h))
}

// Bounds returns the whole scan, its border included.
func (r *Roll) Bounds() image.Rectangle {
	w, h := r.film()
	b := 2 * r.border()
	return image.Rect(0, 0, w/r.reduce()+b, h/r.reduce()+b)
}

// Gate returns the image area of the base frame.
func (r *Roll) Gate() image.Rectangle { return r.Bounds().Inset(r.border()) }

func (r *Roll) border() int {
	if !r.Border {
		return 0
	}
	return r.size() / 25
}

// veil returns the light of the lens's flare, as a multiple of mid-grey's, before the
// frame's stops.
func (r *Roll) veil() (v [3]float64) {
	if r.Flare == 0 {
		return v
	}
	s := sceneOf(r.Scene)
	for c := range 3 {
		sum, n := 0.0, 0
		for y := margin; y < s.h-margin; y += 7 {
			for x := margin; x < s.w-margin; x += 7 {
				sum += float64(s.pix[c][y*s.w+x])
				n++
			}
		}
		v[c] = r.Flare * sum / float64(n)
	}
	return v
}

// at returns the scene's light at a dot's place, counted from the gate's upper left
// corner, between dots by Catmull and Rom's cubic.
func (s *scene) at(x, y float64) (v [3]float32) {
	x, y = x+margin, y+margin // dots have their centres at whole numbers, so that those of pixels fall on them
	i, j := int(math.Floor(x)), int(math.Floor(y))
	i, j = min(max(i, 1), s.w-3), min(max(j, 1), s.h-3)
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	if fx == 0 && fy == 0 {
		k := j*s.w + i
		return [3]float32{s.pix[0][k], s.pix[1][k], s.pix[2][k]}
	}
	wx, wy := cubic(fx), cubic(fy)
	for c := range 3 {
		for q := range 4 {
			row := s.pix[c][(j-1+q)*s.w+i-1:]
			v[c] += wy[q] * (wx[0]*row[0] + wx[1]*row[1] + wx[2]*row[2] + wx[3]*row[3])
		}
		v[c] = max(v[c], 1e-4)
	}
	return v
}

func cubic(t float32) [4]float32 {
	t2, t3 := t*t, t*t*t
	return [4]float32{(-t3 + 2*t2 - t) / 2, (3*t3 - 5*t2 + 2) / 2, (-3*t3 + 4*t2 + t) / 2, (t3 - t2) / 2}
}

var models sync.Map // *Film -> *model

func (r *Roll) model() *model {
	if m, ok := models.Load(r.Film); ok {
		return m.(*model)
	}
	m, _ := models.LoadOrStore(r.Film, newModel(r.Film))
	return m.(*model)
}

// srgb takes the root of linear light to the sRGB encoding.
var srgb = tabulate(0, 1, 16384, func(t float64) float64 { return encode(t * t) })

// Frame photographs and scans frame i. The same Roll gives the same codes.
func (r *Roll) Frame(i int) *Frame { return r.frame(i, true) }

// fastLog2 is log2 by a table of mantissas, within 1e-6.
func fastLog2(v float32) float32 {
	f, e := frexp(v)
	return log2Mantissa.at(f) + float32(e)
}

var log2Mantissa = tabulate(1, 2, 4096, math.Log2)

// frexp returns v as f * 2^e with f in 1..2, for normal positive numbers.
func frexp(v float32) (f float32, e int) {
	b := math.Float32bits(v)
	return math.Float32frombits(b&0x7fffff | 127<<23), int(b>>23) - 127
}

// dirt is dust, fibres and scratches on a piece of film or glass: a density that is laid
// over it, in pixels of film.
type dirt struct {
	w, h int
	d    []float32
}

func newDirt(w, h int, share float64, rnd *rand.Rand) *dirt {
	t := &dirt{w: w, h: h, d: make([]float32, w*h)}
	left := int(share * float64(w*h))
	unit := float64(w) / 1200 // sizes are of the film's, not of the scan's
	mark := func(x, y, r float64, d float32) {
		for j := int(y - r); j <= int(y+r); j++ {
			for i := int(x - r); i <= int(x+r); i++ {
				if i < 0 || j < 0 || i >= w || j >= h || (float64(i)-x)*(float64(i)-x)+(float64(j)-y)*(float64(j)-y) > r*r {
					continue
				}
				if t.d[j*w+i] == 0 {
					left--
				}
				t.d[j*w+i] = d
			}
		}
	}
	for left > 0 {
		x, y := rnd.Float64()*float64(w), rnd.Float64()*float64(h)
		switch rnd.IntN(5) {
		case 0, 1: // a speck
			mark(x, y, unit*(1+6*rnd.Float64()*rnd.Float64()), 0.5+1.5*rnd.Float32())
		case 2, 3: // a fibre
			turn, d := 6.3*rnd.Float64(), 0.3+0.9*rnd.Float32()
			for range 40 + rnd.IntN(160) {
				turn += 0.12 * rnd.NormFloat64()
				x, y = x+unit*math.Cos(turn), y+unit*math.Sin(turn)
				mark(x, y, 1.3*unit, d)
				if left <= 0 {
					break
				}
			}
		default: // a scratch along the film: emulsion is gone
			for range 100 + rnd.IntN(300) {
				y += unit
				mark(x, y, 0.8*unit, -0.25)
				if left <= 0 {
					break
				}
			}
		}
	}
	return t
}

func (t *dirt) at(x, y float64) float32 {
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i >= t.w || j >= t.h {
		return 0
	}
	return t.d[j*t.w+i]
}
