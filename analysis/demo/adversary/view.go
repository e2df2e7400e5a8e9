package adversary

import (
	"math"
	"sync"
)

// view is what rolls of one film, scene and scan share.
type view struct {
	m          *model
	side, cell int // of a block and of a cell, viewing pixels
	w, h       int // viewing pixels of the gate
	blocks     []block
	level      [3]float64
	area       [3]float64

	sigma [3]*table // of a layer's part in the positive's density, at the viewing scale, over stops
	step  [3]*table // by how much a third of a stop moves it
	read  float64
	full  float64 // the highest code
	code  *table  // standard deviation of rounding to codes, over the root of light; nil: too small to count

	mu     sync.Mutex
	dense  map[int]Cost // by hundredths of a stop
	frames map[string]*FrameTruth
}

// block is a square of the base frame.
type block struct {
	x, y  float64   // its upper left corner, as shares of the gate
	e     []float32 // exposures of the layers in stops: 3 a viewing pixel
	light []float32 // in the base frame
	state []uint8
}

const (
	gone    uint8 = 1 << iota // channels that carry half of the luminance say nothing
	partial                   // some channel does
	unshown                   // the frame does not have the place
)

func newView(r *Roll) *view {
	m, sc := r.model(), sceneOf(r.Scene)
	fw, _ := r.film()
	vw := min(r.size(), viewing)
	vh := vw * gateH / gateW
	v := &view{m: m, w: vw, h: vh, dense: map[int]Cost{}, frames: map[string]*FrameTruth{}}
	v.cell = (vw + 339) / 340
	v.side = 3 * v.cell
	scale := float64(fw) / float64(vw) // pixels of film along a viewing pixel
	a, b := left(r.Blur[0], scale)*sharper(r.Blur[0], r.Sharpen, r.SharpenRadius), left(r.Blur[1], scale)*sharper(r.Blur[1], r.Sharpen, r.SharpenRadius)
	for c := range 3 {
		v.sigma[c] = tabulate(dimmest, brightest, 64, func(s float64) float64 {
			d := float64(m.dense[c].at(float32(s)))
			return r.Grain * float64(m.grain[c].at(float32(s))) * math.Sqrt((1-d)*a*a+d*b*b)
		})
		v.step[c] = tabulate(dimmest, brightest, 64, func(s float64) float64 {
			return float64(m.part[c].at(float32(s+1.0/6)) - m.part[c].at(float32(s-1.0/6)))
		})
	}
	v.read = r.ReadSD * float64(vw) / float64(r.size()) * sharper(0, r.Sharpen, r.SharpenRadius)
	v.full = float64(int(1)<<or(r.Bits, 16) - 1)
	if v.full < 1000 {
		v.code = tabulate(0, 1, 1024, func(u float64) float64 {
			const e = 1e-5
			slope := (encode(u*u+e) - encode(math.Max(0, u*u-e))) / (u*u + e - math.Max(0, u*u-e))
			return 1 / (v.full * slope) / math.Sqrt(12) * float64(vw) / float64(r.size())
		})
	}
	veil := r.veil()
	dots := float64(gateW) / float64(vw)
	per := r.reduce() // samples along each side of a viewing pixel
	nx, ny := vw/v.side, vh/v.side
	v.blocks = make([]block, nx*ny)
	bands(ny, func(y0, y1 int) {
		for by := y0; by < y1; by++ {
			for bx := range nx {
				k := &v.blocks[by*nx+bx]
				k.x, k.y = float64(bx*v.side)/float64(vw), float64(by*v.side)/float64(vh)
				k.e = make([]float32, 3*v.side*v.side)
				for j := range v.side {
					for i := range v.side {
						var sum [3]float64
						for q := range per * per {
							x := float64(bx*v.side+i) + (float64(q%per)+0.5)/float64(per)
							y := float64(by*v.side+j) + (float64(q/per)+0.5)/float64(per)
							p := sc.at(x*dots, y*dots)
							for c := range 3 {
								p[c] += float32(veil[c])
							}
							if m.film.Panchromatic {
								p = panchromatic(p)
							}
							for c := range 3 {
								sum[c] += float64(p[c])
							}
						}
						for c := range 3 {
							k.e[3*(j*v.side+i)+c] = float32(math.Log2(sum[c] / float64(per*per)))
						}
					}
				}
				k.light = make([]float32, len(k.e))
				k.state = make([]uint8, v.side*v.side)
				v.develop(k.e, 0, [3]float64{1, 1, 1}, k.light, k.state)
			}
		}
	})
	n := 0.0
	for i := range v.blocks {
		for p := range v.blocks[i].state {
			y := luminance32(v.blocks[i].light[3*p:])
			b := band(y)
			v.level[b] += y
			v.area[b]++
			n++
		}
	}
	for b := range v.level {
		v.level[b] /= math.Max(1, v.area[b])
		v.area[b] /= n
	}
	return v
}

// place returns the middle of a pixel of a block, as shares of the gate.
func (v *view) place(b *block, p int) (x, y float64) {
	return b.x + (float64(p%v.side)+0.5)/float64(v.w), b.y + (float64(p/v.side)+0.5)/float64(v.h)
}

func luminance32(p []float32) float64 {
	return luma[0]*float64(p[0]) + luma[1]*float64(p[1]) + luma[2]*float64(p[2])
}

// band returns the tonal band of a luminance of the base frame: midtones lie within a
// stop of 18 %.
func band(y float64) int {
	switch {
	case y < mid/2:
		return 0
	case y <= 2*mid:
		return 1
	}
	return 2
}

// develop fills in light, clipped as the scan's, and what says nothing, of exposures s
// stops over those given.
//
// A channel says nothing where the scan is full or empty, or where a third of a stop of
// the scene is less than the noise of a viewing pixel; a place is gone where the channels
// that say nothing carry half of the luminance (the definition of package salvage).
func (v *view) develop(e []float32, s float64, gain [3]float64, light []float32, state []uint8) {
	empty, full := 0.5/v.full/12.92, 1-1.14/v.full // what rounds to the lowest and the highest code
	m, alike := v.m, v.m.film.Alike
	for p := range state {
		var q, d, g [3]float64
		for c := range 3 {
			x := e[3*p+c] + float32(s)
			q[c], d[c], g[c] = float64(m.part[c].at(x)), float64(v.step[c].at(x)), float64(v.sigma[c].at(x))
		}
		dead := 0.0
		any := false
		for c := range 3 {
			den, step := m.off[c], 0.0
			var own, together float64
			for j := range 3 {
				w := m.mix[c][j]
				den += w * q[j]
				step += w * d[j]
				own += w * w * g[j] * g[j]
				together += w * g[j]
			}
			y := float64(m.light.at(float32(den))) * gain[c]
			slope := math.Ln10 * y
			noise := slope*slope*((1-alike)*own+alike*together*together) + v.read*v.read
			if v.code != nil {
				rounding := float64(v.code.at(sqrt(float32(y))))
				noise += rounding * rounding
			}
			if y >= full || y <= empty || slope*slope*step*step < noise {
				dead += luma[c]
				any = true
			}
			light[3*p+c] = float32(math.Min(y, 1))
		}
		state[p] = 0
		if any {
			state[p] |= partial
		}
		if dead >= 0.5 {
			state[p] |= gone
		}
	}
}
