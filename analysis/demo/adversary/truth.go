package adversary

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"stopladder/analysis/judge/criteria"
)

// viewing is the longest side at which noise and detail are seen (method.md section 4).
const viewing = 2048

// Cost is what salvage really costs, without noise's part in it: shares are 0..1,
// differences CIEDE2000, noise in L* units at the viewing scale. What has no answer is
// NaN.
type Cost struct {
	Lost, DeltaE, P95, Noise, Crossover, Contrast float64
}

// Of returns the cost by one of the judge's criteria.
func (c Cost) Of(k criteria.Criterion) float64 {
	return [criteria.Count]float64{
		criteria.LostArea: c.Lost, criteria.DeltaE: c.DeltaE, criteria.Noise: c.Noise,
		criteria.Crossover: c.Crossover, criteria.ContrastKept: c.Contrast,
	}[k]
}

// The grades of salvage, in the order of FrameTruth.Grades.
const (
	Exposure = iota
	Balance
	Curves
)

// Band is the truth of a tonal band in a frame.
type Band struct {
	Area   float64    // share of the image area
	Level  float64    // mean luminance in the base frame: where its neutral stands
	Cast   [2]float64 // a* and b* of that neutral; NaN where it has none
	Light  [3]float64 // mean light in this frame
	NoiseL float64    // of that light in L* units, at the viewing scale
	SNR    float64
}

// FrameTruth is the truth of one frame.
type FrameTruth struct {
	Exposure  float64 // stops against the base frame
	Shown     float64 // share of the base frame's image area that this frame shows too
	Bands     [3]Band // shadows, midtones, highlights
	Crossover float64 // what the best single balance leaves
	Grades    [3]Cost // of exposure and balance without noise and contrast

	one *[3]*tone // the exposure's gain
}

// End is one end of the true range. Open says that it lies beyond the bracket, and Stop
// is then the bracket's own end. None: the base frame itself does not keep a limit.
type End struct {
	Stop float64
	Open bool
	None bool
	By   criteria.Criterion
}

// Truth knows what is true of a roll, from its model alone. It is safe for concurrent
// use. Stray light of the scanner, dust, and edges that the scanner sharpened are not in it;
// the noise that sharpening raises is.
type Truth struct {
	r    *Roll
	view *view
}

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

// views are those of the last rolls: the same with another seed need not be made again.
var views struct {
	sync.Mutex
	last []namedView
}

type namedView struct {
	name string
	view func() *view
}

// Truth returns the truth of the roll.
func (r *Roll) Truth() *Truth {
	const kept = 8 // tens of megabytes each
	name := fmt.Sprintf("%p %v", r.Film, []any{r.Scene, r.Size, r.Reduce, r.Bits, r.Grain, r.Blur, r.ReadSD, r.Flare, r.Sharpen, r.SharpenRadius})
	views.Lock()
	i := slices.IndexFunc(views.last, func(n namedView) bool { return n.name == name })
	if i < 0 {
		views.last = append(views.last, namedView{name, sync.OnceValue(func() *view { return newView(r) })})
		i = len(views.last) - 1
	}
	v := views.last[i].view
	views.last = views.last[max(0, len(views.last)-kept):]
	views.Unlock()
	return &Truth{r, v()}
}

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

// tone is a correction of one channel: over the cube root of light, and in it.
type tone struct {
	x, y []float64
	fast *table // over the root of light; nil: not made
}

// quick is at by a table, for single pixels.
func (t *tone) quick(p float64) float64 {
	if t == nil {
		return p
	}
	return float64(t.fast.at(sqrt(float32(p))))
}

// ready makes the tables.
func ready(t *[3]*tone) {
	for c := range t {
		t[c].fast = tabulate(0, 1, 4096, func(u float64) float64 { return t[c].at(u * u) })
	}
}

func (t *tone) at(p float64) float64 {
	if t == nil {
		return p
	}
	x := math.Cbrt(p)
	n := len(t.x) - 1
	var y float64
	switch i, _ := slices.BinarySearch(t.x, x); {
	case i == 0:
		y = t.y[0] * x / t.x[0]
	case i > n:
		y = t.y[n] * x / t.x[n]
	default:
		y = t.y[i-1] + (x-t.x[i-1])/(t.x[i]-t.x[i-1])*(t.y[i]-t.y[i-1])
	}
	return y * y * y
}

func gainTone(g float64) *tone { k := math.Cbrt(g); return &tone{x: []float64{1}, y: []float64{k}} }

// seen is a frame beside the base frame.
type seen struct {
	v           *view
	s           float64
	gain        [3]float64
	blocks      []*block
	light       [][]float32
	state       [][]uint8
	base, frame [][3]float64 // means of blocks over what neither has lost
	lost, all   int
}

// look photographs the blocks that keep lets through, s stops over the base. shows says
// whether the frame has a place, as shares of the gate; nil: it has all.
func (v *view) look(s float64, gain [3]float64, keep func(i int, b *block) bool, shows func(x, y float64) bool) *seen {
	o := &seen{v: v, s: s, gain: gain}
	for i := range v.blocks {
		if b := &v.blocks[i]; keep(i, b) {
			o.blocks = append(o.blocks, b)
		}
	}
	n := len(o.blocks)
	o.light, o.state = make([][]float32, n), make([][]uint8, n)
	bands(n, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			b := o.blocks[i]
			o.light[i], o.state[i] = make([]float32, len(b.light)), make([]uint8, len(b.state))
			v.develop(b.e, s, gain, o.light[i], o.state[i])
			for p := range o.state[i] {
				px, py := v.place(b, p)
				if shows != nil && !shows(px, py) {
					o.state[i][p] |= unshown
				}
			}
		}
	})
	for i, b := range o.blocks {
		var x, y [3]float64
		k := 0
		for p := range b.state {
			if o.state[i][p]&unshown != 0 {
				continue
			}
			o.all++
			switch {
			case b.state[p]&gone != 0:
			case o.state[i][p]&gone != 0:
				o.lost++
			default:
				k++
				for c := range 3 {
					x[c] += float64(b.light[3*p+c])
					y[c] += float64(o.light[i][3*p+c])
				}
			}
		}
		if 2*k < len(b.state) || k == 0 {
			continue
		}
		for c := range 3 {
			x[c], y[c] = x[c]/float64(k), y[c]/float64(k)
		}
		o.base, o.frame = append(o.base, x), append(o.frame, y)
	}
	return o
}

// meanDifference is that of every step-th block under a correction.
func (o *seen) meanDifference(t *[3]*tone, step int) float64 {
	sum, n := 0.0, 0
	for i := 0; i < len(o.base); i += step {
		sum += difference(labOf(o.base[i]), labOf(apply(t, o.frame[i])))
		n++
	}
	return sum / math.Max(1, float64(n))
}

func apply(t *[3]*tone, p [3]float64) [3]float64 {
	for c := range p {
		p[c] = math.Min(1, t[c].at(p[c]))
	}
	return p
}

// gains finds the gain, or the three of them, that leave the least mean difference.
func (o *seen) gains(each bool) *[3]*tone {
	var ratio [3]float64
	for c := range 3 {
		var r []float64
		for i := range o.base {
			r = append(r, math.Log2(o.base[i][c]/math.Max(1e-7, o.frame[i][c])))
		}
		slices.Sort(r)
		if len(r) > 0 {
			ratio[c] = r[len(r)/2]
		}
	}
	if !each {
		ratio = [3]float64{ratio[1], ratio[1], ratio[1]}
	}
	step := max(1, len(o.base)/500)
	cost := func(g [3]float64) float64 {
		t := [3]*tone{gainTone(math.Exp2(g[0])), gainTone(math.Exp2(g[1])), gainTone(math.Exp2(g[2]))}
		return o.meanDifference(&t, step)
	}
	move := func(channels []int, span float64) {
		lo, hi := -span, span
		at := func(d float64) float64 {
			g := ratio
			for _, c := range channels {
				g[c] += d
			}
			return cost(g)
		}
		const golden = 0.6180339887498949
		a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
		fa, fb := at(a), at(b)
		for range 16 {
			if fa < fb {
				hi, b, fb = b, a, fa
				a = hi - golden*(hi-lo)
				fa = at(a)
			} else {
				lo, a, fa = a, b, fb
				b = lo + golden*(hi-lo)
				fb = at(b)
			}
		}
		for _, c := range channels {
			ratio[c] += (lo + hi) / 2
		}
	}
	move([]int{0, 1, 2}, 2)
	if each {
		for _, span := range []float64{0.7, 0.3, 0.1} {
			move([]int{0}, span)
			move([]int{2}, span)
			move([]int{0, 1, 2}, span)
		}
	}
	return &[3]*tone{gainTone(math.Exp2(ratio[0])), gainTone(math.Exp2(ratio[1])), gainTone(math.Exp2(ratio[2]))}
}

// cost measures a correction; noise and contrast where all of it is asked for.
func (o *seen) cost(t *[3]*tone, all bool) Cost {
	nan := math.NaN()
	out := Cost{Lost: nan, DeltaE: nan, P95: nan, Noise: nan, Crossover: nan, Contrast: nan}
	if o.all > 0 {
		out.Lost = float64(o.lost) / float64(o.all)
	}
	ready(t)
	if d := o.differences(t); len(d) >= 60 {
		slices.Sort(d)
		out.DeltaE, out.P95 = d[len(d)/2], d[len(d)*95/100]
	}
	out.Crossover = between(o.whole(o.neutrals()), t)
	if all {
		out.Noise = o.noise(t)
		out.Contrast = o.contrast(t)
	}
	return out
}

// differences are those of the blocks' mean colours after a correction, over what neither
// frame has lost: pixels are corrected, and what is seen of them is averaged.
func (o *seen) differences(t *[3]*tone) []float64 {
	d := make([]float64, len(o.blocks))
	bands(len(o.blocks), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			b := o.blocks[i]
			var x, y [3]float64
			k := 0.0
			for p := range b.state {
				if (b.state[p]|o.state[i][p])&(gone|unshown) != 0 {
					continue
				}
				k++
				for c := range 3 {
					x[c] += float64(b.light[3*p+c])
					y[c] += t[c].quick(float64(o.light[i][3*p+c]))
				}
			}
			d[i] = math.NaN()
			if 2*k < float64(len(b.state)) {
				continue
			}
			for c := range 3 {
				x[c], y[c] = x[c]/k, y[c]/k
			}
			d[i] = difference(labOf(x), labOf(y))
		}
	})
	return slices.DeleteFunc(d, math.IsNaN)
}

// contrast is the ratio of the local RMS contrasts of luminance, over the cells in which
// every channel speaks in both frames.
func (o *seen) contrast(t *[3]*tone) float64 {
	v := o.v
	rows := make([][3]float64, len(o.blocks))
	bands(len(o.blocks), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			b := o.blocks[i]
			for q := range 9 {
				var n, x, xx, y, yy float64
				for j := range v.cell {
					for k := range v.cell {
						p := (q/3*v.cell+j)*v.side + q%3*v.cell + k
						if (b.state[p]|o.state[i][p])&(partial|unshown) != 0 {
							continue
						}
						l := o.light[i][3*p : 3*p+3]
						u := luminance32(b.light[3*p:])
						w := luma[0]*t[0].quick(float64(l[0])) + luma[1]*t[1].quick(float64(l[1])) + luma[2]*t[2].quick(float64(l[2]))
						n, x, xx, y, yy = n+1, x+u, xx+u*u, y+w, yy+w*w
					}
				}
				if n < float64(v.cell*v.cell) || x <= 0 || y <= 0 {
					continue
				}
				rows[i][0] += n*xx/(x*x) - 1
				rows[i][1] += n*yy/(y*y) - 1
				rows[i][2]++
			}
		}
	})
	var s [3]float64
	for _, r := range rows {
		for k := range s {
			s[k] += r[k]
		}
	}
	if s[2] < 60 || s[0] <= 0 || s[2] < 0.1*9*float64(len(o.blocks)) {
		return math.NaN()
	}
	return math.Sqrt(math.Max(0, s[1]) / s[0])
}

// noise is that of the shadows after a correction, root mean square; of everything where
// there are few shadows. Single pixels are drawn with their layers' noise.
func (o *seen) noise(t *[3]*tone) float64 {
	v := o.v
	var sum, n, shadows float64
	least := 0.02 * float64(o.all)
	for i, b := range o.blocks {
		for p := range b.state {
			if (b.state[p]|o.state[i][p])&(gone|unshown) == 0 && luminance32(b.light[3*p:]) < mid/2 {
				shadows++
			}
		}
	}
	step := max(1, int(math.Max(shadows, least))/2000)
	k := 0
	rnd := rand.New(rand.NewPCG(9, 9))
	for i, b := range o.blocks {
		for p := range b.state {
			if (b.state[p]|o.state[i][p])&(gone|unshown) != 0 || shadows >= least && luminance32(b.light[3*p:]) >= mid/2 {
				continue
			}
			if k++; k%step != 0 {
				continue
			}
			sd, _ := v.drawn(b.e[3*p:3*p+3], o.s, o.gain, t, 40, rnd)
			sum += sd * sd
			n++
		}
	}
	if n < 10 {
		return math.NaN()
	}
	return math.Sqrt(sum / n)
}

// drawn returns the standard deviations of L* and of luminance, of n draws of a viewing
// pixel with its noise, after a correction.
func (v *view) drawn(e []float32, s float64, gain [3]float64, t *[3]*tone, n int, rnd *rand.Rand) (sdL, sdY float64) {
	m := v.m
	var q, g [3]float64
	for c := range 3 {
		x := e[c] + float32(s)
		q[c], g[c] = float64(m.part[c].at(x)), float64(v.sigma[c].at(x))
	}
	common, own := math.Sqrt(m.film.Alike), math.Sqrt(1-m.film.Alike)
	var l, ll, y, yy float64
	for range n {
		z := rnd.NormFloat64()
		var d [3]float64
		for c := range 3 {
			d[c] = q[c] + g[c]*(common*z+own*rnd.NormFloat64())
		}
		lum := 0.0
		for c := range 3 {
			p := float64(m.light.at(float32(m.off[c]+m.mix[c][0]*d[0]+m.mix[c][1]*d[1]+m.mix[c][2]*d[2])))*gain[c] + v.read*rnd.NormFloat64()
			lum += luma[c] * t[c].quick(clamp(p))
		}
		x := Lightness(lum)
		l, ll, y, yy = l+x, ll+x*x, y+lum, yy+lum*lum
	}
	k := float64(n)
	return math.Sqrt(math.Max(0, ll/k-l*l/k/k) * k / (k - 1)), math.Sqrt(math.Max(0, yy/k-y*y/k/k) * k / (k - 1))
}

// neutrals are the greys of the bands' levels, as the frame shows them; NaN where the
// frame has lost them or the base frame has no such band.
func (o *seen) neutrals() [3][3]float64 {
	levels := o.v.level
	for b, a := range o.v.area {
		if a < 0.005 {
			levels[b] = math.NaN()
		}
	}
	return o.neutralsAt(levels)
}

// whole leaves out greys of which some channel says nothing: after curves of its own for
// each channel they have no cast to speak of.
func (o *seen) whole(n [3][3]float64) [3][3]float64 {
	for b, p := range n {
		if p[0] != p[0] {
			continue
		}
		var film [3]float64
		for c := range p {
			film[c] = p[c] / o.gain[c]
		}
		e, ok := o.v.m.exposure(film)
		var l [3]float32
		var st [1]uint8
		if ok {
			o.v.develop([]float32{float32(e[0]), float32(e[1]), float32(e[2])}, 0, o.gain, l[:], st[:])
		}
		if !ok || st[0] != 0 {
			n[b] = [3]float64{math.NaN()}
		}
	}
	return n
}

// neutralsAt are the greys of levels of the base frame, as the frame shows them; NaN
// where the frame has lost them.
func (o *seen) neutralsAt(levels [3]float64) (out [3][3]float64) {
	for b, level := range levels {
		out[b] = [3]float64{math.NaN()}
		if !(level > 0) {
			continue
		}
		p, ok := o.v.m.neutral(level, o.s)
		e, _ := o.v.m.exposure([3]float64{level, level, level})
		if !ok {
			continue
		}
		var l [3]float32
		var st [1]uint8
		o.v.develop([]float32{float32(e[0]), float32(e[1]), float32(e[2])}, o.s, o.gain, l[:], st[:])
		if st[0]&gone != 0 {
			continue
		}
		for c := range p {
			p[c] = math.Min(1, p[c]*o.gain[c])
		}
		out[b] = p
	}
	return out
}

// between returns the largest difference between the casts of the bands' neutrals after
// a correction, at one lightness.
func between(n [3][3]float64, t *[3]*tone) float64 {
	var casts []lab
	for _, p := range n {
		if p[0] == p[0] {
			x := labOf([3]float64{t[0].at(p[0]), t[1].at(p[1]), t[2].at(p[2])})
			casts = append(casts, lab{50, x.a, x.b})
		}
	}
	if len(casts) < 2 {
		return math.NaN()
	}
	worst := 0.0
	for i := range casts {
		for j := range i {
			worst = math.Max(worst, difference(casts[i], casts[j]))
		}
	}
	return worst
}

// leastCrossover is what the best balance leaves, beginning from the exposure's gain.
func (o *seen) leastCrossover(t *[3]*tone, n [3][3]float64) float64 {
	g := t[1].y[0] / t[1].x[0]
	at := func(r, b float64) float64 {
		return between(n, &[3]*tone{gainTone(g * g * g * math.Exp2(r)), gainTone(g * g * g), gainTone(g * g * g * math.Exp2(b))})
	}
	r, b := 0.0, 0.0
	best := at(r, b)
	if best != best {
		return best
	}
	for step := 1.0; step > 0.002; {
		moved := false
		for _, d := range [][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, -1}, {1, -1}, {-1, 1}} {
			if x := at(r+step*d[0], b+step*d[1]); x < best {
				best, r, b, moved = x, r+step*d[0], b+step*d[1], true
			}
		}
		if !moved {
			step /= 2
		}
	}
	return best
}

// Frame returns the truth of frame i.
func (t *Truth) Frame(i int) *FrameTruth {
	r, v := t.r, t.view
	gain := nth(r.Gains, i)
	if gain == [3]float64{} {
		gain = [3]float64{1, 1, 1}
	}
	s := r.Exposure(i)
	m := r.Map(i)
	key := fmt.Sprint(s, gain, m, nth(r.Scanner, i))
	v.mu.Lock()
	known := v.frames[key]
	v.mu.Unlock()
	if known != nil {
		return known
	}
	gate := r.Gate()
	home := nth(r.Scanner, i).affine(float64(r.Bounds().Dx()), float64(r.Bounds().Dy()))
	back := invert(home)
	shows := func(x, y float64) bool {
		x, y = float64(gate.Min.X)+x*float64(gate.Dx()), float64(gate.Min.Y)+y*float64(gate.Dy())
		fx, fy := m[0]*x+m[1]*y+m[2], m[3]*x+m[4]*y+m[5]
		gx, gy := back[0]*fx+back[1]*fy+back[2], back[3]*fx+back[4]*fy+back[5]
		return gx >= float64(gate.Min.X) && gy >= float64(gate.Min.Y) && gx < float64(gate.Max.X) && gy < float64(gate.Max.Y)
	}
	shown, of := 0, 0
	for y := range gate.Dy() {
		for x := range gate.Dx() {
			of++
			if shows((float64(x)+0.5)/float64(gate.Dx()), (float64(y)+0.5)/float64(gate.Dy())) {
				shown++
			}
		}
	}
	o := v.look(s, gain, func(int, *block) bool { return true }, shows)
	one, three := o.gains(false), o.gains(true)
	out := &FrameTruth{one: one, Exposure: s, Shown: float64(shown) / float64(of)}
	for b := range out.Bands {
		out.Bands[b] = t.band(o, b)
	}
	out.Grades[Exposure] = o.cost(one, false)
	out.Grades[Balance] = o.cost(three, false)
	out.Grades[Curves] = o.cost(o.curves(), true)
	out.Crossover = o.leastCrossover(one, o.neutrals())
	out.Grades[Balance].Crossover = out.Crossover
	v.mu.Lock()
	v.frames[key] = out
	v.mu.Unlock()
	return out
}

// band is the truth of a band in a frame.
func (t *Truth) band(o *seen, b int) Band {
	v := t.view
	nan := math.NaN()
	out := Band{Area: v.area[b], Level: v.level[b], Cast: [2]float64{nan, nan}, NoiseL: nan, SNR: nan}
	if out.Area < 0.005 {
		return out
	}
	if p := o.neutrals()[b]; p[0] == p[0] {
		x := labOf(p)
		out.Cast = [2]float64{x.a, x.b}
	}
	n := 0.0
	for i, k := range o.blocks {
		for p := range k.state {
			if band(luminance32(k.light[3*p:])) != b || o.state[i][p]&unshown != 0 {
				continue
			}
			n++
			for c := range 3 {
				out.Light[c] += float64(o.light[i][3*p+c])
			}
		}
	}
	for c := range 3 {
		out.Light[c] /= math.Max(1, n)
	}
	var film [3]float64
	for c := range 3 {
		film[c] = out.Light[c] / o.gain[c]
	}
	if e, ok := v.m.exposure(film); ok && n > 0 {
		rnd := rand.New(rand.NewPCG(3, uint64(b)))
		var sdY float64
		out.NoiseL, sdY = v.drawn([]float32{float32(e[0]), float32(e[1]), float32(e[2])}, 0, o.gain, &[3]*tone{}, 20000, rnd)
		out.SNR = luminance(out.Light) / sdY
	}
	return out
}

// every so many blocks stand for the picture where costs are asked for at many stops.
const every = 4

// scattered returns i's place in a disorder that is always the same: blocks in even steps
// stand in columns, and a scene has columns of its own.
func scattered(i int) uint64 {
	return rand.New(rand.NewPCG(5, uint64(i))).Uint64() >> 8
}

// CostAt returns what salvage by curves costs at any stop.
func (t *Truth) CostAt(s float64) Cost {
	v := t.view
	key := int(math.Round(s * 100))
	v.mu.Lock()
	c, ok := v.dense[key]
	v.mu.Unlock()
	if ok {
		return c
	}
	o := v.look(float64(key)/100, [3]float64{1, 1, 1}, func(i int, _ *block) bool { return scattered(i)%every == 0 }, nil)
	c = o.cost(o.curves(), true)
	v.mu.Lock()
	v.dense[key] = c
	v.mu.Unlock()
	return c
}

// step of the stops at which costs are computed, in hundredths.
const stride = 10

// Ends returns the true range under two limits of a set (holds: the stricter), within
// the bracket: where, going outward from the base frame, the first criterion passes its
// limit. Set must ask for salvage by curves.
func (t *Truth) Ends(set criteria.Set, holds bool) (lo, hi End) {
	limit := func(c criteria.Criterion) float64 {
		if holds {
			return set.Limits[c].Holds
		}
		return set.Limits[c].Strains
	}
	first, last := slices.Min(t.r.Stops), slices.Max(t.r.Stops)
	side := func(dir int, to float64) End {
		before := t.CostAt(0)
		for _, c := range criteria.All() {
			if x := before.Of(c); x == x && !c.Within(x, limit(c)) {
				return End{None: true, By: c}
			}
		}
		for k := stride; float64(k) <= math.Abs(to)*100+1e-6; k += stride {
			s := float64(dir*k) / 100
			here := t.CostAt(s)
			out := End{Stop: s, By: -1}
			nearest := 2.0
			for _, c := range criteria.All() {
				a, b, l := before.Of(c), here.Of(c), limit(c)
				if b != b || c.Within(b, l) {
					continue
				}
				f := 0.0
				if a == a && a != b {
					f = clamp((l - a) / (b - a))
				}
				if f < nearest {
					nearest, out.By = f, c
					out.Stop = float64(dir) * (float64(k-stride) + f*stride) / 100
				}
			}
			if out.By >= 0 {
				return out
			}
			before = here
		}
		return End{Stop: to, Open: true, By: -1}
	}
	return side(-1, first), side(1, last)
}

// GainInStops returns what the scanner's gain of frame i on the green channel amounts to,
// in stops of exposure that would have moved a mid-grey of this frame as far.
func (t *Truth) GainInStops(i int) float64 {
	g := nth(t.r.Gains, i)
	if g == [3]float64{} {
		return 0
	}
	m := t.view.m
	at := func(x float64) float64 { p := m.expose([3]float64{x, x, x}); return p[1] }
	lo, hi := dimmest, brightest // of what comes out as mid-grey by its exposure now
	for range 60 {
		if x := (lo + hi) / 2; at(x) < mid*g[1] {
			lo = x
		} else {
			hi = x
		}
	}
	return lo
}
