package between

import (
	"math"
	"sort"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
)

const (
	stopLog    = 0.30102999566398119521 // log10 2
	pathStep   = 0.002                  // of LogE
	pathOver   = 2.0                    // LogE beyond the covered part, drawn on straight
	slopeLeast = 0.05                   // of a curve drawn on
	weightBits = 14
	darkNoise  = 0.003 // linear light under which a scan's noise grows in density (common practice, no source)
	unsure     = 30    // times the variance where the curve is drawn on
	lost       = 1e-3  // weight of a tone that is clipped and would come out of the clipping
)

// paths are the curves on a fine grid, drawn on beyond what the roll covers.
type paths struct {
	lo      float64
	density [3][]float64
	slope2  [3][]float32 // square of the slope
	covered [3][2]float64
}

func newPaths(k *response.Curve) *paths {
	p := &paths{}
	lo, hi := math.Inf(1), math.Inf(-1)
	for c := range 3 {
		p.covered[c] = k.Channels[c].Covered
		lo, hi = math.Min(lo, p.covered[c][0]), math.Max(hi, p.covered[c][1])
	}
	p.lo = lo - pathOver
	n := int((hi-lo+2*pathOver)/pathStep) + 2
	for c := range 3 {
		d := make([]float64, n)
		a, b := p.covered[c][0], p.covered[c][1]
		const e = 0.06
		da, db := k.At(c, a), k.At(c, b)
		sa := math.Max(slopeLeast, (da-k.At(c, math.Min(a+e, b)))/e)
		sb := math.Max(slopeLeast, (k.At(c, math.Max(b-e, a))-db)/e)
		for i := range d {
			x := p.lo + float64(i)*pathStep
			switch {
			case x < a:
				d[i] = da + sa*(a-x)
			case x > b:
				d[i] = db - sb*(x-b)
			default:
				d[i] = k.At(c, x)
			}
		}
		p.density[c] = d
		p.slope2[c] = make([]float32, n)
		for i := range d {
			s := (d[max(0, i-5)] - d[min(n-1, i+5)]) / (10 * pathStep)
			p.slope2[c][i] = float32(math.Max(s, 0.02) * math.Max(s, 0.02))
		}
	}
	return p
}

// exposure of a density on channel c's path, in grid steps.
func (p *paths) exposure(c int, density float64) float64 {
	d := p.density[c]
	i := sort.Search(len(d), func(i int) bool { return d[i] <= density })
	switch {
	case i == 0:
		return 0
	case i == len(d):
		return float64(len(d) - 1)
	case d[i-1] == d[i]:
		return float64(i)
	}
	return float64(i-1) + (d[i-1]-density)/(d[i-1]-d[i])
}

// levels are what a frame's codes mean, made once per frame.
type levels struct {
	max            int
	floor, ceiling [3]int
	tone           *[3][]float32
	at             [3][]float32 // exposure in grid steps, per code
	noise          [3][]float32 // variance over slope squared, per code, relative
	code           [3][]uint16  // of the path's grid steps, in this frame's space
}

func (r *Roll) levelsOf(j int) *levels {
	r.mu.Lock()
	defer r.mu.Unlock()
	if l := r.levels[j]; l != nil {
		return l
	}
	look := r.frames[j].Look
	l := &levels{max: look.Space.Max(), tone: look.Space.Tone(), floor: channels(look.Floor), ceiling: channels(look.Ceiling)}
	for c := range 3 {
		if l.ceiling[c] <= l.floor[c] {
			l.floor[c], l.ceiling[c] = 0, l.max
		}
	}
	if r.curve != nil {
		for c := range 3 {
			l.prepare(r.curve, c)
		}
	}
	r.levels[j] = l
	return l
}

func channels(v measure.RGB[int]) [3]int { return [3]int{v.R, v.G, v.B} }

func (l *levels) prepare(p *paths, c int) {
	tone := l.tone[c]
	l.at[c], l.noise[c] = make([]float32, len(tone)), make([]float32, len(tone))
	a, b := (p.covered[c][0]-p.lo)/pathStep, (p.covered[c][1]-p.lo)/pathStep
	for code, light := range tone {
		v := math.Max(float64(light), 1e-9)
		x := p.exposure(c, -math.Log10(v))
		l.at[c][code] = float32(x)
		s2 := p.slope2[c][min(int(x), len(p.slope2[c])-1)]
		n := 1 + darkNoise*darkNoise/(v*v)
		if x < a-1 || x > b+1 {
			n *= unsure
		}
		l.noise[c][code] = float32(math.Min(n, 1e12)) / s2
	}
	l.code[c] = make([]uint16, len(p.density[c]))
	for i, d := range p.density[c] {
		l.code[c][i] = uint16(l.codeOf(c, math.Pow(10, -d)))
	}
}

// codeOf returns the nearest code of linear light, within floor and ceiling.
func (l *levels) codeOf(c int, light float64) int {
	tone := l.tone[c]
	i := sort.Search(len(tone), func(i int) bool { return float64(tone[i]) >= light })
	if i > 0 && (i == len(tone) || light-float64(tone[i-1]) < float64(tone[i])-light) {
		i--
	}
	return min(max(i, l.floor[c]), l.ceiling[c])
}

// table moves the codes of one frame by delta stops and gives each its weight;
// the codes that come out are those of the space of out.
func (r *Roll) table(in, out *levels, c int, delta, near float64) []uint32 {
	t := make([]uint32, len(in.tone[c]))
	steps := float32(delta * stopLog / pathStep)
	const top = 1<<weightBits - 1
	same := in == out || in.tone[c][in.max] == out.tone[c][out.max] && &in.tone[c][0] == &out.tone[c][0]
	value := func(code int) (v int, w uint32) {
		v, q := code, float32(1)
		switch {
		case r.curve != nil:
			x := in.at[c][code] + steps
			grid := out.code[c]
			i := min(max(int(x+0.5), 0), len(grid)-1)
			if e := in.at[c][code]; e > 0 && int(e) < len(grid)-1 {
				v = interpolate(grid, x, i)
			} else if !same { // beyond all that is known: as it is
				v = out.codeOf(c, float64(in.tone[c][code]))
			}
			// Variance after the move, in density, over that of an even tone.
			q = 1 / (0.05 + in.noise[c][code]*r.curve.slope2[c][i])
		case !same:
			v = out.codeOf(c, float64(in.tone[c][code]))
		}
		// What is clipped stays clipped on the way on, and is unknown on the way back.
		switch {
		case code >= in.ceiling[c] && delta >= 0:
			v, q = out.ceiling[c], 20
		case code <= in.floor[c] && delta <= 0:
			v, q = out.floor[c], 20
		case code >= in.ceiling[c] || code <= in.floor[c]:
			q = lost
		}
		return v, uint32(min(max(int(near*float64(min(q, 20))/20*top+0.5), 1), top))
	}
	// Codes between the floor and the ceiling are reckoned one by one where they are
	// dark, and further on every few of them: the table is made anew for every
	// picture between two frames, and from there on a step is less than one part in
	// fifty of a code.
	last := 0 // codes rise, so moved codes do
	put := func(code, v int, w uint32) {
		last = max(last, v)
		t[code] = uint32(last)<<16 | w
	}
	from, to := min(max(in.floor[c]+1, leap*50), len(t)), min(in.ceiling[c]-1, len(t)-1)
	code := 0
	for ; code < from; code++ {
		v, w := value(code)
		put(code, v, w)
	}
	if code > 0 && code < to {
		v0, w0 := value(code - 1)
		for ; code+leap <= to; code += leap {
			v1, w1 := value(code + leap - 1)
			for i := 1; i <= leap; i++ {
				put(code+i-1, v0+((v1-v0)*i+leap/2)/leap, uint32(int(w0)+(int(w1)-int(w0))*i/leap))
			}
			v0, w0 = v1, w1
		}
	}
	for ; code < len(t); code++ {
		v, w := value(code)
		put(code, v, w)
	}
	return t
}

// leap is how many codes are reckoned at once where codes are large.
const leap = 8

// interpolate between grid codes; i is the nearest step to x.
func interpolate(grid []uint16, x float32, i int) int {
	k := int(x)
	if x < 0 || k+1 >= len(grid) {
		return int(grid[i])
	}
	a, b := float32(grid[k]), float32(grid[k+1])
	return int(a + (x-float32(k))*(b-a) + 0.5)
}

// Tables moves frame's codes by delta stops along the response, without a mix:
// code -> code in the frame's own space. nil without a response.
func (r *Roll) Tables(frame int, delta float64) *[3][]uint16 {
	if r.curve == nil || frame < 0 || frame >= len(r.frames) || r.frames[frame].Look == nil || r.frames[frame].Look.Space == nil {
		return nil
	}
	l := r.levelsOf(frame)
	var out [3][]uint16
	for c := range 3 {
		t := r.table(l, l, c, delta, 1)
		out[c] = make([]uint16, len(t))
		for i, v := range t {
			out[c][i] = uint16(v >> 16)
		}
		if delta == 0 {
			for i := range out[c] {
				out[c][i] = uint16(i)
			}
		}
	}
	return &out
}
