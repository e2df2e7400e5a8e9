package adversary

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/scan"
)

// exposure is one frame on its way from the scene to light in the scanner.
type exposure struct {
	r           *Roll
	m           *model
	sc          *scene
	fw, fh      int // pixels of film
	red, edge   int
	w, h        int // of the scan
	toFilm      f64.Aff3
	toScene     f64.Aff3
	dots        float64 // scene pixels per pixel of film
	stops       float32
	veil        [3]float32
	amount      float32 // of grain
	seed        uint64
	dust, glass *dirt
}

func (r *Roll) frame(i int, noisy bool) *Frame {
	x := r.newExposure(i, noisy)
	light := make([]float32, 3*x.w*x.h)
	const strip = 64
	bands((x.h+strip-1)/strip, func(lo, hi int) {
		g := x.newGrain()
		for y := lo * strip; y < min(x.h, hi*strip); y++ {
			for sub := range x.red {
				x.row(light[3*y*x.w:3*(y+1)*x.w], g, y, y*x.red+sub)
			}
		}
	})
	if r.Stray > 0 {
		stray(light, r.Stray)
	}
	p := r.scanned(i, light, noisy, x.seed)
	return &Frame{Pixels: p, Clip: clipIn(p, r.Gate())}
}

func (r *Roll) newExposure(i int, noisy bool) *exposure {
	fw, fh := r.film()
	bounds := r.Bounds()
	x := &exposure{r: r, m: r.model(), sc: sceneOf(r.Scene), fw: fw, fh: fh, red: r.reduce(), edge: r.border(),
		w: bounds.Dx(), h: bounds.Dy(), dots: float64(gateW) / float64(fw), stops: float32(r.Exposure(i)), seed: r.Seed*1000 + uint64(i)}
	x.toFilm = invert(nth(r.Scanner, i).affine(float64(x.w), float64(x.h)))
	x.toScene = after(invert(nth(r.Camera, i).affine(float64(x.w), float64(x.h))), x.toFilm)
	for c, v := range r.veil() {
		x.veil[c] = float32(v)
	}
	if noisy {
		x.amount = float32(r.Grain)
	}
	if r.FilmDust > 0 {
		x.dust = newDirt(fw, fh, r.FilmDust, rand.New(rand.NewPCG(x.seed, 77)))
	}
	if r.Glass > 0 {
		x.glass = newDirt(fw, fh, r.Glass, rand.New(rand.NewPCG(r.Seed, 78)))
	}
	return x
}

// grain is the grain along a row of film: of the three layers and of what is common to
// them, fine where it is thin and coarse where it is dense.
type grain struct {
	fields      [4][2]*field
	rows        [4][2][]float32
	common, own float32
}

func (x *exposure) newGrain() *grain {
	g := &grain{common: float32(math.Sqrt(x.m.film.Alike)), own: float32(math.Sqrt(1 - x.m.film.Alike))}
	for k := range g.fields {
		for b := range 2 {
			g.fields[k][b] = newField(x.seed, uint64(2*k+b), x.w*x.red, math.Max(x.r.Blur[b], 0.3))
			g.rows[k][b] = make([]float32, x.w*x.red)
		}
	}
	return g
}

func (g *grain) row(y int) {
	for k := range g.fields {
		for b := range 2 {
			g.fields[k][b].row(g.rows[k][b], y)
		}
	}
}

// at returns the grain of layer c at a pixel of the row, where d is the share of its
// density, 0..1.
func (g *grain) at(c, fx int, d float32) float32 {
	thin, dense := sqrt(1-d), sqrt(d)
	return g.common*(thin*g.rows[3][0][fx]+dense*g.rows[3][1][fx]) + g.own*(thin*g.rows[c][0][fx]+dense*g.rows[c][1][fx])
}

// row adds the light through row fy of the film to row y of the scan.
func (x *exposure) row(out []float32, g *grain, y, fy int) {
	if x.amount > 0 {
		g.row(fy)
	}
	red, edge := float64(x.red), float64(x.edge)
	w, h := float64(x.fw/x.red), float64(x.fh/x.red)
	for fx := range x.w * x.red {
		out := out[3*(fx/x.red):]
		px, py := (float64(fx)+0.5)/red, (float64(fy)+0.5)/red
		gx, gy := x.toFilm[0]*px+x.toFilm[1]*py+x.toFilm[2]-edge, x.toFilm[3]*px+x.toFilm[4]*py+x.toFilm[5]-edge
		inside := 1.0
		if x.edge > 0 {
			inside = clamp(gx+0.5) * clamp(w-gx+0.5) * clamp(gy+0.5) * clamp(h-gy+0.5)
			if inside == 0 {
				border(out, x.m, gx, gy, edge, x.red)
				continue
			}
		}
		qx, qy := x.toScene[0]*px+x.toScene[1]*py+x.toScene[2]-edge, x.toScene[3]*px+x.toScene[4]*py+x.toScene[5]-edge
		q := x.layers(g, fx, x.sc.at(qx*red*x.dots, qy*red*x.dots), x.dirt(gx*red, gy*red, px*red, py*red))
		for c := range 3 {
			d := float32(x.m.off[c]) + float32(x.m.mix[c][0])*q[0] + float32(x.m.mix[c][1])*q[1] + float32(x.m.mix[c][2])*q[2]
			out[c] += x.m.light.at(d) * float32(inside) / float32(x.red*x.red)
		}
	}
}

// dirt returns the density of dust at a place of the film, and of what lies on the
// scanner's glass at a place of the scan, both in pixels of film.
func (x *exposure) dirt(filmX, filmY, scanX, scanY float64) (d float32) {
	if x.dust != nil {
		d += x.dust.at(filmX, filmY)
	}
	if x.glass != nil {
		d += x.glass.at(scanX-float64(x.edge*x.red), scanY-float64(x.edge*x.red))
	}
	return d
}

// layers returns the dye of the three layers under a light of the scene.
func (x *exposure) layers(g *grain, fx int, v [3]float32, dirty float32) (q [3]float32) {
	for c := range v {
		v[c] += x.veil[c]
	}
	if x.m.film.Panchromatic {
		v = panchromatic(v)
	}
	for c := range 3 {
		e := fastLog2(v[c]) + x.stops
		q[c] = x.m.part[c].at(e)
		if x.amount > 0 {
			q[c] += x.amount * x.m.grain[c].at(e) * g.at(c, fx, x.m.dense[c].at(e))
		}
		if dirty != 0 {
			if x.m.film.Negative {
				q[c] -= dirty * float32(x.m.film.Contrast)
			} else {
				q[c] += dirty
			}
		}
	}
	return q
}

// stray spreads a share of the mean light over the scan, as a lens does.
func stray(light []float32, share float64) {
	var mean [3]float64
	for k, v := range light {
		mean[k%3] += float64(min(v, 1))
	}
	for k := range light {
		light[k] = float32(1-share)*light[k] + float32(share*mean[k%3]/float64(len(light)/3))
	}
}

// scanned returns the codes of light: a gain by frame, noise of reading, sRGB.
func (r *Roll) scanned(i int, light []float32, noisy bool, seed uint64) *scan.Pixels {
	w, h := r.Bounds().Dx(), r.Bounds().Dy()
	gain := [3]float32{1, 1, 1}
	if g := nth(r.Gains, i); g != [3]float64{} {
		for c := range 3 {
			gain[c] = float32(g[c])
		}
	}
	bits := or(r.Bits, 16)
	full := float32(int(1)<<bits - 1)
	p := &scan.Pixels{
		Header: scan.Info{Path: fmt.Sprintf("adversary %s %+.1f", r.Scene, r.Stops[i]), Format: "TIFF", Width: w, Height: h, Bits: bits, Channels: 3, Orientation: 1},
		Pix:    make([]uint16, len(light)),
	}
	bands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			rnd := rand.New(rand.NewPCG(seed^0xabcdef, uint64(y)))
			for k := 3 * y * w; k < 3*(y+1)*w; k++ {
				v := light[k] * gain[k%3]
				if noisy && r.ReadSD > 0 {
					v += float32(r.ReadSD * rnd.NormFloat64())
				}
				light[k] = srgb.at(sqrt(max(0, min(1, v))))
			}
		}
	})
	if r.Sharpen > 0 {
		unsharp(light, w, h, r.Sharpen, r.SharpenRadius)
	}
	for k, v := range light {
		p.Pix[k] = uint16(v*full + 0.5)
	}
	return p
}

// clipIn counts what is at full scale and at zero within the gate.
func clipIn(p *scan.Pixels, gate image.Rectangle) (clip Clip) {
	full := uint16(1<<p.Header.Bits - 1)
	for y := gate.Min.Y; y < gate.Max.Y; y++ {
		for x := gate.Min.X; x < gate.Max.X; x++ {
			k := 3 * (y*p.Header.Width + x)
			a, b, c := p.Pix[k], p.Pix[k+1], p.Pix[k+2]
			if max(a, b, c) == full {
				clip.Blown++
			}
			if min(a, b, c) == 0 {
				clip.Blocked++
			}
		}
	}
	n := float64(gate.Dx() * gate.Dy())
	return Clip{clip.Blown / n, clip.Blocked / n}
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
