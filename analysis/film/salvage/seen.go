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
	on    *samples // that curves are fitted on
	pairs pairs    // blocks: mean light of what neither has lost
	block []int32  // of each pair
	band  []uint8  // of each pair
	lost  cellCounts
	bands [measure.Bands]cellCounts
	level [measure.Bands]float64 // mean luminance of the bands in the base frame; NaN: too small
}

// leastBand is the share of the picture that a band needs for its neutral to be told.
const leastBand = 0.005

// look sees the model at a stop against the base frame, at every step-th block.
func (g *Grid) look(stop float64, step int) *seen {
	m := g.model
	s := &seen{m: m, v: m.At(stop), on: g.on()}
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
	after, kept := s.corrected(t)
	for i := range s.block {
		d := 0.0
		if !same {
			d = colour.DeltaE2000(s.pairs.lab[i], colour.LabOf(after[i][0], after[i][1], after[i][2]))
		}
		whole = append(whole, d)
		band[s.band[i]] = append(band[s.band[i]], d)
	}
	noise := s.noise(t)
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

// corrected returns the mean light of the blocks after a correction, over what neither
// frame has lost (pixels are corrected, and what is seen of them is averaged), and the
// contrast kept, of the bands and of the whole: the root of the ratio of the sums of
// squared relative contrast in cells where every channel speaks. The light has no noise, so
// that it is the slope from base to corrected frame, weighted with the base's own contrast.
func (s *seen) corrected(t *[3]correction.Table) (after [][3]float64, kept [measure.Bands + 1]float64) {
	_, cells, per := s.m.Blocks()
	type sums struct{ b, f, n, all float64 }
	after = make([][3]float64, len(s.block))
	parts := make([][measure.Bands]sums, len(s.block))
	const gone = model.LostLight | model.LostDark | model.Absent
	parallel.Bands(len(s.block), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			left := 0.0
			for c := range cells {
				p := (int(s.block[i])*cells + c) * per
				var state uint8
				var x, xx, y, yy float64
				for k := p; k < p+per; k++ {
					one := s.m.Base.State[k] | s.v.State[k]
					state |= one
					u := s.m.Luminance(k)
					x, xx = x+u, xx+u*u
					if one&gone != 0 {
						continue
					}
					left++
					rf := s.m.RGB(s.v.Light[3*k:])
					for ch := range rf {
						rf[ch] = float64(t[ch].At(float32(rf[ch])))
						after[i][ch] += rf[ch]
					}
					w := colour.LumR*rf[0] + colour.LumG*rf[1] + colour.LumB*rf[2]
					y, yy = y+w, yy+w*w
				}
				n := float64(per)
				o := &parts[i][measure.BandOf(x/n)]
				o.all++
				if state != 0 || !(x > 0) || !(y > 0) {
					continue
				}
				o.n++
				o.b += n*xx/(x*x) - 1
				o.f += n*yy/(y*y) - 1
			}
			for ch := range after[i] {
				after[i][ch] /= math.Max(1, left)
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
		kept[k] = math.NaN()
		if o.b > 0 && o.n >= leastCells && o.n >= leastWhole*o.all {
			kept[k] = math.Sqrt(math.Max(0, o.f) / o.b)
		}
	}
	return after, kept
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
// are not known or some channel says nothing: such a grey has no cast to speak of.
func (s *seen) neutrals() (out [measure.Bands][3]float64) {
	for b := range out {
		out[b][0] = math.NaN()
		if s.level[b] != s.level[b] {
			continue
		}
		if rgb, state, ok := s.m.Neutral(s.level[b], s.v.Stop); ok && state == 0 {
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
	return apart(casts)
}

// leastCrossover returns what the balance that leaves least leaves between the neutrals of
// the bands, searched from where an exposure of so many stops leaves them.
func (s *seen) leastCrossover(exposure float64) float64 { return leastApart(s.neutrals(), exposure) }

func leastApart(n [measure.Bands][3]float64, exposure float64) float64 {
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
