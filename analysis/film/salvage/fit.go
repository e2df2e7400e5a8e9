package salvage

import (
	"context"
	"math"
	"slices"
	"sync"

	"stopladder/analysis/film/model"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/numeric/parallel"
)

// Result is one grade: the correction and what it costs.
type Result struct {
	Settings correction.Settings
	Cost     Cost
}

// Frame is what became of one frame.
type Frame struct {
	Grades [Grades]Result
	// Lost is, for every pixel of the frame's preview, 255 where it has lost what the
	// base frame shows; nil for the base frame.
	Lost []uint8
	// Reason says why there is nothing; "" when there is.
	Reason string
}

// sample is how many cells a correction is fitted on, about.
const sample = 1500

// every so many cells are measured for the cost of a grade, and for that of a
// correction by hand while a slide moves.
const every, everyHand = 2, 5

// leastFit is how many clean cells a fit needs.
const leastFit = 200

// Frame salvages one frame. The error is ctx's.
func (g *Grid) Frame(ctx context.Context, i int) (*Frame, error) {
	f := &g.frames[i]
	switch {
	case f.Look == nil || f.Look.Preview == nil:
		return &Frame{Reason: "The frame could not be read."}, nil
	case f.Unregistered && i != g.base:
		return &Frame{Reason: "The frame does not lie on the base frame, so nothing in it can be compared."}, nil
	}
	if stop, ok := g.StopOf(i); ok {
		out := g.seenAt(stop, allBlocks)
		if i == g.base {
			return out, ctx.Err()
		}
		var err error
		d := g.boundsOf(i)
		out.Lost, err = g.lostMask(ctx, i, &d, g.toFrame(i))
		return out, err
	}
	c, err := g.of(ctx, i)
	if err != nil {
		return nil, err
	}
	p := g.pair(c)
	out := &Frame{Lost: c.mask}
	if i == g.base {
		cost := p.cost(correction.Settings{}, 1)
		for k := range out.Grades {
			out.Grades[k].Cost = cost
		}
		return out, ctx.Err()
	}
	settings, ok := p.fit()
	if !ok { // what is lost is known all the same
		out.onlyLost(p.cost(correction.Settings{}, 1))
		return out, ctx.Err()
	}
	for k, s := range settings {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		out.Grades[k] = Result{s, p.cost(s, every)}
	}
	// An exposure is a balance too: what no balance mends is never more than it leaves.
	if a, b := out.Grades[Exposure].Cost.Crossover, &out.Grades[Balance].Cost.Crossover; a != nil && *b != nil && **b > *a {
		*b = a
	}
	return out, ctx.Err()
}

// onlyLost makes a frame of which too little is left to be brought to the base frame.
func (f *Frame) onlyLost(c Cost) {
	lost := Cost{BandCost: BandCost{LostArea: c.LostArea}, LostLight: c.LostLight, LostDark: c.LostDark,
		Reasons: []string{"Too little is left in both frames to bring one to the other."}}
	for b := range lost.Bands {
		lost.Bands[b].LostArea = c.Bands[b].LostArea
	}
	for k := range f.Grades {
		f.Grades[k].Cost = lost
	}
	f.Reason = lost.Reasons[0]
}

// StopOf returns the stop of frame i in the model; ok is false where the roll is none, or
// the frame no part of it.
func (g *Grid) StopOf(i int) (stop float64, ok bool) {
	if g.model == nil {
		return 0, false
	}
	if i == g.base {
		return 0, true
	}
	if s := g.res.Frames[i].MeasuredStop; s != nil {
		return *s, true
	}
	return 0, false
}

// Steps of blocks.
const (
	allBlocks = 1
	fewBlocks = 3 // of which a correction by hand is measured
)

// seenAt is what the model says of a frame at a stop.
func (g *Grid) seenAt(stop float64, step int) *Frame {
	s := g.look(stop, step)
	out := &Frame{}
	if stop == 0 {
		cost := s.cost(correction.Settings{})
		for k := range out.Grades {
			out.Grades[k].Cost = cost
		}
		return out
	}
	settings, ok := s.fit(Balance, Curves)
	if !ok {
		out.onlyLost(s.cost(correction.Settings{}))
		return out
	}
	for k, v := range settings {
		out.Grades[k] = Result{v, s.cost(v)}
	}
	s.leastOf(out)
	return out
}

// leastOf gives the balance grade the crossover that no balance mends.
func (s *seen) leastOf(f *Frame) {
	if v := s.leastCrossover(f.Grades[Exposure].Settings.Exposure); v == v {
		f.Grades[Balance].Cost.Crossover = &v
	}
}

// CostOf is what any correction of a frame costs, as Frame measures it but on
// fewer cells: quick enough while a slide is dragged. ok is false where the frame
// cannot be compared; the error is ctx's.
func (g *Grid) CostOf(ctx context.Context, i int, s correction.Settings) (c Cost, ok bool, err error) {
	f := &g.frames[i]
	if f.Look == nil || f.Look.Preview == nil || f.Unregistered && i != g.base {
		return c, false, nil
	}
	if stop, ok := g.StopOf(i); ok {
		g.mu.Lock()
		v := g.seen[i]
		if v == nil {
			v = g.look(stop, fewBlocks)
			g.seen[i] = v
		}
		g.mu.Unlock()
		return v.cost(s), true, nil
	}
	cs, err := g.of(ctx, i)
	if err != nil {
		return c, false, err
	}
	g.mu.Lock()
	p := cs.paired
	if p == nil {
		p = g.pair(cs)
		cs.paired = p
	}
	g.mu.Unlock()
	return p.cost(s, everyHand), true, nil
}

// Roll salvages all frames. done, where not nil, is told each as it is ready, one
// call at a time. The error is ctx's, or that of NewGrid.
func (g *Grid) Roll(ctx context.Context, done func(i int, f *Frame)) ([]*Frame, error) {
	out := make([]*Frame, len(g.frames))
	var mu sync.Mutex
	err := parallel.Each(ctx, 0, len(g.frames), func(_, i int) error {
		f, err := g.Frame(ctx, i)
		mu.Lock()
		defer mu.Unlock()
		if out[i] = f; err == nil && done != nil {
			done(i, f)
		}
		return err
	})
	return out, err
}

// fit finds the corrections of the three grades; ok is false where too little is
// left to fit on.
func (p *pair) fit() (out [Grades]correction.Settings, ok bool) {
	if len(p.clean) < leastFit {
		return out, false
	}
	out[Exposure], out[Balance] = p.gains(true)
	// Curves are fitted where a channel is clipped as well, since they are used there.
	var cells []int32
	for k := 0; k < len(p.index); k += max(1, len(p.index)/(4*sample)) {
		cells = append(cells, int32(k))
	}
	for c := range 3 {
		out[Curves].Curves[c] = p.curve(cells, c, math.Log2(out[Balance].Gain(c)))
	}
	return out, true
}

// golden finds the least of f between lo and hi.
func golden(f func(float64) float64, lo, hi float64) float64 {
	const phi = 0.6180339887498949
	a, b := hi-phi*(hi-lo), lo+phi*(hi-lo)
	fa, fb := f(a), f(b)
	for range 14 { // to a thousandth of two stops
		if fa < fb {
			hi, b, fb = b, a, fa
			a = hi - phi*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + phi*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}

// Of the curves.
const (
	knotStep  = 0.8  // stops between knots
	stiffness = 0.02 // of the second differences, against one share of the cells a knot
	curveFits = 12   // rounds of reweighting
	curveNear = 0.15 // stops within which a residual counts squared, beyond it by its size
	darkest   = 1.0 / 65536
)

// curve is the rising curve of channel c that brings the frame's tones to the base
// frame's: straight lines between knots, by least absolute residuals (reweighted
// least squares), held straight where the cells say little, and made to rise by
// pooling adjacent violators. Where there is too little it is the gain.
func (p *pair) curve(cells []int32, c int, gain float64) []correction.Point {
	var x, y []float64
	for _, k := range cells {
		f, b := float64(p.frame[3*int(k)+c]), float64(p.base[3*int(k)+c])
		if f > darkest && b > darkest {
			x, y = append(x, math.Log2(f)), append(y, math.Log2(b))
		}
	}
	if len(x) < leastFit {
		return []correction.Point{{X: 0, Y: gain}}
	}
	sorted := slices.Clone(x)
	slices.Sort(sorted)
	lo, hi := sorted[len(sorted)/200], sorted[len(sorted)-1-len(sorted)/200]
	n := int(math.Round((hi-lo)/knotStep)) + 1
	if n < 2 {
		return []correction.Point{{X: 0, Y: gain}}
	}
	n = min(n, correction.MaxPoints)
	at := make([]float64, n)
	for k := range at {
		at[k] = lo + (hi-lo)*float64(k)/float64(n-1)
	}
	v := make([]float64, n) // begins as the gain
	for k := range v {
		v[k] = at[k] + gain
	}
	throughKnots(x, y, at, v)
	for range 2 { // the first try does not know the bends yet
		at, v = respread(at, v)
		throughKnots(x, y, at, v)
	}
	pts := make([]correction.Point, len(at))
	for k := range pts {
		pts[k] = correction.Point{X: at[k], Y: v[k]}
	}
	return pts
}

// respread lays knots anew, no further apart than knotStep in and out: where a
// shoulder has pressed stops of the scene into a fraction of one, knots evenly spaced
// in the frame leave its bend out.
func respread(at, v []float64) (newAt, newV []float64) {
	run := make([]float64, len(at)) // the way along the curve, of the longer of in and out
	for k := 1; k < len(at); k++ {
		run[k] = run[k-1] + math.Max(at[k]-at[k-1], v[k]-v[k-1])
	}
	total := run[len(run)-1]
	n := min(correction.MaxPoints, int(math.Round(total/knotStep))+1)
	k := 1
	for i := range n {
		r := total * float64(i) / float64(n-1)
		for k+1 < len(run) && run[k] < r {
			k++
		}
		t := (r - run[k-1]) / (run[k] - run[k-1])
		newAt, newV = append(newAt, at[k-1]+t*(at[k]-at[k-1])), append(newV, v[k-1]+t*(v[k]-v[k-1]))
	}
	return newAt, newV
}

// throughKnots fits the values v of a curve at the knots at to y over x, beginning from
// those it is given.
func throughKnots(x, y, at, v []float64) {
	n := len(at)
	place := func(x float64) (k int, t float64) {
		k, _ = slices.BinarySearch(at, x)
		k = min(max(k-1, 0), n-2)
		return k, math.Max(0, math.Min(1, (x-at[k])/(at[k+1]-at[k])))
	}
	ks, ts := make([]int, len(x)), make([]float64, len(x))
	for i := range x {
		ks[i], ts[i] = place(x[i])
	}
	a := make([][]float64, n)
	for k := range a {
		a[k] = make([]float64, n+1)
	}
	stiff := stiffness * float64(len(x))
	mean := (at[n-1] - at[0]) / float64(n-1)
	for range curveFits {
		for k := range a {
			clear(a[k])
		}
		for i := range x {
			k, t := ks[i], ts[i]
			w := 1 / math.Max(curveNear, math.Abs(y[i]-v[k]*(1-t)-v[k+1]*t))
			a[k][k] += w * (1 - t) * (1 - t)
			a[k][k+1] += w * t * (1 - t)
			a[k+1][k] += w * t * (1 - t)
			a[k+1][k+1] += w * t * t
			a[k][n] += w * (1 - t) * y[i]
			a[k+1][n] += w * t * y[i]
		}
		for k := 1; k+1 < n; k++ { // changes of slope, over the spacing
			l, r := mean/(at[k]-at[k-1]), mean/(at[k+1]-at[k])
			d := [3]float64{l, -l - r, r}
			for i := range d {
				for j := range d {
					a[k-1+i][k-1+j] += stiff * d[i] * d[j]
				}
			}
		}
		if !solve(a, v) {
			break
		}
	}
	rise(v)
}

// solve solves the linear equations a (with the right side as last column) by
// elimination; false where they have no one answer.
func solve(a [][]float64, out []float64) bool {
	n := len(a)
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[p][k]) {
				p = i
			}
		}
		if math.Abs(a[p][k]) < 1e-12 {
			return false
		}
		a[k], a[p] = a[p], a[k]
		for i := k + 1; i < n; i++ {
			f := a[i][k] / a[k][k]
			for j := k; j <= n; j++ {
				a[i][j] -= f * a[k][j]
			}
		}
	}
	for k := n - 1; k >= 0; k-- {
		s := a[k][n]
		for j := k + 1; j < n; j++ {
			s -= a[k][j] * out[j]
		}
		out[k] = s / a[k][k]
	}
	return true
}

// rise makes values rise: neighbours that fall are pooled (least squares).
func rise(v []float64) {
	type pool struct {
		n   int
		sum float64
	}
	var pools []pool
	for _, x := range v {
		pools = append(pools, pool{1, x})
		for len(pools) > 1 {
			a, b := pools[len(pools)-2], pools[len(pools)-1]
			if a.sum/float64(a.n) <= b.sum/float64(b.n) {
				break
			}
			pools = append(pools[:len(pools)-2], pool{a.n + b.n, a.sum + b.sum})
		}
	}
	i := 0
	for _, p := range pools {
		for range p.n {
			v[i] = p.sum / float64(p.n)
			i++
		}
	}
}

// Model returns the roll as a model; nil where it is none.
func (g *Grid) Model() *model.Model { return g.model }

// At returns what salvage by a grade costs at any stop against the base frame, as
// measured stops are; ok is false where the roll is no model.
func (g *Grid) At(stop float64, grade Grade) (r Result, ok bool) {
	if g.model == nil {
		return r, false
	}
	s := g.look(stop, allBlocks)
	if stop == 0 {
		return Result{Cost: s.cost(correction.Settings{})}, true
	}
	set, ok := s.fit(grade)
	if !ok {
		c := s.cost(correction.Settings{})
		return Result{Cost: Cost{BandCost: BandCost{LostArea: c.LostArea}, LostLight: c.LostLight, LostDark: c.LostDark}}, true
	}
	r = Result{set[grade], s.cost(set[grade])}
	if grade == Balance {
		if v := s.leastCrossover(set[Exposure].Exposure); v == v {
			r.Cost.Crossover = &v
		}
	}
	return r, true
}
