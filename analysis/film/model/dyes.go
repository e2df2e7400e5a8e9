package model

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"stopladder/analysis/numeric/matrix"
)

const (
	dyeSpread = 0.05 // standard deviation of an unwanted absorption, as known beforehand: a tenth (handbooks' order of size, from memory)
	dyeModel  = 0.02 // of density: what the curves themselves may be off by
	dyeTold   = 0.01 // of what a channel shows of other layers: less is what such a fit is off by
	dyeSure   = 1.0  // squares of standard errors that the shares of all channels together must be worth
	dyeRounds = 4
	evenPart  = 4 // one block in so many takes part, those in which the light varies least
	// Of a layer's curve against its channel's: how far it may lie off and how much turn at
	// a knot, in density, as known beforehand.
	curveSpread = 0.05
	curveBend   = 0.02
	knotStep    = 0.2 // of log10 exposure
	// alone is how many blocks tell each for itself, at most: what is off in one (its light is
	// uneven, its colour bends) is off in all that are like it. That no share is negative
	// keeps most of that out.
	alone = 400
)

// block is an even block of the base frame, as all frames show it.
type block struct {
	d     [3][]float64 // density by frame; NaN where it is clipped or not shown
	sigma [3][]float64
}

// even returns blocks in which the light varies least, as frames show them: the most
// even, since the mean light of an uneven block does not follow a bent curve.
func (m *Model) even(read []reading) []block {
	n := m.places()
	type rated struct {
		b      block
		at     int
		spread float64
	}
	var all []rated
	for b := range m.nx * m.ny {
		o := rated{spread: math.NaN()}
		for c := range 3 {
			o.b.d[c], o.b.sigma[c] = make([]float64, len(read)), make([]float64, len(read))
		}
		o.at = b
		told := 0
		for j := range read {
			var sum, sq [3]float64
			var st uint8
			for k := b * n; k < (b+1)*n; k++ {
				st |= read[j].state[k]
				for c := range 3 {
					y := float64(read[j].light[3*k+c])
					sum[c], sq[c] = sum[c]+y, sq[c]+y*y
				}
			}
			for c := range 3 {
				mean := sum[c] / float64(n)
				o.b.d[c][j] = math.NaN()
				if st&beyond != 0 || st>>c&1 != 0 || !(mean > 1e-6) {
					continue
				}
				d := -math.Log10(mean)
				s := m.densitySigma(c, d)
				if s != s {
					s = 0.05
				}
				o.b.d[c][j] = d
				// Grain gathers: taken to leave four times what single pixels would.
				o.b.sigma[c][j] = math.Hypot(dyeModel, 2*s/math.Sqrt(float64(n)))
				told++
				if v := sq[c]/float64(n)/(mean*mean) - 1; c == 1 && !(v > o.spread) {
					o.spread = v
				}
			}
		}
		if told >= 2*3 {
			all = append(all, o)
		}
	}
	slices.SortStableFunc(all, func(a, b rated) int {
		switch {
		case a.spread < b.spread:
			return -1
		case a.spread > b.spread:
			return 1
		}
		return 0
	})
	var out []block
	for _, o := range all[:len(all)/evenPart] {
		for c := range 3 {
			m.evened(read, o.at, c, o.b.d[c])
		}
		out = append(out, o.b)
	}
	return out
}

// evenSteps is how many tones stand for the places of a block.
const evenSteps = 9

// evened makes densities of a block's mean light in channel c, frame by frame, those of its
// mean exposure: on a steep curve the light places of an uneven block outweigh the dark ones
// by more than on a flat one, which looks like a curve of another shape, or like dyes. How
// exposure varies in the block the frame tells that tells it best.
func (m *Model) evened(read []reading, block, c int, d []float64) {
	n, l := m.places(), m.layer[c]
	e, now := make([]float64, n), make([]float64, n)
	mean, noise := 0.0, math.Inf(1)
	for j := range d {
		if d[j] != d[j] {
			continue
		}
		sum, squares := 0.0, 0.0
		for k := range now {
			x, s := l.exposure(-log10(max(read[j].light[3*(block*n+k)+c], leastLight)))
			now[k] = float64(x)
			sum, squares = sum+now[k]/float64(n), squares+math.Min(1, float64(s*s))*m.frames[j].kept/float64(n)
		}
		if squares < noise {
			e, now, mean, noise = now, e, sum, squares
		}
	}
	spread := 0.0
	for _, x := range e {
		spread += (x - mean) * (x - mean) / float64(n-1)
	}
	if !(spread > noise) {
		return
	}
	f := math.Sqrt(1 - noise/spread)
	slices.Sort(e)
	var by [evenSteps]float32 // from the mean exposure
	for i := range by {
		part := e[i*n/evenSteps : (i+1)*n/evenSteps]
		for _, x := range part {
			by[i] += float32(f * (x - mean) / float64(len(part)))
		}
	}
	for j := range d {
		seen := d[j]
		if seen != seen {
			continue
		}
		for range 2 { // the exposure that has the light that is seen
			x, _ := l.exposure(float32(d[j]))
			y := float32(0)
			for _, b := range by {
				y += tenTo(l.at(x+b)) / evenSteps
			}
			d[j] = seen + float64(l.at(x)) + float64(log10(y))
		}
	}
}

// knots are those of the change of a layer's curve; straight lines join them.
type knots struct {
	lo, step float64
	n        int
}

func (l *layer) knots() knots {
	n := max(2, int((l.covered[1]-l.covered[0])/knotStep)+1)
	return knots{l.covered[0], (l.covered[1] - l.covered[0]) / float64(n-1), n}
}

// at returns the knot under an exposure, and how far it is on the way to the next.
func (k knots) at(e float64) (i int, f float64) {
	u := math.Max(0, math.Min(float64(k.n-1), (e-k.lo)/k.step))
	i = min(int(u), k.n-2)
	return i, u - float64(i)
}

// dyes finds the mixing, and by how much the layers' curves differ from the channels' for
// it, by least squares over even blocks of all frames. What a block's own light explains
// is taken out of residuals and of what would explain them. The curves come from a scene
// that may be mostly of one colour, whose mixing they hold: so both are found together.
func (m *Model) dyes(read []reading) {
	m.dyeError = [3][2]float64{{dyeSpread, dyeSpread}, {dyeSpread, dyeSpread}, {dyeSpread, dyeSpread}}
	if len(read) < 3 {
		return
	}
	blocks := m.even(read)
	nf := len(read)
	was := m.layer
	share := math.Min(1, alone/float64(len(blocks)))
	worth := 0.0
	for range dyeRounds {
		var next [3]*layer
		worth = 0
		mix := m.Mix
		for c := range 3 {
			kn := m.layer[c].knots()
			size := 2 + kn.n
			a, rhs := mat.NewSymDense(size, nil), mat.NewVecDense(size, nil)
			add := func(i, j int, v float64) { a.SetSym(i, j, a.At(i, j)+v) }
			for k := range 2 { // as known beforehand: no mixing
				add(k, k, 1/(dyeSpread*dyeSpread))
				rhs.SetVec(k, -m.Mix[c][other(c, k)]/(dyeSpread*dyeSpread))
			}
			for k := range kn.n {
				add(2+k, 2+k, 1/(curveSpread*curveSpread))
				if k > 0 && k+1 < kn.n { // smooth
					for i, x := range [3]float64{1, -2, 1} {
						for j, y := range [3]float64{1, -2, 1} {
							if j >= i {
								add(1+k+i, 1+k+j, x*y/(curveBend*curveBend))
							}
						}
					}
				}
			}
			for i := range blocks {
				m.explain(&blocks[i], c, kn, nf, func(w float64, col []int, v []float64, r float64) {
					w *= share
					for p, cp := range col {
						rhs.SetVec(cp, rhs.AtVec(cp)+w*v[p]*r)
						for q := p; q < len(col); q++ {
							add(min(cp, col[q]), max(cp, col[q]), w*v[p]*v[q])
						}
					}
				})
			}
			errors := sharesErrors(a)
			m.dyeError[c] = [2]float64{math.Sqrt(errors[0]), math.Sqrt(errors[2])}
			x, ok := absorbing(a, rhs, m.Mix[c][other(c, 0)], m.Mix[c][other(c, 1)])
			if !ok { // of no round: layers and mixing belong together
				m.layer, m.Mix, m.unmix = was, matrix.Unit, matrix.Unit
				return
			}
			for k := range 2 {
				mix[c][other(c, k)] += x.AtVec(k)
				mix[c][c] -= x.AtVec(k)
			}
			worth += squares(errors, mix[c][other(c, 0)], mix[c][other(c, 1)])
			next[c] = m.layer[c].moved(kn, x.RawVector().Data[2:])
		}
		inv, ok := mix.Inverse(1e-6)
		if !ok || mix[0][0] < 0.5 || mix[1][1] < 0.5 || mix[2][2] < 0.5 { // no film's
			m.layer, m.Mix, m.unmix = was, matrix.Unit, matrix.Unit
			return
		}
		m.Mix, m.unmix, m.layer = mix, inv, next
	}
	if worth > dyeSure && max(1-m.Mix[0][0], 1-m.Mix[1][1], 1-m.Mix[2][2]) > dyeTold {
		return
	}
	m.layer, m.Mix, m.unmix = was, matrix.Unit, matrix.Unit // none that can be told from none
}

// absorbing solves for two shares' changes, and what follows them, so that no share falls
// below nothing: a dye takes light away, and where a fit says that it gives some, the scene
// (of one colour, say) does not tell, and what the curves are off by is taken for it.
func absorbing(a *mat.SymDense, rhs *mat.VecDense, shares ...float64) (x mat.VecDense, ok bool) {
	const firmly = 1e12
	for range len(shares) + 1 {
		var ch mat.Cholesky
		if !ch.Factorize(a) || ch.SolveVecTo(&x, rhs) != nil {
			return x, false
		}
		worst, most := -1, -1e-6
		for k, v := range shares {
			if v+x.AtVec(k) < most {
				worst, most = k, v+x.AtVec(k)
			}
		}
		if worst < 0 {
			break
		}
		a.SetSym(worst, worst, firmly)
		rhs.SetVec(worst, -firmly*shares[worst])
	}
	return x, true
}

// sharesErrors returns the squares of the standard errors of the two shares that equations
// tell, and between them what they have in common.
func sharesErrors(a *mat.SymDense) [3]float64 {
	const most = dyeSpread * dyeSpread
	var ch mat.Cholesky
	var inv mat.SymDense
	if !ch.Factorize(a) || ch.InverseTo(&inv) != nil || !(inv.At(0, 0) > 0 && inv.At(1, 1) > 0) {
		return [3]float64{most, 0, most}
	}
	return [3]float64{math.Min(most, inv.At(0, 0)), inv.At(0, 1), math.Min(most, inv.At(1, 1))}
}

// squares returns what two shares of such errors are worth together, in squares of a standard
// error.
func squares(e [3]float64, x, y float64) float64 {
	det := e[0]*e[2] - e[1]*e[1]
	if !(det > 0) {
		return 0
	}
	return (e[2]*x*x - 2*e[1]*x*y + e[0]*y*y) / det
}

// moved returns the layer with a change of its density laid over it.
func (l *layer) moved(k knots, by []float64) *layer {
	o := &layer{lo: l.lo, covered: l.covered, d: make([]float32, len(l.d))}
	for i := range l.d {
		j, f := k.at(l.lo + float64(i)*curveStep)
		o.d[i] = l.d[i] + float32(by[j]*(1-f)+by[j+1]*f)
		if i > 0 {
			o.d[i] = min(o.d[i], o.d[i-1])
		}
	}
	o.invert()
	o.sigma = make([]float32, len(o.back))
	return o
}

// explain hands on, for every frame that shows a block, the block's residual in channel c
// and what would explain it (columns: two dyes, then knots), its own light taken out.
func (m *Model) explain(b *block, c int, kn knots, nf int, each func(w float64, col []int, v []float64, r float64)) {
	q, t, x, ok := m.predict(b)
	if !ok {
		return
	}
	var js []int
	var wt float64
	for j := range nf {
		if b.d[c][j] == b.d[c][j] {
			js = append(js, j)
			wt += t[c][j] * t[c][j] / (b.sigma[c][j] * b.sigma[c][j])
		}
	}
	if len(js) < 2 || !(wt > 0) {
		return
	}
	col := []int{0, 1}
	place := map[int]int{}
	for _, j := range js {
		i, _ := kn.at(x[c] + m.frames[j].stop*stopLog)
		for _, k := range []int{i, i + 1} {
			if _, ok := place[k]; !ok {
				place[k] = len(col)
				col = append(col, 2+k)
			}
		}
	}
	n := len(col) + 1 // the residual last
	rows := make([]float64, len(js)*n)
	own := make([]float64, n)
	for p, j := range js {
		v := rows[p*n : (p+1)*n]
		v[0], v[1] = q[other(c, 0)][j]-q[c][j], q[other(c, 1)][j]-q[c][j]
		i, f := kn.at(x[c] + m.frames[j].stop*stopLog)
		// The channel's own layer shows in it by its share alone.
		v[place[i]] += m.Mix[c][c] * (1 - f)
		v[place[i+1]] += m.Mix[c][c] * f
		v[n-1] = b.d[c][j] - (m.Mix[c][0]*q[0][j] + m.Mix[c][1]*q[1][j] + m.Mix[c][2]*q[2][j])
		w := t[c][j] / (b.sigma[c][j] * b.sigma[c][j]) / wt
		for k := range v {
			own[k] += w * v[k]
		}
	}
	for p, j := range js {
		v := rows[p*n : (p+1)*n]
		for k := range v {
			v[k] -= t[c][j] * own[k]
		}
		w := 1 / (b.sigma[c][j] * b.sigma[c][j])
		r := v[n-1]
		// Moved and dusty blocks do not pull: Cauchy's weight at three sigmas.
		each(w/(1+r*r*w/9), col, v[:n-1], r)
	}
}

// other returns the k-th of the two channels that c is not.
func other(c, k int) int { return [3][2]int{{1, 2}, {0, 2}, {0, 1}}[c][k] }

// predict returns the layers' densities of a block in all frames by its light so far, and
// their slopes; ok is false where some layer is told by no frame.
func (m *Model) predict(b *block) (q, t [3][]float64, x [3]float64, ok bool) {
	nf := len(m.frames)
	var sum, weight [3]float64
	for j := range nf {
		s := [3]float64{b.d[0][j], b.d[1][j], b.d[2][j]}
		for c := range 3 {
			d := m.unmix[c][0]*s[0] + m.unmix[c][1]*s[1] + m.unmix[c][2]*s[2]
			if d != d {
				continue
			}
			l := m.layer[c]
			e, _ := l.exposure(float32(d))
			if float64(e) <= l.covered[0] || float64(e) >= l.covered[1] {
				continue
			}
			slope := l.third(float64(e)) * 3 / stopLog
			if !(slope > 0) {
				continue
			}
			w := slope * slope / (b.sigma[c][j] * b.sigma[c][j])
			sum[c] += w * (float64(e) - m.frames[j].stop*stopLog)
			weight[c] += w
		}
	}
	for c := range 3 {
		if !(weight[c] > 0) {
			return q, t, x, false
		}
		x[c] = sum[c] / weight[c]
		q[c], t[c] = make([]float64, nf), make([]float64, nf)
		for j := range nf {
			e := x[c] + m.frames[j].stop*stopLog
			q[c][j] = float64(m.layer[c].at(float32(e)))
			t[c][j] = m.layer[c].third(e) * 3 / stopLog
		}
	}
	return q, t, x, true
}
