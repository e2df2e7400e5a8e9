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
	o := v.look(s, gain, shows)
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

// scattered returns i's place in a disorder that is always the same: places in even steps
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
	o := v.look(float64(key)/100, [3]float64{1, 1, 1}, nil) // of a sample of blocks a lost area is a third off
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
