package noise

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"stopladder/analysis/numeric/median"
)

// A level's noise is read from the calmest part of its blocks, those with the least
// picture in them, and of these from a quantile below the middle: what still spoils a
// block (edges that do not lie on each other, things that moved) only adds. A frame by
// itself needs more blocks for a level, and such as differ from each other little more
// than blocks of noise do.
const (
	rounds     = 10   // of the joint fit
	tunedFrom  = 2    // rounds before which the move is taken as it is, and all blocks are read
	formFrom   = 3    // rounds before which neighbours are taken for strangers
	calmest    = 0.6  // of a level's blocks
	calmAlone  = 0.5  // of those of a frame by itself
	quantile   = 0.12 // of those, and half as much to either side
	leastSum   = 10.0 // blocks that a level must have
	leastEnd   = 40   // and that the lightest level must have
	leastAlone = 40.0 // and each of a frame by itself
	mostEven   = 0.6  // share of its levels, by blocks, that must be even: where most are textured, a few are even by chance
	evenly     = 1.2  // median over quantile there, over what those of noise are
	leastShare = 0.02 // what a knot has less of a block than this is not counted
	wild       = 3.0  // times what is expected: more is not noise
	clear      = 3.5  // standard deviations from the ends of the scan: nearer, only lucky blocks have no clipped pixel
)

// Of what tells sharpening, see lobes.
const (
	leastLobes = 200   // blocks of a level that are to tell of it
	lobesOff   = 0.08  // standard error of what one block tells, about
	sharpLobes = 0.005 // of the variance, surely and by more than what remains of the picture takes it the other way: on simulated rolls that are not sharpened 0.003 at most, on sharpened ones 0.005 to 0.04
)

// knot is where a level lies among the knots: part (0..1) of the way from knot i to
// the next.
type knot struct {
	i    int
	part float64
}

// knotAt places a level, log2 of light.
func knotAt(level float64) knot {
	t := (level - lowest) * perStop
	i := min(max(int(math.Floor(t)), 0), knots-2)
	return knot{i, math.Max(0, math.Min(1, t-float64(i)))}
}

// mix returns the variance part of the way from knot a to knot b, along the
// logarithm.
func (l *level) mix(a, b int, part float64) float64 {
	return math.Exp(math.Log(l.variance[a])*(1-part) + math.Log(l.variance[b])*part)
}

// knotted is the logarithm of the variance at the knots.
type knotted [knots]float64

func (l *level) knotted() *knotted {
	out := new(knotted)
	for k, v := range l.variance {
		out[k] = math.Log(v)
	}
	return out
}

func (k *knotted) variance(at knot) float64 {
	return math.Exp(k[at.i]*(1-at.part) + k[at.i+1]*at.part)
}

// expected is what the knots make of a block: where its two levels lie, the variances
// of a preview pixel there, that of frame j moved to the exposure of frame i, and what
// the block leaves of both.
type expected struct {
	i, j   knot
	si, sj float64
	vi, vj float64
}

func (k *knotted) expect(o *observation, seen *seenBy) (e expected) {
	e.i, e.j = knotAt(o.li), knotAt(o.lj)
	e.si, e.sj = k.variance(e.i), o.g2*k.variance(e.j)
	e.vi, e.vj = e.si*seen.at(o.li, 0, 0, 0), e.sj*seen.at(o.lj, 0, o.tx, o.ty)
	return e
}

// share is what a block says to a knot: the variance that it has over what was
// expected of it, the knot's share in that, and how much picture there is in it.
type share struct{ ratio, weight, picture float64 }

// reading is a block as the fit sees it.
type reading struct {
	expected
	ratio   float64 // of its variance to what was expected; 0 where it is not read
	picture float64 // variance of the picture in it, by that of noise
}

// fit finds the variance at the knots that explains the blocks. Each round
// multiplies every knot by the quantile of what its blocks have over what was
// expected of them, each block with the share that the knot has in it.
func fit(obs []observation, tiles []tile, of *blocks) (l level) {
	if len(obs) == 0 {
		return l
	}
	// Begin where noise is a twentieth of the light, and neighbours are strangers.
	for k := range l.variance {
		y := math.Exp2(lowest + float64(k)/perStop)
		l.variance[k] = y * y / 400
	}
	for z := range l.shapes {
		l.shapes[z] = make(shape, len(of.kinds))
		l.shapes[z][0] = 1
		l.shapes[z].normal(of)
	}
	if l.calm = calmest; obs[0].beside != nil {
		l.calm = calmAlone
	}
	var shares [knots][]share
	read := make([]reading, len(obs))
	for round := range rounds {
		l.read(obs, read, of.seenBy(&l), round >= tunedFrom)
		besides(obs, read)
		deal(read, &shares)
		l.correct(&shares, of)
		if round >= formFrom {
			l.form(obs, read, tiles, of)
		}
	}
	if obs[0].beside != nil { // texture may pass for noise
		all, even := 0.0, 0.0
		for k := range l.weight {
			if l.weight[k] >= leastAlone {
				all += l.weight[k]
			}
			if l.weight[k] < leastAlone || l.uneven[k] > evenly {
				l.weight[k] = 0
			}
			even += l.weight[k]
		}
		if even < mostEven*all {
			return level{}
		}
	}
	l.trim(read)
	first, last, ok := l.bridge()
	if !ok {
		return level{}
	}
	l.draw(first, last)
	l.ok = true
	return l
}

// read holds the blocks against what is expected of them. tuned lets each block tell
// how far the move of frame j is off there, and leaves out those too near the
// ends of the scan.
func (l *level) read(obs []observation, out []reading, seen *seenBy, tuned bool) {
	at := l.knotted()
	for n := range obs {
		o, r := &obs[n], &out[n]
		*r = reading{expected: at.expect(o, seen)}
		if tuned && (o.room[0] < clear*math.Sqrt(r.si) || o.room[1] < clear*math.Sqrt(r.sj)) {
			continue
		}
		r.picture = o.picture(r.vi, r.vj) / (r.vi + r.vj)
		v, by := o.v, 1.0
		if tuned {
			v, by = o.tuned(r.vj)
		}
		r.vj *= by * by
		r.ratio = v / (r.vi + r.vj)
	}
}

// besides puts, in a frame by itself, the mean of the blocks round a block in the place
// of the picture in it: where they are calm so is it, as a rule, and their noise is no
// part of its own. Blocks with too few round them are not read.
func besides(obs []observation, read []reading) {
	const enough = 4
	for n := range obs {
		if obs[n].beside == nil {
			return
		}
		sum, k := 0.0, 0
		for _, m := range obs[n].beside {
			if read[m].ratio > 0 {
				sum += math.Log(read[m].ratio)
				k++
			}
		}
		if read[n].picture = sum / float64(k); k < enough {
			read[n].picture = math.Inf(1)
		}
	}
}

// deal gives the blocks to the knots.
func deal(read []reading, shares *[knots][]share) {
	for k := range shares {
		shares[k] = shares[k][:0]
	}
	for n := range read {
		r := &read[n]
		if r.ratio == 0 || math.IsInf(r.picture, 1) {
			continue
		}
		give := func(k int, weight float64) {
			if weight > leastShare {
				shares[k] = append(shares[k], share{r.ratio, weight, r.picture})
			}
		}
		ofI, ofJ := r.vi/(r.vi+r.vj), r.vj/(r.vi+r.vj)
		give(r.i.i, ofI*(1-r.i.part))
		give(r.i.i+1, ofI*r.i.part)
		give(r.j.i, ofJ*(1-r.j.part))
		give(r.j.i+1, ofJ*r.j.part)
	}
}

// weigh returns the sum of the weights.
func weigh(of []share) (sum float64) {
	for _, s := range of {
		sum += s.weight
	}
	return sum
}

// calm returns how much picture there is in the calmest part of the shares at the most,
// -Inf of none.
func (q *quantiles) calm(of []share, part float64) float64 {
	if len(of) == 0 {
		return math.Inf(-1)
	}
	q.room = q.room[:0]
	for _, s := range of {
		q.room = append(q.room, median.Weighed{Value: s.picture, Weight: s.weight})
	}
	most, _ := median.Reaching(q.room, part*weigh(of))
	return most
}

// quantiles reads quantiles of shares, in room that it uses again.
type quantiles struct {
	room []median.Weighed
	all  float64 // weight of what is read
}

// of prepares the ratios of the shares with so much picture in them at the most.
func (q *quantiles) of(of []share, picture float64) {
	q.room, q.all = q.room[:0], 0
	for _, s := range of {
		if s.picture <= picture {
			q.room = append(q.room, median.Weighed{Value: s.ratio, Weight: s.weight})
			q.all += s.weight
		}
	}
}

// at returns a quantile of the ratios. Later ones must not be higher: they are sought among
// those under it.
func (q *quantiles) at(part float64) float64 {
	v, n := median.Reaching(q.room, part*q.all)
	q.room = q.room[:n]
	return v
}

// correct multiplies each knot by the quantile of its calmest shares over that of noise
// alone; knots with too little stay.
func (l *level) correct(shares *[knots][]share, of *blocks) {
	var q quantiles
	for k, s := range shares {
		if l.weight[k] = weigh(s); l.weight[k] < leastSum {
			continue
		}
		q.of(s, q.calm(s, l.calm))
		free := of.freedom(l.shapeAt(lowest + float64(k)/perStop))
		low := func(part float64) float64 { return q.at(part) / quantileOf(part, free) }
		middle, upper, at, lower := low(0.5), low(1.5*quantile), low(quantile), low(0.5*quantile)
		l.variance[k] *= (lower + at + upper) / 3
		l.uneven[k] = middle / at
		l.off[k] = uncertain(free, q.all)
	}
}

// uncertain returns the standard error, over itself, of a standard deviation that is read
// from a quantile of n blocks which are worth free values each. That of a quantile q is
// the root of q(1-q)/n over the density there (Kendall and Stuart, from memory), of a
// normal distribution here; and each block of a frame is met about four times, both ways
// and with both neighbours, and tells twice.
func uncertain(free, n float64) float64 {
	density := distuv.UnitNormal.Prob(distuv.UnitNormal.Quantile(quantile))
	return 0.5 * math.Sqrt(2/free) * math.Sqrt(quantile*(1-quantile)/(n/2)) / density
}

// trim takes the weight from knots at the light end that few blocks lie next to: what
// lies half a stop away says too little of them, and nothing beyond holds them.
func (l *level) trim(read []reading) {
	var near [knots]int
	for n := range read {
		if r := &read[n]; r.ratio > 0 && !math.IsInf(r.picture, 1) {
			near[r.i.i+int(r.i.part+0.5)]++
			near[r.j.i+int(r.j.part+0.5)]++
		}
	}
	for k := knots - 1; k >= 0 && near[k] < leastEnd; k-- {
		l.weight[k] = 0
	}
}

// bridge fills the levels without blocks between measured ones, and returns the
// first and the last of those; ok is false where there are none.
func (l *level) bridge() (first, last int, ok bool) {
	before := -1
	for k := range l.weight {
		if l.weight[k] < leastSum {
			continue
		}
		if before < 0 {
			first = k
		} else {
			for m := before + 1; m < k; m++ {
				l.variance[m] = l.mix(before, k, float64(m-before)/float64(k-before))
				l.off[m] = math.Max(l.off[before], l.off[k])
			}
		}
		before = k
	}
	return first, before, before >= 0
}

// form finds the shape of the noise by level: the mixture that explains, best in least
// squares, the mean products at all lags of the blocks with the least picture in them,
// and what tiles of the scan tell of its pixels.
func (l *level) form(obs []observation, read []reading, tiles []tile, of *blocks) {
	all := productsOf(obs, read, l.calmOf(obs, read), of)
	inPixels := l.inPixels(tiles)
	told := -1
	most, least := math.Inf(-1), 0.0
	for z := range all {
		if all[z].n < 2*leastSum {
			continue
		}
		s := all[z].mixture(inPixels[z], of)
		if all[z].n >= leastLobes {
			v := all[z].lobes(s)
			most, least = math.Max(most, v-lobesOff/math.Sqrt(all[z].n)), math.Min(least, v)
		}
		if !s.normal(of) {
			continue
		}
		l.shapes[z] = s
		for y := z - 1; y > told; y-- { // levels between that tell too little are like the nearest
			if told < 0 || y > (z+told)/2 {
				l.shapes[y] = s
			} else {
				l.shapes[y] = l.shapes[told]
			}
		}
		told = z
	}
	// Where pixels are more alike than noise is, what remains of the picture makes them so,
	// and elsewhere it may make them as much less alike.
	l.lobes = most + least
	for z := told + 1; told >= 0 && z < zones; z++ {
		l.shapes[z] = l.shapes[told]
	}
}

// zoneOf places a block between two zones, by the level that most of its noise is of.
func zoneOf(o *observation, r *reading) (z int, part float64) {
	return zone((r.vi*o.li + r.vj*o.lj) / (r.vi + r.vj))
}

// calmOf returns, by zone, how much picture there is in the calmest blocks at the most.
func (l *level) calmOf(obs []observation, read []reading) (most [zones]float64) {
	var shares [zones][]share
	for n := range obs {
		if r := &read[n]; r.ratio > 0 && !math.IsInf(r.picture, 1) {
			z, part := zoneOf(&obs[n], r)
			shares[z] = append(shares[z], share{weight: 1 - part, picture: r.picture})
			shares[z+1] = append(shares[z+1], share{weight: part, picture: r.picture})
		}
	}
	var q quantiles
	for z, s := range shares {
		most[z] = q.calm(s, l.calm)
	}
	return most
}

// lagSums are the sums of the mean products of blocks over what was expected of their
// variance: by lag, and by lag and kind what one of its variance would add.
type lagSums struct {
	n float64
	y [lagCount]float64
	a [lagCount][]float64
}

// productsOf adds up, by zone, the blocks with no more picture in them than most.
func productsOf(obs []observation, read []reading, most [zones]float64, of *blocks) *[zones]lagSums {
	all := new([zones]lagSums)
	for z := range all {
		for i := range all[z].a {
			all[z].a[i] = make([]float64, len(of.kinds))
		}
	}
	for n := range obs {
		o, r := &obs[n], &read[n]
		if r.ratio == 0 || r.ratio > wild {
			continue
		}
		z, part := zoneOf(o, r)
		for e, w := range [2]float64{1 - part, part} {
			if w > 0 && r.picture <= most[z+e] {
				all[z+e].add(o, r, w, of)
			}
		}
	}
	return all
}

func (s *lagSums) add(o *observation, r *reading, w float64, of *blocks) {
	s.n += w
	w /= r.vi + r.vj
	for i := range lagCount {
		s.y[i] += w * float64(o.lag[i])
		for k := range of.kinds {
			c := &of.seen[k][i]
			s.a[i][k] += w * (r.si*c[0] + r.sj*(c[0]+c[1]*o.tx+c[2]*o.ty+c[3]*o.tx*o.ty))
		}
	}
}

// mixture returns the shares of the kinds that explain the sums, and what tiles tell of
// pixels: inPixels, the variance about their preview pixels' means over that of those; NaN
// where they do not.
func (s *lagSums) mixture(inPixels float64, of *blocks) shape {
	for i := range s.a {
		s.y[i] /= s.n
		for k := range s.a[i] {
			s.a[i][k] /= s.n
		}
	}
	a, y := s.a[:], s.y[:]
	if inPixels > 0 {
		row := make([]float64, len(of.kinds))
		for k := range row {
			row[k] = (1 - of.kinds[k].averaged(float64(of.factor))) / inPixels
		}
		a, y = append(a, row), append(y, 1)
	}
	return shape(nonNegative(a, y))
}

// lobes returns by how much less pixels two and three apart are alike than any noise of a
// mixture of kinds would be, over the variance: sharpening with a mask of a pixel or more
// leaves that, and nothing that a film does.
func (s *lagSums) lobes(of shape) (sum float64) {
	for i, lag := range lags {
		if lag == [2]int{2, 0} || lag == [2]int{3, 0} {
			for k, w := range of {
				sum += w * s.a[i][k]
			}
			sum -= s.y[i]
		}
	}
	return sum / s.y[0]
}

// seenBy is what blocks read at the lags of noise of a level function's shapes.
type seenBy [zones][lagCount][4]float64

func (b *blocks) seenBy(l *level) *seenBy {
	out := new(seenBy)
	for z, s := range l.shapes {
		for k, w := range s {
			for i := range lagCount {
				for j := range 4 {
					out[z][i][j] += w * b.seen[k][i][j]
				}
			}
		}
	}
	return out
}

func (b *seenBy) at(stop float64, lag int, x, y float64) (v float64) {
	z, f := zone(stop)
	for e, w := range [2]float64{1 - f, f} {
		c := &b[z+e][lag]
		v += w * (c[0] + c[1]*x + c[2]*y + c[3]*x*y)
	}
	return v
}
