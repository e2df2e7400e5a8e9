package response

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// What a scanner may have done to its frames besides one response for all, as more
// unknowns of the fit (solve.go). Each is tried only where one response alone leaves
// something over, and is kept where it explains it:
//
//	flareModel  one figure for the roll: a share k of a scan's mean light lies over all
//	            of it, light' = (1-k) light + k mean. Bright frames are veiled more.
//	gainModel   a gain on light for every frame and channel but the base frame's.
type model int

const (
	plainModel model = iota
	flareModel
	gainModel
)

const (
	// gainSigma is what is believed of gains before the roll speaks, log10 of light: half
	// a stop.
	gainSigma = 0.15
	// gainHold is the same where few frames are believed to have any, per log10 of light.
	// Readings by the thousand err alike in part and yet count each by itself, so that it
	// has to be strong to be heard. Gains of the adversary are found within 0.005 by it
	// (TestGainOfOneFrame).
	gainHold = 6700.0
	// gainTiny is the gain, log10 of light, under which the belief in none gets no
	// stronger: 0.02 stop.
	gainTiny = 0.005
	// flareSigma is the same of flare: a few percent.
	flareSigma = 0.05
	flareMost  = 0.15
	// gainPull are the stops within which labels hold the exposures while gains are free:
	// on the straight part of a curve a gain and an exposure are one, and a shutter or a
	// light is off by less than a scanner's correction.
	gainPull = 0.1
)

// extras counts the model's own unknowns.
func (f *fit) extras() int {
	switch f.model {
	case flareModel:
		return 1
	case gainModel:
		return 3 * f.m.frames
	}
	return 0
}

// extra is the unknown that a reading of channel c of frame j hangs on, counted from the
// first of the model's own; -1: none.
func (f *fit) extra(c, j int) int {
	switch f.model {
	case flareModel:
		return 0
	case gainModel:
		return c*f.m.frames + j // the channels' equations touch neighbours
	}
	return -1
}

// seen is what the scan of frame j shows in channel c where the response is at u, and
// its derivatives by u and by the model's unknown.
func (f *fit) seen(u float64, c, j int) (v, slope, by float64) {
	const least = 1e-4 // of light under workTop
	switch f.model {
	case flareModel:
		l := fromWork(u)
		mean := f.m.mean[3*j+c]
		s := (1-f.flare)*l + f.flare*mean
		if s < 1e-7 || s > workTop-least {
			return toWork(min(max(s, 1e-7), workTop-least)), 0, 0
		}
		per := 1 / (s * (workTop - s))
		return toWork(s), (1 - f.flare) * l * (workTop - l) * per, (mean - l) * workTop * per / math.Ln10
	case gainModel:
		// Light workTop/(1+e), times the gain: in u, log10(k/(1+e-k)).
		k, e := f.factor[3*j+c], tenTo(-u)
		over := 1 + e - k
		if over*workTop < least*(1+e) {
			return toWork(workTop - least), 0, 0
		}
		return log10(k / over), e / over, (1 + e) / over
	}
	return u, 1, 0
}

// setGain sets the gain of light of entry i, frame*3+channel, as log10.
func (f *fit) setGain(i int, log float64) { f.gain[i], f.factor[i] = log, tenTo(log) }

// moveExtras takes the model's part of a step.
func (f *fit) moveExtras(d []float64) {
	_, fo, p := f.offsets()
	d = d[fo+f.m.frames : p]
	switch f.model {
	case flareModel:
		f.flare = math.Min(math.Max(f.flare+math.Min(math.Max(d[0], -0.02), 0.02), 0), flareMost)
	case gainModel:
		for i := range f.gain {
			f.setGain(i, f.gain[i]+math.Min(math.Max(d[f.extra(i%3, i/3)], -0.1), 0.1))
		}
	}
}

// extraPriors says what is believed of the model's unknowns before the roll speaks.
func (f *fit) extraPriors(n *normal) {
	_, fo, _ := f.offsets()
	hold := func(h int, w, v float64) {
		n.n[h*n.p+h] += w
		n.r[h] -= w * v
	}
	fo += f.m.frames
	switch f.model {
	case flareModel:
		hold(fo, 1/(flareSigma*flareSigma), f.flare)
	case gainModel:
		for i, v := range f.gain {
			w := 1 / (gainSigma * gainSigma)
			if f.sparse {
				w = gainHold / math.Max(math.Abs(v), gainTiny)
			}
			if i/3 == f.base || !f.used[i/3] {
				w = 1e12
			}
			hold(fo+f.extra(i%3, i/3), w, v)
		}
	}
}

func (f *fit) extraCost() (sum float64) {
	switch f.model {
	case flareModel:
		return f.flare * f.flare / (flareSigma * flareSigma)
	case gainModel:
		for _, a := range f.gain {
			switch a = math.Abs(a); {
			case !f.sparse:
				sum += a * a / (gainSigma * gainSigma)
			case a < gainTiny:
				sum += gainHold * a * a / gainTiny
			default:
				sum += gainHold * (2*a - gainTiny)
			}
		}
	}
	return sum
}

// labelSigma is how softly labels hold the exposures, log10.
func (f *fit) labelSigma() float64 {
	if f.model == gainModel {
		return gainPull * stopLog
	}
	return labelPull * stopLog
}

// labelTail is how far off a label still pulls by half. With gains free nothing but the
// labels keeps the exposures from being stretched, so it is wide.
func (f *fit) labelTail() float64 {
	if f.model == gainModel {
		return 4 * f.labelSigma()
	}
	return f.labelSigma()
}

// unseen is the inverse of seen.
func (f *fit) unseen(u float64, c, j int) float64 {
	switch f.model {
	case flareModel:
		return toWork(math.Max((fromWork(u)-f.flare*f.m.mean[3*j+c])/(1-f.flare), 1e-7))
	case gainModel:
		return toWork(math.Min(fromWork(u)*math.Pow(10, -f.gain[3*j+c]), workTop-1e-4))
	}
	return u
}

// under returns the fit, begun where f ended, with more unknowns.
func (f *fit) under(m model) *fit {
	n := &fit{m: f.m, base: f.base, label: f.label, used: f.used, g: f.g, x: slices.Clone(f.x), e: slices.Clone(f.e), scale: f.scale, model: m}
	for c := range n.g {
		n.g[c].coef = slices.Clone(f.g[c].coef)
	}
	if m == gainModel {
		n.gain, n.factor = make([]float64, 3*f.m.frames), slices.Repeat([]float64{1}, 3*f.m.frames)
		// Gains are what the labels leave over: begun at the labels, and with the cells on
		// their scale, or the pull of the labels would work against the scale of the rest.
		le, ee := 0.0, 0.0
		for j, l := range f.label {
			if !math.IsNaN(l) {
				le, ee = le+l*f.e[j], ee+f.e[j]*f.e[j]
			}
		}
		if le > 0 && ee > 0 {
			for i := range n.x {
				n.x[i] *= le / ee
			}
			for c := range n.g {
				n.g[c].lo, n.g[c].step = n.g[c].lo*le/ee, n.g[c].step*le/ee
			}
		}
		for j, l := range f.label {
			if n.e[j] *= le / ee; !math.IsNaN(l) {
				n.e[j] = l
			}
		}
	}
	return n
}

// left is what a fit leaves over of the roll: the mean square of the channels'
// misfits, density squared, and the greatest of them with its frame and channel.
func (f *fit) left() (square, worst float64, frame, channel int) {
	n := 0.0
	for j, ok := range f.tells() {
		if !ok {
			continue
		}
		for c := range 3 {
			if d := f.misfit(j, c); !math.IsNaN(d) {
				square, n = square+d*d, n+1
				if d > worst {
					worst, frame, channel = d, j, c
				}
			}
		}
	}
	return square / math.Max(n, 1), worst, frame, channel
}

// still is the share of the cost under whose change a fit stands still: gains lie along
// a narrow valley, on whose floor little changes.
func (f *fit) still() float64 {
	if f.model == gainModel {
		return 1e-6
	}
	return 1e-4
}

// What counts as explained.
const (
	explainFrom  = 0.004 // density: what one response leaves of a good roll is less (see misfitBad)
	explainTimes = 4.0   // by how much the mean square must fall: half the misfit
	flareLeast   = 0.002 // a share: less is not told from none
	flareSure    = 4.0   // of its standard errors
	// fewGain is the gain of light, log10, under which a frame counts as not changed where
	// few are: 0.08 stop of light.
	fewGain = 0.025
	// steadyShare is the part of the way from gain to gain that must lead one way: what
	// chance makes leads back and forth, and the ends of a bracket are told badly.
	steadyShare = 0.75
)

// explain looks for what the scanner did where one response leaves something over: the
// fit with flare, which is one figure for the roll, where that will do; else the one
// with gains, where those will; else neither.
func (f *fit) explain(ctx context.Context, workers int) (flared, gained *fit, err error) {
	used := 0
	for _, ok := range f.used {
		if ok {
			used++
		}
	}
	square, channel, _, _ := f.left()
	worst := f.worstFrame()
	if used < framesLeast || worst < explainFrom && channel < misfitSome {
		return nil, nil, ctx.Err()
	}
	// slack is by how much each limit may be missed, in a trial.
	good := func(n *fit, slack float64) bool {
		left, _, _, _ := n.left()
		return n.worstFrame() <= slack*misfitUnsure && left*explainTimes <= slack*square
	}
	flare := func(n *fit, slack float64) bool { return good(n, slack) && slack*n.flare > flareLeast }
	if n := f.tried(ctx, workers, flareModel, flare); n != nil && n.flare > flareSure*n.flareError() {
		return n, nil, nil
	}
	// A camera's fixed response leaves up to 0.008, of which three gains a frame take a
	// part whatever it comes from: where one response is good enough by itself, gains must
	// leave nothing.
	enough := worst <= misfitUnsure && channel <= misfitBad
	gain := func(n *fit, slack float64) bool {
		switch {
		case !good(n, slack):
			return false
		case !enough || n.few(f.base, 1) || n.worstFrame() <= slack*explainFrom/2 && (slack > 1 || n.steady(0)):
			return true
		}
		return slack > 1 && (n.few(f.base, slack) || n.few(f.base, 1/slack))
	}
	n := f.tried(ctx, workers, gainModel, gain)
	if n != nil && !n.steady(gainsApart) {
		if few := f.sparsely(ctx, workers); few != nil && good(few, 1) && few.few(f.base, 1) {
			n = few
		}
	}
	return nil, n, ctx.Err()
}

// sparsely is the fit with gains that are held at none by their size, not by its square
// (Huber 1964): a gain of one frame, which a film of another contrast and small gains of
// all frames nearly explain as well, is then left with that frame. It was tried on real
// brackets in one of whose frames one channel was multiplied: held by squares, up to
// seven others were named as well. Gains that follow the exposure are not sought so: they
// would be put on the frames at one end. nil: there is none.
func (f *fit) sparsely(ctx context.Context, workers int) *fit {
	n := f.under(gainModel)
	n.sparse = true
	if !n.run(ctx, workers) {
		return nil
	}
	return n
}

const (
	trialCells = 600 // cells tell whether a model may explain anything
	trialSlack = 2.0 // by how much a trial may miss what the fit must keep to
)

// tried returns the fit with a model's unknowns where it explains, nil otherwise. A part of
// the cells is asked first: most rolls show by it that the model explains nothing, at a
// quarter of the time; where it may, the fit of all cells goes on from there.
func (f *fit) tried(ctx context.Context, workers int, m model, explains func(n *fit, slack float64) bool) *fit {
	n := f.under(m)
	if every := f.m.cells / trialCells; every > 1 {
		t := n.thinned(every)
		if !t.run(ctx, workers) {
			return nil
		}
		n.g, n.e, n.gain, n.factor, n.flare, n.scale = t.g, t.e, t.gain, t.factor, t.flare, t.scale
		n.place(ctx, workers)
		if !explains(n, trialSlack) {
			return nil
		}
	}
	if !n.run(ctx, workers) || !explains(n, 1) {
		return nil
	}
	return n
}

// thinned returns the fit of one cell in so many, which lie over the picture as all do.
func (f *fit) thinned(every int) *fit {
	m, n := f.m, *f
	n.m = &samples{frames: m.frames, mean: m.mean}
	n.x = nil
	for i := every / 2; i < m.cells; i += every {
		a, b := m.index(i, 0, 0), m.index(i+1, 0, 0)
		n.m.u, n.m.s = append(n.m.u, m.u[a:b]...), append(n.m.s, m.s[a:b]...)
		n.m.spread, n.m.at = append(n.m.spread, m.spread[i]), append(n.m.at, m.at[i])
		n.x = append(n.x, f.x[3*i:3*i+3]...)
		n.m.cells++
	}
	n.e = slices.Clone(f.e)
	n.gain, n.factor = slices.Clone(f.gain), slices.Clone(f.factor)
	for c := range n.g {
		n.g[c].coef = slices.Clone(f.g[c].coef)
	}
	return &n
}

// worstFrame is the greatest misfit of a frame that tells enough to be believed.
func (f *fit) worstFrame() (worst float64) {
	for j, ok := range f.tells() {
		if d := f.frameMisfit(j); ok && d > worst {
			worst = d
		}
	}
	return worst
}

// flareError is the standard error of the flare, by the last step's equations.
func (f *fit) flareError() float64 {
	_, fo, p := f.offsets()
	v := make([]float64, p)
	v[fo+f.m.frames] = 1
	return math.Sqrt(f.variance(v))
}

// few reports whether most frames have no gain at all against the base frame, none beyond
// so many times fewGain: then it is not a film of another contrast.
func (f *fit) few(base int, times float64) bool {
	n, changed := 0, 0
	for j, ok := range f.tells() {
		if !ok || j == base {
			continue
		}
		n++
		for c := range 3 {
			if math.Abs(f.gain[3*j+c]) > times*fewGain {
				changed++
				break
			}
		}
	}
	return 0 < changed && 3*changed <= n
}

// gainsOf are the gains of a fit in stops: of the exposure that would have moved a
// mid-grey as far.
func (r *Result) gainsOf(f *fit, labels []float64) {
	ln, ok := labelLine(f.e, labels, nil, f.used, r.Base)
	if !ok {
		return
	}
	for j, ok := range f.used {
		if !ok {
			continue
		}
		g := Gain{Frame: j}
		for c, v := range []*float64{&g.R, &g.G, &g.B} {
			from, _ := f.g[c].find(toWork(0.18))
			to, _ := f.g[c].find(toWork(math.Min(0.18*math.Pow(10, f.gain[3*j+c]), 1)))
			*v = (to - from) * ln.per
		}
		r.Scan.Gains = append(r.Scan.Gains, g)
	}
}

// steady reports whether gains are what an automatic exposure makes: alike in the
// channels, and rising or falling with the exposure. The channels may differ by fewGain, or
// by the share apart of the gain.
func (f *fit) steady(apart float64) bool {
	var at []int
	for j, ok := range f.used {
		if ok {
			at = append(at, j)
		}
	}
	slices.SortStableFunc(at, func(a, b int) int { return cmp.Compare(f.e[a], f.e[b]) })
	way, path := 0.0, 0.0
	for i, j := range at {
		g := f.gain[3*j : 3*j+3]
		if slices.Max(g)-slices.Min(g) > math.Max(fewGain, apart*math.Max(slices.Max(g), -slices.Min(g))) {
			return false
		}
		if i > 0 {
			d := g[1] - f.gain[3*at[i-1]+1]
			way, path = way+d, path+math.Abs(d)
		}
	}
	return path > 0 && math.Abs(way) >= steadyShare*path
}
