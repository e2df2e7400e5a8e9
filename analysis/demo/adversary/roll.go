package adversary

import (
	"fmt"
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

func (r *Roll) frame(i int, noisy bool) *Frame {
	m, sc := r.model(), sceneOf(r.Scene)
	fw, fh := r.film()
	red, edge := r.reduce(), r.border()
	bounds := r.Bounds()
	sw, sh := bounds.Dx(), bounds.Dy()
	toFilm := invert(nth(r.Scanner, i).affine(float64(sw), float64(sh)))
	toScene := after(invert(nth(r.Camera, i).affine(float64(sw), float64(sh))), toFilm)
	dots := float64(gateW) / float64(fw)
	stops := float32(r.Exposure(i))
	veil := r.veil()
	seed := r.Seed*1000 + uint64(i)

	var dust, glass *dirt
	if r.FilmDust > 0 {
		dust = newDirt(fw, fh, r.FilmDust, rand.New(rand.NewPCG(seed, 77)))
	}
	if r.Glass > 0 {
		glass = newDirt(fw, fh, r.Glass, rand.New(rand.NewPCG(r.Seed, 78)))
	}
	gain := [3]float32{1, 1, 1}
	if g := nth(r.Gains, i); g != [3]float64{} {
		for c := range 3 {
			gain[c] = float32(g[c])
		}
	}
	light := make([]float32, 3*sw*sh)
	width := sw * red // pixels of film in a row of the scan
	const strip = 64
	strips := (sh + strip - 1) / strip
	bands(strips, func(lo, hi int) {
		var fields [4][2]*field
		var grain [4][2][]float32
		for k := range fields {
			for b := range 2 {
				fields[k][b] = newField(seed, uint64(2*k+b), width, math.Max(r.Blur[b], 0.3))
				grain[k][b] = make([]float32, width)
			}
		}
		common, own := float32(math.Sqrt(m.film.Alike)), float32(math.Sqrt(1-m.film.Alike))
		amount := float32(r.Grain)
		if !noisy {
			amount = 0
		}
		for y := lo * strip; y < min(sh, hi*strip); y++ {
			for sub := range red {
				fy := y*red + sub
				if amount > 0 {
					for k := range fields {
						for b := range 2 {
							fields[k][b].row(grain[k][b], fy)
						}
					}
				}
				for fx := range width {
					out := light[3*(y*sw+fx/red):]
					px, py := (float64(fx)+0.5)/float64(red), (float64(fy)+0.5)/float64(red)
					gx, gy := toFilm[0]*px+toFilm[1]*py+toFilm[2]-float64(edge), toFilm[3]*px+toFilm[4]*py+toFilm[5]-float64(edge)
					inside := 1.0
					if edge > 0 {
						w, h := float64(fw/red), float64(fh/red)
						inside = clamp(gx+0.5) * clamp(w-gx+0.5) * clamp(gy+0.5) * clamp(h-gy+0.5)
						if inside == 0 {
							border(out, m, gx, gy, float64(edge), red)
							continue
						}
					}
					qx, qy := toScene[0]*px+toScene[1]*py+toScene[2]-float64(edge), toScene[3]*px+toScene[4]*py+toScene[5]-float64(edge)
					v := sc.at(qx*float64(red)*dots, qy*float64(red)*dots)
					for c := range v {
						v[c] += float32(veil[c])
					}
					if m.film.Panchromatic {
						v = panchromatic(v)
					}
					dirty := float32(0)
					if dust != nil {
						dirty += dust.at(gx*float64(red), gy*float64(red))
					}
					if glass != nil {
						dirty += glass.at(px*float64(red)-float64(edge*red), py*float64(red)-float64(edge*red))
					}
					var q [3]float32
					for c := range 3 {
						e := fastLog2(v[c]) + stops
						q[c] = m.part[c].at(e)
						if amount > 0 {
							d := m.dense[c].at(e)
							thin, dense := sqrt(1-d), sqrt(d)
							n := common*(thin*grain[3][0][fx]+dense*grain[3][1][fx]) + own*(thin*grain[c][0][fx]+dense*grain[c][1][fx])
							q[c] += amount * m.grain[c].at(e) * n
						}
						if dirty != 0 {
							if m.film.Negative {
								q[c] -= dirty * float32(m.film.Contrast)
							} else {
								q[c] += dirty
							}
						}
					}
					for c := range 3 {
						d := float32(m.off[c]) + float32(m.mix[c][0])*q[0] + float32(m.mix[c][1])*q[1] + float32(m.mix[c][2])*q[2]
						out[c] += m.light.at(d) * float32(inside) / float32(red*red)
					}
				}
			}
		}
	})
	if r.Stray > 0 {
		var mean [3]float64
		for k, v := range light {
			mean[k%3] += float64(min(v, 1))
		}
		for k := range light {
			light[k] = float32(1-r.Stray)*light[k] + float32(r.Stray*mean[k%3]/float64(sw*sh))
		}
	}
	bits := or(r.Bits, 16)
	full := float32(int(1)<<bits - 1)
	p := &scan.Pixels{
		Header: scan.Info{Path: fmt.Sprintf("adversary %s %+.1f", r.Scene, r.Stops[i]), Format: "TIFF", Width: sw, Height: sh, Bits: bits, Channels: 3, Orientation: 1},
		Pix:    make([]uint16, len(light)),
	}
	bands(sh, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			rnd := rand.New(rand.NewPCG(seed^0xabcdef, uint64(y)))
			for k := 3 * y * sw; k < 3*(y+1)*sw; k++ {
				v := light[k] * gain[k%3]
				if noisy && r.ReadSD > 0 {
					v += float32(r.ReadSD * rnd.NormFloat64())
				}
				p.Pix[k] = uint16(srgb.at(sqrt(max(0, min(1, v))))*full + 0.5)
			}
		}
	})
	f := &Frame{Pixels: p}
	gate := r.Gate()
	for y := gate.Min.Y; y < gate.Max.Y; y++ {
		for x := gate.Min.X; x < gate.Max.X; x++ {
			k := 3 * (y*sw + x)
			a, b, c := p.Pix[k], p.Pix[k+1], p.Pix[k+2]
			if max(a, b, c) == uint16(full) {
				f.Clip.Blown++
			}
			if min(a, b, c) == 0 {
				f.Clip.Blocked++
			}
		}
	}
	n := float64(gate.Dx() * gate.Dy())
	f.Clip.Blown, f.Clip.Blocked = f.Clip.Blown/n, f.Clip.Blocked/n
	return f
}

// border is what lies outside the gate: rebate that got no light, then the holder.
func border(out []float32, m *model, gx, gy, edge float64, red int) {
	outside := math.Max(math.Max(-gx, -gy), 0)
	v := [3]float64{0.0004, 0.0004, 0.0004}
	if outside < edge*0.5 {
		v = m.expose([3]float64{dimmest, dimmest, dimmest})
	}
	for c := range 3 {
		out[c] += float32(v[c] / float64(red*red))
	}
}

func panchromatic(v [3]float32) [3]float32 {
	y := (v[0] + v[1] + v[2]) / 3
	return [3]float32{y, y, y}
}

func clamp(v float64) float64 { return math.Max(0, math.Min(1, v)) }

func sqrt(v float32) float32 { return float32(math.Sqrt(float64(v))) }

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
