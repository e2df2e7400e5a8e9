package colour

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/kovidgoyal/imaging/prism/meta/icc"
)

// grid is the table class of profile: the profile evaluated once on a fine grid
// and interpolated from there in tetrahedra (Kasson, Nin, Plouffe & Hafner,
// "Performing color space conversions with three-dimensional linear
// interpolation", J. Electronic Imaging 4(3), 1995, for the method).
type grid struct {
	n     int          // nodes along a side
	where [3][]float32 // code -> position 0..n-1
	cube  bool         // the nodes hold CIELAB's f(X/Xn), f(Y/Yn), f(Z/Zn)
	nodes [][3]float32 // X, Y, Z relative to white, or f of them; blue varies fastest
	m     [9]float32   // relative XYZ -> linear sRGB primaries
	tones [3][]float32
}

// gridError is the largest CIEDE2000 difference from the profile itself that a
// grid may have anywhere that it is tried; half of what the comparison with
// Little CMS allows.
const gridError = 0.15

// gridSides are the nodes along a side that are tried: usual first (3.3 MB), most
// when that does not do (11 MB, a second or so).
type gridSides struct{ usual, most int }

var ordinarySides = gridSides{65, 97}

// hopeless is a difference after which no finer grid is tried.
const hopeless = 20.0

// worstGridError: beyond this even the finest grid is not the profile.
const worstGridError = 1.0

// newGrid tries ways to lay the grid, the most likely first, and takes the first
// that is true to the profile, else the truest.
func newGrid(d *device, max int, sides gridSides) (converter, error) {
	stages := d.stages()
	var curves []icc.Curve1D
	rest := stages
	if c, ok := stages[0].(icc.Curves); ok {
		curves, rest = c.Curves(), stages[1:]
	}
	side := 0 // of the profile's own table
	for _, t := range stages {
		if c, ok := t.(icc.CLUT); ok {
			side = int(math.Round(math.Cbrt(float64(len(c.Samples()) / 3))))
		}
	}
	// Nodes on the profile's own nodes make the interpolation the profile's own.
	aligned := func(most int) int {
		if side < 2 {
			return most
		}
		n := side
		for n+side-1 <= most {
			n += side - 1
		}
		return n
	}
	ramp := func(c int, v float64) float64 { return v }
	shape := ramp
	if curves != nil {
		shape = func(c int, v float64) float64 { return curves[c].Transform(v) }
	}
	after := func(v [3]float64) [3]float64 {
		for _, t := range rest {
			v[0], v[1], v[2] = t.Transform(v[0], v[1], v[2])
		}
		return d.finish(v)
	}
	whole := func(v [3]float64) [3]float64 { return d.xyz(v[0], v[1], v[2]) }

	var best *grid
	bestError := math.Inf(1)
	for _, way := range []struct {
		n     int
		shape func(c int, v float64) float64
		eval  func([3]float64) [3]float64
		cube  bool
	}{
		{aligned(sides.usual), shape, after, true},
		{aligned(sides.usual), shape, after, false},
		{sides.usual, ramp, whole, true},
		{aligned(sides.most), shape, after, true},
	} {
		// A profile may have a finer table than that.
		way.n = min(way.n, sides.most)
		g := &grid{n: way.n, cube: way.cube}
		if err := g.fill(max, way.shape, way.eval); err != nil {
			return nil, err
		}
		if e := g.compare(d, max); e < bestError {
			best, bestError = g, e
		}
		if bestError <= gridError || bestError > hopeless {
			break
		}
	}
	if best == nil || bestError > worstGridError {
		return nil, errors.New("its table is too irregular to be followed")
	}
	return best, best.readTone(d, max)
}

func (g *grid) fill(max int, shape func(int, float64) float64, eval func([3]float64) [3]float64) error {
	for c := range 3 {
		g.where[c] = make([]float32, max+1)
		for i := range g.where[c] {
			v := shape(c, float64(i)/float64(max))
			if !finite(v) {
				return errNotNumbers
			}
			g.where[c][i] = float32(min(1, math.Max(0, v)) * float64(g.n-1))
		}
	}
	scale := mat3{{pcsWhite[0]}, {0, pcsWhite[1]}, {0, 0, pcsWhite[2]}}
	g.m = matrix32(pcsToSRGB.mul(scale))
	g.nodes = make([][3]float32, 0, g.n*g.n*g.n)
	step := 1 / float64(g.n-1)
	for r := range g.n {
		for gr := range g.n {
			for b := range g.n {
				v := eval([3]float64{float64(r) * step, float64(gr) * step, float64(b) * step})
				if !finite(v[:]...) {
					return errNotNumbers
				}
				var node [3]float32
				for i := range v {
					v[i] /= pcsWhite[i]
					if g.cube {
						v[i] = labF(v[i])
					}
					node[i] = float32(v[i])
				}
				g.nodes = append(g.nodes, node)
			}
		}
	}
	return nil
}

// compare returns the largest CIEDE2000 difference between grid and profile over
// neutrals, dark colours and colours at random.
func (g *grid) compare(d *device, max int) float64 {
	rnd := rand.New(rand.NewPCG(1, 2)) // the same trial every time
	worst := 0.0
	try := func(r, gr, b int) {
		codes := []uint16{uint16(r), uint16(gr), uint16(b)}
		var got [3]float32
		g.linear(got[:], codes)
		want := labOfXYZ(d.xyz(float64(r)/float64(max), float64(gr)/float64(max), float64(b)/float64(max)), pcsWhite)
		e := DeltaE2000(LabOf(float64(got[0]), float64(got[1]), float64(got[2])), want)
		if math.IsNaN(e) {
			e = math.Inf(1)
		}
		worst = math.Max(worst, e)
	}
	for i := range 256 {
		v := i * max / 255
		try(v, v, v)
	}
	for range 2000 {
		try(rnd.IntN(max+1), rnd.IntN(max+1), rnd.IntN(max+1))
		try(rnd.IntN(max/5+1), rnd.IntN(max/5+1), rnd.IntN(max/5+1))
	}
	return worst
}

// readTone evaluates the neutral axis: a table profile has no channel of its
// own, so all three share the luminance of equal codes, kept monotone.
func (g *grid) readTone(d *device, max int) error {
	tone := make([]float32, max+1)
	const points = 1024
	n := min(points, max)
	white := d.xyz(1, 1, 1)[1]
	if !(white > 0) {
		return fmt.Errorf("its white is black")
	}
	values := make([]float64, n+1)
	for i := range values {
		v := float64(i) / float64(n)
		values[i] = math.Max(0, d.xyz(v, v, v)[1]/white)
		if i > 0 {
			values[i] = math.Max(values[i], values[i-1])
		}
	}
	for i := range tone {
		p := float64(i) / float64(max) * float64(n)
		k := min(int(p), n-1)
		tone[i] = float32(values[k] + (values[k+1]-values[k])*(p-float64(k)))
	}
	g.tones = [3][]float32{tone, tone, tone}
	return nil
}

func (g *grid) tone() *[3][]float32 { return &g.tones }

// lookup interpolates one pixel. The cell's diagonal from its darkest to its
// brightest corner is common to all six tetrahedra; the order of the fractions
// says which edges lead there.
func (g *grid) lookup(r, gr, b uint16) (x, y, z float32) {
	pr, pg, pb := at(g.where[0], r), at(g.where[1], gr), at(g.where[2], b)
	last := g.n - 2
	ir, ig, ib := min(int(pr), last), min(int(pg), last), min(int(pb), last)
	fr, fg, fb := pr-float32(ir), pg-float32(ig), pb-float32(ib)
	sr, sg, sb := g.n*g.n, g.n, 1
	// Sort the axes by falling fraction.
	if fr < fg {
		fr, fg, sr, sg = fg, fr, sg, sr
	}
	if fg < fb {
		fg, fb, sg, sb = fb, fg, sb, sg
	}
	if fr < fg {
		fr, fg, sr, sg = fg, fr, sg, sr
	}
	at := (ir*g.n+ig)*g.n + ib
	p0, p1, p2, p3 := &g.nodes[at], &g.nodes[at+sr], &g.nodes[at+sr+sg], &g.nodes[at+sr+sg+sb]
	w0, w1, w2 := 1-fr, fr-fg, fg-fb
	x = w0*p0[0] + w1*p1[0] + w2*p2[0] + fb*p3[0]
	y = w0*p0[1] + w1*p1[1] + w2*p2[1] + fb*p3[1]
	z = w0*p0[2] + w1*p1[2] + w2*p2[2] + fb*p3[2]
	if g.cube {
		return uncube(x), uncube(y), uncube(z)
	}
	return x, y, z
}

// uncube is labFInverse in float32.
func uncube(f float32) float32 {
	if f > 6.0/29 {
		return f * f * f
	}
	return (116*f - 16) * (1 / float32(labKappa))
}

func (g *grid) linear(dst []float32, codes []uint16) {
	m := g.m
	dst = dst[:len(codes)]
	for i := 0; i+2 < len(codes); i += 3 {
		x, y, z := g.lookup(codes[i], codes[i+1], codes[i+2])
		dst[i] = m[0]*x + m[1]*y + m[2]*z
		dst[i+1] = m[3]*x + m[4]*y + m[5]*z
		dst[i+2] = m[6]*x + m[7]*y + m[8]*z
	}
}

func (g *grid) rgba(dst []uint8, codes []uint16) {
	m := g.m
	for i := range len(codes) / 3 {
		x, y, z := g.lookup(codes[3*i], codes[3*i+1], codes[3*i+2])
		q := dst[4*i : 4*i+4 : 4*i+4]
		q[0] = display(m[0]*x + m[1]*y + m[2]*z)
		q[1] = display(m[3]*x + m[4]*y + m[5]*z)
		q[2] = display(m[6]*x + m[7]*y + m[8]*z)
		q[3] = 255
	}
}
