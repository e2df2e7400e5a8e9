package salvage

import (
	"math"
	"slices"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/model"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/scan/colour"
)

// Grade is an effort of salvage.
type Grade int

// The grades.
const (
	Exposure Grade = iota
	Balance
	Curves
	Grades = 3
)

func (g Grade) String() string { return [...]string{"exposure", "balance", "curves"}[g] }

// BandCost is what salvage costs in one tonal band; nil where the band has too
// little that neither frame has lost.
type BandCost struct {
	DeltaE, P95  *float64 // CIEDE2000 from the base frame: median and 95th percentile
	NoiseL       *float64 // noise after salvage, root mean square, L* units
	ContrastKept *float64 // local contrast against the base frame's, a ratio
	LostArea     *float64 // share 0..1 of the band
}

// Cost is what salvage costs. Shares are of the base frame's image area. A nil
// figure could not be measured; Reasons say why.
type Cost struct {
	BandCost
	LostLight, LostDark *float64 // the parts of LostArea at the light and at the dark end
	Bands               [measure.Bands]BandCost
	// Crossover is the CIEDE2000 difference between the casts of the two bands that
	// differ most, at one lightness: what no single balance mends.
	Crossover *float64
	Reasons   []string
}

// ShadowNoise is the noise of the shadows, where it shows first; where the base
// frame has too little shadow it is that of the whole.
func (c *Cost) ShadowNoise() *float64 {
	if v := c.Bands[measure.Shadows].NoiseL; v != nil {
		return v
	}
	return c.NoiseL
}

// hides is how many times the variance of detail that of noise may be before
// contrast kept is not told: what is left after noise is taken off would be wrong
// by as much as the noise is known.
const hides = 0.6

// leastWhole is the share of a band's cells that contrast must be read in to stand for
// it (design choice): it is read where no channel of any pixel is lost, and on simulated
// rolls what 6 to 16 of 8000 such cells said was off by a third and more.
const leastWhole = 0.1

// leastCells is how many cells a figure needs.
const leastCells = 60

// everyNoise is of how many of the cells measured the noise of one is.
const everyNoise = 8

// everyBlur likewise, of what noise adds to differences of colour.
const everyBlur = 6

// pair is a frame beside the base frame, cell by cell.
type pair struct {
	g     *Grid
	c     *cells
	pairs         // smoothed light at index
	index []int32 // cells that neither frame has lost
	lost  cellCounts
	band  [measure.Bands]cellCounts
}

type cellCounts struct{ all, light, dark int }

func (n cellCounts) share() *float64 {
	if n.all == 0 {
		return nil
	}
	v := float64(n.light+n.dark) / float64(n.all)
	return &v
}

func (g *Grid) pair(c *cells) *pair {
	p := &pair{g: g, c: c}
	ok := make([]bool, g.w*g.h)
	const gone = lostLight | lostDark
	for i := range ok {
		b := g.bands[i]
		if g.own.flags[i]&(gone|missing) != 0 || c.flags[i]&missing != 0 {
			if g.own.flags[i]&(gone|missing) != 0 && c.flags[i]&missing == 0 {
				p.lost.all++ // a part of the area, lost in the base frame already
			}
			continue
		}
		p.lost.all++
		p.band[b].all++
		switch {
		case c.flags[i]&lostLight != 0:
			p.lost.light++
			p.band[b].light++
		case c.flags[i]&lostDark != 0:
			p.lost.dark++
			p.band[b].dark++
		default:
			ok[i] = true
		}
	}
	sb, sf := g.smooth(c.base, ok), g.smooth(c.lin, ok)
	for i, o := range ok {
		if !o || luminance(sb[3*i:]) <= 0 || luminance(sf[3*i:]) <= 0 {
			continue
		}
		if (g.own.flags[i]|c.flags[i])&partial == 0 {
			p.clean = append(p.clean, int32(len(p.index)))
		}
		p.index = append(p.index, int32(i))
		p.base = append(p.base, sb[3*i:3*i+3]...)
		p.frame = append(p.frame, sf[3*i:3*i+3]...)
		p.lab = append(p.lab, colour.LabOf(float64(sb[3*i]), float64(sb[3*i+1]), float64(sb[3*i+2])))
	}
	return p
}

// sums are what a band, or the whole, adds up of its cells.
type sums struct {
	n           int        // cells
	dE          []float64  // of each
	base, frame [3]float64 // light

	noise  float64 // squares of L*
	noiseN int
	blur   float64 // squares of what noise alone adds to dE00
	blurN  int

	local         int     // cells that are whole
	rb, rf, grain float64 // local contrast squared, of base and frame, and noise in the frame's
}

// cost measures what a correction leaves. Every step-th cell is taken.
func (p *pair) cost(s correction.Settings, step int) Cost {
	var out Cost
	out.LostArea = p.lost.share()
	if out.LostArea != nil {
		light, dark := float64(p.lost.light)/float64(p.lost.all), float64(p.lost.dark)/float64(p.lost.all)
		out.LostLight, out.LostDark = &light, &dark
	}
	t := s.Tables()
	identity := p.c == p.g.own && s.IsZero()
	var whole sums
	var band [measure.Bands]sums
	for k := 0; k < len(p.index); k += step {
		p.add(k, step, t, identity, &whole, &band[p.g.bands[p.index[k]]])
	}
	least := leastCells / step
	whole.fill(&out.BandCost, least)
	for b := range band {
		out.Bands[b].LostArea = p.band[b].share()
		band[b].fill(&out.Bands[b], least)
	}
	out.Crossover = crossover(&band, least)
	p.explain(&out)
	return out
}

// add takes a cell in.
func (p *pair) add(k, step int, t *[3]correction.Table, identity bool, whole, b *sums) {
	g, i := p.g, p.index[k]
	f := p.frame[3*k : 3*k+3]
	after := [3]float32{f[0], f[1], f[2]}
	if !identity {
		after = [3]float32{t[0].At(f[0]), t[1].At(f[1]), t[2].At(f[2])}
	}
	d := colour.DeltaE2000(p.lab[k], colour.LabOf(float64(after[0]), float64(after[1]), float64(after[2])))
	y := float64(luminance(after[:]))
	grow := 1.0
	if !identity && y > 0 {
		grow = grows(t, f, y)
	}
	noise, blur := math.NaN(), math.NaN()
	if g.noise != nil && y > 0 && k%(everyNoise*step) == 0 {
		noise = p.cellNoise(int(i), grow, t, identity)
	}
	if g.noise != nil && !identity && k%(everyBlur*step) == 0 {
		blur = p.blur(k, t)
	}
	for _, s := range [2]*sums{whole, b} {
		s.n++
		s.dE = append(s.dE, d)
		for c := range 3 {
			s.base[c] += float64(p.base[3*k+c])
			s.frame[c] += float64(after[c])
		}
		if noise == noise {
			s.noise += noise
			s.noiseN++
		}
		if blur == blur {
			s.blur += blur
			s.blurN++
		}
		if (g.own.flags[i]|p.c.flags[i])&partial == 0 {
			grain := float64(p.c.grain[i]) * grow * grow
			s.local++
			s.rb += float64(p.c.ref[i] - p.c.refGrain[i])
			s.rf += float64(p.c.rough[i])*grow*grow - grain
			s.grain += grain
		}
	}
}

// grows returns how much a small relative change of light f grows on the way to luminance y.
func grows(t *[3]correction.Table, f []float32, y float64) float64 {
	const e = 0.02
	up := [3]float32{t[0].At(f[0] * (1 + e)), t[1].At(f[1] * (1 + e)), t[2].At(f[2] * (1 + e))}
	down := [3]float32{t[0].At(f[0] * (1 - e)), t[1].At(f[1] * (1 - e)), t[2].At(f[2] * (1 - e))}
	return float64(luminance(up[:])-luminance(down[:])) / (2 * e * y)
}

// fill gives what the sums tell, where they are of so many cells at least.
func (s *sums) fill(o *BandCost, least int) {
	if len(s.dE) < least || len(s.dE) == 0 {
		return
	}
	slices.Sort(s.dE)
	o.DeltaE, o.P95 = at(s.dE, 0.5), at(s.dE, 0.95)
	if s.blurN > 0 { // what noise adds is no difference of colour
		b := s.blur / float64(s.blurN)
		*o.DeltaE = math.Sqrt(math.Max(0, *o.DeltaE**o.DeltaE-b))
		*o.P95 = math.Sqrt(math.Max(0, *o.P95**o.P95-b))
	}
	if s.noiseN > 0 && s.noiseN*everyNoise*2 >= len(s.dE) { // known for half of them at least
		n := math.Sqrt(s.noise / float64(s.noiseN))
		o.NoiseL = &n
	}
	// Where noise is most of what varies, the rest cannot be told from it; and a few
	// cells that happen to be whole do not speak for a band that is going.
	if s.rb > 0 && s.grain < hides*s.rf && s.local >= least && float64(s.local) >= leastWhole*float64(len(s.dE)) {
		c := math.Sqrt(math.Max(0, s.rf) / s.rb)
		o.ContrastKept = &c
	}
}

// crossover returns the largest CIEDE2000 difference between the casts of the bands at one
// lightness, nil where not two bands have so many cells.
func crossover(band *[measure.Bands]sums, least int) *float64 {
	var casts []colour.LAB
	for b := range band {
		v := &band[b]
		if v.n < max(1, least) {
			continue
		}
		n := float64(v.n)
		x := colour.LabOf(v.base[0]/n, v.base[1]/n, v.base[2]/n)
		y := colour.LabOf(v.frame[0]/n, v.frame[1]/n, v.frame[2]/n)
		casts = append(casts, colour.LAB{L: 50, A: y.A - x.A, B: y.B - x.B})
	}
	if worst := apart(casts); worst == worst {
		return &worst
	}
	return nil
}

// explain says why what is missing is missing.
func (p *pair) explain(c *Cost) {
	if c.DeltaE == nil {
		c.Reasons = append(c.Reasons, "Too little of the picture is left in both frames to compare their colours.")
	}
	if p.g.noise == nil {
		c.Reasons = append(c.Reasons, "Noise after salvage is not known: it needs frames that were scanned alike and lie on each other.")
	}
	if c.ContrastKept == nil && c.DeltaE != nil {
		c.Reasons = append(c.Reasons, "Contrast cannot be told: noise is most of what varies from pixel to pixel, or too little of the picture is whole.")
	}
	if c.Crossover == nil {
		c.Reasons = append(c.Reasons, "Crossover needs two tonal bands that the frame has not lost.")
	}
}

// apart returns the largest CIEDE2000 difference between casts; NaN where there are not two.
func apart(casts []colour.LAB) float64 {
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

// blur is the mean square of the CIEDE2000 difference that the noise left in cell k
// after smoothing makes by itself: each channel of the scan moved by its noise.
func (p *pair) blur(k int, t *[3]correction.Table) float64 {
	f := p.frame[3*k : 3*k+3]
	lab := func(v [3]float64) colour.LAB {
		return colour.LabOf(float64(t[0].At(float32(v[0]))), float64(t[1].At(float32(v[1]))), float64(t[2].At(float32(v[2]))))
	}
	here := [3]float64{float64(f[0]), float64(f[1]), float64(f[2])}
	at := lab(here)
	sum := 0.0
	for d := range 3 {
		light := 0.0
		for c := range 3 {
			light += p.c.back[d][c] * here[c]
		}
		s := p.g.noise.Mean(d, math.Max(light, 1e-5), 3*float64(p.g.side))
		moved := here
		for c := range 3 {
			moved[c] += s * p.c.mix[c][d]
		}
		e := colour.DeltaE2000(at, lab(moved))
		sum += e * e
	}
	return sum
}

// cellNoise is the mean square of lightnessNoise in cell i. It is taken at the cell's
// own light, not the smoothed, and at a darker and a lighter one as well: the darker
// pixels of a cell are the noisier by more than the lighter are the quieter. How far
// they lie apart is told by the base frame, whose shadows have less noise, over what
// the correction adds to contrast (grow). The tones of a cell are taken to lie
// evenly about its middle in their logarithm, so that three points of a normal
// distribution stand for them.
func (p *pair) cellNoise(i int, grow float64, t *[3]correction.Table, identity bool) float64 {
	f := p.c.lin[3*i : 3*i+3]
	detail := math.Max(0, float64(p.c.ref[i]-p.c.refGrain[i])) / math.Max(1e-3, grow*grow)
	s := math.Sqrt(math.Log1p(math.Min(detail, 1))) // an edge in the cell has more, but not three tones
	sum := 0.0
	for q, x := range [3]float64{-math.Sqrt(3), 0, math.Sqrt(3)} {
		k := float32(math.Exp(s*x - s*s/2))
		n := p.lightnessNoise([]float32{f[0] * k, f[1] * k, f[2] * k}, t, identity)
		sum += [3]float64{1. / 6, 4. / 6, 1. / 6}[q] * n * n
	}
	return sum
}

// lightnessNoise is the noise of L* after a correction, at light f. Each channel of
// the scan has noise of its own, and a curve may lift a dark channel of a light
// colour by stops, so it is carried through channel by channel; and since it may be
// as large as the light itself, by three points of its distribution (Gauss-Hermite:
// 0 and the root of three sigmas to either side) and not by a slope.
func (p *pair) lightnessNoise(f []float32, t *[3]correction.Table, identity bool) float64 {
	l := func(v [3]float64) float64 {
		var y float64
		for c := range 3 {
			x := float32(v[c])
			if !identity {
				x = t[c].At(x)
			}
			y += float64(weights[c] * x)
		}
		return model.Lightness(y)
	}
	here := [3]float64{float64(f[0]), float64(f[1]), float64(f[2])}
	v := 0.0
	for d := range 3 {
		light := 0.0
		for c := range 3 {
			light += p.c.back[d][c] * here[c]
		}
		s := p.g.noise.Sigma(d, math.Max(light, 1e-5))
		var sum, squares float64
		for q, x := range model.Nodes {
			by := math.Max(x*s, -math.Max(light, 0)) // a channel of a scan has no light below none
			moved := here
			for c := range 3 {
				moved[c] += by * p.c.mix[c][d]
			}
			y := l(moved)
			sum, squares = sum+model.Shares[q]*y, squares+model.Shares[q]*y*y
		}
		v += math.Max(0, squares-sum*sum)
	}
	return math.Sqrt(v)
}

// at is a quantile of sorted values.
func at(v []float64, q float64) *float64 {
	x := v[min(len(v)-1, int(q*float64(len(v))))]
	return &x
}
