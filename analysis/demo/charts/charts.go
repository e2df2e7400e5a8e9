// Package charts makes simple synthetic scenes of known light for tests: a
// wedge, a ramp, textured patches and dead leaves.
package charts

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/valuenoise"
)

// Chart is a simple synthetic scene with its known places.
type Chart struct {
	*scene.Radiance
	Places []scene.Place
}

// Wedge returns a stepped wedge of neutral light: n steps from bright (left) to dark,
// stop apart in stops, the middle one (n/2) at 0.18. Each step is a Place with its
// light as Reflectance (which may pass 1).
func Wedge(w, h, n int, stop float64) (*Chart, error) {
	if err := scene.CheckSize(w, h); err != nil {
		return nil, err
	}
	if n < 1 || n > w/4 {
		return nil, fmt.Errorf("a wedge of %d steps does not fit into %d pixels", n, w)
	}
	c := &Chart{Radiance: scene.New(w, h)}
	level := func(i int) float64 { return 0.18 * math.Exp2(stop*float64(n/2-i)) }
	for y := range h {
		for x := range w {
			v := float32(level(x * n / w))
			c.Set(x, y, [3]float32{v, v, v})
		}
	}
	for i := range n {
		a, b := float64(i)/float64(n), float64(i+1)/float64(n)
		m := 2 / float64(w)
		c.Places = append(c.Places, scene.Place{Name: fmt.Sprintf("step %d", i+1), X0: a + m, Y0: 0.05, X1: b - m, Y1: 0.95, Reflectance: level(i)})
	}
	return c, nil
}

// Ramp returns a smooth neutral gradient over stops either side of 0.18, bright at the
// left, linear in log light.
func Ramp(w, h int, stops float64) (*Chart, error) {
	if err := scene.CheckSize(w, h); err != nil {
		return nil, err
	}
	c := &Chart{Radiance: scene.New(w, h)}
	for y := range h {
		for x := range w {
			t := 1 - 2*(float64(x)+0.5)/float64(w)
			v := float32(0.18 * math.Exp2(stops*t))
			c.Set(x, y, [3]float32{v, v, v})
		}
	}
	return c, nil
}

// Patches returns a grid of textured patches: columns differ in level (from +3 to -5
// stops against 0.18), rows in texture contrast (from none to about half a stop RMS)
// and tint. Every patch is a Place; Reflectance is its mean light.
func Patches(w, h int, seed uint64) (*Chart, error) {
	if err := scene.CheckSize(w, h); err != nil {
		return nil, err
	}
	const cols, lines = 9, 5
	c := &Chart{Radiance: scene.New(w, h)}
	tint := [lines][3]float64{{1, 1, 1}, {1, 1, 1}, {1.2, 1, 0.75}, {0.75, 1, 1.2}, {0.8, 1.1, 0.8}}
	s := int(seed % 1e6)
	for y := range h {
		j := y * lines / h
		for x := range w {
			i := x * cols / w
			level := 0.18 * math.Exp2(float64(3-i))
			t := 0.9 * float64(j) / (lines - 1) * valuenoise.Sum(float64(x)*0.11, float64(y)*0.11, 5, s+17*j)
			m := level * math.Exp2(t)
			c.Set(x, y, light(m*tint[j][0], m*tint[j][1], m*tint[j][2]))
		}
	}
	for j := range lines {
		for i := range cols {
			p := scene.Place{Name: fmt.Sprintf("patch %d.%d", j+1, i+1), X0: (float64(i) + 0.08) / cols, Y0: (float64(j) + 0.08) / lines, X1: (float64(i) + 0.92) / cols, Y1: (float64(j) + 0.92) / lines}
			p.Reflectance = c.Mean(p)[1]
			c.Places = append(c.Places, p)
		}
	}
	return c, nil
}

// Leaves returns a "dead leaves" scene: discs that hide each other, with radii from a
// power law, so that its statistics are alike at all scales as those of photographs
// are (Lee, Mumford & Huang, IJCV 41, 2001). Light is log-uniform over range stops
// about 0.18 and each disc carries some texture and tint.
func Leaves(w, h int, rangeStops float64, seed uint64) (*Chart, error) {
	if err := scene.CheckSize(w, h); err != nil {
		return nil, err
	}
	type disc struct {
		x, y, r float64
		c       [3]float64
		id      int
	}
	r := valuenoise.Rand(seed*2654435761 + 12345)
	for range 8 {
		r.Next()
	}
	side := float64(min(w, h))
	lo, hi := math.Max(2, side/160), side/3
	discs := make([]disc, 2600)
	for i := range discs {
		u := r.Next()
		// Density of radii ~ r^-3.
		rad := 1 / math.Sqrt(1/(hi*hi)+u*(1/(lo*lo)-1/(hi*hi)))
		l := 0.18 * math.Exp2(rangeStops*(r.Next()-0.5))
		discs[i] = disc{r.Next()*float64(w+200) - 100, r.Next()*float64(h+200) - 100, rad, [3]float64{l * math.Exp2(0.8*(r.Next()-0.5)), l, l * math.Exp2(0.8*(r.Next()-0.5))}, i}
	}
	// Small ones are put on top a little more often, or few would be seen.
	slices.SortStableFunc(discs, func(a, b disc) int {
		return cmp.Compare(b.r*(0.2+valuenoise.Unit(b.id, 1, int(seed%1e6))), a.r*(0.2+valuenoise.Unit(a.id, 1, int(seed%1e6))))
	})
	c := &Chart{Radiance: scene.New(w, h)}
	for i := range c.Pix {
		c.Pix[i] = 0.18
	}
	for _, d := range discs {
		for y := max(0, int(d.y-d.r-1)); y < min(h, int(d.y+d.r+2)); y++ {
			for x := max(0, int(d.x-d.r-1)); x < min(w, int(d.x+d.r+2)); x++ {
				cover := min(max(d.r-math.Hypot(float64(x)+0.5-d.x, float64(y)+0.5-d.y)+0.5, 0), 1)
				if cover == 0 {
					continue
				}
				t := math.Exp2(0.25 * valuenoise.At(float64(x)*0.35, float64(y)*0.35, d.id))
				at := 3 * (y*w + x)
				for k, v := range light(d.c[0]*t, d.c[1]*t, d.c[2]*t) {
					c.Pix[at+k] += float32(cover) * (v - c.Pix[at+k])
				}
			}
		}
	}
	return c, nil
}

func light(r, g, b float64) [3]float32 { return [3]float32{float32(r), float32(g), float32(b)} }
