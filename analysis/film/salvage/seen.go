package salvage

import (
	"math"
	"slices"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/model"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan/colour"
)

// seen is the model of the roll at a stop beside its base frame: what a frame there costs,
// without noise.
type seen struct {
	m     *model.Model
	v     *model.View
	pairs pairs   // blocks: mean light of what neither has lost
	block []int32 // of each pair
	band  []uint8 // of each pair
	lost  cellCounts
	bands [measure.Bands]cellCounts
	level [measure.Bands]float64 // mean luminance of the bands in the base frame; NaN: too small
}

// leastBand is the share of the picture that a band needs for its neutral to be told.
const leastBand = 0.005

// look sees the model at a stop against the base frame, at every step-th block.
func look(m *model.Model, stop float64, step int) *seen {
	s := &seen{m: m, v: m.At(stop)}
	blocks, cells, per := m.Blocks()
	n := cells * per
	b, v := m.Base, s.v
	const gone = model.LostLight | model.LostDark
	var sums [measure.Bands]float64
	for k := 0; k < blocks; k += step {
		var x, y [3]float64
		var state uint8
		left := 0
		for p := k * n; p < (k+1)*n; p++ {
			if b.State[p]&model.Absent != 0 {
				continue
			}
			l := b.Light[3*p : 3*p+3 : 3*p+3]
			band := m.Band(p)
			sums[band] += m.Luminance(p)
			s.bands[band].all++
			s.lost.all++
			state |= b.State[p] | v.State[p]
			switch {
			case b.State[p]&gone != 0:
			case v.State[p]&model.LostLight != 0:
				s.lost.light++
				s.bands[band].light++
			case v.State[p]&model.LostDark != 0:
				s.lost.dark++
				s.bands[band].dark++
			default:
				left++
				for c := range 3 {
					x[c] += float64(l[c])
					y[c] += float64(v.Light[3*p+c])
				}
			}
		}
		if 2*left < n {
			continue
		}
		f := 1 / float64(left)
		bl := m.RGB([]float32{float32(x[0] * f), float32(x[1] * f), float32(x[2] * f)})
		fl := m.RGB([]float32{float32(y[0] * f), float32(y[1] * f), float32(y[2] * f)})
		if state == 0 {
			s.pairs.clean = append(s.pairs.clean, int32(len(s.block)))
		}
		s.block = append(s.block, int32(k))
		s.band = append(s.band, uint8(measure.BandOf(colour.LumR*bl[0]+colour.LumG*bl[1]+colour.LumB*bl[2])))
		s.pairs.add(bl, fl)
	}
	for i := range s.level {
		s.level[i] = math.NaN()
		if n := float64(s.bands[i].all); n >= leastBand*float64(s.lost.all) && n > 0 {
			s.level[i] = sums[i] / n
		}
	}
	return s
}

// cost returns what a correction leaves.
func (s *seen) cost(set correction.Settings) Cost {
	var out Cost
	t := set.Tables()
	same := s.v.Stop == 0 && set.IsZero()
	out.LostArea = s.lost.share()
	if out.LostArea != nil {
		light, dark := float64(s.lost.light)/float64(s.lost.all), float64(s.lost.dark)/float64(s.lost.all)
		out.LostLight, out.LostDark = &light, &dark
	}
	var whole []float64
	var band [measure.Bands][]float64
	for i := range s.block {
		d := 0.0
		if !same {
			d = s.pairs.difference(i, t)
		}
		whole = append(whole, d)
		band[s.band[i]] = append(band[s.band[i]], d)
	}
	noise, kept := s.noise(t), s.contrast(t)
	fill := func(o *BandCost, d []float64, noise, kept float64) {
		if len(d) >= leastCells/cellsOfBlock {
			slices.Sort(d)
			o.DeltaE, o.P95 = at(d, 0.5), at(d, 0.95)
		}
		o.NoiseL, o.ContrastKept = known(noise), known(kept)
	}
	fill(&out.BandCost, whole, noise[measure.Bands], kept[measure.Bands])
	for b := range out.Bands {
		out.Bands[b].LostArea = s.bands[b].share()
		fill(&out.Bands[b], band[b], noise[b], kept[b])
	}
	out.Crossover = known(between(s.neutrals(), t))
	if same && out.Crossover != nil { // but for the rounding of tables
		*out.Crossover = 0
	}
	s.reasons(&out)
	return out
}

// cellsOfBlock is how many cells a block has.
const cellsOfBlock = 9

func known(v float64) *float64 {
	if v != v {
		return nil
	}
	return &v
}

func (s *seen) reasons(c *Cost) {
	if c.DeltaE == nil {
		c.Reasons = append(c.Reasons, "Too little of the picture is left in both frames to compare their colours.")
	}
	if c.NoiseL == nil {
		c.Reasons = append(c.Reasons, "Noise after salvage is not known: it needs frames that were scanned alike and lie on each other.")
	}
	if c.ContrastKept == nil && c.DeltaE != nil {
		c.Reasons = append(c.Reasons, "Contrast cannot be told: too little of the picture is whole.")
	}
	if c.Crossover == nil {
		c.Reasons = append(c.Reasons, "Crossover needs two tonal bands that the frame has not lost.")
	}
}

// contrast returns the contrast kept, of the bands and of the whole: the root of the ratio
// of the sums of squared relative contrast in cells where every channel speaks. The light
// has no noise, so that it is the slope from base to corrected frame, weighted with the
// base's own contrast.
func (s *seen) contrast(t *[3]correction.Table) (out [measure.Bands + 1]float64) {
	_, cells, per := s.m.Blocks()
	type sums struct{ b, f, n, all float64 }
	parts := make([][measure.Bands]sums, len(s.block))
	parallel.Bands(len(s.block), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			for c := range cells {
				p := (int(s.block[i])*cells + c) * per
				var state uint8
				var x, xx, y, yy float64
				for k := p; k < p+per; k++ {
					state |= s.m.Base.State[k] | s.v.State[k]
					u := s.m.Luminance(k)
					x, xx = x+u, xx+u*u
				}
				n := float64(per)
				o := &parts[i][measure.BandOf(x/n)]
				o.all++
				if state != 0 || !(x > 0) {
					continue
				}
				for k := p; k < p+per; k++ {
					rgb := s.m.RGB(s.v.Light[3*k:])
					w := float64(weights[0]*t[0].At(float32(rgb[0])) + weights[1]*t[1].At(float32(rgb[1])) + weights[2]*t[2].At(float32(rgb[2])))
					y, yy = y+w, yy+w*w
				}
				if !(y > 0) {
					continue
				}
				o.n++
				o.b += n*xx/(x*x) - 1
				o.f += n*yy/(y*y) - 1
			}
		}
	})
	var total [measure.Bands + 1]sums
	for i := range parts {
		for b, v := range parts[i] {
			for _, k := range []int{b, int(measure.Bands)} {
				o := &total[k]
				o.b, o.f, o.n, o.all = o.b+v.b, o.f+v.f, o.n+v.n, o.all+v.all
			}
		}
	}
	for k, o := range total {
		out[k] = math.NaN()
		if o.b > 0 && o.n >= leastCells && o.n >= leastWhole*o.all {
			out[k] = math.Sqrt(math.Max(0, o.f) / o.b)
		}
	}
	return out
}

// noisePlaces is how many places of a band the noise is worked out at, about.
const noisePlaces = 700

// noise returns the noise of L* after a correction, of the bands and of the whole, root
// mean square over what is not lost; NaN where the roll's noise is not known.
func (s *seen) noise(t *[3]correction.Table) (out [measure.Bands + 1]float64) {
	_, cells, per := s.m.Blocks()
	n := cells * per
	const gone = model.LostLight | model.LostDark | model.Absent
	var at [measure.Bands][]int
	for _, k := range s.block {
		for p := int(k) * n; p < int(k+1)*n; p++ {
			if (s.m.Base.State[p]|s.v.State[p])&gone == 0 {
				b := s.m.Band(p)
				at[b] = append(at[b], p)
			}
		}
	}
	var sum, count float64
	for b := range at {
		out[b] = math.NaN()
		step := max(1, len(at[b])/noisePlaces)
		var v, k float64
		for i := step / 2; i < len(at[b]); i += step {
			p := at[b][i]
			if x := s.m.LightnessVariance(s.v.Light[3*p:3*p+3], t); x == x {
				v, k = v+x, k+1
			}
		}
		if k >= 10 && 2*k*float64(step) >= float64(len(at[b])) { // known for half of them at least
			out[b] = math.Sqrt(v / k)
			sum += v / k * float64(len(at[b]))
			count += float64(len(at[b]))
		}
	}
	out[measure.Bands] = math.NaN()
	if count > 0 {
		out[measure.Bands] = math.Sqrt(sum / count)
	}
	return out
}

// neutrals returns the greys of the bands' levels as this stop shows them; NaN where they
// are lost or not known.
func (s *seen) neutrals() (out [measure.Bands][3]float64) {
	for b := range out {
		out[b][0] = math.NaN()
		if s.level[b] != s.level[b] {
			continue
		}
		if rgb, state, ok := s.m.Neutral(s.level[b], s.v.Stop); ok && state&(model.LostLight|model.LostDark) == 0 {
			out[b] = rgb
		}
	}
	return out
}

// between returns the largest CIEDE2000 difference between the casts of neutrals after a
// correction, at one lightness; NaN where there are not two.
func between(n [measure.Bands][3]float64, t *[3]correction.Table) float64 {
	return castsApart(n, func(c int, v float64) float64 { return float64(t[c].At(float32(v))) })
}

func castsApart(n [measure.Bands][3]float64, tone func(c int, v float64) float64) float64 {
	var casts []colour.LAB
	for _, p := range n {
		if p[0] == p[0] {
			x := colour.LabOf(tone(0, p[0]), tone(1, p[1]), tone(2, p[2]))
			casts = append(casts, colour.LAB{L: 50, A: x.A, B: x.B})
		}
	}
	if len(casts) < 2 {
		return math.NaN()
	}
	worst := 0.0
	for i := range casts {
		for j := range i {
			worst = math.Max(worst, colour.DeltaE2000(casts[i], casts[j]))
		}
	}
	return worst
}

// leastCrossover returns what the balance that leaves least leaves between the neutrals of
// the bands, searched from where an exposure of so many stops leaves them.
func (s *seen) leastCrossover(exposure float64) float64 {
	n := s.neutrals()
	at := func(r, b float64) float64 {
		g := [3]float64{math.Exp2(exposure + r), math.Exp2(exposure), math.Exp2(exposure + b)}
		return castsApart(n, func(c int, v float64) float64 { return g[c] * v })
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

// fit finds the corrections of a grade; ok is false where too little is left to fit on.
func (s *seen) fit(grades ...Grade) (out [Grades]correction.Settings, ok bool) {
	if len(s.pairs.clean) < leastFit/cellsOfBlock {
		return out, false
	}
	for _, g := range grades {
		switch g {
		case Curves:
			out[Curves].Curves = s.curves()
		case Exposure:
			out[Exposure], _ = s.pairs.gains(false)
		case Balance:
			out[Exposure], out[Balance] = s.pairs.gains(true)
		}
	}
	return out, true
}

// tone is a rising curve over the cube root of light, in it.
type tone struct{ x, y []float64 }

func (t *tone) at(p float64) float64 {
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

// Of the neutrals that curves are drawn through: from black to white of the base frame,
// so many a stop.
const (
	neutralStops = 14
	neutralsEach = 16
)

// curves returns the curves that bring back every neutral, by the response; moved, where
// dyes mix the channels, by what is left of the picture's colours, if that leaves less.
func (s *seen) curves() (out [3][]correction.Point) {
	var t [3]tone
	for i := range neutralStops*neutralsEach + 1 {
		l := math.Exp2(float64(i)/neutralsEach - neutralStops)
		rgb, _, ok := s.m.Neutral(l, s.v.Stop)
		if !ok {
			continue
		}
		for c := range 3 {
			x := math.Cbrt(math.Max(rgb[c], 0))
			if n := len(t[c].x); n == 0 && x > 0 || n > 0 && x > t[c].x[n-1]+1e-5 {
				t[c].x, t[c].y = append(t[c].x, x), append(t[c].y, math.Cbrt(l))
			}
		}
	}
	for c := range 3 {
		if len(t[c].x) == 0 {
			t[c] = tone{[]float64{1}, []float64{1}}
		}
	}
	if !s.m.Mixed() {
		return pointsOf(&t)
	}
	least := s.left(&t)
	for range 3 {
		moved := t
		for c := range 3 {
			moved[c] = s.nudged(t[c], c)
		}
		d := s.left(&moved)
		if !(d < least) {
			break
		}
		t, least = moved, d
	}
	return pointsOf(&t)
}

// left returns the mean difference of the pairs that tones leave.
func (s *seen) left(t *[3]tone) float64 {
	step := max(1, len(s.block)/sample)
	sum, n := 0.0, 0
	for i := 0; i < len(s.block); i += step {
		f := s.pairs.frame[3*i : 3*i+3]
		sum += colour.DeltaE2000(s.pairs.lab[i], colour.LabOf(t[0].at(float64(f[0])), t[1].at(float64(f[1])), t[2].at(float64(f[2]))))
		n++
	}
	return sum / float64(max(1, n))
}

// stretches is in how many parts, of as many blocks each, a curve is moved.
const stretches = 8

// nudged returns a curve moved, in stretches, by the median of what is left.
func (s *seen) nudged(t tone, c int) tone {
	type point struct{ x, d float64 }
	pts := make([]point, len(s.block))
	for i := range pts {
		f := float64(s.pairs.frame[3*i+c])
		pts[i] = point{math.Cbrt(f), math.Cbrt(float64(s.pairs.base[3*i+c])) - math.Cbrt(t.at(f))}
	}
	slices.SortFunc(pts, func(a, b point) int {
		switch {
		case a.x < b.x:
			return -1
		case a.x > b.x:
			return 1
		}
		return 0
	})
	var x, d []float64
	for k := range stretches {
		part := pts[k*len(pts)/stretches : (k+1)*len(pts)/stretches]
		if len(part) == 0 {
			return t
		}
		ds := make([]float64, len(part))
		for i, p := range part {
			ds[i] = p.d
		}
		slices.Sort(ds)
		x, d = append(x, part[len(part)/2].x), append(d, ds[len(ds)/2])
	}
	out := tone{slices.Clone(t.x), slices.Clone(t.y)}
	for i, v := range out.x {
		k, _ := slices.BinarySearch(x, v)
		switch {
		case k == 0:
			out.y[i] += d[0]
		case k >= stretches:
			out.y[i] += d[stretches-1]
		default:
			w := (v - x[k-1]) / math.Max(1e-9, x[k]-x[k-1])
			out.y[i] += d[k-1] + w*(d[k]-d[k-1])
		}
		out.y[i] = math.Max(out.y[i], 1e-3)
		if i > 0 {
			out.y[i] = math.Max(out.y[i], out.y[i-1])
		}
	}
	return out
}

// pointsOf returns tones as curves of a correction, in stops: knots lie evenly along the
// way in and out, so that a shoulder's bend is not left out.
func pointsOf(t *[3]tone) (out [3][]correction.Point) {
	for c := range 3 {
		var x, y, run []float64
		for i := range t[c].x {
			a, b := 3*math.Log2(t[c].x[i]), 3*math.Log2(t[c].y[i])
			if n := len(x); n > 0 {
				if a-x[n-1] < 1e-4 { // steeper than any film can be read
					continue
				}
				run = append(run, run[n-1]+math.Max(a-x[n-1], b-y[n-1]))
			} else {
				run = append(run, 0)
			}
			x, y = append(x, a), append(y, b)
		}
		n := len(x)
		if n < 2 {
			out[c] = []correction.Point{{X: 0, Y: y[0] - x[0]}}
			continue
		}
		k := 1
		for i := range correction.MaxPoints {
			r := run[n-1] * float64(i) / (correction.MaxPoints - 1)
			for k+1 < n && run[k] < r {
				k++
			}
			w := math.Min(1, (r-run[k-1])/(run[k]-run[k-1]))
			out[c] = append(out[c], correction.Point{X: x[k-1] + w*(x[k]-x[k-1]), Y: y[k-1] + w*(y[k]-y[k-1])})
		}
	}
	return out
}
