package response

import (
	"context"
	"math"
	"slices"

	"stopladder/analysis/numeric/median"
	"stopladder/analysis/numeric/parallel"

	"gonum.org/v1/gonum/mat"
)

// The fit proper minimises, over curves G, cells x and exposures e,
//
//	sum w[i,j,c] (u[i,j,c] - G[c](x[i,c] + e[j]))^2 + smoothness + labels
//
// by Gauss-Newton steps in which the x are eliminated one by one. Its weights
// are those of the readings, so that, unlike the linear guess, it is not drawn
// to a stretched or shrunk solution.
const (
	knotStep  = 0.12 // log10 exposure
	bend      = 0.05 // u: standard deviation of second differences of G's coefficients (a slope that changes by 0.4 within a third of a stop)
	labelPull = 0.5  // stops: the labels hold the scale while the curves are found, softly
	outlier   = 3.0  // standard deviations at which a reading counts half
	far       = 0.3  // log10: no unknown goes further in one step
	chunks    = 16   // of cells; sums are made in their order whatever the workers
)

type fit struct {
	m     *samples
	base  int
	label []float64 // log10; NaN without one
	used  []bool
	g     [3]spline
	x     []float64 // NaN: the cell has no place
	e     []float64
	scale float64 // robust standard deviation of residuals over s
	// What the scanner did, see scanner.go.
	model  model
	sparse bool      // few frames are believed to have a gain
	gain   []float64 // log10 of light, frame*3+channel; nil: none
	// factor is what light is multiplied by, ten to the power of gain.
	factor []float64
	flare  float64
	// Of the last step: covariance of coefficients and exposures.
	chol   *mat.Cholesky
	origin *[3]float64 // while the covariance is taken
	// While the fit runs: what look found, and what steps are made in.
	off   []float64
	parts []*normal
	backs []back
}

func newFit(m *samples, base int, label []float64, s *start) *fit {
	f := &fit{m: m, base: base, label: label, x: s.x, e: s.e, scale: 1}
	for c := range 3 {
		lo, hi := math.Inf(1), math.Inf(-1)
		for i := range m.cells {
			for j := range m.frames {
				if k := m.index(i, c, j); m.s[k] > 0 {
					v := f.x[i*3+c] + f.e[j]
					lo, hi = math.Min(lo, v), math.Max(hi, v)
				}
			}
		}
		lo, hi = lo-0.3, hi+0.3
		n := min(max(4, int(math.Ceil((hi-lo)/knotStep))), 90)
		f.g[c] = spline{lo: lo, step: (hi - lo) / float64(n), coef: make([]float64, n+3)}
		for k := range f.g[c].coef {
			f.g[c].coef[k] = startSlope * (lo + (float64(k)-1)*f.g[c].step)
		}
	}
	return f
}

// offsets of the unknowns: three curves, then the frames.
func (f *fit) offsets() (o [3]int, frames, p int) {
	for c := range 3 {
		o[c] = p
		p += len(f.g[c].coef)
	}
	return o, p, p + f.m.frames + f.extras()
}

// run iterates until the exposures stand still.
func (f *fit) run(ctx context.Context, workers int) bool {
	defer f.tidy()
	if !f.step(ctx, workers, true, 1) { // curves alone
		return false
	}
	f.look(ctx, workers)
	f.rescale()
	damp := 1e-3
	last := f.cost()
	for range 40 {
		if ctx.Err() != nil {
			return false
		}
		g, x, e, gain, factor, flare := f.g, slices.Clone(f.x), slices.Clone(f.e), slices.Clone(f.gain), slices.Clone(f.factor), f.flare
		for c := range g {
			g[c].coef = slices.Clone(g[c].coef)
		}
		if !f.step(ctx, workers, false, damp) {
			return false
		}
		f.look(ctx, workers)
		cost := f.cost()
		if !(cost <= last*(1+1e-9)) {
			f.g, f.x, f.e, f.gain, f.factor, f.flare = g, x, e, gain, factor, flare
			damp *= 10
			if damp > 1e6 {
				break
			}
			continue
		}
		moved := 0.0
		for j := range e {
			moved = math.Max(moved, math.Abs(f.e[j]-e[j]))
		}
		damp = math.Max(damp/5, 1e-7)
		f.rescale()
		next := f.cost()
		settled := moved < 2e-5 && math.Abs(next-last) < f.still()*last
		last = next
		if settled {
			break
		}
	}
	return ctx.Err() == nil
}

// tidy lets go of what only a running fit needs: the roll keeps its fit.
func (f *fit) tidy() { f.off, f.parts, f.backs = nil, nil, nil }

// finish takes the covariance at the solution, with what only labels and
// mid-grey decide held fast: each curve's place at origin[c], and the scale along
// the exposures themselves. Those uncertainties are added by who knows them.
func (f *fit) finish(ctx context.Context, workers int, origin [3]float64) bool {
	f.origin = &origin
	defer func() { f.origin = nil }()
	defer f.tidy()
	return f.step(ctx, workers, false, 0) && ctx.Err() == nil
}

// pins of finish.
func (f *fit) pins(n *normal) {
	o, fo, p := f.offsets()
	row := make([]float64, p)
	for c := range 3 {
		clear(row)
		k, b, _ := f.g[c].basis(f.origin[c])
		copy(row[o[c]+k:], b[:])
		n.dense(row, 0, 1e9)
	}
	clear(row)
	norm := 0.0
	for j, e := range f.e {
		row[fo+j] = e
		norm += e * e
	}
	if norm > 0 {
		n.dense(row, 0, 1e9/norm)
	}
}

// weight of a residual r of standard deviation s (Cauchy).
func (f *fit) weight(r, s float64) float64 {
	s *= f.scale
	t := r / (outlier * s)
	return 1 / (s * s * (1 + t*t))
}

// back is what going back to the places' own unknowns needs of the equations of a chunk of
// cells: of each cell and channel the parameters that it shares, their coefficients, the
// right side and the weight of its own.
type back struct {
	at   []int32
	v    []float64
	from []int32
	rhs  []float64
	own  []float64
}

// reset empties what is kept.
func (b *back) reset() {
	b.at, b.v, b.from, b.rhs, b.own = b.at[:0], b.v[:0], b.from[:0], b.rhs[:0], b.own[:0]
}

// keep takes the equation of the last place from n; own 0: nothing tells of the place.
func (b *back) keep(n *normal, own float64) {
	b.own = append(b.own, own)
	b.from = append(b.from, int32(len(b.at)))
	b.rhs = append(b.rhs, n.lr)
	if own > 0 {
		for k, t := range n.touched {
			b.at = append(b.at, int32(t))
			b.v = append(b.v, n.value[k])
		}
	}
}

// solve returns the step of place t, whose shared parameters step by d.
func (b *back) solve(t int, d []float64) float64 {
	v := b.rhs[t]
	for a := b.from[t]; a < b.from[t+1]; a++ {
		v -= b.v[a] * d[b.at[a]]
	}
	return v / b.own[t]
}

// step makes one Gauss-Newton step; curvesOnly leaves x and e as they are. The place of
// each cell in each channel is an unknown that no other place's readings know: it is taken
// out of the equations as they are made, and found from the rest afterwards.
func (f *fit) step(ctx context.Context, workers int, curvesOnly bool, damp float64) bool {
	m := f.m
	_, _, p := f.offsets()
	if f.parts == nil {
		f.parts, f.backs = make([]*normal, chunks), make([]back, chunks)
		for q := range f.parts {
			f.parts[q] = newNormal(p)
		}
	}
	err := parallel.Each(ctx, workers, chunks, func(_, q int) error {
		n, bk := f.parts[q], &f.backs[q]
		n.reset()
		bk.reset()
		for i := q * m.cells / chunks; i < (q+1)*m.cells/chunks; i++ {
			for c := range 3 {
				bk.keep(n, f.readings(n, i, c, curvesOnly, damp))
			}
		}
		bk.from = append(bk.from, int32(len(bk.at)))
		return nil
	})
	if err != nil {
		return false
	}
	n := f.parts[0]
	for _, q := range f.parts[1:] {
		n.add(q)
	}
	f.priors(n, curvesOnly, damp)
	d, chol, ok := n.solve(1e-9)
	if !ok {
		return false
	}
	if curvesOnly {
		o, _, _ := f.offsets()
		for c := range 3 {
			copy(f.g[c].coef, d[o[c]:])
		}
		return true
	}
	f.chol = chol
	if damp > 0 {
		f.move(d, f.backs)
	}
	return true
}

// readings adds what the frames say of cell i in channel c, and returns the weight of the
// cell's own unknown, 0 where nothing tells of it.
func (f *fit) readings(n *normal, i, c int, curvesOnly bool, damp float64) (own float64) {
	m := f.m
	o, fo, _ := f.offsets()
	first := fo + m.frames // of the model's own unknowns
	n.clearLocal()
	x := f.x[i*3+c]
	if math.IsNaN(x) {
		return 0
	}
	for j := range m.frames {
		at := m.index(i, c, j)
		if m.s[at] <= 0 {
			continue
		}
		k, b, db := f.g[c].basis(x + f.e[j])
		v, slope := 0.0, 0.0
		for t := range b {
			v += b[t] * f.g[c].coef[k+t]
			slope += db[t] * f.g[c].coef[k+t]
		}
		seen, bent, hv := f.seen(v, c, j)
		r := m.u[at] - seen
		w := f.weight(r, m.s[at])
		if curvesOnly {
			n.row(fo+j, 0, o[c]+k, b, w, m.u[at]-seen+v, 0)
			continue
		}
		h := f.extra(c, j)
		if h >= 0 { // as the scanner bent what is seen, so it did the slopes
			h += first
			slope *= bent
			for t := range b {
				b[t] *= bent
			}
		}
		n.rowWith(h, hv, fo+j, slope, o[c]+k, b, w, r, slope)
		own += w * slope * slope
	}
	if own > 0 {
		own = own*(1+damp) + 1e-3
		n.eliminate(own)
	}
	return own
}

// place finds where each cell lies while all else stays: a few steps of Newton's each.
func (f *fit) place(ctx context.Context, workers int) {
	const still = 1e-4
	m := f.m
	_ = parallel.Each(ctx, workers, chunks, func(_, q int) error { // a cancelled fit ends without these
		for t := q * m.cells / chunks * 3; t < (q+1)*m.cells/chunks*3; t++ {
			c := t % 3
			for step, n := 1.0, 0; math.Abs(step) > still && n < 8; n++ {
				num, den := 0.0, 0.0
				for j := range m.frames {
					at := t*m.frames + j
					if m.s[at] <= 0 || math.IsNaN(f.x[t]) {
						continue
					}
					v, slope := f.g[c].at(f.x[t] + f.e[j])
					v, bent, _ := f.seen(v, c, j)
					slope *= bent
					r := m.u[at] - v
					w := f.weight(r, m.s[at])
					num, den = num+w*slope*r, den+w*slope*slope
				}
				step = 0
				if den > 0 {
					step = math.Min(math.Max(num/(den+1e-3), -far), far)
				}
				f.x[t] += step
			}
		}
		return nil
	})
}

// move takes a step in all unknowns, none of them far.
func (f *fit) move(d []float64, backs []back) {
	o, fo, _ := f.offsets()
	for c := range 3 {
		for k := range f.g[c].coef {
			f.g[c].coef[k] += d[o[c]+k]
		}
	}
	for j := range f.e {
		f.e[j] += math.Min(math.Max(d[fo+j], -far), far)
	}
	f.moveExtras(d)
	for q := range backs {
		first := q * f.m.cells / chunks * 3
		for t, own := range backs[q].own {
			if own > 0 {
				f.x[first+t] += math.Min(math.Max(backs[q].solve(t, d), -far), far)
			}
		}
	}
}

// priors adds smoothness, the fall of the curves' mirror (u rises), and labels.
func (f *fit) priors(n *normal, curvesOnly bool, damp float64) {
	o, fo, _ := f.offsets()
	const d2 = 1 / (bend * bend)
	diff := [3]float64{1, -2, 1}
	for c := range 3 {
		g := &f.g[c]
		for k := 0; k+2 < len(g.coef); k++ {
			n.second(o[c]+k, d2)
			if !curvesOnly {
				v := g.coef[k] - 2*g.coef[k+1] + g.coef[k+2]
				for a := range 3 {
					n.r[o[c]+k+a] -= d2 * diff[a] * v
				}
			}
		}
		if curvesOnly {
			continue
		}
		// u rises with exposure: a fall is held against the curve.
		for k := 0; k+1 < len(g.coef); k++ {
			if v := g.coef[k+1] - g.coef[k]; v < 0 {
				const w = 1e6
				a, b := o[c]+k, o[c]+k+1
				n.n[a*n.p+a] += w
				n.n[b*n.p+b] += w
				n.n[a*n.p+b] -= w
				n.r[a] += w * v
				n.r[b] -= w * v
			}
		}
	}
	if curvesOnly {
		for j := range f.e {
			n.n[(fo+j)*n.p+fo+j] += 1
		}
		return
	}
	for j := range f.e {
		at := fo + j
		n.n[at*n.p+at] += 1e-3
		if j == f.base {
			n.n[at*n.p+at] += 1e12
			continue
		}
		if w, r := f.labelWeight(j); w > 0 && f.origin == nil {
			n.n[at*n.p+at] += w
			n.r[at] += w * r
		}
	}
	f.extraPriors(n)
	if f.origin != nil {
		f.pins(n)
	}
	if damp > 0 {
		for i := range n.p {
			n.n[i*n.p+i] *= 1 + damp
		}
	}
}

// labelWeight is the pull of frame j's label and how far it is away.
func (f *fit) labelWeight(j int) (w, r float64) {
	if math.IsNaN(f.label[j]) {
		return 0, 0
	}
	s := f.labelSigma()
	r = f.label[j] - f.e[j]
	t := f.labelTail()
	return 1 / (s * s * (1 + r*r/(t*t))), r
}

// look notes how far each reading is from what the fit shows, in its own standard
// deviations; -1 where nothing is read.
func (f *fit) look(ctx context.Context, workers int) {
	m := f.m
	if f.off == nil {
		f.off = make([]float64, len(m.u))
	}
	_ = parallel.Each(ctx, workers, chunks, func(_, q int) error { // a cancelled fit ends without these
		for i := q * m.cells / chunks; i < (q+1)*m.cells/chunks; i++ {
			for c := range 3 {
				x := f.x[i*3+c]
				for j := range m.frames {
					at := m.index(i, c, j)
					if f.off[at] = -1; m.s[at] > 0 && !math.IsNaN(x) {
						v, _ := f.g[c].at(x + f.e[j])
						v, _, _ = f.seen(v, c, j)
						f.off[at] = math.Abs(m.u[at]-v) / m.s[at]
					}
				}
			}
		}
		return nil
	})
}

// cost is what is minimised, with the weights' robust loss, by the last look.
func (f *fit) cost() float64 {
	sum := 0.0
	product := 1.0 // of many, of which one logarithm is taken in place of one each
	for _, t := range f.off {
		if t < 0 {
			continue
		}
		t /= outlier * f.scale
		if product *= 1 + t*t; product > 1e150 {
			sum += math.Log(product)
			product = 1
		}
	}
	sum = outlier * outlier * (sum + math.Log(product))
	for c := range 3 {
		k := f.g[c].coef
		for i := 0; i+2 < len(k); i++ {
			v := (k[i] - 2*k[i+1] + k[i+2]) / bend
			sum += v * v
		}
		for i := 0; i+1 < len(k); i++ {
			if v := k[i+1] - k[i]; v < 0 {
				sum += 1e6 * v * v
			}
		}
	}
	sum += f.extraCost()
	s := f.labelSigma()
	for j, l := range f.label {
		if !math.IsNaN(l) && j != f.base {
			t := f.labelTail()
			r := (l - f.e[j]) / t
			sum += t * t / (s * s) * math.Log1p(r*r)
		}
	}
	return sum
}

// rescale sets the residuals' robust standard deviation over their own, by the last look.
func (f *fit) rescale() {
	v := make([]float64, 0, len(f.off))
	for _, t := range f.off {
		if t >= 0 {
			v = append(v, t)
		}
	}
	// 0.6745: the median of |normal|.
	f.scale = math.Max(0.1, median.Of(v)/0.6745)
}

const stopLog = 0.30102999566398119521 // log10 2
