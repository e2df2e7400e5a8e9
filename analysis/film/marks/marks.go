// Package marks finds what stands in a roll's scans and is no picture: dust and
// scratches of the film or of the scanner's glass, hairs, and what moved between
// exposures (assets/manual/registration.md#marks).
//
// # Of one frame
//
// Through the roll's response every frame says what each of the others must show at a
// place. Where a frame shows something else than every other that can say, beyond what
// noise and the detail of the place allow, it is marked there. Where only two frames
// can be compared and they disagree, neither is known to be right, and both are.
//
// # Of all frames
//
// What lies on the scanner's glass while nothing moved is the same in all frames. Light
// of the scene follows the response when the exposure changes; a speck takes the same
// density from every frame, also from those in which the place and all about it are
// white or black. A place where such a density explains the frames far better than
// light alone, and that stands out from what lies about it, is marked in all of them.
//
// What lies there is not told from the picture alone: a leaf that moved is marked as
// dust is. Only the green channel is read, which carries most of what the eye sees.
package marks

import (
	"context"
	"math"
	"slices"
	"sync/atomic"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/median"
	"stopladder/analysis/numeric/parallel"

	"golang.org/x/image/math/f64"
)

const (
	green = 1
	// beyond is how many standard deviations a frame must be off: a picture has
	// millions of pixels, of which noise alone then carries a few.
	beyond = 5.0
	// least is the density that is not marked whatever the noise: a tenth of a stop of
	// light. What is fainter costs no reading anything.
	least = 0.06
	// detailShare is the share of the range of densities within a pixel's neighbours that two
	// frames may differ by: half a pixel of one of them, which reading the nearest pixel
	// may be off by, at an edge two pixels wide.
	detailShare = 0.5
	// vague is the density from which on what a frame allows is too wide to bear another
	// out: a stop of light, which hides most dust.
	vague = 0.3
	// nearest in exposure are the frames that each is held against: those further off
	// show less of the same tones.
	nearest = 5
	// most of the picture: where more is off, it is not specks but the response that does
	// not hold, and nothing is marked.
	most = 0.15
	// flat is the share of the steepest slope under which a code tells no exposure but
	// that it is beyond one, as where a scan is clipped.
	flat = 0.2
	// stopLog is a stop of log10 exposure.
	stopLog = 0.30102999566398119521
)

// scan is one frame made ready for comparing.
type scan struct {
	frame   int
	p       *measure.Preview
	area    [4]int   // x0, y0, x1, y1 in its preview
	toHere  f64.Aff3 // preview px of the base frame to this one's
	e       float64  // log10 exposure against the base frame
	code    []tone
	against []int   // scans nearest in exposure
	off     []uint8 // by pixel of the base frame's area: marked
}

// tone is what a code says, together, since what is read at a place lies anywhere in memory.
type tone struct {
	density float32
	logE    float32 // log exposure on the curve
	slope   float32 // of the curve there
	end     int8    // 1 beyond the light end, -1 beyond the dark end, else 0
}

type finder struct {
	scans []scan
	k     *response.Curve
	curve []point     // at the places of k.LogE
	first float64     // of these
	per   float64     // places in a unit of log exposure
	held  [2]float64  // the part of the curve that is known, in places
	x     [2]float64  // where the curve separates tones
	ends  [2]float64  // its densities there: dark, light
	noise [40]float64 // standard deviation of density, by tenths of density
	sure  [40]float64 // one over the variance that light alone may differ by, likewise
	// of the base frame's area in its preview
	x0, y0, w, h int
}

// Find returns the marks of every frame, nil where none could be looked for: it needs
// three frames that lie on each other and have a measured stop. The error is ctx's.
func Find(ctx context.Context, res *response.Result, frames []response.Frame, base int) ([]*measure.Marks, error) {
	out := make([]*measure.Marks, len(frames))
	f := newFinder(res, frames, base)
	if f == nil {
		return out, nil
	}
	if !f.measureNoise() {
		return out, nil
	}
	if err := f.compare(ctx); err != nil {
		return nil, err
	}
	if err := f.still(ctx); err != nil {
		return nil, err
	}
	for i := range f.scans {
		out[f.scans[i].frame] = f.marksOf(i)
	}
	f.shared(out)
	return out, nil
}

func newFinder(res *response.Result, frames []response.Frame, base int) *finder {
	if res == nil || res.Curve == nil || len(res.Frames) != len(frames) || base < 0 || frames[base].Look == nil {
		return nil
	}
	f := &finder{k: res.Curve}
	f.trace()
	bl := frames[base].Look
	a := bl.PreviewArea()
	f.x0, f.y0, f.w, f.h = a.Min.X, a.Min.Y, a.Dx(), a.Dy()
	fb := float64(max(1, bl.Preview.Factor))
	for i, fr := range frames {
		m := res.Frames[i].MeasuredStop
		if fr.Unregistered || fr.Look == nil || fr.Look.Space == nil || m == nil {
			continue
		}
		r := fr.Look.PreviewArea()
		f.scans = append(f.scans, scan{frame: i, p: fr.Look.Preview, e: *m * stopLog,
			area:   [4]int{r.Min.X, r.Min.Y, r.Max.X, r.Max.Y},
			toHere: affine.Reduced(fr.Map, fb, float64(max(1, fr.Look.Preview.Factor)))})
		f.tables(&f.scans[len(f.scans)-1], fr.Look)
	}
	if len(f.scans) < 3 || f.w < 8 || f.h < 8 {
		return nil
	}
	for i := range f.scans {
		s := &f.scans[i]
		s.off = make([]uint8, f.w*f.h)
		for j := range f.scans {
			if j != i {
				s.against = append(s.against, j)
			}
		}
		slices.SortStableFunc(s.against, func(a, b int) int {
			return int(math.Copysign(1, math.Abs(f.scans[a].e-s.e)-math.Abs(f.scans[b].e-s.e)))
		})
		s.against = s.against[:min(len(s.against), nearest)]
	}
	return f
}

func abs(i int) int { return max(i, -i) }

// point is the curve at a place: density, and how much it falls by log exposure.
type point struct{ d, slope float64 }

// trace makes the curve ready for reading at millions of places.
func (f *finder) trace() {
	k := f.k
	ch := &k.Channels[green]
	y := k.Density[green]
	f.curve = make([]point, len(k.LogE))
	step := k.LogE[1] - k.LogE[0]
	for i := range f.curve {
		a, b := max(0, i-1), min(len(f.curve)-1, i+1)
		slope := (y[a] - y[b]) / (float64(b-a) * step)
		if !(slope >= 0) {
			slope = 0
		}
		f.curve[i] = point{y[i], slope}
	}
	f.first, f.per = k.LogE[0], 1/step
	// Where the curve still separates tones.
	f.x = ch.Covered
	for i, x := range k.LogE {
		if x < ch.GammaAt && f.curve[i].slope < flat*ch.Gamma {
			f.x[0] = max(f.x[0], x)
		}
		if x > ch.GammaAt && f.curve[i].slope < flat*ch.Gamma {
			f.x[1] = min(f.x[1], x)
		}
	}
	// Beyond what is known the curve is not a number: it stays what it is at its ends.
	for i := range f.curve {
		if p := f.curve[i]; p.d != p.d {
			at := i
			for j := range f.curve {
				if d := f.curve[j].d; d == d && (at == i || abs(j-i) < abs(at-i)) {
					at = j
				}
			}
			f.curve[i] = f.curve[at]
		}
	}
	for i, x := range ch.Covered {
		f.held[i] = max(0, (x-f.first)*f.per)
	}
	f.ends[0], _ = f.at(f.x[0])
	f.ends[1], _ = f.at(f.x[1])
}

// tables gives each code its density and its place on the curve.
func (f *finder) tables(s *scan, l *measure.Look) {
	k := f.k
	light := l.Space.Tone()[green]
	n := len(light)
	s.code = make([]tone, n)
	ceiling, floor := l.Ceiling.G, l.Floor.G
	for c := range n {
		d := -math.Log10(max(float64(light[c]), 1e-4))
		x, _ := k.LogEOf(green, d)
		t := &s.code[c]
		switch {
		case c >= ceiling || x >= f.x[1]:
			t.end, x = 1, f.x[1]
		case c <= floor || x <= f.x[0]:
			t.end, x = -1, f.x[0]
		}
		_, b := f.at(x)
		t.density, t.logE, t.slope = float32(d), float32(x), float32(b)
	}
}

// at returns density and slope of the curve, held at its ends.
func (f *finder) at(x float64) (d, slope float64) {
	p := min(max((x-f.first)*f.per, f.held[0]), f.held[1])
	i := min(int(p), len(f.curve)-2)
	t := p - float64(i)
	a, b := f.curve[i], f.curve[i+1]
	return a.d + t*(b.d-a.d), a.slope + t*(b.slope-a.slope)
}

// detail returns the range of density among a pixel's neighbours.
func (s *scan) detail(at int) float64 {
	p := s.p
	x, y := at%p.W, at/p.W
	a, b := float32(math.Inf(1)), float32(math.Inf(-1))
	for v := max(0, y-1); v <= min(p.H-1, y+1); v++ {
		for u := max(0, x-1); u <= min(p.W-1, x+1); u++ {
			d := s.code[p.Pix[3*(v*p.W+u)+green]].density
			a, b = min(a, d), max(b, d)
		}
	}
	return float64(b - a)
}

// place is the pixel of scan s that shows pixel (x, y) of the base frame's area; -1
// where its image area does not.
func (f *finder) place(s *scan, x, y int) int {
	px, py := affine.At(s.toHere, float64(f.x0+x)+0.5, float64(f.y0+y)+0.5)
	i, j := int(math.Floor(px)), int(math.Floor(py))
	if i < s.area[0] || j < s.area[1] || i >= s.area[2] || j >= s.area[3] {
		return -1
	}
	return j*s.p.W + i
}

// bin is the place of a density in a finder's tables.
func bin(d float64) int { return min(max(int(d*10), 0), len(finder{}.noise)-1) }

// measureNoise reads from pairs of neighbouring frames how far pixels differ where
// nothing is wrong; it holds the grain and what registration leaves.
func (f *finder) measureNoise() bool {
	var dev [len(f.noise)][]float64
	for i := range f.scans {
		s := &f.scans[i]
		o := &f.scans[s.against[0]]
		for y := 3; y < f.h; y += 7 {
			for x := 3; x < f.w; x += 7 {
				a, b := f.place(s, x, y), f.place(o, x, y)
				if a < 0 || b < 0 {
					continue
				}
				ca, cb := &s.code[s.p.Pix[3*a+green]], &o.code[o.p.Pix[3*b+green]]
				if ca.end != 0 || cb.end != 0 {
					continue
				}
				d, slope := f.at(float64(cb.logE) - o.e + s.e)
				k := slope / max(float64(cb.slope), 1e-3)
				if k > 2 || k < 0.5 {
					continue
				}
				at := bin(float64(ca.density))
				dev[at] = append(dev[at], math.Abs(float64(ca.density)-d)/math.Sqrt(1+k*k))
			}
		}
	}
	const enough = 200
	last := math.NaN()
	for b, v := range dev {
		f.noise[b] = math.NaN()
		if len(v) >= enough {
			f.noise[b] = max(median.Of(v)/0.6745, 0.002)
			last = f.noise[b]
		}
	}
	if math.IsNaN(last) {
		return false
	}
	// What no pair shows has the noise of the nearest that is shown on the thin side,
	// or on the dense.
	for b := len(f.noise) - 1; b >= 0; b-- {
		if math.IsNaN(f.noise[b]) {
			f.noise[b] = last
		} else {
			last = f.noise[b]
		}
		f.sure[b] = 1 / (f.noise[b]*f.noise[b] + toDyes*toDyes)
	}
	return true
}

// says returns how far scan s at a pixel is from what scan o says of it, and by how
// much it may be; known is false where o says nothing.
func (f *finder) says(s, o *scan, a, b int) (off, may float64, known bool) {
	ca, cb := &s.code[s.p.Pix[3*a+green]], &o.code[o.p.Pix[3*b+green]]
	x := float64(cb.logE) - o.e + s.e
	d, slope := f.at(x)
	off = float64(ca.density) - d
	k := slope / max(float64(cb.slope), 1e-3)
	sd := k * f.noise[bin(float64(cb.density))]
	switch cb.end {
	case 1: // as light as this or lighter
		if off < 0 {
			return 0, 0, false
		}
	case -1:
		if off > 0 {
			return 0, 0, false
		}
	}
	if ca.end > 0 && x >= f.x[1] || ca.end < 0 && x <= f.x[0] {
		return 0, least, cb.end == 0 // both say that it is beyond the end
	}
	own := f.noise[bin(d)]
	if may = beyond*math.Sqrt(own*own+sd*sd) + least; math.Abs(off) > may {
		may += detailShare * min(s.detail(a), o.detail(b)*max(k, 0.2))
	}
	return off, may, true
}

// compare marks what a single frame shows.
func (f *finder) compare(ctx context.Context) error {
	return parallel.Chunks(ctx, 0, f.h, 0, func(_, lo, hi int) {
		at := make([]int, len(f.scans))
		for y := lo; y < hi; y++ {
			for x := range f.w {
				for i := range f.scans {
					at[i] = f.place(&f.scans[i], x, y)
				}
				for i := range f.scans {
					if at[i] < 0 {
						continue
					}
					s := &f.scans[i]
					less, more := 0, 0
				against:
					for _, j := range s.against {
						if at[j] < 0 {
							continue
						}
						off, may, known := f.says(s, &f.scans[j], at[i], at[j])
						switch {
						case !known:
							continue
						case off > may:
							more++
							continue
						case off < -may:
							less++
							continue
						}
						if may > vague {
							continue
						}
						less, more = 0, 0 // one that bears it out is enough
						break against
					}
					if less != more && min(less, more) == 0 {
						s.off[y*f.w+x] = 1
					}
				}
			}
		}
	})
}

const (
	stillGain  = 30.0 // of chi squared: one more figure explains this much, 5.5 standard deviations
	stillLeast = 0.12 // density of a speck: fainter ones are not told from what a film's dyes do to each other
	toDyes     = 0.02 // density that what a film's dyes do to each other may be off by
	stillRing  = 9    // pixels about a speck that it must stand out from
)

// still marks what takes the same density from all frames.
func (f *finder) still(ctx context.Context) error {
	depth := make([]float32, f.w*f.h) // of what lies there; 0: light alone will do
	err := parallel.Chunks(ctx, 0, f.h, 0, func(_, lo, hi int) {
		codes := make([]uint16, len(f.scans))
		for y := lo; y < hi; y++ {
			for x := range f.w {
				n := 0
				for i := range f.scans {
					if a := f.place(&f.scans[i], x, y); a >= 0 {
						codes[i] = f.scans[i].p.Pix[3*a+green]
						n++
					}
				}
				if n == len(f.scans) {
					depth[y*f.w+x] = f.veil(codes)
				}
			}
		}
	})
	if err != nil {
		return err
	}
	return parallel.Chunks(ctx, 0, f.h, 0, func(_, lo, hi int) {
		var ring []float32
		for y := lo; y < hi; y++ {
			for x := range f.w {
				d := depth[y*f.w+x]
				if float32(math.Abs(float64(d))) < stillLeast {
					continue
				}
				ring = ring[:0]
				for v := -stillRing; v <= stillRing; v += 3 {
					for u := -stillRing; u <= stillRing; u += 3 {
						if i, j := x+u, y+v; i >= 0 && j >= 0 && i < f.w && j < f.h {
							ring = append(ring, depth[j*f.w+i])
						}
					}
				}
				if m := median.Upper(ring); float32(math.Abs(float64(d-m))) >= stillLeast {
					for i := range f.scans {
						f.scans[i].off[y*f.w+x] = 1
					}
				}
			}
		}
	})
}

// veil is the density that lies over the scene in all scans alike at a place; 0 where
// the scene's light alone explains the codes about as well.
func (f *finder) veil(codes []uint16) float32 {
	// The place's light, from the scans that are in the middle of the curve.
	x, w := 0.0, 0.0
	for i := range f.scans {
		s := &f.scans[i]
		if c := &s.code[codes[i]]; c.end == 0 {
			b := float64(c.slope)
			x, w = x+b*b*(float64(c.logE)-s.e), w+b*b
		}
	}
	if w == 0 {
		return 0
	}
	x /= w
	alone, _ := f.fitVeil(codes, x, false)
	if alone < stillGain {
		return 0
	}
	with, d := f.fitVeil(codes, x, true)
	if alone-with < stillGain || with > alone/3 {
		return 0
	}
	return float32(d)
}

// fitVeil returns chi squared of the best light, and of the best density over it where
// veiled (Gauss-Newton).
func (f *finder) fitVeil(codes []uint16, x float64, veiled bool) (chi, d float64) {
	best := math.Inf(1)
	var bestD float64
	for range 6 {
		var xx, xd, dd, rx, rd float64
		chi = 0
		for i := range f.scans {
			s := &f.scans[i]
			c := &s.code[codes[i]]
			g, slope := f.at(x + s.e)
			r := float64(c.density) - g - d
			// Where the curve is flat or the scan clipped, a code says no more than that the
			// place is at least so light, or so dark.
			switch c.end {
			case 1:
				r = min(0, max(r, f.ends[1]-g-d))
			case -1:
				r = max(0, min(r, f.ends[0]-g-d))
			}
			if r == 0 {
				continue
			}
			iv := f.sure[bin(g+d)]
			t := r * r * iv
			chi += min(t, 100)
			if t > 100 { // a frame that is off by itself
				iv *= 100 / t
			}
			xx += iv * slope * slope
			xd -= iv * slope // d(g+d)/dx is -slope: density falls
			dd += iv
			rx -= iv * slope * r
			rd += iv * r
		}
		if chi < best {
			best, bestD = chi, d
		}
		if !veiled && chi < stillGain {
			return chi, 0 // light alone explains it
		}
		xx += 1e-6
		if !veiled {
			x += min(max(rx/xx, -0.5), 0.5)
			continue
		}
		dd += 1e-6
		det := xx*dd - xd*xd
		if !(det > 1e-9*xx*dd) {
			break
		}
		x += min(max((rx*dd-xd*rd)/det, -0.5), 0.5)
		d += min(max((rd*xx-xd*rx)/det, -0.5), 0.5)
	}
	return best, bestD
}

// marksOf lays what is off in scan i on its own preview.
func (f *finder) marksOf(i int) *measure.Marks {
	s := &f.scans[i]
	n := 0
	for y := range f.h {
		for x := range f.w {
			k := y*f.w + x
			if s.off[k] == 0 {
				continue
			}
			// A single pixel is noise sooner than dust, which is wider than the scanner's eye.
			near := 0
			for v := max(0, y-1); v <= min(f.h-1, y+1); v++ {
				for u := max(0, x-1); u <= min(f.w-1, x+1); u++ {
					if s.off[v*f.w+u] != 0 {
						near++
					}
				}
			}
			if near < 3 {
				s.off[k] = 2
				continue
			}
			n++
		}
	}
	m := &measure.Marks{W: s.p.W, H: s.p.H, Mask: make([]uint8, s.p.W*s.p.H)}
	shown := 0
	for y := range f.h {
		for x := range f.w {
			at := f.place(s, x, y)
			if at < 0 {
				continue
			}
			shown++
			if s.off[y*f.w+x] != 1 {
				continue
			}
			px, py := at%s.p.W, at/s.p.W
			for v := max(0, py-1); v <= min(s.p.H-1, py+1); v++ {
				for u := max(0, px-1); u <= min(s.p.W-1, px+1); u++ {
					m.Mask[v*s.p.W+u] = 255
				}
			}
		}
	}
	if m.Share = float64(n) / float64(max(1, shown)); m.Share > most {
		return nil
	}
	return m
}

// shared counts how much of the marks stands at the same place of most other scans.
func (f *finder) shared(marks []*measure.Marks) {
	for i := range f.scans {
		m := marks[f.scans[i].frame]
		if m == nil {
			continue
		}
		var both, all atomic.Int64
		parallel.Bands(m.H, func(lo, hi int) {
			for k := lo * m.W; k < hi*m.W; k++ {
				if m.Mask[k] == 0 {
					continue
				}
				all.Add(1)
				n, of := 0, 0
				for j := range f.scans {
					o := marks[f.scans[j].frame]
					if j == i || o == nil || o.W != m.W || o.H != m.H {
						continue
					}
					of++
					if o.Mask[k] != 0 {
						n++
					}
				}
				if of > 0 && 2*n > of {
					both.Add(1)
				}
			}
		})
		if all.Load() > 0 {
			m.Still = m.Share * float64(both.Load()) / float64(all.Load())
		}
	}
}
