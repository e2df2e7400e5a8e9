package register

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// fieldSide is the side of the square on which the coarse search runs.
const fieldSide = 128

// field is the direction of the picture's gradient as a complex number, of
// length near 1 where there is structure and near 0 where there is none: it
// survives any rising tone curve. (Orientation correlation: Fitch, Kadyrov,
// Christmas & Kittler, BMVC 2002.)
type field struct {
	spectrum []complex128
	empty    bool
}

// spacing returns the full-resolution pixels per step of the coarse search.
func spacing(p *pyramid) float64 {
	i := p.look.Info
	return float64(max(i.Width, i.Height)) / (fieldSide * 0.9)
}

// directions places p, taken along by the similarity q (about the centre, no shift),
// on the square and transforms it.
func directions(p *pyramid, q pose, step float64) *field {
	lv := p.levels[0]
	for _, l := range p.levels {
		if l.f <= step*1.01 {
			lv = l
		}
	}
	sq := lv.onSquare(q, step/lv.f)
	g, soft, ok := sq.gradients()
	if !ok {
		return &field{empty: true}
	}
	const n = fieldSide
	for y := range n {
		ty := taper(y, sq.minY, sq.maxY)
		for x := range n {
			i := y*n + x
			if l := math.Hypot(real(g[i]), imag(g[i])); l > 0 {
				g[i] *= complex(ty*taper(x, sq.minX, sq.maxX)/(l+soft), 0)
			}
		}
	}
	fft2(g, n, false)
	return &field{spectrum: g}
}

// square is a picture as it lies on the square: values, which of them are known, and
// the first and last column and row of those.
type square struct {
	v                      []float32
	ok                     []bool
	minX, minY, maxX, maxY int
}

// onSquare returns the level turned and grown by q, k of its pixels per step.
func (lv *level) onSquare(q pose, k float64) *square {
	const n = fieldSide
	s := &square{make([]float32, n*n), make([]bool, n*n), n, n, -1, -1}
	a, b := q.inverse().ab()
	for y := range n {
		for x := range n {
			zx, zy := (float64(x)+0.5-n/2)*k, (float64(y)+0.5-n/2)*k
			px, py := a*zx+b*zy+lv.cx-0.5, a*zy-b*zx+lv.cy-0.5
			if !(px >= 0 && py >= 0 && px < float64(lv.w-1) && py < float64(lv.h-1)) {
				continue
			}
			ix, iy := int(px), int(py)
			fx, fy := float32(px-float64(ix)), float32(py-float64(iy))
			i := iy*lv.w + ix
			s.v[y*n+x] = (1-fy)*((1-fx)*lv.soft[i]+fx*lv.soft[i+1]) + fy*((1-fx)*lv.soft[i+lv.w]+fx*lv.soft[i+lv.w+1])
			if lv.ok == nil || lv.ok[i] && lv.ok[i+1] && lv.ok[i+lv.w] && lv.ok[i+lv.w+1] {
				s.ok[y*n+x] = true
				s.minX, s.maxX, s.minY, s.maxY = min(s.minX, x), max(s.maxX, x), min(s.minY, y), max(s.maxY, y)
			}
		}
	}
	return s
}

// gradients returns the gradient at every place whose neighbours are known, 0
// elsewhere, and the length under which one is taken for grain; ok is false where
// there is no structure.
func (s *square) gradients() (g []complex128, soft float64, ok bool) {
	const n = fieldSide
	g = make([]complex128, n*n)
	var lengths []float64
	for y := 1; y < n-1; y++ {
		for x := 1; x < n-1; x++ {
			i := y*n + x
			if s.ok[i] && s.ok[i-1] && s.ok[i+1] && s.ok[i-n] && s.ok[i+n] {
				g[i] = complex(float64(s.v[i+1]-s.v[i-1]), float64(s.v[i+n]-s.v[i-n]))
				lengths = append(lengths, math.Hypot(real(g[i]), imag(g[i])))
			}
		}
	}
	if len(lengths) < 64 {
		return nil, 0, false
	}
	slices.Sort(lengths)
	if lengths[len(lengths)-1] < 1e-4 {
		return nil, 0, false
	}
	// Grain and clipped tones fill most of a poor frame with short gradients.
	return g, math.Max(lengths[len(lengths)*4/5], 0.002), true
}

// taper returns a window over lo..hi, cosine over an eighth at each end (Tukey).
func taper(i, lo, hi int) float64 {
	edge := float64(hi-lo+1) / 8
	d := math.Min(float64(i-lo), float64(hi-i)) + 0.5
	if d < 0 || edge <= 0 {
		return 0
	}
	if d >= edge {
		return 1
	}
	return 0.5 - 0.5*math.Cos(math.Pi*d/edge)
}

func fft2(g []complex128, n int, back bool) {
	f := fourier.NewCmplxFFT(n)
	line := make([]complex128, n)
	run := func(s []complex128) {
		if back {
			f.Sequence(s, s)
		} else {
			f.Coefficients(s, s)
		}
	}
	for y := range n {
		run(g[y*n : (y+1)*n])
	}
	for x := range n {
		for y := range n {
			line[y] = g[y*n+x]
		}
		run(line)
		for y := range n {
			g[y*n+x] = line[y]
		}
	}
}

// peak is a shift in steps of the square and its strength.
type peak struct {
	x, y     float64
	strength float64 // in standard deviations of the correlation
}

// peaks correlates two fields: the shifts that take a to b, strongest first.
// Shifts beyond reach (of the square's side) are not looked at.
func peaks(a, b *field, count int, reach float64) []peak {
	if a.empty || b.empty {
		return nil
	}
	const n = fieldSide
	c := make([]complex128, n*n)
	for i := range c {
		s := a.spectrum[i]
		c[i] = complex(real(s), -imag(s)) * b.spectrum[i]
	}
	fft2(c, n, true)
	var power float64
	for _, v := range c {
		power += real(v) * real(v)
	}
	sd := math.Sqrt(power / (n * n))
	if sd == 0 {
		return nil
	}
	at := func(x, y int) float64 { return real(c[(y+n)%n*n+(x+n)%n]) }
	m := int(reach * n)
	var out []peak
	for y := -m; y <= m; y++ {
		for x := -m; x <= m; x++ {
			v := at(x, y)
			if v <= 2.5*sd || v < at(x-1, y) || v <= at(x+1, y) || v < at(x, y-1) || v <= at(x, y+1) {
				continue
			}
			out = append(out, peak{
				float64(x) + vertex(at(x-1, y), v, at(x+1, y)),
				float64(y) + vertex(at(x, y-1), v, at(x, y+1)), v / sd,
			})
		}
	}
	slices.SortStableFunc(out, func(p, q peak) int { return cmp.Compare(q.strength, p.strength) })
	return out[:min(len(out), count)]
}

// vertex returns the top of the parabola through three values, the middle one the
// largest.
func vertex(l, m, r float64) float64 {
	d := l - 2*m + r
	if d >= 0 {
		return 0
	}
	return math.Max(-0.5, math.Min(0.5, 0.5*(l-r)/d))
}
