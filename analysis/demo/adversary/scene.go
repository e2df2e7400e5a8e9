package adversary

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
)

// Scenes are the names that a Roll's Scene takes. Each but the last is mostly one
// colour.
var Scenes = []string{"sky", "foliage", "brick", "night", "even"}

// The size at which scenes are drawn, in dots, and what is drawn beyond each side of the
// gate, for a camera that moves. A dot is half a pixel of a scan of 1200.
const (
	gateW, gateH = 2400, 1600
	margin       = 96
)

// scene is the light of a picture: exposure of the three layers as a multiple of
// mid-grey's.
type scene struct {
	w, h int
	pix  [3][]float32
}

var scenes sync.Map // name -> func() *scene

// sceneOf returns a scene; it is drawn once.
func sceneOf(name string) *scene {
	f, _ := scenes.LoadOrStore(name, sync.OnceValue(func() *scene { return paint(name) }))
	return f.(func() *scene)()
}

// canvas is a scene in the making: light in stops from mid-grey.
type canvas struct {
	w, h    int
	l       [3][]float32
	texture []float32
	rnd     *rand.Rand
}

func paint(name string) *scene {
	w, h := gateW+2*margin, gateH+2*margin
	c := &canvas{w: w, h: h, rnd: rand.New(rand.NewPCG(71, uint64(len(name))<<8+uint64(name[0])))}
	for i := range c.l {
		c.l[i] = make([]float32, w*h)
	}
	c.texture = fractal(w, h, c.rnd.Uint64())
	switch name {
	case "sky":
		c.sky()
	case "foliage":
		c.foliage()
	case "brick":
		c.brick()
	case "night":
		c.night()
	default:
		c.even()
	}
	c.glints(40, 3.2)
	s := &scene{w: w, h: h}
	parallel(3, func(i int) {
		s.pix[i] = make([]float32, w*h)
		for k, v := range c.l[i] {
			s.pix[i][k] = float32(math.Exp2(float64(v)))
		}
		lens(s.pix[i], w, h)
	})
	return s
}

// lens blurs by what lens and pixel leave of the finest detail (0.6 pixels of a scan of
// 1200), in light.
func lens(p []float32, w, h int) {
	k := gaussKernel(1.2)
	tmp := make([]float32, len(p))
	blurRows(tmp, p, w, h, k)
	blurColumns(p, tmp, w, h, k)
}

// fractal returns a texture whose power falls as 1/f^2, as that of natural scenes does
// (Field 1987, from memory): lattices of random values, each of half the mesh and half
// the amplitude density of the last. Mean 0, variance about 1.
func fractal(w, h int, seed uint64) []float32 {
	out := make([]float32, w*h)
	r := rand.New(rand.NewPCG(seed, 5))
	for mesh := 512; mesh >= 2; mesh /= 2 {
		gw, gh := w/mesh+3, h/mesh+3
		grid := make([]float32, gw*gh)
		for i := range grid {
			grid[i] = float32(r.NormFloat64())
		}
		ox, oy := r.Float32(), r.Float32()
		bands(h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				v := float32(y)/float32(mesh) + oy
				j := int(v)
				fy := smooth(v - float32(j))
				for x := range w {
					u := float32(x)/float32(mesh) + ox
					i := int(u)
					fx := smooth(u - float32(i))
					g := grid[j*gw+i:]
					a, b := g[0]+fx*(g[1]-g[0]), g[gw]+fx*(g[gw+1]-g[gw])
					out[y*w+x] += 0.47 * (a + fy*(b-a))
				}
			}
		})
	}
	return out
}

func smooth(t float32) float32 { return t * t * (3 - 2*t) }

// colour is light in stops from mid-grey.
type colour [3]float32

func (c colour) plus(s float32) colour { return colour{c[0] + s, c[1] + s, c[2] + s} }

// spot paints one dot, with so much of the texture.
func (c *canvas) spot(x, y int, v colour, texture float32) {
	if x < 0 || y < 0 || x >= c.w || y >= c.h {
		return
	}
	k := y*c.w + x
	for i := range 3 {
		c.l[i][k] = v[i] + texture*c.texture[k]
	}
}

func (c *canvas) rect(x0, y0, x1, y1 int, v colour, texture float32) {
	for y := max(0, y0); y < min(c.h, y1); y++ {
		for x := max(0, x0); x < min(c.w, x1); x++ {
			c.spot(x, y, v, texture)
		}
	}
}

// leaf paints an ellipse with half axes a and b, turned.
func (c *canvas) leaf(x, y, a, b, turn float64, v colour, texture float32) {
	s, co := math.Sincos(turn)
	r := int(math.Max(a, b)) + 1
	for j := -r; j <= r; j++ {
		for i := -r; i <= r; i++ {
			u, w := (co*float64(i)+s*float64(j))/a, (co*float64(j)-s*float64(i))/b
			if u*u+w*w <= 1 {
				c.spot(int(x)+i, int(y)+j, v, texture)
			}
		}
	}
}

func (c *canvas) glints(n int, stops float32) {
	for range n {
		r := 1 + 2*c.rnd.Float64()
		c.leaf(float64(c.rnd.IntN(c.w)), float64(c.rnd.IntN(c.h)), r, r, 0, colour{stops, stops, stops}, 0)
	}
}

func (c *canvas) normal(sd float64) float32 { return float32(sd * c.rnd.NormFloat64()) }

func (c *canvas) sky() {
	land := int(0.74 * float64(c.h))
	for y := range c.h {
		t := float32(y) / float32(land)
		for x := range c.w {
			if y >= land {
				c.spot(x, y, colour{-2.6, -2.2, -3.2}, 0.9)
				continue
			}
			v := colour{-1.3, -0.45, 0.65}.plus(-0.5 + 1.5*t)
			cloud := c.texture[y*c.w+x]*0.9 + 0.4*t - 0.75 // what is over 0 is cloud
			cloud = max(0, min(1, cloud*1.6))
			for i := range v {
				v[i] += cloud * (1.9 - v[i])
			}
			c.spot(x, y, v, 0.07+0.22*cloud)
		}
	}
	for range 160 { // trees on the horizon, dark, and houses' pale walls
		x, r := c.rnd.IntN(c.w), 12+40*c.rnd.Float64()
		c.leaf(float64(x), float64(land)+10*c.rnd.NormFloat64(), r*0.6, r, 0, colour{-3.6, -3, -4.4}.plus(c.normal(0.6)), 0.8)
	}
	for range 70 {
		x, y := c.rnd.IntN(c.w), land+c.rnd.IntN(c.h-land)
		c.rect(x, y, x+20+c.rnd.IntN(60), y+14+c.rnd.IntN(30), colour{0.3, 0.1, -0.4}.plus(c.normal(1.3)), 0.2)
	}
}

func (c *canvas) foliage() {
	c.rect(0, 0, c.w, c.h, colour{-4.3, -3.8, -5}, 0.7)
	const n = 9000
	for i := range n {
		depth := float32(i) / n // the last are nearest to the light
		v := colour{-0.65, 0.1, -1.5}.plus(-3.4 + 3.6*depth + c.normal(0.55))
		v[0] += c.normal(0.35)
		v[2] += c.normal(0.3)
		r := 5 + 30*c.rnd.Float64()*c.rnd.Float64() + 6*float64(1-depth)
		c.leaf(float64(c.rnd.IntN(c.w)), float64(c.rnd.IntN(c.h)), r, r*(0.3+0.4*c.rnd.Float64()), 3.2*c.rnd.Float64(), v, 0.35)
	}
	for range 260 { // petals, and sky through gaps
		r := 3 + 9*c.rnd.Float64()
		v := colour{1.7, 1.5, 1.3}
		if c.rnd.IntN(3) == 0 {
			v = colour{1.1, -1.2, -0.4}
		}
		c.leaf(float64(c.rnd.IntN(c.w)), float64(c.rnd.IntN(c.h)), r, r*0.7, 3.2*c.rnd.Float64(), v.plus(c.normal(0.4)), 0.15)
	}
}

func (c *canvas) brick() {
	c.rect(0, 0, c.w, c.h, colour{0.7, 0.6, 0.45}, 0.25) // mortar
	for row, y := 0, -20; y < c.h; row, y = row+1, y+44 {
		for x := -130 + 65*(row%2); x < c.w; x += 130 {
			v := colour{0.35, -0.65, -1.35}.plus(c.normal(0.45))
			v[0] += c.normal(0.15)
			c.rect(x, y, x+122, y+37, v, 0.4)
		}
	}
	for y := range c.h { // a wall's shadow, and a lamp's light on the other side
		for x := range c.w {
			k := y*c.w + x
			if edge := 0.5*float64(x) + float64(y); edge > 0.92*float64(c.h) {
				for i, s := range [3]float32{-2.9, -2.7, -2.3} {
					c.l[i][k] += s
				}
			} else {
				for i := range 3 {
					c.l[i][k] += 0.9 * (1 - float32(edge)/float32(c.h))
				}
			}
		}
	}
	for i := range 4 { // windows with bars
		x, y := 200+580*i, 180+430*(i%2)
		c.rect(x-14, y-14, x+214, y+314, colour{1.6, 1.5, 1.35}, 0.2)
		c.rect(x, y, x+200, y+300, colour{-5, -4.8, -4.5}, 0.9)
		c.rect(x+94, y, x+106, y+300, colour{0.4, 0.4, 0.3}, 0.1)
		c.rect(x, y+144, x+200, y+156, colour{0.4, 0.4, 0.3}, 0.1)
	}
	c.rect(1800, 1150, 2250, 1400, colour{2, 2, 1.9}, 0.1) // a sign
	for i := range 12 {
		c.rect(1840+32*i, 1200, 1856+32*i, 1350, colour{-1.5, -2, -2.2}, 0.1)
	}
}

func (c *canvas) night() {
	c.rect(0, 0, c.w, c.h, colour{-3.7, -3.5, -3.0}, 0.6)
	for range 26 { // houses
		x, y := c.rnd.IntN(c.w), c.h/4+c.rnd.IntN(c.h/3)
		c.rect(x, y, x+140+c.rnd.IntN(300), c.h*4/5, colour{-2.6, -3.2, -4}.plus(c.normal(0.7)), 0.5)
	}
	c.rect(0, c.h*4/5, c.w, c.h, colour{-2.3, -2.6, -3}, 0.9) // wet road
	for range 260 {                                           // lit windows
		x, y := c.rnd.IntN(c.w), c.h/4+c.rnd.IntN(c.h/2)
		v := colour{0.9, 0.1, -1.3}.plus(c.normal(0.9) - 0.2)
		c.rect(x, y, x+14+c.rnd.IntN(26), y+20+c.rnd.IntN(34), v, 0.3)
	}
	type lamp struct{ x, y float64 }
	var lamps []lamp
	for range 18 {
		lamps = append(lamps, lamp{float64(c.rnd.IntN(c.w)), float64(c.h/5 + c.rnd.IntN(c.h/2))})
	}
	bands(c.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range c.w {
				k := y*c.w + x
				sum := 0.0
				for _, l := range lamps {
					d := (float64(x)-l.x)*(float64(x)-l.x) + (float64(y)-l.y)*(float64(y)-l.y)
					sum += 400 / (d + 400)
				}
				for i, tint := range [3]float64{1.5, 0.9, 0.35} {
					c.l[i][k] = float32(math.Log2(math.Exp2(float64(c.l[i][k])) * (1 + 60*tint*sum)))
				}
			}
		}
	})
	for _, l := range lamps {
		c.leaf(l.x, l.y, 11, 11, 0, colour{4.5, 4.2, 3.2}, 0)
	}
}

func (c *canvas) even() {
	c.rect(0, 0, c.w, c.h, colour{-1, -1, -1}, 0.4)
	for range 900 {
		x, y := c.rnd.IntN(c.w)-80, c.rnd.IntN(c.h)-80
		l := float32(-4.8 + 7.2*c.rnd.Float64())
		v := colour{l, l, l}
		if c.rnd.IntN(5) > 1 {
			for i := range v {
				v[i] += c.normal(0.55)
			}
		}
		c.rect(x, y, x+30+c.rnd.IntN(220), y+30+c.rnd.IntN(180), v, 0.3)
	}
}

// bands runs fn over parts of 0..n-1 on two goroutines or more.
func bands(n int, fn func(lo, hi int)) {
	k := max(2, runtime.GOMAXPROCS(0))
	parallel(k, func(i int) { fn(n*i/k, n*(i+1)/k) })
}

// parallel runs fn for 0..n-1, each on its own goroutine.
func parallel(n int, fn func(i int)) {
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { fn(i) })
	}
	wg.Wait()
}
